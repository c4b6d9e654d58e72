"""The strip that shows a reading against its band."""

from generator.reckon.water.findings import Latest
from generator.render.base.scale import gauge
from tests.render import sample


def latest(value: float, low: float | None, high: float | None) -> Latest:
    standing = "low" if low is not None and value < low else "high" if high is not None and value > high else "within"
    return Latest(sample.READINGS[0], value, low, high, None, standing, 1.0, False)  # type: ignore[arg-type]


def share(text: str | None) -> float:
    assert text is not None
    return float(text.removesuffix("%"))


def test_a_value_in_the_middle_of_its_band_stands_in_the_middle_of_the_strip() -> None:
    drawn = gauge(latest(8.0, 7.0, 9.0), None)
    assert drawn is not None
    assert share(drawn.value) == 50
    assert share(drawn.low) < 50 < share(drawn.high)
    assert drawn.error is None


def test_the_error_bar_is_the_kits_ninety_per_cent_interval() -> None:
    # Strip from 5.8 to 10.2: 4.4 wide; 2 · 1.6449 · 0.2 of it is 14.95 %.
    drawn = gauge(latest(8.0, 7.0, 9.0), 0.2)
    assert drawn is not None
    assert drawn.error is not None
    assert abs(share(drawn.error[1]) - 14.95) < 0.02


def test_a_value_off_the_strip_stays_at_its_end_and_says_which() -> None:
    high, low = gauge(latest(20, 7, 9), 0.2), gauge(latest(1, 7, 9), 0.2)
    assert high is not None
    assert low is not None
    assert (high.beyond, low.beyond) == ("above", "below")
    assert share(low.value) < share(low.low) < share(high.high) < share(high.value) < 100


def test_a_ceiling_alone_begins_at_nought() -> None:
    drawn = gauge(latest(0, None, 10), None)
    assert drawn is not None
    assert drawn.low is None
    assert drawn.band[0] == "0%"


def test_a_band_of_one_value_or_of_nought_can_be_drawn() -> None:
    assert gauge(latest(35, 35, 35), 0.1) is not None
    assert gauge(latest(0, None, 0), 0.1) is not None
    assert gauge(latest(3, None, None), 0.1) is None
