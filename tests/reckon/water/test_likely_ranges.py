"""Ranges made as wide as the track record advises, from a day on."""

from datetime import date

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.estimate.uncertainty import Mixture
from generator.reckon.water.analysis import analyse_water
from generator.records.system import LikelyRanges
from tests.reckon.water.journals import START, here, log_of, moment, system
from tests.simulator.water import simulate_water

TIMES, SINCE = 1.5, date(2026, 2, 1)


@pytest.fixture(scope="module")
def both():
    run = simulate_water(np.random.default_rng(4), 60.0, drift=0.015)
    wider = replace(system(), likely_ranges=LikelyRanges(source=here(), since=SINCE, alkalinity=TIMES))
    return [analyse_water(home, log_of(run, with_calcium=False), (), moment(run.end)) for home in (system(), wider)]


def width(estimate):
    return estimate.high - estimate.low


def test_a_mixture_is_widened_about_its_mean():
    told = Mixture(np.array([0.3, 0.7]), np.array([1.0, 3.0]), np.array([0.2, 0.5]))
    wider = told.wider(TIMES)
    assert wider.moments()[0] == pytest.approx(told.moments()[0])
    assert wider.moments()[1] == pytest.approx(TIMES * told.moments()[1])


def test_uptake_skeleton_and_forecast_are_so_many_times_as_wide(both):
    before, after = both
    for ranges in (
        [found.uptake["alkalinity"].per_day.estimate for found in both],
        [found.uptake["alkalinity"].amount.estimate for found in both],
        [found.calcification.grams_per_day.estimate for found in both],
        [found.forecasts["alkalinity"].track[6][1] for found in both],
    ):
        assert width(ranges[1]) == pytest.approx(TIMES * width(ranges[0]), rel=0.02)
        assert ranges[1].value == pytest.approx(ranges[0].value, rel=0.02)
    parts = [sum(part.standard**2 for part in each.uptake["alkalinity"].per_day.parts) ** 0.5 for each in both]
    assert parts[1] == pytest.approx(TIMES * parts[0])
    assert after.uptake["calcium"] == before.uptake["calcium"]


def test_predictions_are_wider_from_that_day_on_and_keep_what_they_were_before(both):
    asked = (SINCE - START.date()).days
    for one, other in zip(both[0].replayed, both[1].replayed, strict=True):
        since = other.reading.at >= moment(asked)
        assert width(other.predicted) == pytest.approx((TIMES if since else 1.0) * width(one.predicted), rel=1e-3)
        assert abs(other.score) == pytest.approx(abs(one.score) / (TIMES if since else 1.0), rel=0.2, abs=0.1)


def test_a_day_to_come_changes_nothing_yet(both):
    run = simulate_water(np.random.default_rng(4), 60.0, drift=0.015)
    later = LikelyRanges(source=here(), since=date(2027, 1, 1), alkalinity=TIMES)
    found = analyse_water(replace(system(), likely_ranges=later), log_of(run, with_calcium=False), (), moment(run.end))
    assert found.uptake == both[0].uptake
