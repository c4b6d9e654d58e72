"""Prediction and planned from the demo's files, held against what was really so in the simulated water."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
import yaml

from generator.read.load import load
from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.shares import Shares, present_factor, shares
from generator.reckon.dosing.analysis import VolumeByDose, volume
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.finding import Finding
from generator.reckon.water.analysis import analyse_water
from tests.simulator import demo
from tests.simulator.test_demo import CONTENT

pytestmark = [pytest.mark.long, pytest.mark.usefixtures("courses_kept")]


@pytest.fixture(scope="module")
def truth():
    return yaml.load((demo.HERE / "demo_truth.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader)


@pytest.fixture(scope="module")
def journal():
    return load(CONTENT, demo.LAST).journal


def evening(day: date) -> datetime:
    return datetime.combine(day, time(20, 0), UTC)


def water(journal, system: str, day: date):
    of = journal.systems[system], journal.log_of(system), journal.corals.values()
    return analyse_water(*of, evening(day), past=False)


def foreseen(journal, truth, id: str):
    """What a newcomer was foreseen to take the day before the first of the two came, and what it took in the end."""
    known = truth["newcomers"][id]
    system = journal.systems[known["system"]]
    before = min(demo.NEWCOMERS.values()) - timedelta(days=1)
    measured = water(journal, system.id, before).calcification.grams_per_day
    factor = present_factor(journal.corals.values(), system.id, before, measured)
    found = expected(colony_of(journal.corals[id], date.fromisoformat(known["at"])), system.water, factor)
    assert isinstance(found, ExpectedUptake)
    assert isinstance(found.share, Finding)
    assert found.published.independent >= 2
    assert found.large
    return found.grams_per_day.estimate, known["grams_of_caco3"]["2026-11-15"]


def test_the_thicket_takes_what_was_foreseen_the_day_before(journal, truth):
    found, took = foreseen(journal, truth, "drowned-orchard-1")
    assert found.low < took < found.high
    assert 0.5 < took / found.value < 2.0


def test_the_boulder_takes_far_more_than_its_form_and_size_promise(journal, truth):
    found, took = foreseen(journal, truth, "ballast-1")
    assert took > 1.5 * found.high


def test_afterwards_all_shares_add_up_and_the_newcomers_have_large_ones(journal):
    day = date(2026, 11, 15)
    grams = water(journal, "fore-reef", day).calcification.grams_per_day
    found = shares("fore-reef", journal.systems["fore-reef"].water, journal.corals.values(), grams, day)
    assert isinstance(found, Shares)
    assert sum(each.share.value for each in found.corals.values()) == pytest.approx(1.0, abs=0.02)
    assert demo.NEWCOMERS.keys() <= {each.coral for each in list(found.corals.values())[:3]}


def test_doses_by_hand_tell_how_much_water_there_really_is(journal, truth):
    found = volume(
        journal.systems["fore-reef"],
        journal.log_of("fore-reef"),
        water(journal, "fore-reef", date(2026, 11, 20)).learned_error,
        evening(date(2026, 11, 20)),
    )
    assert isinstance(found, VolumeByDose)
    assert found.volume.estimate.low < truth["systems"]["fore-reef"]["litres"] < found.volume.estimate.high


@pytest.mark.parametrize(("system", "day"), [("fore-reef", "2026-09-15"), ("lagoon", "2026-09-15")])
def test_the_planned_doses_give_what_the_corals_really_take(journal, truth, system, day):
    on = date.fromisoformat(day)
    home, log = journal.systems[system], journal.log_of(system)
    plan = dosing_plan(home, log, water(journal, system, on), evening(on))
    assert isinstance(plan, Plan)
    needs = {need.kind: need.per_day for need in plan.needs}
    known = truth["systems"][system]["days"][day]
    # A gram of CaCO3 holds 400.4 mg of calcium.
    assert needs["calcium"].value == pytest.approx(400.4 * known["grams_of_caco3"], rel=0.15)
