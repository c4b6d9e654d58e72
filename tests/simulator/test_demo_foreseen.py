"""What is foreseen and planned from the demo's files, held against what was really so in the simulated water."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
import yaml

from generator.read.load import load
from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.shares import Shares, present_factor, shares
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.volume_by_dose import VolumeByDose, volume
from generator.reckon.finding import Finding
from generator.reckon.water.survey import survey_water
from tests.simulator import demo
from tests.simulator.test_demo import CONTENT


@pytest.fixture(scope="module")
def truth():
    return yaml.safe_load((demo.HERE / "demo_truth.yaml").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def journal():
    return load(CONTENT, demo.LAST).journal


def evening(day: date) -> datetime:
    return datetime.combine(day, time(20, 0), UTC)


def water(journal, system: str, day: date):
    return survey_water(journal.systems[system], journal.log_of(system), journal.corals.values(), evening(day))


def test_the_newcomer_takes_what_was_foreseen_the_day_before(journal, truth):
    known = truth["wrong"]["newcomer"]
    system, arrival = journal.systems[known["system"]], date.fromisoformat(str(known["at"]))
    before = arrival - timedelta(days=1)
    measured = water(journal, system.id, before).calcification.grams_per_day
    factor = present_factor(journal.corals.values(), system.id, before, measured, without=known["coral"])
    found = expected(colony_of(journal.corals[known["coral"]], arrival), system.water, factor)
    assert isinstance(found, ExpectedUptake)
    assert isinstance(found.share, Finding)
    days = truth["systems"][system.id]["days"]
    rise = days["2026-11-15"]["grams_of_caco3"] - days[str(before)]["grams_of_caco3"]
    assert found.grams_per_day.estimate.low < rise < found.grams_per_day.estimate.high
    assert found.grams_per_day.estimate.value == pytest.approx(rise, rel=0.35)
    assert found.published.independent >= 2
    # Common practice, no source: as heavy as all the others, it takes about as much as they.
    assert found.share.estimate.value == pytest.approx(0.5, abs=0.12)
    assert found.large


def test_afterwards_it_has_the_largest_share(journal):
    day = date(2026, 11, 15)
    grams = water(journal, "fore-reef", day).calcification.grams_per_day
    found = shares("fore-reef", journal.systems["fore-reef"].water, journal.corals.values(), grams, day)
    assert isinstance(found, Shares)
    assert found.corals[0].coral == "long-table-1"
    assert found.corals[0].share.low < 0.5 < found.corals[0].share.high


def test_doses_by_hand_tell_how_much_water_there_really_is(journal, truth):
    found = volume(
        journal.systems["fore-reef"],
        journal.log_of("fore-reef"),
        water(journal, "fore-reef", date(2026, 11, 20)),
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
