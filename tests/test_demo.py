"""The demo journal's findings against the truth its simulator kept."""

import dataclasses
import re
from collections.abc import Iterator, Mapping
from dataclasses import fields
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from math import hypot
from pathlib import Path

import pytest
import yaml
from msgspec import Struct
from msgspec.structs import replace

from generator.read.load import load
from generator.reckon.analysis.journal import Findings
from generator.reckon.analysis.journal import analyse as analyse_all
from generator.reckon.analysis.since import JournalState, UptakeChange, changes, is_told
from generator.reckon.arrivals.analysis import Demand, Moved
from generator.reckon.arrivals.observed import observe
from generator.reckon.attention.water import of_water
from generator.reckon.finding import Finding
from generator.reckon.water.analysis import OF_SKELETON, analyse_water, gather
from generator.reckon.water.calcification import grams_per_day
from generator.reckon.water.demand_events import demand_events
from generator.reckon.water.estimate import lately
from generator.reckon.water.uptake import uptake
from generator.records.journal import as_it_stood, moment
from generator.records.source import Source
from generator.render.audience import view
from generator.render.found import found_for
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import coverage_factor
from tests.conftest import AS_OF

CONTENT = Path(__file__).parent.parent / "content"
TRUTH = yaml.load(
    (Path(__file__).parent / "simulator" / "demo_truth.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader
)


@cache
def journal():
    loaded = load(CONTENT, date(2026, 11, 22))
    assert loaded.journal is not None
    return loaded.journal


@cache
def everything():
    at = moment(date.fromisoformat(AS_OF), journal().settings.time_zone)
    return analyse_all(as_it_stood(journal(), at), at)


def analyse(system: str, day: str):
    of = journal()
    as_of = datetime.fromisoformat(day).replace(tzinfo=UTC)
    return analyse_water(of.systems[system], of.log_of(system), of.corals.values(), as_of, past=False)


@pytest.mark.long
def test_the_intervals_hold_the_demos_truth_about_nine_times_in_ten():
    held = {"uptake": [], "grams": []}
    for system, truth in TRUTH["systems"].items():
        for day, values in list(truth["days"].items())[4::5]:
            of, as_of = journal(), datetime.fromisoformat(day).replace(tzinfo=UTC)
            log, water = lately(of.log_of(system), as_of), of.systems[system].water
            events = demand_events(system, log, of.corals.values(), as_of)
            evidence, found = gather(of.systems[system], log, events, as_of, OF_SKELETON)
            alkalinity, both = (
                evidence["alkalinity"],
                [each[kind] for each in (evidence, found) for kind in OF_SKELETON],
            )
            for quantity, answer, true in (
                (
                    "uptake",
                    uptake(alkalinity, found["alkalinity"], water, as_of, past=False).per_day,
                    values["alkalinity_uptake_dkh"] * MEQ_PER_DKH,
                ),
                ("grams", grams_per_day(*both, water, as_of), values["grams_of_caco3"]),
            ):
                if isinstance(answer, Finding):
                    held[quantity].append(answer.estimate.low <= true <= answer.estimate.high)
    for quantity, each in held.items():
        assert len(each) > 50, quantity
        assert sum(each) / len(each) >= 0.85, quantity


def uptake_changes(system: str, span: int) -> Iterator[tuple[date, UptakeChange, float]]:
    """What `since` says of alkalinity's uptake over so many days, day by day, and the true change (meq/L/day)."""
    of, zone = journal(), UTC
    days = {date.fromisoformat(str(day)): each for day, each in TRUTH["systems"][system]["days"].items()}
    at = {day: datetime.combine(day, time(), zone) for day in days}
    for day, then in days.items():
        later = day + timedelta(days=span)
        if later in days:
            states = (JournalState(at[each], of, {system: everything().water[system]}, {}) for each in (day, later))
            said = next(iter(changes(*states).water[system].uptake), None)
            if said is not None and said.kind == "alkalinity" and said.by is not None:
                true = days[later]["alkalinity_uptake_dkh"] - then["alkalinity_uptake_dkh"]
                yield day, said, true * MEQ_PER_DKH


@pytest.mark.long
@pytest.mark.parametrize("span", [7, 28])
def test_the_range_of_a_change_of_uptake_holds_the_true_change(span: int) -> None:
    said = [each for system in TRUTH["systems"] for each in uptake_changes(system, span)]
    assert len(said) > 50
    assert sum(change.by.low <= true <= change.by.high for _, change, true in said) / len(said) >= 0.9
    sure = [(change, true) for _, change, true in said if is_told(change.by)]
    assert sure
    assert sum(change.by.value * true > 0.0 for change, true in sure) / len(sure) >= 0.9, "up is up, and down is down"


def test_the_worn_pump_is_named_a_week_before_its_keeper_noticed_with_what_it_lacks():
    worn = TRUTH["wrong"]["worn_tube"]
    begins, noticed = (date.fromisoformat(str(worn[day])) for day in ("begins", "noticed"))
    day = noticed - timedelta(days=8)
    found = analyse(worn["system"], day.isoformat())
    odds = {pump.solution: pump for pump in found.calcification.pumps}
    lacks = (1.0 - worn["part_that_arrives_at_the_end"]) * (day - begins) / (noticed - begins)
    assert odds[worn["solution"]].odds > 0.9
    assert odds[worn["solution"]].lacks.low < lacks < odds[worn["solution"]].lacks.high
    assert odds["chloride"].odds < 0.1
    alerts = [each.id for each in of_water(journal().systems[worn["system"]], found, found.as_of, UTC)]
    assert any(id.startswith("pump-gives-less/lagoon/alkalinity/soda") for id in alerts)


def test_what_a_worn_pump_lacks_is_not_taken_for_uptake():
    worn = TRUTH["wrong"]["worn_tube"]
    days = TRUTH["systems"][worn["system"]]["days"]
    for day in ("2026-07-01", "2026-07-08"):
        per_day = analyse(worn["system"], day).uptake["alkalinity"].per_day
        assert per_day.estimate.low < days[day]["alkalinity_uptake_dkh"] * MEQ_PER_DKH < per_day.estimate.high


def test_what_was_predicted_of_each_newcomer_is_held_against_what_it_was_found_to_do():
    held = {each.coral: each for each in everything().arrivals_held}
    assert held.keys() >= TRUTH["newcomers"].keys()
    assert all(each.predicted.value > 0.0 and each.found.value > 0.0 for each in map(held.get, TRUTH["newcomers"]))


def test_the_tube_before_it_wore_left_nothing_unexplained():
    worn = TRUTH["wrong"]["worn_tube"]
    day = date.fromisoformat(str(worn["begins"])) - timedelta(days=4)
    part = analyse(worn["system"], day.isoformat()).calcification.unexplained
    assert isinstance(part, Finding)
    assert part.estimate.low < 0.0 < part.estimate.high


def test_the_newcomers_demand_stands_out_by_the_second_reading_since():
    came = TRUTH["newcomers"]["ballast-1"]
    day = date.fromisoformat(came["at"])
    before, after = (
        analyse(came["system"], (day + timedelta(days=days)).isoformat()).uptake["alkalinity"].per_day
        for days in (-1, 5)
    )
    assert after.estimate.low > before.estimate.high


def test_the_newcomers_are_seen_to_raise_the_demand_of_their_system_as_much_as_they_did():
    came = TRUTH["newcomers"]["ballast-1"]
    day = date.fromisoformat(came["at"])
    as_of = datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(days=15)
    of = journal()
    system, log = of.systems[came["system"]], of.log_of(came["system"])
    events = demand_events(system.id, log, of.corals.values(), as_of)
    event = next(e for e in events if e.coral == "ballast-1")
    evidence, found = gather(system, log, events, as_of)
    seen = observe(evidence["alkalinity"], found["alkalinity"], event, events, {}, as_of)
    assert seen.chance > 0.95
    days = TRUTH["systems"][came["system"]]["days"]
    before, after = (days[str(day + timedelta(days=d))]["alkalinity_uptake_dkh"] for d in (-1, 14))
    assert after > 2.0 * before
    assert seen.after.estimate.value / seen.before.estimate.value == pytest.approx(after / before, rel=0.15)


def found_in(something: object, name: str = "") -> Iterator[tuple[str, Finding]]:
    """Every finding in findings, however deep, by where it stands."""
    if isinstance(something, Finding):
        yield f"{name} by {something.method}", something
    elif isinstance(something, Findings | Struct):
        names = (
            [field.name for field in fields(something)]
            if isinstance(something, Findings)
            else something.__struct_fields__
        )
        for field in names:
            yield from found_in(getattr(something, field), f"{name}.{field}")
    elif isinstance(something, Mapping):
        for key, value in something.items():
            yield from found_in(value, f"{name}.{key}")
    elif isinstance(something, tuple):
        for value in something:
            yield from found_in(value, name)


def test_every_number_with_an_interval_tells_its_lines_and_what_its_uncertainty_is_made_of():
    # Parts are to first order, and some intervals are those of a curved scale: to a factor of about two.
    with_interval = {n: f for n, f in found_in(everything()) if f.estimate.high > f.estimate.low}
    assert len({found.method for found in with_interval.values()}) > 20
    for name, found in with_interval.items():
        half = (found.estimate.high - found.estimate.low) / 2.0
        of_parts = coverage_factor(found.estimate.level) * hypot(*(part.standard for part in found.parts))
        assert found.inputs, name
        # Uptake cannot be negative: an interval cut off at nothing is narrower than what it is made of.
        assert 0.3 < of_parts / half < (4.0 if found.estimate.low == 0.0 else 2.2), name


def test_every_demand_that_would_be_and_every_day_room_ends_tells_what_its_uncertainty_is_made_of():
    # As above to a factor of about two; days whose interval is cut off at five years are wider than it.
    seen = 0
    for demand in demands_in(everything()):
        after = demand.alkalinity_after
        half = (after.high - after.low) / 2.0
        of_parts = coverage_factor(after.level) * hypot(*(part.standard for part in demand.parts))
        assert 0.3 < of_parts / half < 2.2, demand
        seen += 1
    for room in everything().rooms.values():
        for dates in (*(each.touch for each in room.meetings), *(each.leaves for each in room.leaving)):
            if dates.parts and dates.earliest and dates.earliest > room.as_of and dates.latest:
                half = (dates.latest - dates.earliest).days / 2.0
                of_parts = coverage_factor() * hypot(*(part.standard for part in dates.parts))
                assert 0.3 < of_parts / half < 2.2, dates
                seen += 1
    assert seen > 100


def demands_in(findings: Findings) -> Iterator[Demand]:
    for ifs in findings.what_if.values():
        for each in ifs:
            moved = [pair.arriving for _, pair in each.moved if isinstance(pair, Moved)]
            yield from (found for found in (each.cut, each.gone, *moved) if isinstance(found, Demand))


@pytest.mark.parametrize("system", ["lagoon", "fore-reef"])
def test_what_was_calculated_names_no_coral_system_or_trade_that_an_audience_does_not_see(system):
    # Every third coral, a system and every second trade: hidden corals are neighbours, siblings and on offer, in
    # the way of others, and those that are seen came to a water that is not.
    every = journal()
    hidden = [*list(every.corals)[::3], system, *list(every.trades)[::2]]
    could_go = {
        id: tuple(replace(spot, unplaced=tuple(every.corals)) for spot in spots)
        for id, spots in everything().could_go.items()
    }

    def marked(records):
        return {id: replace(each, audience="own") if id in hidden else each for id, each in records.items()}

    parts = {part: marked(getattr(every, part)) for part in ("corals", "systems", "trades")}
    public = view(dataclasses.replace(every, **parts))
    told = repr(found_for(public, dataclasses.replace(everything(), could_go=could_go)))
    assert [id for id in hidden if f"'{id}'" in told] == []
    named = set(re.findall(r"Source\(file='([^']+)'", told))
    assert [file for file in named if not public.tells(Source(file))] == []
    assert {file.split("/")[0] for file in named} >= {"corals", "logs", "systems"}
    for part in parts:
        assert any(f"'{id}'" in told for id in getattr(public, part)), part
