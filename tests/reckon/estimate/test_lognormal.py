"""Quantities known to within a factor, and several ways of telling one put together."""

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from generator.reckon.estimate.uncertainty import LogNormal, combine, from_estimate, geometric_mean
from generator.units.quantity import Estimate, spread_of_range

APART = [LogNormal(1.0, 0.2), LogNormal(3.0, 0.3), LogNormal(1.4, 0.1), LogNormal(5.0, 0.4)]


def test_ways_that_differ_are_put_together_as_a_general_library_does():
    theirs = combine_effects(
        np.log([way.median for way in APART]), np.array([way.spread**2 for way in APART]), method_re="dl"
    )
    ours = combine(APART, least_between=0.0)
    assert np.log(ours.median) == pytest.approx(theirs.mean_effect_re, rel=1e-9)
    assert ours.spread == pytest.approx(theirs.sd_eff_w_re, rel=1e-9)


def test_ways_that_happen_to_agree_are_still_taken_to_differ():
    together = combine([LogNormal(2.0, 0.1), LogNormal(2.0, 0.1)], least_between=0.35)
    assert together.median == pytest.approx(2.0)
    assert together.spread == pytest.approx(((0.1**2 + 0.35**2) / 2.0) ** 0.5)


def test_one_way_alone_keeps_the_spread_between_ways():
    assert combine([LogNormal(2.0, 0.3)], least_between=0.4).spread == pytest.approx(0.5)


def test_averaging_values_of_the_same_data_makes_none_surer():
    middle = geometric_mean([LogNormal(1.0, 0.3), LogNormal(4.0, 0.3)])
    assert middle.median == pytest.approx(2.0)
    assert middle.spread == pytest.approx(0.3)


def test_nine_of_ten_draws_fall_in_the_interval():
    draws = np.random.default_rng(1).lognormal(np.log(7.0), 0.4, 20_000)
    interval = LogNormal(7.0, 0.4).estimate("g/day")
    assert np.mean((interval.low <= draws) & (draws <= interval.high)) == pytest.approx(0.90, abs=0.01)


def test_a_range_tells_its_spread():
    interval = LogNormal(1.0, 0.25).estimate("g")
    assert spread_of_range(interval.low, interval.high) == pytest.approx(0.25)


def test_an_estimate_that_may_be_nothing_has_no_logarithm():
    assert from_estimate(Estimate(1.0, -0.2, 2.2, "g/day")) is None
    sure = from_estimate(Estimate(10.0, 9.0, 11.0, "g/day"))
    assert sure is not None
    assert sure.estimate("g/day").low == pytest.approx(9.05, abs=0.02)
