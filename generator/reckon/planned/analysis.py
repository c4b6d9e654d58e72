"""All that is found of the plans of a journal at a moment."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from generator.reckon.arrivals.informed import Informed
from generator.reckon.dosing.analysis import DosingFindings
from generator.reckon.finding import CannotTell
from generator.reckon.growth.analysis import analyse_growth
from generator.reckon.growth.forecast import spread_of
from generator.reckon.growth.room import Standing
from generator.reckon.planned.landing import After, InWater, Landing, afters, changes_together, in_water, landing
from generator.reckon.planned.settling import Care, Room, Settling, care, care_of_move, left_by, settled, settlings
from generator.reckon.planned.trip import Passenger, Way, passenger
from generator.reckon.trade.journey import Journey
from generator.records.carried_out import movers, newcomer
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.planned import Newcomer, Planned


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


@dataclass(frozen=True, slots=True)
class Known:
    """What is found already that plans are judged by, each system: standing corals, doses, last readings, events."""

    standing: Mapping[str, Sequence[Standing]]
    dosing: Mapping[str, DosingFindings]
    latest: Mapping[str, Mapping[str, float]]
    events: Mapping[str, Sequence[Informed]]

    @property
    def warm(self) -> dict[str, float]:
        """The temperature (°C) last read in each system that has one."""
        return {id: levels["temperature"] for id, levels in self.latest.items() if "temperature" in levels}


def analyse_plans(journal: Journal, known: Known, as_of: datetime) -> tuple[PlanFindings, ...]:
    """Every plan that is still to come, the soonest first, those without a day last."""
    here = as_of.astimezone(journal.settings.time_zone)
    order = sorted(journal.plans.values(), key=lambda plan: (plan.date.day if plan.date else date.max, plan.id))
    return tuple(_one(plan, journal, known, here) for plan in order)


def _one(plan: Planned, journal: Journal, known: Known, as_of: datetime) -> PlanFindings:
    at, today = _moment(plan, as_of), as_of.date()
    come = tuple((new, newcomer(plan, new, at.date())) for new in plan.coming if new.coral not in journal.corals)
    passengers = tuple(
        passenger(
            coral, way, plan.travel, journal.settings.containers, known.warm, journal.trades.values(), today, whole
        )
        for coral, way, whole in _everyone(plan, journal, [coral for _, coral in come], today)
    )

    several = changes_together(plan, journal, at)

    def water(coral: Coral, system: str) -> InWater:
        return in_water(coral, system, journal, known.dosing[system], known.events[system], at, alone=not several)

    moving = movers(plan, journal.corals, at.date())
    gone = {given.coral for given in plan.going if given.whole} | {coral.id for _, coral in moving}
    landings, left = _landings(come, journal, left_by(gone, journal.systems, known.standing), water, at.date())
    return PlanFindings(
        plan,
        (plan.date.day - today).days if plan.date else None,
        at,
        passengers,
        landings,
        tuple(settlings(moving, journal, known.standing, left, at.date())),
        tuple(_care(plan, journal, known, passengers, landings, at.date())),
        afters(plan, _chosen(landings), journal, known.dosing, known.events, at) if several else (),
    )


def _landings(
    come: Sequence[tuple[Newcomer, Coral]],
    journal: Journal,
    left: Room,
    water: Callable[[Coral, str], InWater],
    day: date,
) -> tuple[tuple[Landing, ...], Room]:
    """Where each newcomer could go, those with a decided place first, and the room that they leave."""
    found = {}
    for new, coral in sorted(come, key=lambda each: each[0].x is None):
        found[new.coral] = here = landing(new, coral, journal, left, water)
        spread = spread_of(coral, analyse_growth(coral, journal.logs, day))
        if here.places and not isinstance(spread, CannotTell) and (new.x is not None or not here.places[0].stuck):
            one = Standing(coral, "", None, None, 0.0, 0.0, True, spread, coral.source)
            left = settled(one, here.places[0], left, journal.systems)
    return tuple(found[new.coral] for new, _ in come), left


def _chosen(landings: Sequence[Landing]) -> dict[str, str]:
    """The system of each newcomer: as decided, or that of the best place."""
    return {each.coral.id: each.waters[0].system for each in landings if each.waters}


def _moment(plan: Planned, as_of: datetime) -> datetime:
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
    ways: dict[tuple[str, str], list[Coral]] = {}
    for move, coral in movers(plan, journal.corals, day):
        here = coral.placement_on(day)
        if here is not None and here.system != move.to:
            ways.setdefault((here.system, move.to), []).append(coral)
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
