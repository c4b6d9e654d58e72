"""The uptake and the pumps of a water that a plan changes, and what a test then shows."""

from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.arrivals.informed import Informed
from generator.reckon.arrivals.observed import baseline_of
from generator.reckon.dosing.plan import dosing_plan
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.planned.water import PlanSteps, _at_least, _changed, steps
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.uptake import track_points
from generator.records.log import PumpRate, SystemLog
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.planned.test_places import planned
from tests.reckon.water.journals import VOLUME, here, moment, readings, system
from tests.render import sample

pytestmark = pytest.mark.usefixtures("courses_kept")


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


def test_no_more_falls_away_than_was_taken_up() -> None:
    def falls(step: Estimate, before: float) -> Estimate:
        known = Finding(Estimate(before, before - 0.1, before + 0.1, "meq/L/day"), "uptake")
        event = DemandEvent(sample.AS_OF, 1.0, "loss", "one", sample.line(1), sample.AS_OF.date())
        found = _changed(sample.system(), [Informed(event, step=step), Informed(event)], known)
        assert found is not None
        return found[1]

    large = Estimate(-0.5, -0.9, -0.2, "meq/L/day")
    assert falls(large, 1.0) == large
    assert falls(large, 0.4) == Estimate(-0.4, -0.4, -0.2, "meq/L/day")
    assert falls(large, -0.3) == Estimate(0.0, 0.0, 0.0, "meq/L/day")


def test_a_water_with_a_coral_takes_no_less_than_the_coral_alone() -> None:
    alone = Estimate(0.1, 0.05, 0.2, "meq/L/day")
    young = Finding(Estimate(0.0, 0.0, 0.45, "meq/L/day"), "uptake", ())
    old = Finding(Estimate(0.9, 0.8, 1.0, "meq/L/day"), "uptake", ())
    found = _at_least(alone, young)
    assert isinstance(found, Finding)
    assert found.estimate == Estimate(0.1, 0.05, 0.45, "meq/L/day")
    assert _at_least(alone, old) == old
    unknown = CannotTell("too-few-readings", "read-more")
    assert _at_least(alone, unknown) is unknown


def test_a_tank_that_moves_into_new_water_takes_its_uptake_along(tmp_path: Path) -> None:
    """A new system of which nothing was read yet; the bay takes up 1.1 dKH a day in 420 L, the new one has 600 L."""
    new = (
        "name: New\nwater: {volume: 600 L, uncertainty: 6 L}\nlow: {alkalinity: 7 dKH}\nhigh: {alkalinity: 9 dKH}\n"
        "solutions: {soda: {compound: Na2CO3, strength: 60 g/L, stock: 5 L}}\n"
    )
    found = planned(tmp_path, "moving:\n  - {all_of: bay, to: new}\n", {"systems/new.yaml": new})
    (there,) = [each for each in found.afters if each.system == "new"]
    taken = sum(each.step.value for each in there.events if each.step)
    assert taken * 600.0 == pytest.approx(1.1 * MEQ_PER_DKH * 420.0, rel=0.15)
    assert there.steps is not None
    (soda,) = there.steps.pumps
    assert (soda.now, soda.base) == (0.0, 0.0)
    assert 0.0 < soda.first < soda.likely < soda.cap
