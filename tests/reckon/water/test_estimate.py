"""The estimator on simulated systems whose true uptake is known."""

import numpy as np
import pytest

from generator.reckon.estimate import candidates
from generator.reckon.estimate.kalman import smooth
from generator.reckon.water.account import Account, Opening
from generator.reckon.water.estimate import track
from tests.reckon.water.runs import LEAST_DEMAND, account_of, alkalinity_track, difference_of_the_last_two
from tests.simulator.water import WaterRun, simulate_water

Z90 = 1.645
ARRIVAL = 60.0


def arrival(seed: int) -> WaterRun:
    """60 days tested 1 to 4 days apart; a colony lifts uptake from about 0.9 to 1.7 dKH/day, then daily tests."""
    rng = np.random.default_rng(seed)
    irregular = np.cumsum(rng.uniform(1.0, 4.0, 60))
    return simulate_water(
        rng,
        ARRIVAL + 3.0,
        tests_at=np.concatenate([irregular[irregular < ARRIVAL - 0.5], ARRIVAL + np.array([-0.1, 1.0, 2.0, 3.0])]),
        kit_error=0.15,
        uptake=0.9,
        drift=0.02,
        step=(ARRIVAL, 0.8),
        rate_every=20.0,
        dose_every=9.0,
        change_every=14.0,
    )


@pytest.fixture(scope="module")
def arrivals():
    runs = [arrival(seed) for seed in range(300)]
    return runs, [alkalinity_track(run, (Opening(ARRIVAL, 1.0),)) for run in runs]


def test_the_90_percent_interval_of_uptake_holds_the_truth_in_about_90_of_100_systems(arrivals):
    runs, tracks = arrivals
    at_end = [
        abs(t.averaged.mean[-1, 1] - run.end_uptake) < Z90 * np.sqrt(t.averaged.variance[-1, 1, 1])
        for run, t in zip(runs, tracks, strict=True)
    ]
    throughout = [
        np.abs(t.averaged.mean[:-1, 1] - run.uptake) < Z90 * np.sqrt(t.averaged.variance[:-1, 1, 1])
        for run, t in zip(runs, tracks, strict=True)
    ]
    assert 0.86 <= np.mean(at_end) <= 0.94
    assert 0.86 <= np.mean(np.concatenate(throughout)) <= 0.94


def test_the_interval_of_the_level_holds_the_truth_in_about_90_of_100_readings(arrivals):
    runs, tracks = arrivals
    held = [
        np.abs(t.averaged.mean[:-1, 0] - run.alkalinity.levels) < Z90 * np.sqrt(t.averaged.variance[:-1, 0, 0])
        for run, t in zip(runs, tracks, strict=True)
    ]
    assert 0.86 <= np.mean(np.concatenate(held)) <= 0.94


def test_three_days_after_an_arrival_the_error_is_at_most_0_4_of_the_two_reading_difference(arrivals):
    runs, tracks = arrivals
    ours = [t.averaged.mean[-1, 1] - run.end_uptake for run, t in zip(runs, tracks, strict=True)]
    usual = [difference_of_the_last_two(run) - run.end_uptake for run in runs]
    assert np.sqrt(np.mean(np.square(ours))) <= 0.4 * np.sqrt(np.mean(np.square(usual)))


@pytest.mark.parametrize("seed", range(10))
def test_one_wild_reading_in_twenty_is_flagged_and_moves_the_uptake_less_than_half_its_interval(seed):
    run = simulate_water(np.random.default_rng(seed), 19.0, tests_at=np.arange(20.0), drift=0.015)
    plain = alkalinity_track(run).averaged
    half = Z90 * np.sqrt(plain.variance[-1, 1, 1])
    for position in range(20):
        values = run.alkalinity.values.copy()
        values[position] = run.alkalinity.levels[position] + 5.0 * run.kit_error * (-1.0) ** position
        wild = alkalinity_track(run, values=values).averaged
        assert wild.doubtful[position]
        assert abs(wild.mean[-1, 1] - plain.mean[-1, 1]) < half


def test_readings_that_agree_are_seldom_called_doubtful():
    runs = [simulate_water(np.random.default_rng(seed), 60.0, drift=0.015) for seed in range(60)]
    flagged = np.concatenate([alkalinity_track(run).averaged.doubtful[:-1] for run in runs])
    assert np.mean(flagged) < 0.02


@pytest.mark.parametrize("size", [1.0, -1.0])
def test_an_unlogged_dose_is_found_with_its_day_and_its_size(size):
    found = []
    for seed in range(20):
        run = simulate_water(
            np.random.default_rng(seed), 40.0, tests_every=(1.0, 2.0), drift=0.015, unlogged=((20.5, size),)
        )
        tracked = alkalinity_track(run)
        here = [j for j in tracked.averaged.jumps if tracked.moments[j.index - 1] <= 20.5 <= tracked.moments[j.index]]
        found += [abs(here[0].size - size) < 3.0 * here[0].error] if here else [False]
    assert np.mean(found) >= 0.9


def test_two_readings_give_their_difference_and_twice_the_kit_error_under_the_root():
    # Common practice: the error of a difference of two readings a day apart is the root of two kit errors.
    found = track(np.array([0.0, 1.0]), np.array([8.2, 7.8]), np.full(2, 0.15), Account(), (), 1.0, LEAST_DEMAND)
    assert found.averaged.mean[-1, 1] == pytest.approx(0.4, abs=1e-3)
    assert np.sqrt(found.averaged.variance[-1, 1, 1]) == pytest.approx(0.15 * np.sqrt(2.0), rel=0.1)


def test_equal_readings_still_carry_the_kit_error():
    times = np.arange(6.0)
    found = track(times, np.full(6, 8.0), np.full(6, 0.15), Account(), (), 5.0, LEAST_DEMAND)
    slope_error = 0.15 / np.sqrt(np.sum((times - times.mean()) ** 2))
    assert found.averaged.mean[-1, 1] == pytest.approx(0.0, abs=1e-3)
    assert np.sqrt(found.averaged.variance[-1, 1, 1]) >= slope_error


def test_more_water_than_declared_makes_the_same_doses_count_less():
    run = simulate_water(np.random.default_rng(1), 40.0)
    found = alkalinity_track(run)
    paid = account_of(run)
    diluted = track(
        run.alkalinity.times,
        run.alkalinity.values,
        np.full(len(run.alkalinity.times), run.kit_error),
        paid.scaled(1.0 / 1.05),
        (),
        run.end,
        LEAST_DEMAND,
    )
    moved = diluted.averaged.mean[-1, 1] - found.averaged.mean[-1, 1]
    assert moved == pytest.approx(found.volume_slope[-1, 1] * np.log(1.05), rel=0.15)
    assert moved < 0


def test_moving_the_clock_moves_nothing_else():
    run = simulate_water(np.random.default_rng(2), 30.0)
    here = alkalinity_track(run)
    account = account_of(run)
    later = Account(
        tuple(type(s)(s.start + 5000.0, s.end + 5000.0, s.per_day) for s in account.standing),
        tuple((at + 5000.0, amount) for at, amount in account.doses),
        tuple(type(r)(r.at + 5000.0, r.fraction, r.level, r.error) for r in account.renewals),
    )
    errors = np.full(len(run.alkalinity.times), run.kit_error)
    there = track(
        run.alkalinity.times + 5000.0, run.alkalinity.values, errors, later, (), run.end + 5000.0, LEAST_DEMAND
    )
    np.testing.assert_allclose(there.averaged.mean, here.averaged.mean, rtol=1e-6, atol=1e-8)


def test_another_unit_scales_everything_and_changes_nothing():
    run = simulate_water(np.random.default_rng(3), 30.0)
    here = alkalinity_track(run).averaged
    factor = 50.0
    account = account_of(run)
    scaled = Account(
        tuple(type(s)(s.start, s.end, s.per_day * factor) for s in account.standing),
        tuple((at, amount * factor) for at, amount in account.doses),
        tuple(type(r)(r.at, r.fraction, r.level * factor, 0.0) for r in account.renewals),
    )
    errors = np.full(len(run.alkalinity.times), run.kit_error * factor)
    there = track(
        run.alkalinity.times, run.alkalinity.values * factor, errors, scaled, (), run.end, LEAST_DEMAND * factor
    ).averaged
    np.testing.assert_allclose(there.mean, here.mean * factor, rtol=1e-6, atol=1e-6)
    np.testing.assert_array_equal(there.doubtful, here.doubtful)


def test_wild_readings_far_apart_are_found_together_as_they_are_one_by_one(monkeypatch):
    run = simulate_water(np.random.default_rng(5), 300.0, tests_every=(1.0, 2.0), drift=0.015)
    values = run.alkalinity.values.copy()
    for position in (20, 24, 90, 150):
        values[position] += 6.0 * run.kit_error
    together = alkalinity_track(run, values=values).averaged
    monkeypatch.setattr(candidates, "APART", 10**6)
    one_by_one = alkalinity_track(run, values=values).averaged
    np.testing.assert_array_equal(together.doubtful, one_by_one.doubtful)
    assert set(np.flatnonzero(together.doubtful)) >= {20, 24, 90, 150}
    np.testing.assert_allclose(together.mean[:, :2], one_by_one.mean[:, :2], rtol=0.01, atol=0.005)


def test_a_decade_of_readings_takes_a_handful_of_passes(monkeypatch):
    run = simulate_water(np.random.default_rng(6), 1200.0, tests_every=(1.3, 2.3), drift=0.015)
    passes = []
    monkeypatch.setattr(candidates, "smooth", lambda *given: passes.append(1) or smooth(*given))
    found = alkalinity_track(run).averaged
    assert found.doubtful.sum() >= 5
    assert len(passes) <= found.doubtful.sum() / 2 + 4


def test_even_readings_that_make_no_sense_are_not_all_called_doubtful():
    # Half of them from another bucket: it is the model that is wrong, and the interval says so.
    run = simulate_water(np.random.default_rng(7), 60.0, tests_every=(1.0, 2.0), drift=0.015)
    plain = alkalinity_track(run).averaged
    values = run.alkalinity.values + np.where(np.arange(len(run.alkalinity.values)) % 2, 3.0, 0.0)
    found = alkalinity_track(run, values=values).averaged
    assert found.doubtful.sum() + len(found.jumps) <= len(values) // 4
    assert found.variance[-1, 1, 1] > 4.0 * plain.variance[-1, 1, 1]
