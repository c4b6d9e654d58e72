"""The steps in which a water's events are told: with a new reading, what was told of old ones stays as it is."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING, Any

from generator.door.door import Door, later
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.log import SystemLog, month_of

if TYPE_CHECKING:
    from generator.reckon.arrivals.changes import CoralChange, Foretold
    from generator.reckon.arrivals.informed import Elsewhere, Informed, Listed
    from generator.reckon.arrivals.observed import Observed
    from generator.reckon.arrivals.story import Story
    from generator.reckon.finding import CannotTell

with later():
    from generator.reckon.arrivals import changes as _changes
    from generator.reckon.arrivals import informed as _informed
    from generator.reckon.arrivals import story as _story


LogUntil = Callable[[str, datetime | None], SystemLog]


def logs_until(journal: Journal, door: Door) -> LogUntil:
    """A system's log up to a moment, with all its events, asked for month by month; or all of it (None)."""

    def of_month(key: str) -> SystemLog:
        id, _, month = key.rpartition("/")
        return by_month(id).get(month) or SystemLog(id)

    def before(key: str) -> tuple[str, ...]:
        id, _, last = key.rpartition("/")
        return tuple(f"{id}/{month}" for month in by_month(id) if month < last)

    def begun(key: str) -> SystemLog:
        id, _, at = key.rpartition("/")
        moment = datetime.fromisoformat(at)
        return of_month(f"{id}/{month_of(moment)}").until(moment)

    def until(id: str, at: datetime | None) -> SystemLog:
        if at is None:
            return journal.log_of(id)
        parts = [*map(month, months(f"{id}/{month_of(at)}")), part(f"{id}/{at.isoformat()}")]
        return replace(SystemLog(id).followed_by(parts), events=events(id))

    by_month = door.shared("log by month", lambda id: journal.log_of(id).by_month())
    months = door.step("months before", before, keep=False)
    month = door.step("month of log", of_month, keep=False)
    part = door.step("month of log until", begun, keep=False)
    events = door.step("events of log", lambda id: journal.log_of(id).events, keep=False)
    return until


def tell_events(
    journal: Journal,
    ever: Mapping[str, Mapping[str, Coral]],
    log: LogUntil,
    elsewhere: "Elsewhere",
    here: Callable[[], datetime],
    door: Door,
) -> "tuple[Callable[[str], Story], Mapping[str, tuple[Informed, ...]]]":
    """The story of each system, and its events with what was predicted of each.

    `ever` are the corals that ever stood in each system, `log` gives its log up to a moment.
    """

    def list_events(id: str) -> "tuple[Listed, ...]":
        return _informed.events_listed(journal.systems[id], journal.log_of(id), ever[id], here())

    def story(id: str) -> "Story":
        known = partial(at_moment, told, id), partial(at_moment, before, id)
        zone = journal.settings.time_zone
        return _story.Story(journal.systems[id], ever[id], listed[id], zone, partial(log, id), elsewhere, *known)

    def at_moment(part: Callable[[str], Any], id: str, at: datetime) -> Any:
        return part(f"{id}/{at.isoformat()}")

    def part_of(kind: str, key: str) -> Any:
        id, _, at = key.partition("/")
        return getattr(story(id), kind)(datetime.fromisoformat(at))

    listed = door.each("events listed", lambda: journal.systems, list_events)
    told = door.step("told of events", partial(part_of, "tell"))
    before = door.shared("known before events", partial(part_of, "baseline"))
    return story, door.each("events", lambda: journal.systems, lambda id: story(id).whole(here()))


def find_changes(
    events: "Mapping[str, tuple[Informed, ...]]",
    story: "Callable[[str], Story]",
    here: Callable[[], datetime],
    door: Door,
) -> "Mapping[str, tuple[CoralChange, ...]]":
    """Each system's large changes."""

    def of(key: str) -> "tuple[Story, Informed]":
        id, at, what, coral = key.split("/")
        of_system, wanted = story(id), (datetime.fromisoformat(at), what, coral)
        told = of_system.told(wanted[0]).values()
        return of_system, next(e for e in told if (e.event.at, e.event.what, e.event.coral) == wanted)

    def observe(key: str) -> "Observed | CannotTell":
        return _changes.observed(*of(key), steps(key), until(key), past(key))

    def foretell(key: str) -> "Foretold":
        return _changes.foretold(*of(key))

    def change(key: str) -> "CoralChange":
        then = foretold(key)
        return _changes.change_of(*of(key), then, until(key), None if then.unknown else observed(key))

    def large(id: str) -> "tuple[CoralChange, ...]":
        found = (each.event for each in _changes.large(events[id]))
        return tuple(change(f"{id}/{each.at.isoformat()}/{each.what}/{each.coral}") for each in found)

    def steps_of(key: str) -> tuple[Any, ...]:
        return tuple((e.event, e.step) for e in events[key.partition("/")[0]] if e.event.at <= until(key))

    until = door.step("change told until", lambda key: _changes.until_of(of(key)[1].event, here()), keep=False)
    past = door.step("change is past", lambda key: until(key) < here(), keep=False)
    steps = door.step("steps of events", steps_of, keep=False)
    foretold, observed = door.step("change foretold", foretell), door.step("change observed", observe)
    return door.each("changes", lambda: events, large)
