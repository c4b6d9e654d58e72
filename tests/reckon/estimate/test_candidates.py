"""Averaging over noises, and what is done with a reading that none of them explains."""

import numpy as np
import pytest

from generator.reckon.estimate.candidates import Candidates, average, mixed, posterior_weights
from generator.reckon.estimate.kalman import Model


def still_water(values: list[float], noise: float = 0.01) -> Model:
    """A level that hardly moves, read with a known noise."""
    count = len(values)
    nothing = np.zeros((count, 1, 1))
    return Model(
        F=np.ones((count, 1, 1)),
        c=np.zeros((count, 1)),
        drift=nothing + 1e-4,
        fixed=nothing,
        h=np.ones((count, 1)),
        y=np.array(values),
        noise=np.full(count, noise),
        widened=np.zeros(count),
        start=np.array([values[0]]),
        spread=np.array([[100.0]]),
    )


ONE_NOISE = Candidates(np.ones(1), np.ones(1), np.zeros(1))


def test_an_average_is_as_wide_as_each_candidate_and_as_they_are_apart():
    # Law of total variance: the mean of the variances, and the variance of the means.
    mean, variance = mixed(np.array([[[0.0], [4.0]]]), np.array([[[[1.0]], [[2.0]]]]), np.array([0.25, 0.75]))
    assert mean[0, 0] == pytest.approx(3.0)
    assert variance[0, 0, 0] == pytest.approx(0.25 * 1.0 + 0.75 * 2.0 + 0.25 * 9.0 + 0.75 * 1.0)


def test_a_candidate_weighs_by_its_prior_times_how_well_it_explains_the_readings():
    # Bayes: odds of 3 before, of 2 by the readings, 6 after; and log-likelihoods of any size.
    of = Candidates(np.ones(2), np.ones(2), np.log([3.0, 1.0]))
    weights = posterior_weights(np.array([-5000.0 + np.log(2.0), -5000.0]), of)
    assert weights == pytest.approx([6.0 / 7.0, 1.0 / 7.0])


def test_a_wild_reading_gets_the_noise_that_makes_it_one_standard_error_off():
    values = [8.0, 8.05, 7.98, 8.02, 9.5, 8.01, 7.97, 8.03]
    found = average(still_water(values), ONE_NOISE, find_jumps=False)
    assert list(np.flatnonzero(found.doubtful)) == [4]
    own = found.model.noise[4] + found.model.widened[4]
    assert found.expected_error[4] ** 2 + own == pytest.approx((9.5 - found.expected[4]) ** 2, rel=1e-6)
    # What it strayed by is told as it was found, before its noise was widened.
    assert found.surprise[4] == pytest.approx(
        (9.5 - found.expected[4]) / np.hypot(found.expected_error[4], 0.1), rel=1e-6
    )


def test_a_level_that_moves_and_stays_is_a_jump_and_no_row_of_wild_readings():
    values = [8.0, 8.05, 7.98, 8.02, 9.5, 9.51, 9.47, 9.53]
    found = average(still_water(values), ONE_NOISE)
    assert [jump.index for jump in found.jumps] == [4]
    assert found.jumps[0].size == pytest.approx(1.5, abs=0.15)
    assert not found.doubtful.any()


def test_where_nothing_was_read_nothing_surprises():
    found = average(still_water([8.0, 8.05, float("nan"), 8.02]), ONE_NOISE)
    assert np.isnan(found.surprise[2])
    assert not found.doubtful[2]
