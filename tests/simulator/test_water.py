"""The arrays made for the estimator's tests obey the trade's account exactly."""

import numpy as np
import pytest

from tests.simulator.water import CALCIUM_PER_DKH, simulate_water

QUIET = {"drift": 0.0, "kit_error": 0.0, "rate_every": None, "change_every": None}


def test_a_degree_of_alkalinity_taken_up_takes_7_14696_mg_of_calcium_per_litre():
    # Source: 1 mol Ca for 2 eq of alkalinity (Dickson et al. 2007, ch. 2) with IUPAC 2021 weights.
    assert pytest.approx(7.14696, abs=5e-6) == CALCIUM_PER_DKH


def test_calcium_leaves_the_water_in_step_with_alkalinity():
    run = simulate_water(np.random.default_rng(1), 40, calcium_every=1, change_every=None, dose_every=5.0)
    fallen = run.alkalinity.levels - run.alkalinity.levels[0]
    assert np.ptp(run.calcium.levels) > 1.0
    np.testing.assert_allclose(run.calcium.levels - run.calcium.levels[0], fallen * CALCIUM_PER_DKH, atol=1e-9)


def test_water_left_alone_falls_by_what_the_coral_takes():
    run = simulate_water(np.random.default_rng(2), 30, uptake=0.9, step=(10.0, 0.8), **QUIET)
    # The standing dose stays at 0.9 dKH/day; from day 10 the coral takes 0.8 more.
    assert run.end_level == pytest.approx(8.2 - 0.8 * 20.0)
    np.testing.assert_array_equal(run.alkalinity.values, run.alkalinity.levels)


def test_a_water_change_leaves_the_rest_of_the_excess():
    run = simulate_water(
        np.random.default_rng(3), 30, level=10.0, change_fraction=0.25, **(QUIET | {"change_every": 10.0})
    )
    changes = len(run.water_changes.times)
    assert changes >= 2
    assert run.end_level - 8.0 == pytest.approx(2.0 * 0.75**changes)


def test_drift_has_the_spread_of_a_random_walk():
    # A Wiener process has variance drift^2 t, its integral drift^2 t^3 / 3, their covariance drift^2 t^2 / 2.
    rng = np.random.default_rng(4)
    runs = [simulate_water(rng, 8.0, **(QUIET | {"drift": 0.1})) for _ in range(4000)]
    walked = np.array([run.end_uptake - 0.9 for run in runs])
    taken = np.array([8.2 - run.end_level for run in runs])
    assert walked.var() == pytest.approx(0.01 * 8.0, rel=0.08)
    assert taken.var() == pytest.approx(0.01 * 8.0**3 / 3.0, rel=0.08)
    assert np.mean(walked * taken) == pytest.approx(0.01 * 8.0**2 / 2.0, rel=0.08)


def test_tests_come_as_far_apart_as_asked_and_daily_after_an_arrival():
    run = simulate_water(np.random.default_rng(5), 90, daily_from=60.0)
    gaps = np.diff(run.alkalinity.times)
    before = run.alkalinity.times[1:] < 59.0
    assert gaps[before].min() >= 1.0
    assert gaps[before].max() <= 4.0
    assert gaps[run.alkalinity.times[1:] > 64.0].max() <= 1.1


def test_wild_readings_stray_and_an_unlogged_dose_moves_alkalinity_only():
    run = simulate_water(np.random.default_rng(6), 60, wild_every=20, calcium_every=2, unlogged=((30.0, 1.2),))
    plain = simulate_water(np.random.default_rng(6), 60, wild_every=20, calcium_every=2)
    assert run.alkalinity.wild.sum() >= 1
    strays = np.abs(run.alkalinity.values - run.alkalinity.levels)[run.alkalinity.wild]
    assert strays.min() > 2.0 * run.kit_error
    np.testing.assert_array_equal(run.inflow.dose_times, plain.inflow.dose_times)
    before = run.alkalinity.times < 30.0
    np.testing.assert_array_equal(run.alkalinity.levels[before], plain.alkalinity.levels[before])
    after = np.flatnonzero(~before)[0]
    assert run.alkalinity.levels[after] == pytest.approx(plain.alkalinity.levels[after] + 1.2, abs=0.15)
