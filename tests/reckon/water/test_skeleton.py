"""Grams of skeleton that a year's uptake amounts to."""

from datetime import UTC, datetime, timedelta

import pytest

from generator.reckon.water.calcification import laid_down
from generator.reckon.water.findings import TrackPoint
from generator.units.quantity import Estimate

_SINCE = datetime(2026, 1, 1, tzinfo=UTC)


def track(*per_day: float) -> list[TrackPoint]:
    """One point a day, with a tenth on either side."""
    level = Estimate(2.8, 2.7, 2.9, "meq/L")
    return [
        TrackPoint(_SINCE + timedelta(days=day), level, Estimate(value, 0.9 * value, 1.1 * value, "meq/L/day"))
        for day, value in enumerate(per_day)
    ]


def test_two_equivalents_of_alkalinity_make_a_mole_of_calcium_carbonate() -> None:
    # 1 meq/L a day in 100 L for 10 days is 1 eq: half a mole of CaCO3, 100.09 g/mol (Smith & Key 1975; IUPAC weights).
    grams = laid_down(track(*[1.0] * 11), 100.0, _SINCE, _SINCE + timedelta(days=10))
    assert grams
    assert grams.value == pytest.approx(100.09 / 2, rel=1e-3)
    assert (grams.low / grams.value, grams.high / grams.value) == pytest.approx((0.9, 1.1))


def test_years_add_up_and_a_year_that_was_not_tested_has_none() -> None:
    days = track(*(0.5 + 0.01 * day for day in range(21)))
    middle, end = _SINCE + timedelta(days=10), _SINCE + timedelta(days=20)
    first, second, both = (laid_down(days, 50.0, *ends) for ends in ((_SINCE, middle), (middle, end), (_SINCE, end)))
    assert first is not None
    assert second is not None
    assert both is not None
    assert first.value + second.value == pytest.approx(both.value)
    assert laid_down(days, 50.0, end + timedelta(days=1), end + timedelta(days=400)) is None
