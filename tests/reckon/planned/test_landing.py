"""Colonies that are to come get the answers that the command line gives for the same colony."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from generator.nature.rates import published_extension
from generator.reckon.analysis.journal import Findings, analyse
from generator.reckon.arrivals.analysis import Foresight, foresee
from generator.reckon.arrivals.colony import Colony
from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.arrivals.known import waters_of
from generator.reckon.finding import CannotTell
from generator.reckon.growth.measurements import Body
from generator.reckon.growth.pace import DAYS_PER_YEAR
from generator.reckon.growth.places import where_could_it_go
from generator.reckon.growth.spots import Wish
from generator.reckon.planned.places import MOST_PLACES, Landing
from generator.records.journal import Journal
from generator.records.trade import Appointed
from tests.reckon.planned.evening import evening
from tests.render import sample

pytestmark = pytest.mark.usefixtures("courses_kept")


@pytest.fixture(scope="module")
def demo() -> tuple[Journal, datetime]:
    return evening()


@pytest.fixture(scope="module")
def found(demo: tuple[Journal, datetime]) -> Findings:
    return analyse(*demo)


def landing_of(found: Findings, plan: str) -> Landing:
    return next(each.landings[0] for each in found.plans if each.plan.id == plan)


@pytest.mark.long
def test_a_wide_table_is_told_the_places_that_a_search_for_them_finds(demo, found) -> None:
    journal, at = demo
    table = landing_of(found, "lot-19")
    standing = {id: room.standing for id, room in found.rooms.items()}
    # It grows as branching corals of no published genus do.
    rate = published_extension("", "branching").typical / DAYS_PER_YEAR
    wish = Wish(46.0, 37.0, 24.0, 210.0, 280.0, "strong", 15.0, "lot-19", rate)
    searched = where_could_it_go(wish, journal.systems.values(), standing, journal.settings.safe_distances, at.date())
    assert table.wish == wish
    assert table.places == searched[:MOST_PLACES]
    assert "east-stand" in {place.spot.place for place in table.places}


@pytest.mark.long
def test_it_takes_what_is_foreseen_for_such_a_colony(demo, found) -> None:
    journal, at = demo
    for water in landing_of(found, "lot-19").waters:
        system = journal.systems[water.system]
        such = Colony(genus="Hydnophora", form="branching", body=Body(46.0, 37.0, 24.0))
        same = foresee(waters_of(journal), system, such, at)
        assert isinstance(same, Foresight)
        assert isinstance(water.uptake, ExpectedUptake)
        assert water.uptake.grams_per_day.estimate == same.uptake.grams_per_day.estimate
        assert water.uptake.alkalinity.estimate == same.uptake.alkalinity.estimate
        assert water.steps is not None
        told = [(dose.supply, dose.rate.estimate) for dose in water.steps.added.doses]
        assert told == [(dose.supply, dose.rate.estimate) for dose in same.added.doses]


def test_a_plan_is_open_from_its_day_until_it_arrived_or_was_dropped() -> None:
    def open_on(day: int, **more: object) -> bool:
        return sample.planned(**more).open_at(datetime(2026, 3, day, 12, tzinfo=UTC), ZoneInfo("Europe/Lisbon"))

    assert not open_on(1, since=date(2026, 3, 2))
    assert [open_on(day, dropped=date(2026, 3, 5)) for day in (1, 4, 5)] == [True, True, False]
    came = Appointed(date(2026, 3, 5), datetime(2026, 3, 5, 12, tzinfo=UTC))
    assert [open_on(day, arrived=came) for day in (4, 5)] == [True, False]
    assert [open_on(day, arrived=Appointed(came.day)) for day in (4, 5)] == [True, False]


def test_what_has_no_skeleton_still_gets_a_place_but_no_uptake() -> None:
    new = replace(sample.planned().coming[0], species="Sarcophyton glaucum", form="massive")
    plan = sample.planned(coming=(new,))
    found = analyse(sample.journal(plans={plan.id: plan}), sample.AS_OF).plans[0].landings[0]
    assert found.places
    assert all(isinstance(water.uptake, CannotTell) and water.steps is None for water in found.waters)
