"""The filter and smoother against a general-purpose state-space library on the same model."""

import numpy as np
import pytest
from msgspec.structs import replace
from statsmodels.tsa.statespace.kalman_smoother import KalmanSmoother

from generator.reckon.estimate.kalman import Model, smooth
from generator.reckon.water.account import Account, transitions
from generator.reckon.water.change import build
from generator.reckon.water.dynamics import OneLevel, TwoLevels
from tests.reckon.water.runs import account_of
from tests.reckon.water.test_account import flow
from tests.simulator.water import simulate_water


def one_quantity(seed: int) -> Model:
    run = simulate_water(np.random.default_rng(seed), 45.0, step=(20.0, 0.8), dose_every=6.0)
    times = np.append(run.alkalinity.times, run.end)
    steps = transitions(OneLevel(0.04), [account_of(run)], [(20.0, 0.0, 0.7)], list(times))
    count = len(times)
    return build(
        steps,
        np.tile([1.0, 0.0, 0.0], (count, 1)),
        np.append(run.alkalinity.values, np.nan),
        np.full(count, 0.15**2),
        np.array([8.0, 0.0, 0.0]),
        np.diag([25.0, 25.0, 1e-4]),
    )


def two_quantities(seed: int) -> Model:
    run = simulate_water(np.random.default_rng(seed), 45.0, calcium_every=1)
    times = np.repeat(run.alkalinity.times, 2)
    steps = transitions(
        TwoLevels(0.04, 7.147, 0.1, 30.0), [account_of(run), account_of(run, calcium=True)], [], list(times)
    )
    h = np.tile(np.eye(5)[:2], (len(times) // 2, 1))
    values = np.stack([run.alkalinity.values, run.calcium.values], axis=1).ravel()
    noise = np.tile([0.15**2, 100.0], len(times) // 2)
    return build(
        steps, h, values, noise, np.array([8.0, 420.0, 0.0, 0.0, 0.0]), np.diag([25.0, 2500.0, 25.0, 1e-4, 0.01])
    )


def reference(model: Model, q2: float) -> KalmanSmoother:
    """The same model in statsmodels, whose step t moves the state from moment t to t + 1."""
    T, n = model.c.shape
    theirs = KalmanSmoother(k_endog=1, k_states=n, k_posdef=n)
    theirs.bind(np.ascontiguousarray(model.y[:, None]))
    following = [*range(1, T), T - 1]
    theirs["transition"] = np.ascontiguousarray(model.F[following].transpose(1, 2, 0))
    theirs["state_intercept"] = np.ascontiguousarray(model.c[following].T)
    theirs["state_cov"] = np.ascontiguousarray((model.drift * q2 + model.fixed)[following].transpose(1, 2, 0))
    theirs["selection"] = np.eye(n)
    theirs["design"] = np.ascontiguousarray(model.h.T[None])
    theirs["obs_cov"] = np.ascontiguousarray(model.noise[None, None])
    theirs.initialize_known(model.start, model.spread)
    return theirs.smooth()


@pytest.mark.parametrize("make", [one_quantity, two_quantities])
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("q2", [0.01, 1.0, 25.0])
def test_level_and_uptake_equal_a_general_state_space_library_on_the_same_model(make, seed, q2):
    model = make(seed)
    ours = smooth(model, np.array([q2]), np.ones(1))
    theirs = reference(model, q2)
    n = len(theirs.smoothed_state)
    for combination in (*np.eye(n), np.linspace(-1.0, 2.0, n)):
        mean, variance = ours.along(combination)
        np.testing.assert_allclose(mean[:, 0], combination @ theirs.smoothed_state, rtol=1e-6, atol=1e-9)
        expected = np.einsum("i,ijt,j->t", combination, theirs.smoothed_state_cov, combination)
        np.testing.assert_allclose(variance[:, 0], expected, rtol=1e-6, atol=1e-9)
    assert ours.log_likelihood[0] == pytest.approx(theirs.llf, rel=1e-6)


def test_several_candidates_side_by_side_give_what_each_gives_alone():
    model = one_quantity(7)
    q2, r2 = np.array([0.2, 1.0, 5.0]), np.array([1.0, 2.0, 0.5])
    together = smooth(model, q2, r2)
    for index in range(3):
        alone = smooth(model, q2[[index]], r2[[index]])
        for state in np.eye(3):
            np.testing.assert_allclose(together.along(state)[0][:, index], alone.along(state)[0][:, 0], rtol=1e-12)
        np.testing.assert_allclose(together.deletion[:, index], alone.deletion[:, 0], rtol=1e-9)


@pytest.mark.parametrize("left_out", [0, 5, 11])
def test_a_deletion_residual_is_what_reckoning_without_the_reading_gives(left_out):
    model = one_quantity(3)
    q2, r2 = np.ones(1), np.ones(1)
    whole = smooth(model, q2, r2)
    y = model.y.copy()
    y[left_out] = np.nan
    without = smooth(replace(model, y=y), q2, r2)
    level, variance = (each[left_out, 0] for each in without.along(np.array([1.0, 0.0, 0.0])))
    assert whole.deletion[left_out, 0] == pytest.approx(model.y[left_out] - level, rel=1e-6)
    assert whole.deletion_variance[left_out, 0] == pytest.approx(variance + model.noise[left_out], rel=1e-6)


def test_a_jump_is_estimated_as_the_input_that_would_best_explain_the_readings():
    model = one_quantity(4)
    moment = 8
    found = smooth(model, np.ones(1), np.ones(1))
    size = found.shock[moment, 0, 0] / found.shock_information[moment, 0, 0, 0]

    def likelihood(of: float) -> float:
        c = model.c.copy()
        c[moment, 0] += of
        return float(smooth(replace(model, c=c), np.ones(1), np.ones(1)).log_likelihood[0])

    assert likelihood(size) > max(likelihood(size - 0.01), likelihood(size + 0.01))


def test_a_passage_in_two_parts_is_the_passage_in_one():
    whole = flow(OneLevel(0.04), 5.0, np.array([0.9]))
    parts = flow(OneLevel(0.04), 2.0, np.array([0.9])).then(flow(OneLevel(0.04), 3.0, np.array([0.9])))
    joint = TwoLevels(0.04, 7.147, 0.1, 30.0)
    joint_whole = flow(joint, 5.0, np.array([0.9, 6.0]))
    joint_parts = flow(joint, 2.0, np.array([0.9, 6.0])).then(flow(joint, 3.0, np.array([0.9, 6.0])))
    for one, two in ((whole, parts), (joint_whole, joint_parts)):
        np.testing.assert_allclose(one.F, two.F, rtol=1e-12)
        np.testing.assert_allclose(one.c, two.c, rtol=1e-12)
        np.testing.assert_allclose(one.drift, two.drift, rtol=1e-9, atol=1e-15)
        np.testing.assert_allclose(one.fixed, two.fixed, rtol=1e-9, atol=1e-15)


def test_an_opening_at_the_hour_of_arrival_is_no_part_of_the_water_before_it():
    quiet = transitions(OneLevel(0.04), [Account()], [], [0.0, 1.0, 2.0])
    opened = transitions(OneLevel(0.04), [Account()], [(1.5, 0.3, 0.5)], [0.0, 1.0, 2.0])
    np.testing.assert_array_equal(quiet[1].fixed, opened[1].fixed)
    assert opened[2].fixed[1, 1] == pytest.approx(0.5)
    assert opened[2].c[:2] == pytest.approx([-0.15, 0.3])
