"""Pumps go in steps when uptake is to change: by the least that is likely at first, and no further than is safe."""

from math import inf

import pytest
from msgspec.structs import replace

from generator.reckon.dosing.outlook import Need
from generator.reckon.dosing.phases import DoseRate, Phase
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.supplies import Supply
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.planned.water import PumpStep, _less, pump_steps
from generator.records.log import MeasuredRate
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.dosing.systems import AS_OF, TWO_PART, dosed, found, log
from tests.reckon.water.journals import VOLUME, here

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


def test_a_pump_to_mend_is_set_only_once_it_is_mended():
    gave = MeasuredRate(source=here(9), at=AS_OF, solution="soda", rate=parse_quantity("20 mL/day", "rate"))
    runs = replace(log({"soda": "113 mL/day", "chloride": "118 mL/day"}), measured_rates=(gave,))
    lacks = dosing_plan(dosed(TWO_PART), runs, found(0.9), AS_OF)
    for after, mended in ((lacks, True), (plan(0.9), False), (NOT_KNOWN, False)):
        (step,) = pump_steps(phase(0.05, 0.02, 0.09), True, plan(0.9), after, soda_at(0.113), VOLUME)
        assert step.mended == mended


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
