"""Changes nobody logged, in tanks whose demand is known. A larger version: ``python -m tests.accuracy``."""

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.water.account import Account, DemandStep, Renewal, SteadyInflow
from generator.reckon.water.dynamics import DOUBTFUL, JUMP, MOMENTS, NOTHING, STEPS, STRAY, Gap, unlogged
from generator.reckon.water.estimate import track
from generator.reckon.water.process import Series
from tests.accuracy.tanks import KIT_ERROR, Plan, keep, read_every
from tests.accuracy.water import LEAST_DEMAND, answer, beside_hand, covers, told


def changed(factor: float, every: int, count: int, after: int):
    """Answers so many readings after the first that shows an unlogged change."""
    found = []
    for seed in range(count):
        rng = np.random.default_rng([77, seed])
        day, base = rng.uniform(30.0, 36.0), rng.uniform(0.6, 1.4)
        times = read_every(rng, every, day + 10.0 + 5.0 * every)
        kept = keep(rng, Plan(times, base, 0.01, day=day, factor=factor))
        shown = int(np.argmax(abs(factor - 1.0) * base * (times - day) >= 3.0 * KIT_ERROR))
        found.append(answer(kept.until(shown + after + 1)))
    return found


def test_the_rivals_of_a_reading_are_nothing_a_stray_a_jump_and_steps_at_each_moment_of_the_gap():
    taken = np.array([1.0])
    fourth = unlogged(3, 1, 0, taken, Gap(2.0, 2.0, 3, 0), 0.1)
    assert np.exp(fourth.log_odds).sum() == pytest.approx(1.0)
    kinds = list(fourth.kind)
    assert kinds[0] == NOTHING
    assert {STRAY, JUMP} < set(kinds)
    assert all(kinds.count(kind) == len(MOMENTS) * [each[0] for each in STEPS].count(kind) for kind, *_ in STEPS)
    first = unlogged(3, 1, 0, taken, Gap(0.0, 0.0, 0, 0), 0.1)
    assert set(first.kind) == {NOTHING, STRAY}, "nothing can have changed since"


@pytest.mark.parametrize("pumps", [(), (3,), (3, 5), (3, 5, 7, 9)])
def test_however_long_nothing_was_read_and_however_many_pumps_run_it_may_be_that_nothing_happened(pumps):
    """Common practice, no source: odds are above zero and add up to one."""
    found = unlogged(12, 1, 0, np.array([1.0]), Gap(400.0, 400.0, 30, 9), 0.1, pumps)
    odds = np.exp(found.log_odds)
    assert odds.sum() == pytest.approx(1.0)
    assert odds.min() > 0.0
    assert odds[0] >= 0.02, "what is seen may still be no more than uptake as it was"


@pytest.mark.parametrize(("factor", "every"), [(2.0, 1), (2.0, 3), (0.5, 3), (0.0, 3)])
def test_the_first_reading_that_shows_a_change_widens_the_interval_as_far_as_it_goes(factor, every):
    assert covers(changed(factor, every, 30, 0)) >= 0.65


@pytest.mark.long
@pytest.mark.parametrize(("factor", "every"), [(2.0, 1), (0.5, 3), (1.25, 3)])
def test_from_the_next_reading_on_the_interval_holds_the_truth(factor, every):
    assert covers(changed(factor, every, 30, 1)) >= 0.8
    later = changed(factor, every, 30, 3)
    assert covers(later) >= 0.85
    assert beside_hand(later) <= 0.9


def test_a_stop_is_nothing_and_never_less():
    stopped = changed(0.0, 1, 20, 4)
    assert covers(stopped) >= 0.9
    assert all(each.error >= -1e-9 for each in stopped)


def test_a_level_that_falls_by_every_story_never_passes_nothing():
    rng = np.random.default_rng(5)
    kept = keep(rng, Plan(np.arange(1.0, 31.0), 1.2))
    empty = replace(kept, account=Account((SteadyInflow(0.0, 30.0, 1.2),)))
    found = told(empty)
    assert float(found.ahead(np.array([30.0])).quantile(0.5)[0]) < 8.2


@pytest.mark.long
@pytest.mark.parametrize("ramp", [0.0, 7.0, 14.0])
def test_a_newcomer_that_settles_slowly_is_followed_while_it_does(ramp):
    held = []
    for seed in range(25):
        rng = np.random.default_rng([78, seed])
        times = read_every(rng, 2, 62.0)
        kept = keep(rng, Plan(times, 0.9, 0.01, day=40.0, factor=1.7, ramp=ramp))
        demand_step = DemandStep(40.0, mean=0.7, error=0.35, settles=14.0)
        held += [
            answer(kept.until(int(np.searchsorted(times, 40.0 + after))), (demand_step,)).held for after in (4, 10, 20)
        ]
    assert np.mean(held) >= 0.85


def test_a_forecast_is_what_carrying_every_story_from_day_to_day_gives():
    rng = np.random.default_rng(4)
    found = told(keep(rng, Plan(np.arange(1.0, 31.0), 0.9, 0.01)))
    days = np.array([0.5, 1.0, 4.0, 30.0])
    model, process, now = (
        found.laid.ahead(found.accounts, 30.0 + np.append(0.0, days)),
        found.followed.process,
        found.now,
    )
    mean, variance, ahead = now.mean, now.variance, found.ahead(days)
    for t in range(len(days)):
        F, noise = model.F[t + 1], (process.q2[now.candidate] * process.pace(mean[:, process.rate]))[:, None, None]
        mean, variance = (
            mean @ F.T + model.c[t + 1],
            F @ variance @ F.T + noise * model.drift[t + 1] + model.fixed[t + 1],
        )
        np.testing.assert_allclose(ahead.mean[t], mean[:, 0], rtol=1e-12)
        np.testing.assert_allclose(ahead.sd[t], np.sqrt(variance[:, 0, 0]), rtol=1e-12)


def test_the_hour_of_an_arrival_counts_all_that_is_predicted_once_it_has_settled():
    rng = np.random.default_rng(3)
    kept = keep(rng, Plan(np.arange(1.0, 31.0), 0.9, 0.01))
    before = told(kept)
    demand_step = DemandStep(30.0 + 1.0 / 24.0, mean=0.6, error=0.2, settles=14.0)
    series = Series(kept.times, kept.values, np.full(30, KIT_ERROR))
    after = track(series, kept.account, (demand_step,), demand_step.at, LEAST_DEMAND, factor_errors=(0.04,))
    assert before.uptake.moments()[0] < after.uptake.moments()[0] < before.uptake.moments()[0] + 0.6
    falls = [np.diff(found.ahead(np.array([29.0, 30.0])).moments()[0])[0] for found in (before, after)]
    assert falls[0] - falls[1] == pytest.approx(0.6, abs=0.01)


@pytest.mark.long
@pytest.mark.parametrize("every", [1, 3])
def test_typing_mistakes_are_caught_and_good_readings_left_alone(every):
    caught, doubted = {0.8: [], 1.8: []}, []
    for seed in range(20):
        rng = np.random.default_rng([79, seed])
        kept = keep(rng, Plan(read_every(rng, every, 100.0), rng.uniform(0.6, 1.4), 0.01))
        doubted += list(told(kept).wild >= DOUBTFUL)
        for size, found in caught.items():
            place, values = int(rng.integers(10, len(kept.times) - 6)), kept.values.copy()
            values[place] += size * rng.choice([-1.0, 1.0])
            found.append(told(replace(kept, values=values)).wild[place] >= DOUBTFUL)
    assert np.mean(caught[1.8]) >= 0.95
    assert np.mean(caught[0.8]) >= 0.85
    assert np.mean(doubted) <= 0.015


def test_a_weekly_reading_that_may_be_a_mistake_stays_in_doubt_for_good():
    rng = np.random.default_rng([79, 0])
    kept = keep(rng, Plan(read_every(rng, 7, 160.0), 0.9, 0.015))
    place, values = 10, kept.values.copy()
    values[place] += 0.8
    kept = replace(kept, values=values)
    soon, later = (told(each).wild[place] for each in (kept.until(place + 4), kept))
    assert soon > DOUBTFUL
    assert later > DOUBTFUL


def test_a_water_change_makes_a_jump_with_it_likelier():
    rng = np.random.default_rng(4)
    kept = keep(rng, Plan(read_every(rng, 2, 60.0), 0.9, 0.01, renewed_every=np.inf))
    at = 40
    place = int(np.searchsorted(kept.times, at))
    jumped = replace(kept, values=kept.values + 0.6 * (kept.times >= at))
    changed = replace(jumped, account=replace(kept.account, renewals=(Renewal(at - 0.5, 0.0, 8.0, 0.0),)))
    odds = [float(told(each.until(place + 1)).followed.odds(JUMP)[-2]) for each in (jumped, changed)]
    assert odds[1] > 1.5 * odds[0] > 0.0
