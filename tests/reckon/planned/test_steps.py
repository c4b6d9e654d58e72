"""What to do about a change of uptake that is to come: pumps in steps, and what a test then means."""

from datetime import timedelta
from math import inf

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.arrivals.observed import baseline_of
from generator.reckon.dosing.outlook import Need
from generator.reckon.dosing.phases import DoseRate, Phase
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.supplies import Supply
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.planned.pump_steps import PumpStep, _less, pump_steps
from generator.reckon.planned.water import PlanSteps, steps
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.uptake import track_points
from generator.records.log import PumpRate, SystemLog
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.dosing.systems import AS_OF, TWO_PART, dosed, found, log
from tests.reckon.water.journals import VOLUME, here, moment, readings, system

pytestmark = pytest.mark.usefixtures("courses_kept")

NOT_KNOWN = CannotTell("no-readings", "read-twice")


def plan(uptake: float) -> Plan:
    answer = dosing_plan(dosed(TWO_PART), log(), found(uptake), AS_OF)
    assert isinstance(answer, Plan)
    return answer


def phase(value: float, low: float, high: float) -> Phase:
    rate = Finding(Estimate(value, low, high, "L/day"), "dose")
    return Phase(None, (DoseRate("soda", "pump", rate, 0.0),), ())


def soda(of: Plan) -> float:
    return next(dose.rate.estimate.value for dose in of.phases[-1].doses if dose.supply == "soda")


def soda_at(now: float) -> tuple[Supply]:
    return (Supply("soda", "pump", {"alkalinity": 60.0 * 2000.0 / 105.988}, inf, now),)


def test_a_pump_goes_from_what_holds_before_to_what_the_plan_of_that_hour_says_and_up_by_what_is_added():
    before, after = plan(0.9), plan(1.0)
    (step,) = pump_steps(phase(0.05, 0.02, 0.09), True, before, after, soda_at(0.03), VOLUME)
    base = soda(before)
    assert step == PumpStep("soda", "pump", 0.03, base, soda(after), base + 0.05, base + 0.09)
    assert base < soda(after) < base + 0.05
    # Never less than what the plan of that hour gives.
    (step,) = pump_steps(phase(0.0001, 0.0, 0.0002), True, before, after, soda_at(0.0), VOLUME)
    assert (step.now, step.first, step.likely, step.cap) == (0.0, soda(after), soda(after), soda(after))
    assert not list(pump_steps(phase(0.0, 0.0, 0.0), True, before, after, soda_at(0.0), VOLUME))


@pytest.mark.parametrize(("likely", "cap"), [(0.05, MEQ_PER_DKH * VOLUME / (60.0 * 2000.0 / 105.988)), (0.15, 0.15)])
def test_a_pump_is_never_set_so_high_that_a_newcomer_that_takes_nothing_has_the_level_rise_by_more_than_the_cap(
    likely: float, cap: float
):
    # Its uptake may be far above what is likely. Once a test has shown what is likely, that is given.
    (step,) = pump_steps(phase(likely, 0.02, 0.4), True, plan(0.9), plan(0.9), soda_at(0.1), VOLUME)
    assert step.cap - step.base == pytest.approx(cap)


def test_where_no_plan_is_known_a_pump_goes_up_from_what_runs_by_the_least_that_is_likely():
    (step,) = pump_steps(phase(0.05, 0.02, 0.09), True, NOT_KNOWN, NOT_KNOWN, soda_at(0.03), VOLUME)
    assert (step.now, step.base, step.first, step.likely, step.cap) == pytest.approx((0.03, 0.03, 0.05, 0.08, 0.12))


def test_after_a_loss_a_pump_goes_down_to_what_is_left_and_no_further_than_that_hour_s_plan():
    (step,) = pump_steps(phase(0.02, 0.01, 0.03), False, NOT_KNOWN, NOT_KNOWN, soda_at(0.05), VOLUME)
    assert (step.base, step.first, step.likely, step.cap) == (0.05, 0.0, 0.02, 0.05)
    after = plan(0.9)
    (step,) = pump_steps(phase(0.0, 0.0, 0.0), False, NOT_KNOWN, after, soda_at(0.5), VOLUME)
    assert (step.first, step.likely, step.cap) == (soda(after), soda(after), 0.5)
    assert not list(pump_steps(phase(0.02, 0.01, 0.03), False, NOT_KNOWN, NOT_KNOWN, soda_at(0.0), VOLUME))


def test_what_falls_away_is_taken_off_a_need_end_by_end_and_leaves_nothing_less_than_nothing():
    need = Need("calcium", Estimate(100.0, 80.0, 120.0, "mg/day"), "calcification", ())
    left = _less(need, Estimate(-0.1, -0.3, -0.05, "g/day"), 400.0).per_day
    assert (left.value, left.low, left.high) == pytest.approx((60.0, 0.0, 100.0))


@pytest.fixture(scope="module")
def reef() -> tuple[SystemLog, float]:
    """40 days at 8.2 dKH, a dKH a day given by a pump of soda and as much taken up."""
    times = np.arange(0.0, 40.0, 2.0)
    read = tuple(readings("alkalinity", "dKH", times, np.full(len(times), 8.2)))
    pump = PumpRate(source=here(), at=moment(0.0), solution="soda", rate=parse_quantity("0.4 L/day", "rate"))
    return SystemLog(system="lagoon", readings=read, pumps=(pump,)), 40.0


@pytest.mark.parametrize("dkh", [1.0, -0.5])
def test_a_test_after_the_change_shows_the_level_before_what_the_pumps_give_more_and_what_is_taken(reef, dkh: float):
    its_log, day = reef
    at, step = moment(day), Estimate(dkh * MEQ_PER_DKH, 0.8 * dkh * MEQ_PER_DKH, 1.2 * dkh * MEQ_PER_DKH, "meq/L/day")
    if dkh < 0.0:
        step = replace(step, low=step.high, high=step.low)
    grams = Finding(step.scaled(0.050043 * VOLUME, "g/day"), "change")
    known, water = baseline_of(system(), its_log, (), at), analyse_water(system(), its_log, (), at)
    before = dosing_plan(system(), its_log, water, at)
    told = steps(system(), its_log, known, (grams, step), before, water, at)
    assert isinstance(told, PlanSteps)
    outcomes = told.outcomes
    assert outcomes is not None
    assert known.found is not None
    days = (outcomes.at - at) / timedelta(days=1)
    level = track_points("alkalinity", known.found)[-1].level
    # A litre of either solution a day brings 1000 dKH to one of 400 L.
    more = sum(pump.first - pump.base for pump in told.pumps) * 1000.0 * MEQ_PER_DKH / VOLUME
    assert outcomes.none == pytest.approx(level.value + days * more)
    assert outcomes.all == pytest.approx(outcomes.none - days * step.value)
    assert outcomes.half == pytest.approx((outcomes.none + outcomes.all) / 2.0)
    assert outcomes.error == pytest.approx((level.standard**2 + known.found.kit_error**2) ** 0.5)
    assert outcomes.rises is (dkh > 0.0)
    low, high = 7.5 * MEQ_PER_DKH, 9.0 * MEQ_PER_DKH
    assert outcomes.out is (outcomes.all < low if dkh > 0.0 else outcomes.all > high)
    assert outcomes.astray is (outcomes.none > high if dkh > 0.0 else outcomes.none < low)
