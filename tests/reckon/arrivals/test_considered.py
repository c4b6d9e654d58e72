"""Colonies under consideration get the answers that the command line gives for the same colony."""

from datetime import date, datetime
from pathlib import Path

import pytest

from generator.read.load import load
from generator.reckon.arrivals.colony import Colony
from generator.reckon.arrivals.considered import MOST_PLACES
from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.arrivals.foresight import Foresight, foresee
from generator.reckon.finding import CannotTell
from generator.reckon.growth.footprint import Body
from generator.reckon.growth.places import where_could_it_go
from generator.reckon.growth.spots import Wish
from generator.reckon.survey import Findings, survey
from generator.records.journal import Journal
from generator.records.past import as_it_stood
from tests.render import sample

CONTENT = Path(__file__).parents[3] / "content"


@pytest.fixture(scope="module")
def demo() -> tuple[Journal, datetime]:
    journal = load(CONTENT, date(2026, 11, 24)).journal
    assert journal is not None
    at = datetime(2026, 11, 24, 20, 0, tzinfo=journal.settings.time_zone)
    return as_it_stood(journal, at), at


@pytest.fixture(scope="module")
def found(demo: tuple[Journal, datetime]) -> Findings:
    return survey(*demo)


def test_a_wide_table_is_told_the_places_that_a_search_for_them_finds(demo, found) -> None:
    journal, _ = demo
    largest = found.considered[0]
    standing = {id: room.standing for id, room in found.rooms.items()}
    wish = Wish(46.0, 37.0, 24.0, 210.0, 280.0, "strong", 15.0)
    searched = where_could_it_go(wish, journal.systems.values(), standing, journal.settings.safe_distances)
    assert largest.wish == wish
    assert largest.places == searched[:MOST_PLACES]
    assert {place.spot.place for place in largest.places} == {"east-stand", "rack-c"}


def test_it_takes_what_is_foreseen_for_such_a_colony(demo, found) -> None:
    journal, at = demo
    for water in found.considered[0].waters:
        system = journal.systems[water.system]
        such = Colony(genus="Hydnophora", form="branching", body=Body(46.0, 37.0, 24.0))
        same = foresee(system, journal.log_of(system.id), journal.corals, such, at)
        assert isinstance(same, Foresight)
        assert isinstance(water.uptake, ExpectedUptake)
        assert water.uptake.grams_per_day.estimate == same.uptake.grams_per_day.estimate
        assert water.uptake.alkalinity.estimate == same.uptake.alkalinity.estimate
        assert water.added is not None
        told = [(dose.supply, dose.rate.estimate) for dose in water.added.doses]
        assert told == [(dose.supply, dose.rate.estimate) for dose in same.added.doses]


def test_a_colony_is_considered_from_its_day_until_it_is_decided_on() -> None:
    colony = sample.considered(since=date(2026, 3, 1), decided=date(2026, 3, 5))
    days = {day: colony.open_on(date(2026, 3, day)) for day in (1, 4, 5)} | {0: colony.open_on(date(2026, 2, 28))}
    assert days == {0: False, 1: True, 4: True, 5: False}
    later = sample.journal(considered=(sample.considered(since=date(2026, 3, 11)),))
    assert as_it_stood(later, sample.AS_OF).considered == ()


def test_what_has_no_skeleton_still_gets_a_place_but_no_uptake() -> None:
    leather = sample.considered(species="Sarcophyton glaucum", form="massive")
    found = survey(sample.journal(considered=(leather,)), sample.AS_OF).considered[0]
    assert found.places
    assert all(isinstance(water.uptake, CannotTell) and water.added is None for water in found.waters)
