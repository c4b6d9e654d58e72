"""When a test can tell a change, held against simulations in which the change is known."""

from types import SimpleNamespace

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.estimate.uncertainty import Array
from generator.reckon.water.account import DemandStep
from generator.reckon.water.change import Step, estimate_steps, foresight
from generator.reckon.water.deliveries import Deliveries
from generator.reckon.water.estimate import track
from generator.reckon.water.findings import LedgerLine
from generator.reckon.water.ledger import Evidence, in_days, moment_of_days
from generator.reckon.water.process import Series
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.when_to_test import SETTLED, TOLD, WORTH_MAKING, reading_plan, set_last
from generator.units.quantity import coverage_factor
from tests.conftest import further
from tests.reckon.water.journals import here, moment
from tests.reckon.water.runs import LEAST_DEMAND, account_of
from tests.simulator.water import WaterRun, simulate_water

KIT = 0.15
ARRIVAL = 40.0


def history(seed: int, size: float, tests_after: tuple[float, ...], demand: float = 1.0, kit: float = KIT) -> WaterRun:
    """40 days of tests 2 to 4 days apart, then a step of demand, then tests so many days after it."""
    rng = np.random.default_rng(seed)
    before = np.cumsum(rng.uniform(2.0, 4.0, 30))
    before = before[before < ARRIVAL - 0.2]
    return simulate_water(
        rng,
        ARRIVAL + max(tests_after, default=0.0) + 0.01,
        tests_at=np.concatenate([before, ARRIVAL + np.array(tests_after)]),
        kit_error=kit,
        uptake=demand,
        drift=0.015 * demand,
        step=(ARRIVAL, size),
    )


def known(run: WaterRun, until: float | None = None) -> tuple[Evidence, StateEstimate]:
    """What the estimator makes of a run's readings up to a day."""
    end = run.end if until is None else until
    count = int(np.sum(run.alkalinity.times <= end))
    times, values = run.alkalinity.times[:count], run.alkalinity.values[:count]
    errors: Array = np.full(count, run.kit_error)
    account = account_of(run)
    demand_steps = (DemandStep(ARRIVAL, 1.0),)
    found = track(Series(times, values, errors), account, demand_steps, end, LEAST_DEMAND)
    return Evidence("alkalinity", (), values, errors, account, (), demand_steps, Deliveries((), {})), found


def told(run: WaterRun) -> bool:
    evidence, found = known(run)
    steps = estimate_steps(evidence, found, [Step(ARRIVAL)])
    return bool(steps.mean[-1, 0] > TOLD * np.sqrt(steps.variance[-1, 0, 0]))


def plan(run: WaterRun, size: float):
    evidence, found = known(run, ARRIVAL)
    return reading_plan(evidence, found, moment_of_days(ARRIVAL), size, run.kit_error, moment_of_days(ARRIVAL))


def days_after(moment) -> float:
    return round(in_days(moment) - ARRIVAL, 6)


def test_a_change_a_moment_after_all_that_is_known_is_planned_for_as_at_that_moment():
    run = history(3, 0.8, ())
    evidence, found = known(run, ARRIVAL)
    evidence = replace(evidence, demand_steps=())
    second = 1.0 / 86400.0
    variances = [
        foresight(evidence, found, [Step(ARRIVAL + late)]).in_a_row([ARRIVAL + 2.0, ARRIVAL + 4.0], KIT)[0][-1, 0, 0]
        for late in (0.0, second)
    ]
    assert variances[1] == pytest.approx(variances[0], rel=1e-3)


# Seeds are independent, so that these many tell a mistake of a tenth; LOOK_FURTHER=500 tries more.
SYSTEMS = further or 100


def detections(size: float) -> tuple[float, float, float]:
    """Of many systems: the odds stated, and the shares told by one test when the plan says and at half that time."""
    stated, in_time, too_early = [], [], []
    for seed in range(SYSTEMS):
        reading = plan(history(seed, size, ()), size).readings[0]
        day = days_after(reading.at)
        stated.append(reading.odds)
        in_time.append(told(history(seed, size, (day,))))
        too_early.append(told(history(seed, size, (day / 2.0,))))
    return float(np.mean(stated)), float(np.mean(in_time)), float(np.mean(too_early))


@pytest.mark.long
@pytest.mark.parametrize("size", [0.6, 0.8])
def test_a_test_made_when_the_plan_says_tells_the_change_at_the_odds_stated_and_at_half_that_time_not(size):
    stated, in_time, too_early = detections(size)
    assert stated >= WORTH_MAKING
    assert in_time == pytest.approx(stated, abs=0.05)
    assert too_early < stated - 0.2


@pytest.mark.long
def test_where_nothing_changed_at_most_about_one_in_twenty_is_told_all_the_same():
    share = np.mean([told(history(seed, 0.0, (3.0,))) for seed in range(2 * SYSTEMS)])
    assert 0.0 < share <= 0.075


@pytest.mark.parametrize("demand", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("kit", [0.1, 0.15, 0.2])
def test_a_doubling_of_the_demand_is_first_worth_reading_after_one_day_and_settled_after_two(demand, kit):
    # Common practice, no source.
    readings = plan(history(3, demand, (), demand, kit), demand).readings
    assert 1.0 <= days_after(readings[0].at) <= 2.0
    settles = [r for r in readings if r.why == "settles"] or readings[:1]
    assert days_after(settles[0].at) <= 2.0


def test_a_plan_reads_at_no_time_twice_and_settles_only_where_it_says_so():
    for size, kit in ((1.0, 0.1), (1.0, 0.2), (1.4, 0.15), (1.5, 0.4), (3.0, 0.8)):
        run = history(6, size, (), 1.0, kit)
        found = known(run, ARRIVAL)[1]
        readings = plan(run, size).readings
        times = [reading.at for reading in readings]
        assert times == sorted(set(times))
        assert [reading.why for reading in readings] in (["first", "confirms"], ["first", "settles", "confirms"])
        narrow = SETTLED * (found.demand + size)
        assert all(reading.half_width <= narrow for reading in readings if reading.why == "settles")
        assert days_after(readings[-1].at) == days_after(readings[-2].at) + 7.0


def test_where_the_first_reading_tells_but_does_not_settle_a_second_is_planned_that_does():
    run = history(6, 1.0, (), 1.0, 0.2)
    narrow = SETTLED * (known(run, ARRIVAL)[1].demand + 1.0)
    first, settles, confirms = plan(run, 1.0).readings
    assert (first.why, settles.why, confirms.why) == ("first", "settles", "confirms")
    assert first.half_width > narrow >= settles.half_width
    assert first.at < settles.at


def test_with_a_kit_too_coarse_ever_to_settle_it_no_reading_is_said_to():
    # A test that strays by six degrees tells a step of two after some time, and never narrowly.
    run = history(6, 2.0, (), 1.0, 6.0)
    narrow = SETTLED * (known(run, ARRIVAL)[1].demand + 2.0)
    readings = plan(run, 2.0).readings
    assert [reading.why for reading in readings] == ["first", "confirms"]
    assert all(reading.half_width > narrow for reading in readings)


def test_the_last_reading_of_a_plan_counts_every_reading_once():
    run = history(3, 2.0, (), 2.0, 0.1)
    evidence, found = known(run, ARRIVAL)
    readings = plan(run, 2.0).readings
    assert [reading.why for reading in readings] == ["first", "confirms"]
    times = [in_days(reading.at) for reading in readings]
    _, uptake = foresight(evidence, found, [Step(ARRIVAL)]).in_a_row(times, run.kit_error)
    assert readings[-1].half_width == pytest.approx(coverage_factor() * np.sqrt(uptake[-1]))


def test_the_larger_the_change_the_sooner_a_test_can_tell_it():
    run = history(4, 0.5, ())
    first = [days_after(plan(run, size).readings[0].at) for size in (0.6, 1.0, 1.5)]
    assert first == sorted(first, reverse=True)
    assert first[0] > first[-1]


def test_a_change_too_small_to_be_told_gets_no_reading_but_its_odds():
    found = plan(history(5, 0.1, ()), 0.05)
    assert found.readings == ()
    assert all(odds < WORTH_MAKING for _, odds in found.alone)


def test_a_pump_was_set_when_what_it_still_gives_of_that_quantity_began():
    def gives(kind, since, cause, line, days=30.0):
        until = moment(min(30.0, since + days))
        return LedgerLine(moment(since), until, kind, 1.0, "meq/L", cause, here(line))

    lines = (
        gives("alkalinity", 2.0, "pump", 1),
        gives("alkalinity", 9.0, "pump", 2, days=4.0),
        gives("calcium", 12.0, "pump", 3),
        gives("alkalinity", 30.0, "dose", 4, days=0.0),
    )
    water = SimpleNamespace(ledger=lines, as_of=moment(30.0))
    assert set_last(water, "alkalinity") == moment(2.0)
    assert set_last(water, "calcium") == moment(12.0)
    assert set_last(water, "magnesium") is None
