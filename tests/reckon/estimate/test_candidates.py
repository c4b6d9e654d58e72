"""Averaging over candidate noises."""

import numpy as np
import pytest

from generator.reckon.estimate.kalman import Candidates, mixed, posterior_weights


def test_an_average_is_as_wide_as_each_candidate_and_as_they_are_apart():
    # Law of total variance: the mean of the variances, and the variance of the means.
    mean, variance = mixed(np.array([[[0.0, 4.0]]]), np.array([[[[1.0, 2.0]]]]), np.array([0.25, 0.75]))
    assert mean[0, 0] == pytest.approx(3.0)
    assert variance[0, 0, 0] == pytest.approx(0.25 * 1.0 + 0.75 * 2.0 + 0.25 * 9.0 + 0.75 * 1.0)


def test_a_candidate_weighs_by_its_prior_times_how_well_it_explains_the_readings():
    # Bayes: odds of 3 before, of 2 by the readings, 6 after; and log-likelihoods of any size.
    of = Candidates(np.ones(2), np.ones(2), np.log([3.0, 1.0]))
    weights = posterior_weights(np.array([-5000.0 + np.log(2.0), -5000.0]), of)
    assert weights == pytest.approx([6.0 / 7.0, 1.0 / 7.0])
