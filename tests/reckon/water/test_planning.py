"""The readings worth making: after what changed, and next of everything."""

from datetime import timedelta

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.water.analysis import analyse_water, gather
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.findings import ReadingPlan, WaterFindings
from generator.reckon.water.when_to_test import next_tests, reading_plans
from generator.records.log import PumpRate, SystemLog
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.water.journals import here, log_of, moment, system
from tests.reckon.water.waters import log, read, reef
from tests.simulator.water import simulate_water

ARRIVAL = 40.0
DEMAND = 1.2


def history(with_calcium: bool = False) -> SystemLog:
    """40 days of a system that takes up 1.2 dKH a day, read about every second day."""
    run = simulate_water(
        np.random.default_rng(11),
        ARRIVAL,
        tests_every=(1.5, 2.5),
        uptake=DEMAND,
        drift=0.015,
        rate_every=None,
        calcium_every=2,
    )
    return log_of(run, with_calcium=with_calcium)


def plans(*events: DemandEvent, day: float = ARRIVAL + 0.5) -> tuple[ReadingPlan, ...]:
    evidence, found = gather(system(), history(), events, moment(day))
    return reading_plans(system(), evidence, found, events, moment(day))


def event(what: str, share: float, day: float = ARRIVAL, coral: str | None = "thicket", line: int = 9) -> DemandEvent:
    return DemandEvent(moment(day), share, what, coral, here(line), moment(day).date())


def after_setting_pumps(to: float, day: float = ARRIVAL - 1.0) -> WaterFindings:
    """The analysis half a day after the one pump was set to so many dKH a day."""
    run = history()
    rate = PumpRate(
        source=here(77), at=moment(day), solution="balanced", rate=parse_quantity(f"{to * 0.4:.4f} L/day", "rate")
    )
    before = PumpRate(
        source=here(76), at=moment(0.0), solution="balanced", rate=parse_quantity(f"{DEMAND * 0.4:.4f} L/day", "rate")
    )
    return analyse_water(system(), replace(run, pumps=(before, rate)), [], moment(ARRIVAL))


def test_a_newcomer_as_heavy_as_all_the_others_asks_for_readings_of_a_change_as_large_as_the_demand():
    (plan,) = plans(event("arrival", 1.0))
    assert (plan.kind, plan.what, plan.coral, plan.inputs) == ("alkalinity", "arrival", "thicket", (here(9),))
    assert plan.size == pytest.approx(DEMAND * MEQ_PER_DKH, rel=0.15)
    # Common practice, no source: the first reading one to two days after it.
    assert timedelta(days=1) <= plan.readings[0].at - moment(ARRIVAL) <= timedelta(days=2)


def test_a_coral_lost_is_looked_for_as_a_fall():
    (plan,) = plans(event("loss", 0.5))
    assert plan.size == pytest.approx(-0.5 * DEMAND * MEQ_PER_DKH, rel=0.15)


def test_a_small_newcomer_asks_for_no_readings_of_its_own():
    assert plans(event("arrival", 0.14)) == ()


def test_what_came_more_than_a_fortnight_ago_asks_for_none_either():
    assert plans(event("arrival", 1.0, day=25.0)) == ()


def test_two_corals_of_one_day_are_one_change_named_by_the_larger():
    (plan,) = plans(event("arrival", 0.3, line=1), event("arrival", 0.6, ARRIVAL + 0.1, "crown", 2))
    assert plan.coral == "crown"
    assert plan.inputs == (here(1), here(2))
    assert plan.size == pytest.approx(0.9 * DEMAND * MEQ_PER_DKH, rel=0.15)


def test_one_that_comes_as_an_equal_goes_leaves_nothing_to_tell():
    assert plans(event("arrival", 0.5), event("loss", 0.5, ARRIVAL + 0.1)) == ()


def test_a_pump_set_to_half_asks_whether_half_really_goes_in():
    plan = next(plan for plan in after_setting_pumps(DEMAND / 2).plans if plan.kind == "alkalinity")
    assert (plan.what, plan.inputs) == ("dose", (here(76), here(77)))
    assert plan.size == pytest.approx(-DEMAND / 2 * MEQ_PER_DKH, rel=0.01)


def test_a_pump_trimmed_by_a_tenth_asks_for_none():
    assert after_setting_pumps(DEMAND * 0.9).plans == ()


def test_a_pump_set_longer_than_a_week_ago_asks_for_none():
    assert after_setting_pumps(DEMAND / 2, ARRIVAL - 8.0).plans == ()


def test_calcium_gets_a_plan_of_its_own_where_it_is_read():
    events = (event("arrival", 1.0),)
    evidence, found = gather(system(), history(with_calcium=True), events, moment(ARRIVAL + 0.5))
    sizes = {plan.kind: plan.size for plan in reading_plans(system(), evidence, found, events, moment(ARRIVAL + 0.5))}
    # Source: stoichiometry of CaCO3: one mole (40.08 mg/mmol) of calcium for two equivalents of alkalinity.
    assert sizes["calcium"] == pytest.approx(sizes["alkalinity"] / 2.0 * 40.08, rel=0.4)


def test_a_few_readings_say_too_little_for_any_plan():
    early = analyse_water(system(), history().until(moment(1.0)), [], moment(2.0))
    assert early.plans == ()


def test_whatever_is_read_or_has_a_band_has_its_next_reading():
    water = reef(alkalinity=("7.5 dKH", "9.0 dKH"), magnesium=("1250 mg/L", "1400 mg/L"))
    found = analyse_water(water, log(read(0.0, alkalinity="8.2 dKH"), read(1.0, nitrate="5 mg/L")), [], moment(2.0))
    assert set(found.next_tests) == {"alkalinity", "magnesium", "nitrate"}
    assert found.next_tests["magnesium"].why == "no-reading"
    assert found.next_tests["magnesium"].at == moment(2.0)
    # Common practice, no source: alkalinity at least once a week, what is only watched once a fortnight.
    assert found.next_tests["alkalinity"].at == moment(7.0)
    assert found.next_tests["nitrate"].at == moment(15.0)


def test_the_newcomers_first_reading_is_the_next_one_worth_making():
    as_of = moment(ARRIVAL + 0.5)
    (plan,) = plans(event("arrival", 1.0))
    last = analyse_water(system(), history(), [], as_of).latest["alkalinity"]
    # What is outside its band is read again sooner than that.
    latest = {"alkalinity": replace(last, standing="within")}
    following = next_tests(system(), latest, {}, [plan], as_of)["alkalinity"]
    assert (following.at, following.why) == (plan.readings[0].at, "tells-a-change")
    assert following.odds == plan.readings[0].odds >= 0.9
