"""The steps of an analysis that it does not do in passing: growth and room, events and changes, years and volumes."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, datetime, time, timedelta
from functools import partial
from itertools import chain
from typing import TYPE_CHECKING, Any, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door, grouped, later
from generator.records.coral import Coral, without_later_measures
from generator.records.journal import Journal
from generator.records.log import Event, Reading, SystemLog, month_of
from generator.records.system import System
from generator.units.quantity import Quantity

if TYPE_CHECKING:
    from generator.reckon.arrivals.informed import Elsewhere, Informed, Listed
    from generator.reckon.arrivals.observed import Observed
    from generator.reckon.arrivals.story import CoralChange, Foretold, SystemStory
    from generator.reckon.dosing.analysis import VolumeByDose
    from generator.reckon.finding import CannotTell
    from generator.reckon.growth.corals import CoralFindings
    from generator.reckon.growth.room import RoomFindings, Standing
    from generator.reckon.water.demand_events import DemandEvent
    from generator.reckon.water.findings import WaterFindings

with later():
    from generator.reckon import finding as _finding
    from generator.reckon.arrivals import informed as _informed
    from generator.reckon.arrivals import story as _story
    from generator.reckon.dosing import analysis as _dosing
    from generator.reckon.growth import analysis as _growth
    from generator.reckon.growth import corals as _corals
    from generator.reckon.growth import room as _room
    from generator.reckon.water import demand_events as _demand_events


class Places(NamedTuple):
    """Where corals are: the ids of those that `ever` stood in a system, and a coral's `home` today ("" for none)."""

    ever: Mapping[str, tuple[str, ...]]
    home: Callable[[str], str]


def analyse_corals(
    corals: Mapping[str, Coral],
    systems: Mapping[str, System],
    logs: Mapping[str, Mapping[str, SystemLog]],
    own: Callable[[], Mapping[str, Quantity]],
    today: Callable[[], date],
    door: Door,
    places: Places | None = None,
) -> "tuple[Mapping[str, CoralFindings], Mapping[str, RoomFindings], Mapping[str, RoomFindings | None]]":
    """What is found by coral, about the room by system, and about the room of each coral.

    `logs` are those of each coral's weighings, `own` the journal's safe distances by genus.
    """

    ever, home = places or places_of(corals, today, door)

    def room(id: str) -> "RoomFindings":
        return _room.analyse_room(systems[id], [corals[each] for each in standing[id]], growths, own(), today())

    def standing_here(id: str) -> tuple[str, ...]:
        return tuple(coral for coral in ever.get(id, ()) if home(coral) == id)

    def around(id: str) -> "RoomFindings | None":
        return rooms.get(home(id))

    def stands(id: str) -> "tuple[Standing, float] | None":
        room = around(id)
        here = next((each for each in room.standing if each.coral.id == id), None) if room else None
        if room is None or here is None:
            return None
        place = systems[room.system].places[here.place]
        return here, _room.free_radius(here, place, room.standing, own(), today())

    def found(id: str) -> "CoralFindings":
        return _corals.coral_findings(corals[id], growths[id], systems, standing_at(id), today())

    def room_of(id: str) -> "RoomFindings | None":
        room = around(id)
        return _room.room_of(room, id) if room else None

    growths = door.each(
        "growth", lambda: corals, lambda id: _growth.analyse_growth(corals[id], logs.get(id, {}), today())
    )
    standing = door.each("standing in", lambda: systems, standing_here)
    rooms = door.each("room", lambda: systems, room)
    # One measured coral changes the room of its neighbours, not of all that stand in the system.
    standing_at = door.step("stands", stands, keep=False)
    return door.each("coral", lambda: corals, found), rooms, door.each("room of", lambda: corals, room_of)


def places_of(corals: Mapping[str, Coral], today: Callable[[], date], door: Door) -> Places:
    """Where corals stood and stand."""

    def placed(ids: Iterable[str]) -> tuple[tuple[str, str], ...]:
        return tuple((placement.system, id) for id in ids for placement in corals[id].placements)

    def system_of(id: str) -> str:
        placement = corals[id].placement_on(today())
        return placement.system if placement else ""

    parts = door.in_parts("some placements", lambda: corals, placed)
    ever = door.by_id("ever stood in", lambda: grouped(sorted({*chain(*parts())})))
    return Places(ever, door.step("stands in", system_of))


LogUntil = Callable[[str, datetime | None], SystemLog]


class Logs(Struct, frozen=True):
    """Parts of the logs, by system, asked for month by month.

    `until` gives a log up to a moment with all its events, or all of it (None); `events` its events alone, `read_about`
    its readings of some days and a few beside them.
    """

    until: LogUntil
    events: Callable[[str], tuple[Event, ...]]
    read_about: Callable[[str, date, date], Iterable[Reading]]


def logs_by_month(journal: Journal, door: Door) -> Logs:
    """The logs of a journal, of which a step asks for no more than it needs."""

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

    def read_about(id: str, first: date, last: date) -> Iterator[Reading]:
        # No zone is further away than a day.
        begin, end = first - timedelta(days=1), last + timedelta(days=1)
        for number in range(12 * begin.year + begin.month - 1, 12 * end.year + end.month):
            yield from month(f"{id}/{number // 12:04}-{number % 12 + 1:02}").readings

    by_month = door.shared("log by month", lambda id: journal.log_of(id).by_month())
    months = door.step("months before", before, keep=False)
    month = door.step("month of log", of_month, keep=False)
    part = door.step("month of log until", begun, keep=False)
    events = door.step("events of log", lambda id: journal.log_of(id).events, keep=False)
    return Logs(until, events, read_about)


def tell_events(
    journal: Journal,
    ever: Mapping[str, Mapping[str, Coral]],
    logs: Logs,
    elsewhere: "Elsewhere",
    here: Callable[[], datetime],
    door: Door,
) -> "tuple[Callable[[str], SystemStory], Mapping[str, tuple[Informed, ...]]]":
    """The story of each system, and its events with what was predicted of each.

    `ever` are the corals that ever stood in each system.
    """

    def happened(id: str) -> "tuple[DemandEvent, ...]":
        return _demand_events.demand_events(id, SystemLog(id, events=logs.events(id)), ever[id].values(), here())

    def list_events(id: str) -> "tuple[Listed, ...]":
        return _informed.events_listed(journal.systems[id], journal.log_of(id), ever[id], here(), what_happened(id))

    def measured_then(id: str) -> dict[str, Coral]:
        last = max((event.day for event in what_happened(id)), default=date.min)
        return {coral: without_later_measures(each, last) for coral, each in ever[id].items()}

    def story(id: str) -> "SystemStory":
        known = partial(at_moment, told, id), partial(at_moment, before, id)
        zone = journal.settings.time_zone
        return _story.SystemStory(
            journal.systems[id], measured[id], listed[id], zone, partial(logs.until, id), elsewhere, *known
        )

    def at_moment(part: Callable[[str], Any], id: str, at: datetime) -> Any:
        return part(f"{id}/{at.isoformat()}")

    def part_of(kind: str, key: str) -> Any:
        id, _, at = key.partition("/")
        return getattr(story(id), kind)(datetime.fromisoformat(at))

    what_happened = door.step("what happened", happened)
    listed = door.each("events listed", lambda: journal.systems, list_events)
    # What is measured after the last event changes nothing of what was known of any.
    measured = door.each("measured by events", lambda: journal.systems, measured_then, keep=False)
    told = door.step("told of events", partial(part_of, "tell"))
    before = door.shared("known before events", partial(part_of, "baseline"))
    return story, door.each("events", lambda: journal.systems, lambda id: story(id).whole(here()))


def find_changes(
    events: "Mapping[str, tuple[Informed, ...]]",
    story: "Callable[[str], SystemStory]",
    here: Callable[[], datetime],
    door: Door,
) -> "Mapping[str, tuple[CoralChange, ...]]":
    """Each system's large changes."""

    def of(key: str) -> "tuple[SystemStory, Informed]":
        id, at, what, coral = key.split("/")
        of_system, wanted = story(id), (datetime.fromisoformat(at), what, coral)
        told = of_system.told(wanted[0]).values()
        return of_system, next(e for e in told if (e.event.at, e.event.what, e.event.coral) == wanted)

    def observe(key: str) -> "Observed | CannotTell":
        return _story.observed(*of(key), steps(key), until(key), past(key))

    def foretell(key: str) -> "Foretold":
        return _story.foretold(*of(key))

    def change(key: str) -> "CoralChange":
        then = foretold(key)
        return _story.told_change(*of(key), then, until(key), None if then.unknown else observed(key))

    def large(id: str) -> "tuple[CoralChange, ...]":
        found = (each.event for each in _story.large(events[id]))
        return tuple(change(f"{id}/{each.at.isoformat()}/{each.what}/{each.coral}") for each in found)

    def steps_of(key: str) -> tuple[Any, ...]:
        return tuple((e.event, e.step) for e in events[key.partition("/")[0]] if e.event.at <= until(key))

    until = door.step("change told until", lambda key: _story.until_of(of(key)[1].event, here()), keep=False)
    past = door.step("change is past", lambda key: until(key) < here(), keep=False)
    steps = door.step("steps of events", steps_of, keep=False)
    foretold, observed = door.step("change foretold", foretell), door.step("change observed", observe)
    return door.each("changes", lambda: events, large)


def find_volumes(
    journal: Journal, water: "Mapping[str, WaterFindings]", logs: Logs, here: Callable[[], datetime], door: Door
) -> "Mapping[str, VolumeByDose | CannotTell]":
    """The volume by dose of each system: by its log before this month, if that tells it, else by all of it.

    It takes long to weigh, and readings of some days more tell hardly more.
    """

    def error(key: str) -> float | None:
        id, _, kind = key.rpartition("/")
        learned = water[id].learned_error(kind)
        return None if learned is None else float(f"{learned:.1e}")

    def told(id: str, until: datetime | None, at: datetime) -> "VolumeByDose | CannotTell":
        return _dosing.volume(journal.systems[id], logs.until(id, until), lambda kind: error_of(f"{id}/{kind}"), at)

    def before(key: str) -> "VolumeByDose | CannotTell":
        id, _, month = key.rpartition("/")
        begins = datetime.fromisoformat(month)
        return told(id, begins, begins)

    def volume(id: str) -> "VolumeByDose | CannotTell":
        known = before_month(f"{id}/{month().isoformat()}")
        # Without a dose since the month before, what is read now tells no more.
        new = any(dose.at >= month() - timedelta(days=31) for dose in journal.log_of(id).doses[-1:])
        return told(id, None, here()) if new and isinstance(known, _finding.CannotTell) else known

    month = door.one("month", lambda: datetime.combine(here().replace(day=1), time(), journal.settings.time_zone))
    error_of = door.step("error of kit", error, keep=False)
    before_month = door.step("volume before", before)
    return door.each("volume", lambda: journal.systems, volume)
