"""A rate that wanders: against ordinary least squares, brute force, and drawn histories."""

import numpy as np
import pytest
import scipy.stats

from generator.reckon.estimate import slopes
from generator.reckon.estimate.slopes import Comparable, Grid, mean_of_stories, wandered, weigh_stories

MEMORY = 40.0
KNOWN = Grid(((1.0, 1.0),), ((0.0, 1.0),), MEMORY)


def series(days, values, read=0.0, repeats=0.0) -> Comparable:
    one_scale = np.ones((1, len(days)))
    return Comparable(np.array(days, float), np.array([values], float), read * one_scale, repeats * one_scale)


def test_a_rate_that_does_not_wander_is_the_slope_of_least_squares():
    rng = np.random.default_rng(1)
    days = np.sort(rng.uniform(0.0, 90.0, 12))
    values = 3.0 + 0.02 * days + rng.normal(0.0, 0.1, 12)
    found = weigh_stories([series(days, values, read=0.1)], KNOWN, [[(0.0, 10.0)]])
    assert found is not None
    theirs = scipy.stats.linregress(days, values)
    assert found.rate[0, 0] == pytest.approx(theirs.slope)
    assert found.spans[0].mean[0, 0] == pytest.approx(10.0 * theirs.slope)
    assert found.spans[0].variance[0, 0] == pytest.approx((10.0 * 0.1) ** 2 / ((days - days.mean()) ** 2).sum())


def test_series_share_a_rate_and_not_a_height():
    one, other = series([0.0, 10.0], [1.0, 2.0], read=0.1), series([10.0, 20.0], [7.0, 8.2], read=0.1)
    found = weigh_stories([one, other], KNOWN, [[(0.0, 10.0), (10.0, 20.0)], [(0.0, 10.0)]])
    assert found is not None
    assert found.rate[0, 0] == pytest.approx(0.11)
    assert found.spans[0].mean[0, 0] == pytest.approx(2.2)
    # Both stretches hang on the one rate, so that their errors do not cancel.
    both, one_of_them = found.spans
    assert both.variance == pytest.approx(2.0**2 * one_of_them.variance)


def test_what_is_weighed_on_several_scales_is_the_same_however_many_are_held_at_once(monkeypatch):
    days = np.array([0.0, 7.0, 15.0, 21.0, 40.0])
    values, scales = np.array([1.0, 1.4, 2.2, 2.7, 4.1]), np.array([[1.0], [1.3], [2.0]])
    both = Comparable(days, values**scales, 0.05 * scales * np.ones(5), 0.02 * scales * np.ones(5))
    grid = Grid(((0.5, 0.4), (1.0, 0.6)), ((0.1, 0.5), (0.4, 0.5)), MEMORY)
    found = []
    for most in (1, 10**6):
        monkeypatch.setattr(slopes, "_AT_ONCE", most)
        found.append(weigh_stories([both], grid, [[(0.0, 40.0)], [(40.0, 60.0)]]))
    one_by_one, at_once = found
    assert one_by_one is not None
    assert at_once is not None
    assert at_once.log_odds.shape == (3, 4)
    np.testing.assert_allclose(one_by_one.log_odds, at_once.log_odds, rtol=1e-12)
    for mine, theirs in zip(one_by_one.spans, at_once.spans, strict=True):
        np.testing.assert_allclose(mine.mean, theirs.mean, rtol=1e-12)
        np.testing.assert_allclose(mine.variance, theirs.variance, rtol=1e-12)


def test_nothing_is_told_by_one_day():
    assert weigh_stories([series([5.0], [1.0]), series([7.0, 7.0], [1.0, 1.1])], KNOWN, []) is None


def test_the_nearer_a_story_comes_to_the_true_error_the_better_its_odds():
    rng = np.random.default_rng(3)
    days = np.arange(0.0, 300.0, 10.0)
    values = 0.01 * days + rng.normal(0.0, 0.05, len(days))
    grid = Grid(((0.005, 1.0), (0.05, 1.0), (0.5, 1.0)), ((0.0, 1.0),), MEMORY)
    found = weigh_stories([series(days, values, repeats=1.0)], grid, [])
    assert found is not None
    assert found.errors[found.log_odds[0].argmax()] == 0.05


def drawn(rng, days: int) -> np.ndarray:
    """A rate of 1 that wanders by 0.3 about its mean, day by day."""
    stray = 0.3 * rng.normal()
    rates = []
    for _ in range(days):
        rates.append(1.0 + stray)
        stray = stray * np.exp(-1.0 / MEMORY) + 0.3 * np.sqrt(1.0 - np.exp(-2.0 / MEMORY)) * rng.normal()
    return np.array(rates)


def test_what_comes_is_held_nine_times_in_ten_and_what_was_is_known_better():
    rng = np.random.default_rng(8)
    grid, days = Grid(((1.0, 1.0),), ((0.3, 1.0),), MEMORY), np.arange(0.0, 71.0, 10.0)
    held, widths = 0, []
    for _ in range(300):
        grown = np.concatenate([[0.0], np.cumsum(drawn(rng, 100))])
        values = grown[days.astype(int)] + rng.normal(0.0, 0.2, len(days))
        found = weigh_stories([series(days, values, read=0.2)], grid, [[(0.0, 70.0)], [(70.0, 100.0)]])
        assert found is not None
        (so_far, was), (ahead, comes) = (
            mean_of_stories(found.log_odds[0], each.mean[0], each.variance[0]) for each in found.spans
        )
        assert so_far == pytest.approx(grown[70], abs=1.5)
        held += abs(ahead - (grown[100] - grown[70])) < 1.645 * comes
        widths.append((was / 70.0, comes / 30.0))
    assert 0.85 <= held / 300 <= 0.95
    assert all(was < comes for was, comes in widths)


def test_what_wandering_adds_is_the_integral_of_what_it_strays():
    # By brute force: the integral of a process that starts at 0 and strays by one unit in the long run.
    rng = np.random.default_rng(5)
    step, keep = 0.5, np.exp(-0.5 / MEMORY)
    stray, added = np.zeros(4000), np.zeros(4000)
    for _ in range(120):
        after = stray * keep + np.sqrt(1.0 - keep**2) * rng.normal(size=4000)
        added += step * (stray + after) / 2.0
        stray = after
    assert wandered(60.0, MEMORY) == pytest.approx(float(added.var()), rel=0.1)
    assert wandered(0.0, MEMORY) == pytest.approx(0.0, abs=1e-9)


def test_stories_put_together_are_as_far_apart_as_they_lie():
    mean, spread = mean_of_stories(np.log([1.0, 3.0]), np.array([0.0, 4.0]), np.array([1.0, 1.0]))
    assert mean == pytest.approx(3.0)
    assert spread == pytest.approx(np.sqrt(1.0 + 0.25 * 9.0 + 0.75 * 1.0))
