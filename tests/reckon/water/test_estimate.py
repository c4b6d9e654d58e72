"""The estimator on simulated systems whose true uptake is known."""

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.estimate.stories import KEPT, MOST_STORIES
from generator.reckon.estimate.uncertainty import Mixture
from generator.reckon.water.account import Account, DemandStep, Paid
from generator.reckon.water.dynamics import DOUBTFUL, JUMP
from generator.reckon.water.estimate import track
from generator.reckon.water.process import Series
from generator.units.quantity import coverage_factor
from tests.reckon.water.runs import LEAST_DEMAND, account_of, alkalinity_track, difference_of_the_last_two
from tests.simulator.water import WaterRun, simulate_water

Z90 = coverage_factor()
ARRIVAL = 60.0


def test_new_water_replaces_what_was_read_last_before_it_or_first_of_all():
    read = Series(np.array([1.0, 2.0, 4.0]), np.array([7.0, 8.0, 9.0]), np.full(3, 0.1))
    assert [list(read.last_before(at)) for at in (0.5, 1.0, 2.0, 3.9, 9.0)] == [[7.0], [7.0], [8.0], [8.0], [9.0]]
    assert list(Series(np.array([]), np.array([]), np.array([])).last_before(1.0)) == []


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


def held(told: Mixture, truth: float | np.ndarray) -> np.ndarray:
    """Whether the 90 % interval holds the truth, at the end or at every reading."""
    _, low, high = told.interval()
    known = slice(None, None if np.ndim(truth) == 0 else -1)
    return (np.atleast_1d(low)[known] <= truth) & (truth <= np.atleast_1d(high)[known])


@pytest.fixture(scope="module")
def arrivals():
    runs = [arrival(seed) for seed in range(300)]
    return runs, [alkalinity_track(run, (DemandStep(ARRIVAL, 1.0),)) for run in runs]


@pytest.mark.long
def test_the_90_percent_interval_of_uptake_holds_the_truth_in_about_90_of_100_systems(arrivals):
    runs, tracks = arrivals
    at_end = [held(t.uptake, run.end_uptake) for run, t in zip(runs, tracks, strict=True)]
    throughout = [held(t.along(t.takes), run.uptake) for run, t in zip(runs, tracks, strict=True)]
    assert 0.86 <= np.mean(at_end) <= 0.97
    assert 0.86 <= np.mean(np.concatenate(throughout)) <= 0.94


@pytest.mark.long
def test_the_interval_of_the_level_holds_the_truth_in_about_90_of_100_readings(arrivals):
    runs, tracks = arrivals
    throughout = [held(t.along(t.stands), run.alkalinity.levels) for run, t in zip(runs, tracks, strict=True)]
    assert 0.86 <= np.mean(np.concatenate(throughout)) <= 0.94


@pytest.mark.long
def test_three_days_after_an_arrival_the_error_is_at_most_0_4_of_the_two_reading_difference(arrivals):
    runs, tracks = arrivals
    ours = [float(t.uptake.quantile(0.5)) - run.end_uptake for run, t in zip(runs, tracks, strict=True)]
    usual = [difference_of_the_last_two(run) - run.end_uptake for run in runs]
    assert np.sqrt(np.mean(np.square(ours))) <= 0.4 * np.sqrt(np.mean(np.square(usual)))


def test_a_newcomer_counts_from_its_very_minute():
    run = arrival(1)
    before, after = (
        float(alkalinity_track(run, steps).uptake.moments()[0]) for steps in ((), (DemandStep(run.end, mean=1.0),))
    )
    assert after - before == pytest.approx(1.0, abs=0.05)


@pytest.mark.parametrize("seed", range(6))
def test_a_typing_mistake_of_five_kit_errors_is_told_as_one_and_hardly_moves_the_uptake(seed):
    run = simulate_water(np.random.default_rng(seed), 24.0, tests_at=np.arange(25.0), drift=0.015)
    plain = alkalinity_track(run).uptake
    for position in range(8, 20, 3):
        values = run.alkalinity.values.copy()
        values[position] = run.alkalinity.levels[position] + 5.0 * run.kit_error * (-1.0) ** position
        found = alkalinity_track(run, values=values)
        assert found.wild[position] > DOUBTFUL
        _, low, high = plain.interval()
        assert low < found.uptake.quantile(0.5) < high


def test_readings_that_agree_are_seldom_called_doubtful():
    runs = [simulate_water(np.random.default_rng(seed), 60.0, drift=0.015) for seed in range(60)]
    flagged = np.concatenate([alkalinity_track(run).wild >= DOUBTFUL for run in runs])
    assert np.mean(flagged) < 0.015


@pytest.mark.parametrize("size", [1.2, -1.2])
def test_an_unlogged_dose_is_found_with_its_day_and_its_size(size):
    found = []
    for seed in range(20):
        run = simulate_water(
            np.random.default_rng(seed), 40.0, tests_every=(1.0, 2.0), drift=0.015, unlogged=((20.5, size),)
        )
        told = alkalinity_track(run)
        jumps = told.told((JUMP,), 0.0, 0.5)
        here = [j for j in jumps if told.moments[j.index - 1] <= 20.5 <= told.moments[j.index]]
        found += [abs(here[0].size - size) < 3.0 * here[0].error] if here else [False]
    assert np.mean(found) >= 0.9


def test_two_readings_give_their_difference_and_twice_the_kit_error_under_the_root():
    # Common practice: the error of a difference of two readings a day apart is the root of two kit errors.
    both = Series(np.array([0.0, 1.0]), np.array([8.2, 7.8]), np.full(2, 0.15))
    value, low, high = track(both, Account(), (), 1.0, LEAST_DEMAND).uptake.interval()
    assert value == pytest.approx(0.4, abs=2e-3)
    assert (high - low) / 2.0 / Z90 == pytest.approx(0.15 * np.sqrt(2.0), rel=0.25)


def test_equal_readings_still_carry_the_kit_error():
    times = np.arange(6.0)
    equal = Series(times, np.full(6, 8.0), np.full(6, 0.15))
    value, low, high = track(equal, Account(), (), 5.0, LEAST_DEMAND).uptake.interval()
    slope_error = 0.15 / np.sqrt(np.sum((times - times.mean()) ** 2))
    assert value == pytest.approx(0.0, abs=5e-3)
    assert (high - low) / 2.0 / Z90 >= slope_error


def test_more_water_than_declared_makes_the_same_doses_count_less():
    run = simulate_water(np.random.default_rng(1), 40.0)
    readings = Series(run.alkalinity.times, run.alkalinity.values, np.full(len(run.alkalinity.times), run.kit_error))
    unsure = track(readings, account_of(run), (), run.end, LEAST_DEMAND, factor_errors=(0.05,))
    diluted = track(readings, account_of(run).scaled(1.0 / 1.05), (), run.end, LEAST_DEMAND)
    _, variance = unsure.now.moments()
    volume = unsure.laid.layout.factors
    moved = float(diluted.uptake.moments()[0] - alkalinity_track(run).uptake.moments()[0])
    assert moved == pytest.approx(variance[1, volume] / variance[volume, volume] * np.log(1.05), rel=0.2)
    assert moved < 0


def test_moving_the_clock_moves_nothing_else():
    run = simulate_water(np.random.default_rng(2), 30.0)
    here = alkalinity_track(run)
    account = account_of(run)
    later = Account(
        tuple(type(s)(s.start + 5000.0, s.end + 5000.0, s.per_day) for s in account.steady),
        tuple(Paid(dose.at + 5000.0, dose.amount) for dose in account.doses),
        tuple(type(r)(r.at + 5000.0, r.fraction, r.level, r.error) for r in account.renewals),
    )
    errors = np.full(len(run.alkalinity.times), run.kit_error)
    readings = Series(run.alkalinity.times + 5000.0, run.alkalinity.values, errors)
    there = track(readings, later, (), run.end + 5000.0, LEAST_DEMAND)
    np.testing.assert_allclose(there.middle(there.takes), here.middle(here.takes), rtol=1e-5, atol=1e-7)


def test_another_unit_scales_everything_and_changes_nothing():
    run = simulate_water(np.random.default_rng(3), 30.0)
    here = alkalinity_track(run)
    factor = 50.0
    account = account_of(run)
    scaled = Account(
        tuple(type(s)(s.start, s.end, s.per_day * factor) for s in account.steady),
        tuple(Paid(dose.at, dose.amount * factor) for dose in account.doses),
        tuple(type(r)(r.at, r.fraction, r.level * factor, 0.0) for r in account.renewals),
    )
    errors = np.full(len(run.alkalinity.times), run.kit_error * factor)
    readings = Series(run.alkalinity.times, run.alkalinity.values * factor, errors)
    there = track(readings, scaled, (), run.end, LEAST_DEMAND * factor)
    np.testing.assert_allclose(there.middle(there.takes), here.middle(here.takes) * factor, rtol=1e-5, atol=1e-5)
    np.testing.assert_allclose(there.wild, here.wild, atol=1e-6)


def test_a_repeat_within_the_hour_parts_a_wrong_reading_from_the_rest():
    # 6.4 after a month near 8: wrong, or the level is really there. A second 6.4 an hour later leaves no doubt.
    run = simulate_water(np.random.default_rng(7), 30.0, tests_at=np.arange(1.0, 31.0), drift=0.015)
    values = np.append(run.alkalinity.values[:-1], run.alkalinity.levels[-1] - 1.6)
    once = alkalinity_track(run, values=values)
    again = replace(
        run,
        alkalinity=replace(
            run.alkalinity,
            times=np.append(run.alkalinity.times, 30.0 + 1.0 / 24.0),
            values=np.append(values, values[-1]),
        ),
        end=30.0 + 1.0 / 24.0,
    )
    twice = alkalinity_track(again)
    assert once.wild[-1] > 0.2
    assert twice.wild[-2] < 0.05
    _, low, high = twice.uptake.interval()
    assert high > run.end_uptake + 0.8 or twice.told((JUMP,), 29.0, 0.5)
    assert high - low > 2.0 * np.diff(alkalinity_track(run).uptake.interval()[1:])[0]


def test_a_decade_of_readings_costs_what_its_readings_cost():
    run = simulate_water(np.random.default_rng(6), 1200.0, tests_every=(1.3, 2.3), drift=0.015)
    found = alkalinity_track(run)
    assert len(found.now.weights) <= MOST_STORIES
    assert max(len(posterior.weights) for posterior in found.followed.after) <= KEPT
