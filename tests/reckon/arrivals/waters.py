"""Waters of any volume with a known, steady uptake, and what is known of them at a moment."""

from collections.abc import Iterable, Mapping
from datetime import UTC, date, datetime, time, timedelta

from msgspec.structs import replace

from generator.reckon.arrivals.informed import Informed
from generator.reckon.arrivals.known import Waters
from generator.reckon.arrivals.story import CoralChange, SystemStory, foretold, large, observed, told_change, until_of
from generator.records.coral import Coral, Placement
from generator.records.log import Event, EventKind, PumpRate, SystemLog
from generator.records.system import System, Water
from generator.units.quantity import parse_quantity
from tests.reckon.arrivals.colonies import here
from tests.reckon.water.journals import STRENGTH, readings, system

START = date(2026, 1, 1)
# Readings every other day for so long.
DAYS = 24
LAST = datetime.combine(START + timedelta(days=DAYS), time(0), UTC)


def of_volume(id: str, litres: float) -> System:
    """The system of `journals` with another volume."""
    water = Water(
        source=here(), volume=parse_quantity(f"{litres} L", "volume"), uncertainty=parse_quantity("0 L", "volume")
    )
    return replace(system(), id=id, name=id, water=water)


def steady(id: str, litres: float, uptake: float, events: Iterable[Event] = ()) -> SystemLog:
    """A log in which a pump gives just what is taken up, dKH a day, so that every reading is the same."""
    times = list(range(0, DAYS + 1, 2))
    read = [
        *readings("alkalinity", "dKH", times, [8.2] * len(times)),
        *readings("calcium", "mg/L", times, [430.0] * len(times), 1000),
    ]
    rate = parse_quantity(f"{uptake * litres / STRENGTH:.9f} L/day", "rate")
    pump = PumpRate(source=here(), at=LAST - timedelta(days=DAYS), solution="balanced", rate=rate)
    return SystemLog(
        system=id, readings=tuple(sorted(read, key=lambda each: each.at)), pumps=(pump,), events=tuple(events)
    )


def happened(what: EventKind, coral: str, at: datetime) -> Event:
    """A logged event about a coral."""
    return Event(source=here(), at=at, what=what, coral=coral, text=None)


def moved(coral: Coral, to: str, at: datetime) -> Coral:
    """A coral that stands in another system from a moment on."""
    return replace(coral, placements=(*coral.placements, Placement(source=here(), since=at.date(), system=to)))


def arrived(coral: Coral, at: datetime) -> Coral:
    """A coral that comes from somewhere else at a moment."""
    return replace(
        coral, arrival=replace(coral.arrival, at=at.date()), placements=(replace(coral.placements[0], since=at.date()),)
    )


def waters(
    systems: Mapping[str, tuple[float, float]], corals: Iterable[Coral], events: Mapping[str, list[Event]]
) -> Waters:
    """Waters by id, each with its litres and its uptake (dKH a day)."""
    return Waters(
        {id: of_volume(id, litres) for id, (litres, _) in systems.items()},
        {id: steady(id, litres, uptake, events.get(id, ())) for id, (litres, uptake) in systems.items()},
        {coral.id: coral for coral in corals},
        UTC,
    )


def coral_changes(story: SystemStory, as_of: datetime) -> tuple[CoralChange, ...]:
    """Every change of a system's corals that is large for it, since its alkalinity was first read, by day."""
    every = story.whole(as_of)
    steps = [(each.event, each.step) for each in every]

    def change(told: Informed) -> CoralChange:
        until, then = until_of(told.event, as_of), foretold(story, told)
        return told_change(
            story, told, then, until, None if then.unknown else observed(story, told, steps, until, until < as_of)
        )

    return tuple(map(change, large(every)))
