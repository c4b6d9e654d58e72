"""All that is found of the plans of a journal at a moment."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from generator.reckon.arrivals.informed import Informed
from generator.reckon.dosing.analysis import DosingFindings
from generator.reckon.finding import Answer
from generator.reckon.growth.room import Standing
from generator.reckon.planned.after import After, afters, changes_together
from generator.reckon.planned.care import Care, care
from generator.reckon.planned.landing import Landing, landing
from generator.reckon.planned.settling import Settling, settlings
from generator.reckon.planned.trip import Passenger, Way, passenger
from generator.reckon.planned.water import InWater, in_water
from generator.reckon.trade.journey import Journey
from generator.records.carried_out import movers, newcomer
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.planned import Planned


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
    care: Care | None
    afters: tuple[After, ...] = ()


@dataclass(frozen=True, slots=True)
class Known:
    """What is found already that plans are judged by, each system: standing corals, doses, last readings, events."""

    standing: Mapping[str, Sequence[Standing]]
    dosing: Mapping[str, DosingFindings]
    latest: Mapping[str, Mapping[str, float]]
    events: Mapping[str, Sequence[Informed]]
    uptake: Mapping[str, Answer]

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

    def water(coral: Coral, system: str) -> InWater:
        return in_water(coral, system, journal, known.dosing[system], known.events[system], at)

    leaving = frozenset(given.coral for given in plan.going if given.whole)
    landings = tuple(landing(new, coral, journal, known.standing, water) for new, coral in come)
    return PlanFindings(
        plan,
        (plan.date.day - today).days if plan.date else None,
        at,
        passengers,
        landings,
        tuple(settlings(movers(plan, journal.corals, at.date()), leaving, journal, known.standing, at.date())),
        _care(plan, journal, known, passengers, landings) if come else None,
        afters(plan, _chosen(landings), journal, known.uptake, at) if changes_together(plan, journal, at) else (),
    )


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
    plan: Planned, journal: Journal, known: Known, passengers: Sequence[Passenger], landings: Sequence[Landing]
) -> Care:
    partner = journal.partners.get(plan.partner or "")
    system = next((each.waters[0].system for each in landings if each.waters), "")
    warm = [each.judged.arrival.estimate.value for each in passengers if isinstance(each.judged, Journey)]
    hours = plan.travel.duration.canonical() if plan.travel else None
    return care(
        partner, journal.trades.values(), journal.corals, known.latest.get(system, {}), warm[0] if warm else None, hours
    )


def _everyone(plan: Planned, journal: Journal, come: Sequence[Coral], today: date) -> Iterator[tuple[Coral, Way, bool]]:
    """Every colony of a plan, which way it goes, and whether the whole of it does."""
    yield from ((coral, "coming", True) for coral in come)
    for given in plan.going:
        if given.coral in journal.corals:
            yield journal.corals[given.coral], "going", given.whole
    yield from ((coral, "moving", True) for _, coral in movers(plan, journal.corals, today))
