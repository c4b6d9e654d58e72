"""What a new reading is held against: the last one, and the forecast with the kit's own error."""

from datetime import timedelta
from math import hypot

import pytest
from msgspec.structs import replace

from generator.reckon.water.canonical import canonical_value, in_unit
from generator.reckon.water.findings import AgainstBand, Forecast, Latest
from generator.reckon.water.when_to_test import far_from_last, next_test, readings_ahead
from generator.records.log import Reading
from generator.units.kinds import KINDS, WATER_KINDS
from generator.units.quantity import Estimate, Quantity, bounds, coverage_factor
from tests.render import sample


def test_far_is_four_times_what_is_usual_from_one_reading_to_the_next() -> None:
    # Steps of 0.2 in the middle: 4 × 1.4826 × 0.2.
    assert far_from_last([8.0, 8.2, 8.0, 8.2, 8.0], None) == pytest.approx(1.186, abs=0.001)


def test_steps_within_the_kits_error_are_no_steps_of_the_water() -> None:
    # Two readings of the same water differ by √2 times the kit's error.
    assert far_from_last([8.0, 8.0, 8.0, 8.0, 8.0], 0.15) == pytest.approx(4.0 * 2.0**0.5 * 0.15)


def test_without_readings_and_without_a_kit_nothing_is_far() -> None:
    assert far_from_last([8.0], None) is None
    assert far_from_last([], None) is None


def test_a_reading_ahead_is_as_unsure_as_the_water_and_the_kit_together() -> None:
    level = Estimate(2.9, 2.8, 3.1, "meq/L")
    track = tuple((sample.AS_OF + timedelta(days=half / 2), level) for half in range(3))
    forecast = Forecast("alkalinity", None, None, None, None, 30.0, track)
    found = replace(sample.findings(), forecasts={"alkalinity": forecast})
    (now, first), (tomorrow, _) = readings_ahead(found, "alkalinity", 0.05)
    assert (now, tomorrow) == (track[0][0], track[2][0])
    half = coverage_factor() * 0.05
    assert (first.value - first.low, first.high - first.value) == pytest.approx((hypot(0.1, half), hypot(0.2, half)))
    assert readings_ahead(found, "calcium", 0.05) == ()


@pytest.mark.parametrize(("kind", "unit"), [(kind, unit.symbol) for kind in WATER_KINDS for unit in KINDS[kind].units])
def test_a_value_in_any_unit_is_the_value_it_came_from(kind: str, unit: str) -> None:
    low, high = bounds(kind, unit)
    value = low + 0.4 * (high - low)
    back = in_unit(kind, canonical_value(Quantity(value, unit, kind)), unit)
    assert back == pytest.approx(value, rel=1e-4)


@pytest.mark.parametrize(
    ("kind", "read", "standing", "days", "why"),
    [
        ("salinity", "33.2 psu", "low", 1.0, "outside-band"),
        ("salinity", "35.0 psu", "within", 14.0, "usual-interval"),
        ("alkalinity", "9.4 dKH", "high", 1.0, "outside-band"),
        ("nitrate", "40 mg/L", "high", 3.5, "outside-band"),
        ("calcium", "380 mg/L", "low", 3.5, "outside-band"),
        ("strontium", "3 mg/L", "low", 22.5, "outside-band"),
    ],
)
def test_what_was_read_outside_its_band_is_read_again_as_soon_as_it_can_harm_or_be_another(
    kind: str, read: str, standing: AgainstBand, days: float, why: str
) -> None:
    at = sample.AS_OF - timedelta(hours=2)
    amount, unit = read.split()
    reading = Reading(source=sample.line(3), at=at, kind=kind, value=Quantity(float(amount), unit, kind, 1))
    last = Latest(reading, reading.value.canonical(), None, None, None, standing, 0.1, doubtful=False)
    due = next_test(kind, last, None, (), sample.AS_OF)
    assert (due.at - at, due.why) == (timedelta(days=days), why)


@pytest.mark.parametrize(("kind", "amount", "days"), [("alkalinity", "7.2 dKH", 1.0), ("calcium", "402 mg/L", 3.5)])
def test_a_test_within_the_band_is_not_made_again_at_once_because_it_cannot_tell_on_which_side_the_level_is(
    kind: str, amount: str, days: float
) -> None:
    at = sample.AS_OF - timedelta(hours=1)
    value, unit = amount.split()
    reading = Reading(source=sample.line(3), at=at, kind=kind, value=Quantity(float(value), unit, kind, 1))
    last = Latest(reading, reading.value.canonical(), None, None, None, "within", 0.04, doubtful=False)
    ahead = Forecast(kind, "low", sample.AS_OF, sample.AS_OF + timedelta(days=6), None, 30.0, ())
    due = next_test(kind, last, ahead, (), sample.AS_OF)
    assert (due.at - at, due.why) == (timedelta(days=days), "could-leave-band")
