"""All that is found of the plans of a journal at a moment."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from generator.door.door import grouped
from generator.reckon.arrivals.informed import Informed
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import CannotTell
from generator.reckon.growth.analysis import spreading
from generator.reckon.growth.forecast import spread_of
from generator.reckon.growth.room import Standing
from generator.reckon.planned.landing import (
    After,
    InWater,
    Landing,
    afters,
    changes_together,
    in_water,
    landing,
    systems_of,
)
from generator.reckon.planned.settling import Care, Room, Settling, care, care_of_move, left_by, room_with, settlings
from generator.reckon.planned.trip import Passenger, Way, passenger
from generator.reckon.trade.journey import Journey
from generator.records.carried_out import movers, newcomer
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.trade import Newcomer, Planned


@dataclass(frozen=True, slots=True)
class PlanFindings:
    """One plan: everyone on the way, where those that come could stand, and how they are brought in.

    `days` are left until the day agreed, and `at` is the moment that all of it is reckoned for: the hour agreed, noon
    of a day without one, now while it is only perhaps (`days` None). `afters` are the waters it changes, where more
    than one newcomer or something that leaves does.
    """

    plan: Planned
    days: int | None
    at: datetime
    passengers: tuple[Passenger, ...]
    landings: tuple[Landing, ...]
    settlings: tuple[Settling, ...]
    care: tuple[Care, ...]
    afters: tuple[After, ...] = ()


# Where those that come and those that move could stand.
Places = tuple[tuple[Landing, ...], tuple[Settling, ...]]


@dataclass(frozen=True, slots=True)
class Known:
    """What is found already that plans are judged by, each by system.

    The corals `standing`, the doses `held`, the last salinity and temperature (`latest`), events, and the corals that
    `ever` stood in it.
    """

    standing: Mapping[str, Sequence[Standing]]
    held: Mapping[str, Plan | CannotTell]
    latest: Mapping[str, Mapping[str, float]]
    events: Mapping[str, Sequence[Informed]]
    ever: Mapping[str, Mapping[str, Coral]]


def places(plan: Planned, journal: Journal, known: Known, at: datetime) -> Places:
    """Where all that comes and moves could stand; what comes takes of its water is asked apart (`water_of`)."""
    moving, day = movers(plan, journal.corals, at.date()), at.date()
    gone = {given.coral for given in plan.going if given.whole} | {coral.id for _, coral in moving}
    left = left_by(gone, journal.systems, known.standing)
    landings, left = _landings(_come(plan, journal, day), journal, left, day)
    return landings, tuple(settlings(moving, journal, known.standing, left, day))


def water_of(plan: Planned, coral: str, id: str, journal: Journal, known: Known, at: datetime) -> InWater:
    """What a coral to come takes of a system's water: of all that is found of a plan what takes by far the longest."""
    new = next(new for each, new in _come(plan, journal, at.date()) if each.coral == coral)
    own = journal.systems[id], journal.log_of(id), known.ever[id], known.held[id], known.events[id]
    return in_water(new, *own, at, alone=not changes_together(plan, journal, at))


def whole(
    plan: Planned,
    journal: Journal,
    known: Known,
    at: datetime,
    today: date,
    places: Places,
    water: Callable[[str], InWater],
) -> PlanFindings:
    """All of a plan, with its `places` and `water` by plan, coral and system, as `lot-19/lot-19/lagoon`."""
    come = [coral for _, coral in _come(plan, journal, at.date())]
    passengers = tuple(
        passenger(
            coral, way, plan.travel, journal.settings.containers, known.latest, journal.trades.values(), today, whole
        )
        for coral, way, whole in _everyone(plan, journal, come, today)
    )
    landings = tuple(
        replace(each, waters=tuple(water(f"{plan.id}/{each.coral.id}/{system}") for system in systems_of(each)))
        for each in places[0]
    )
    several = changes_together(plan, journal, at)
    # The system of each newcomer: as decided, or that of the best place.
    chosen = {each.coral.id: each.waters[0].system for each in landings if each.waters}
    return PlanFindings(
        plan,
        (plan.date.day - today).days if plan.date else None,
        at,
        passengers,
        landings,
        places[1],
        tuple(_care(plan, journal, known, passengers, landings, at.date())),
        afters(plan, chosen, journal, known.held, known.events, at) if several else (),
    )


def _come(plan: Planned, journal: Journal, day: date) -> tuple[tuple[Newcomer, Coral], ...]:
    """The corals to come that are not here yet, as they will be on a day."""
    return tuple((new, newcomer(plan, new, day)) for new in plan.coming if new.coral not in journal.corals)


def _landings(
    come: Sequence[tuple[Newcomer, Coral]],
    journal: Journal,
    left: Room,
    day: date,
) -> tuple[tuple[Landing, ...], Room]:
    """Where each newcomer could go, those with a decided place first, and the room that they leave."""
    found = {}
    for new, coral in sorted(come, key=lambda each: each[0].x is None):
        found[new.coral] = here = landing(new, coral, journal, left)
        spread = spread_of(coral, spreading(coral, day))
        if here.places and not isinstance(spread, CannotTell) and (new.x is not None or not here.places[0].stuck):
            one = Standing(coral, "", None, None, 0.0, 0.0, True, spread, coral.source)
            left = room_with(one, here.places[0], left, journal.systems)
    return tuple(found[new.coral] for new, _ in come), left


def moment_of_plan(plan: Planned, as_of: datetime) -> datetime:
    """When a plan is carried out, as far as is known; never before now."""
    if plan.date is None:
        return as_of
    at = plan.date.at or datetime.combine(plan.date.day, time(12), as_of.tzinfo)
    return max(at.astimezone(as_of.tzinfo), as_of)


def _care(
    plan: Planned,
    journal: Journal,
    known: Known,
    passengers: Sequence[Passenger],
    landings: Sequence[Landing],
    day: date,
) -> Iterator[Care]:
    """How what comes is brought in, and what moves, between each two of our systems."""
    hours = plan.travel.duration.canonical() if plan.travel else None
    warm = {
        each.coral.id: each.judged.arrival.estimate.value for each in passengers if isinstance(each.judged, Journey)
    }
    if landings:
        system = next((each.waters[0].system for each in landings if each.waters), "")
        partner, trades = journal.partners.get(plan.partner or ""), journal.trades.values()
        arrives, latest = warm.get(landings[0].coral.id), known.latest.get(system, {})
        yield care(partner, trades, journal.corals, system, latest, arrives, hours)
    ways = grouped(
        ((here.system, move.to), coral)
        for move, coral in movers(plan, journal.corals, day)
        if (here := coral.placement_on(day)) and here.system != move.to
    )
    for (home, to), moving in ways.items():
        arrives = warm.get(moving[0].id)
        yield care_of_move(home, to, moving, journal.corals.values(), known.latest, arrives, hours, day)


def _everyone(plan: Planned, journal: Journal, come: Sequence[Coral], today: date) -> Iterator[tuple[Coral, Way, bool]]:
    """Every colony of a plan, which way it goes, and whether the whole of it does."""
    yield from ((coral, "coming", True) for coral in come)
    for given in plan.going:
        if given.coral in journal.corals:
            yield journal.corals[given.coral], "going", given.whole
    yield from ((coral, "moving", True) for _, coral in movers(plan, journal.corals, today))
