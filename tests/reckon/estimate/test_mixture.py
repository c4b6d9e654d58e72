"""Mixtures of normal distributions, against scipy."""

import numpy as np
import pytest
from scipy import optimize, stats

from generator.reckon.estimate.uncertainty import Mixture, normal_cdf


def test_the_normal_distribution_function_is_scipy_s():
    z = np.linspace(-6.0, 6.0, 241)
    np.testing.assert_allclose(normal_cdf(z), stats.norm.cdf(z), atol=2e-7)


def test_one_part_alone_has_the_normal_interval():
    value, low, high = Mixture(np.ones(1), np.array([2.0]), np.array([0.5])).interval()
    assert (value, low, high) == (
        pytest.approx(2.0),
        pytest.approx(2.0 - 0.8224, abs=1e-3),
        pytest.approx(2.8224, abs=1e-3),
    )


@pytest.mark.parametrize("seed", range(4))
def test_quantiles_of_several_parts_are_where_their_weighted_distribution_functions_say(seed):
    rng = np.random.default_rng(seed)
    weights, mean, sd = rng.dirichlet(np.ones(5)), rng.normal(0.0, 3.0, 5), rng.uniform(0.1, 2.0, 5)
    for chance in (0.05, 0.5, 0.95):
        exact = optimize.brentq(lambda x, c=chance: weights @ stats.norm.cdf((x - mean) / sd) - c, -60.0, 60.0)
        assert Mixture(weights, mean, sd).quantile(chance) == pytest.approx(exact, abs=1e-4)


def test_two_parts_far_apart_make_an_interval_that_spans_both():
    told = Mixture(np.array([0.6, 0.4]), np.array([1.0, 2.0]), np.full(2, 0.05))
    value, low, high = told.interval()
    assert low < 1.0 < 2.0 < high
    assert value == pytest.approx(1.0, abs=0.1)
    # Law of total variance.
    assert told.moments()[1] ** 2 == pytest.approx(0.05**2 + 0.6 * 0.4)


def test_what_is_believed_moves_the_middle_and_not_the_ends():
    weights, mean, sd = np.array([0.5, 0.5]), np.array([1.0, 2.0]), np.full(2, 0.05)
    even, firm = Mixture(weights, mean, sd), Mixture(weights, mean, sd, believed=np.array([0.9, 0.1]))
    assert firm.interval()[1:] == even.interval()[1:]
    assert firm.interval()[0] == pytest.approx(1.0, abs=0.05)
    assert firm.wider(2.0).interval()[0] < even.wider(2.0).interval()[0]


def test_what_cannot_be_is_cut_off():
    told = Mixture(np.ones(1), np.zeros(1), np.ones(1), least=0.0)
    assert told.quantile(0.5) == pytest.approx(stats.halfnorm.ppf(0.5), abs=1e-4)


def test_many_mixtures_at_once_give_what_each_gives():
    rng = np.random.default_rng(9)
    weights, mean, sd = rng.dirichlet(np.ones(3)), rng.normal(size=(7, 3)), rng.uniform(0.5, 1.0, (7, 3))
    together = Mixture(weights, mean, sd).quantile(0.95)
    alone = [Mixture(weights, mean[i], sd[i]).quantile(0.95) for i in range(7)]
    np.testing.assert_allclose(together, alone, atol=1e-6)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_a_quantile_is_the_same_in_any_unit(scale: float):
    told = Mixture(np.array([0.7, 0.3]), np.array([1.0, 4.0]) * scale, np.array([0.5, 1.5]) * scale)
    exact = optimize.brentq(
        lambda x: 0.7 * stats.norm.cdf((x - 1.0) / 0.5) + 0.3 * stats.norm.cdf((x - 4.0) / 1.5) - 0.9, -60.0, 60.0
    )
    assert told.quantile(0.9) == pytest.approx(exact * scale, rel=1e-4)


def test_quantiles_of_several_mixtures_that_are_cut_off_are_those_of_each():
    weights, mean, sd = np.array([0.7, 0.3]), np.array([[0.1, 1.0], [2.0, 3.0]]), np.array([[0.5, 0.5], [0.2, 1.0]])
    together = Mixture(weights, mean, sd, least=0.0).interval()
    for place in range(2):
        alone = Mixture(weights, mean[place], sd[place], least=0.0).interval()
        assert [end[place] for end in together] == pytest.approx(list(alone), abs=1e-6)
