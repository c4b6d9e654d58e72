"""From the minute of an arrival, a departure and a move every number goes by what was measured plus what is predicted.

The demo an hour before and an hour after, through all that is found; nobody has read the water in between.
"""

import dataclasses
from datetime import date, datetime, timedelta

import pytest
from msgspec.structs import replace

from generator.read.load import load
from generator.reckon.analysis.journal import Findings
from generator.reckon.arrivals.analysis import Demand
from generator.reckon.arrivals.shares import Shares
from generator.reckon.attention import alerts
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import Finding
from generator.reckon.water.findings import Forecast
from generator.records.carried_out import Affected, told_with
from generator.records.journal import Journal, as_it_stood
from generator.records.trade import Appointed, Given, Mover, Planned
from tests.conftest import calculated, found_once, lately, made_once

pytestmark = [pytest.mark.long, pytest.mark.usefixtures("courses_kept")]

HOUR = timedelta(hours=1)
HOME = "fore-reef"
# What is asked of the hour before and after; the rest of what can be found takes as long again.
ASKED = ("water", "predicted", "shares", "what_if", "dosing", "plans", "corals", "rooms", "at_risk", "trade")


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Journal:
    since_may = made_once(tmp_path_factory, "since-may", lambda folder: lately(folder, "2026-0[1-4]"))
    journal = load(since_may, date(2026, 11, 24)).journal
    assert journal is not None
    return journal


@pytest.fixture(scope="module")
def at(demo: Journal) -> datetime:
    return datetime(2026, 11, 24, 15, 10, tzinfo=demo.settings.time_zone)


def around(journal: Journal, plan: Planned, at: datetime, *systems: str) -> tuple[Findings, Findings, Journal]:
    """What is found an hour before and an hour after a plan is carried out, and the journal then, with some systems."""
    here = {id: system for id, system in journal.systems.items() if id in systems or not systems}
    journal = dataclasses.replace(journal, systems=here)
    when = Appointed(at.date(), at)
    plan = replace(plan, arrived=when)
    told = told_with(Affected(journal.corals, journal.trades, journal.logs), plan, when)
    done = dataclasses.replace(journal, corals=told.corals, trades=told.trades, logs=told.logs, plans={plan.id: plan})
    before, after = as_it_stood(done, at - HOUR), as_it_stood(done, at + HOUR)
    return found_at(before, at - HOUR), found_at(after, at + HOUR), after


def found_at(journal: Journal, at: datetime) -> Findings:
    found = calculated(journal, at)
    return Findings(at, **{name: getattr(found, name) for name in ASKED})


def largest(found: Findings, system: str) -> str:
    shared = found.shares[system]
    assert isinstance(shared, Shares)
    return next(iter(shared.corals))


@pytest.fixture(scope="module")
def arrival(demo: Journal, at: datetime, tmp_path_factory) -> tuple[Findings, Findings, Journal]:
    plan = demo.plans["lot-19"]
    plan = replace(plan, coming=tuple(replace(new, system=HOME) for new in plan.coming))
    return found_once(tmp_path_factory, "hour-of-arrival", lambda: around(demo, plan, at, HOME, "lagoon"))


@pytest.fixture(scope="module")
def departure(demo: Journal, at: datetime, arrival, tmp_path_factory) -> tuple[Findings, Findings, Journal]:
    plan = demo.plans["lot-19"]
    given = Given(source=plan.source, coral=largest(arrival[0], HOME), whole=True)
    plan = replace(plan, coming=(), going=(given,))
    return found_once(tmp_path_factory, "hour-of-departure", lambda: around(demo, plan, at, HOME))


@pytest.fixture(scope="module")
def move(demo: Journal, at: datetime, arrival, tmp_path_factory) -> tuple[Findings, Findings, Journal]:
    plan = demo.plans["lot-19"]
    moving = (Mover(source=plan.source, coral=largest(arrival[0], HOME), to="lagoon"),)
    plan = replace(plan, coming=(), moving=moving)
    return found_once(tmp_path_factory, "hour-of-move", lambda: around(demo, plan, at, HOME, "lagoon"))


def uptake(found: Findings, system: str) -> float:
    answer = found.water[system].uptake["alkalinity"].per_day
    assert isinstance(answer, Finding)
    return answer.estimate.value


def step(found: Findings, system: str) -> float:
    (told,) = found.predicted[system]
    assert told.step is not None
    return told.step.value


SETTLING = 0.02  # what the drift of two hours and the size of the predicted step leave, meq/L/day


@pytest.mark.parametrize("change", ["arrival", "departure", "move"])
def test_the_uptake_is_what_was_measured_plus_what_is_predicted(change: str, request: pytest.FixtureRequest) -> None:
    before, after, _ = request.getfixturevalue(change)
    systems = [HOME] if change != "move" else [HOME, "lagoon"]
    for system in systems:
        assert before.predicted[system] == ()
        assert uptake(after, system) == pytest.approx(uptake(before, system) + step(after, system), abs=SETTLING)
    assert (step(after, HOME) > 0) == (change == "arrival")


@pytest.mark.parametrize("change", ["arrival", "departure", "move"])
def test_the_shares_add_up_to_it(change: str, request: pytest.FixtureRequest) -> None:
    for found in request.getfixturevalue(change)[:2]:
        shared = found.shares[HOME]
        grams = found.water[HOME].calcification.grams_per_day
        assert isinstance(shared, Shares)
        assert isinstance(grams, Finding)
        assert shared.whole == grams
        assert sum(each.grams_per_day.value for each in shared.corals.values()) == pytest.approx(grams.estimate.value)


def test_what_the_others_take_does_not_change_when_one_comes(arrival) -> None:
    one, other = (
        {each.coral: each.grams_per_day.value for each in found.shares[HOME].corals.values()} for found in arrival[:2]
    )
    assert other.keys() - one.keys() == {"lot-19"}
    for coral, grams in one.items():
        assert other[coral] == pytest.approx(grams, rel=0.05)


def test_taking_out_what_came_gives_the_demand_of_before(arrival) -> None:
    before, after, _ = arrival
    (told,) = [each for each in after.what_if[HOME] if each.coral == "lot-19"]
    grams = before.water[HOME].calcification.grams_per_day
    assert isinstance(told.gone, Demand)
    assert isinstance(grams, Finding)
    assert told.gone.after.value == pytest.approx(grams.estimate.value, rel=0.02)


def test_the_forecast_goes_by_it(arrival, departure) -> None:
    def leaves(found: Findings) -> datetime:
        forecast = found.water[HOME].forecasts["alkalinity"]
        assert isinstance(forecast, Forecast)
        assert forecast.leaves == "low"
        assert forecast.earliest is not None
        return forecast.earliest

    assert leaves(arrival[1]) < leaves(arrival[0]) - timedelta(days=3)
    gone = departure[1].water[HOME].forecasts["alkalinity"]
    assert isinstance(gone, Forecast)
    assert gone.leaves != "low"


def test_the_day_names_the_newcomer_as_predicted_and_no_rise_that_nobody_read(arrival) -> None:
    _, after, journal = arrival
    today = alerts(journal, after)
    kinds = [(item.kind, item.system) for item in today]
    assert ("predicted", HOME) in kinds
    assert ("leaving-band", HOME) in kinds
    assert not any(item.kind == "demand-changed" and item.system == HOME for item in today)


def test_an_hour_before_the_day_counts_down_and_an_hour_after_no_more(arrival) -> None:
    before, after, _ = arrival
    assert [each.plan.id for each in before.plans] == ["lot-19"]
    assert after.plans == ()


def test_another_water_stays_as_it_is(arrival) -> None:
    before, after, _ = arrival
    assert uptake(after, "lagoon") == pytest.approx(uptake(before, "lagoon"), rel=0.01)


@pytest.mark.parametrize("change", ["arrival", "departure", "move"])
def test_there_is_a_dose_the_hour_after(change: str, request: pytest.FixtureRequest) -> None:
    before, after, _ = request.getfixturevalue(change)
    assert isinstance(before.dosing[HOME].plan, Plan)
    assert isinstance(after.dosing[HOME].plan, Plan)


def test_the_sheet_said_before_what_the_plan_says_after(arrival) -> None:
    before, after, _ = arrival
    (water,) = before.plans[0].landings[0].waters
    assert water.steps is not None
    said = {step.supply: step.first for step in water.steps.pumps}
    plan = after.dosing[HOME].plan
    assert isinstance(plan, Plan)
    given = {dose.supply: dose.rate.estimate.value for dose in plan.phases[-1].doses if dose.supply in said}
    assert said.keys() == given.keys() == {"soda", "chloride"}
    for supply, litres in given.items():
        assert said[supply] == pytest.approx(litres, rel=0.1)


@pytest.mark.parametrize(("change", "systems"), [("departure", [HOME]), ("move", [HOME, "lagoon"])])
def test_the_sheet_of_what_leaves_said_the_uptake_and_the_doses_of_after(
    change: str, systems: list[str], request: pytest.FixtureRequest
) -> None:
    before, after, _ = request.getfixturevalue(change)
    said = {each.system: each for each in before.plans[0].afters}
    assert sorted(said) == sorted(systems)
    for system in systems:
        told, plan = said[system].after, after.dosing[system].plan
        assert isinstance(told, Finding)
        assert isinstance(plan, Plan)
        assert told.estimate.value == pytest.approx(uptake(after, system), rel=0.05)
        given = {dose.supply: dose.rate.estimate.value for dose in plan.phases[-1].doses}
        steps = said[system].steps
        assert steps is not None
        assert "soda" in {step.supply for step in steps.pumps}
        for step in steps.pumps:
            assert step.first == pytest.approx(given.get(step.supply, 0.0), rel=0.1, abs=0.02)
            assert step.first <= step.likely <= step.cap
        assert steps.test is not None
        assert steps.test <= plan.next_test.at + timedelta(days=1)
        assert steps.outcomes is not None
        assert steps.outcomes.rises == (system != HOME)
