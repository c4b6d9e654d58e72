"""All that is found of the plans of a journal at a moment, with how each colony of one will travel."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, time
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import grouped
from generator.nature.genera import genus_name, surface_factor
from generator.reckon.arrivals.colony import SKELETON_OF_DRAINED
from generator.reckon.arrivals.informed import Informed
from generator.reckon.dosing.plan import Plan
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.finding import CannotTell
from generator.reckon.growth.analysis import spreading
from generator.reckon.growth.forecast import spread_of
from generator.reckon.growth.mass import skeleton_density
from generator.reckon.growth.room import Standing
from generator.reckon.planned.places import (
    Care,
    Landing,
    Room,
    Settling,
    care,
    care_of_move,
    landing,
    left_by,
    room_with,
    settlings,
    systems_of,
)
from generator.reckon.planned.water import After, InWater, afters, in_water
from generator.reckon.trade.carrying import Lift, lift
from generator.reckon.trade.journey import Journey, Trip, judge, sides_of_container, sides_of_coral
from generator.records.carried_out import movers, newcomer
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.settings import Container
from generator.records.trade import Newcomer, Planned, Trade, Travel
from generator.units.quantity import STANDARD_DENSITY, Estimate, Share, spread_of_range

# What to expect of water and air where neither was written (°C, and the air's standard uncertainty);
# common practice, no source.
_WATER, _AIR, _AIR_SPREAD = 25.0, 20.0, 3.0
# Air that the keeper wrote down beforehand is a forecast; its standard uncertainty in °C is ours.
_FORECAST_SPREAD = 2.0

# What a colony lifted out of the water weighs, as a multiple of its mass drained: low, typical, high.
# Common practice, no source.
DRIPPING = (1.05, 1.10, 1.25)

Way = Literal["coming", "going", "moving"]


class Weights(Struct, frozen=True):
    """What a colony weighs, kg: drained in air, dripping as it is lifted out, hanging in water (None: no skeleton).

    `lift` judges lifting it out by hand.
    """

    air: Estimate
    dripping: Estimate
    in_water: Estimate | None
    lift: Lift


class Passenger(Struct, frozen=True):
    """A colony of a plan, as it is on the day, and its journey (None: no way is planned, but its weight is known).

    A piece to be cut is judged as if the whole coral went: what fits the whole fits the piece.
    """

    coral: Coral
    way: Way
    whole: bool
    weights: Weights | None
    judged: Journey | CannotTell | None


def passenger(
    coral: Coral,
    way: Way,
    travel: Travel | None,
    containers: Mapping[str, Container],
    latest: Mapping[str, Mapping[str, float]],
    trades: Iterable[Trade],
    today: date,
    whole: bool = True,
) -> Passenger:
    """A colony and its way; `latest` has the temperature (°C) last read in each system."""
    held = weight_in_hand(coral)
    judged: Journey | CannotTell | None = None
    if travel is not None:
        judged = _judged(coral, way, travel, containers, latest, trades, today)
    elif held is None:
        judged = CannotTell("never-measured", "measure-it", inputs=(coral.source,))
    return Passenger(coral, way, whole, held, judged)


def together(found: Iterable[Passenger]) -> tuple[tuple[Journey, ...], ...]:
    """The journeys of those that travel together, where at least two do: what goes is not with what comes."""
    ways = grouped((each.way, each.judged) for each in found if isinstance(each.judged, Journey))
    return tuple(journeys for journeys in ways.values() if len(journeys) > 1)


def floor_share(judged: Sequence[Journey]) -> Share:
    """The share of their container's floor that colonies take side by side, with padding between them and at its sides.

    However they are laid, they fit only where this is below 1.
    """
    box, padding = judged[0].plan.container, judged[0].plan.padding
    taken = sum((each.fit.extent.length + padding) * (each.fit.extent.width + padding) for each in judged)
    return taken / max((box.length - padding) * (box.width - padding), 1e-9)


def weight_in_hand(coral: Coral) -> Weights | None:
    """What a colony weighs in the keeper's hands; None where it was never measured.

    In water its skeleton alone weighs, less the water it displaces (see `growth.mass`).
    """
    measured = sides_of_coral(coral)
    if measured is None:
        return None
    sides, air = measured
    drops = LogNormal(DRIPPING[1], spread_of_range(DRIPPING[0], DRIPPING[2]))
    mass = LogNormal(air.value, spread_of_range(air.low, air.high, air.level))
    dripping = mass.times(drops).estimate("kg")
    density = skeleton_density(genus_name(coral.species))
    in_water = None
    if density is not None:
        heavier = LogNormal(1.0 - STANDARD_DENSITY / density.value, 0.0)
        in_water = mass.times(SKELETON_OF_DRAINED).times(heavier).estimate("kg")
    return Weights(air, dripping, in_water, lift(dripping, sides.width))


def _judged(
    coral: Coral,
    way: Way,
    travel: Travel,
    containers: Mapping[str, Container],
    latest: Mapping[str, Mapping[str, float]],
    trades: Iterable[Trade],
    today: date,
) -> Journey | CannotTell:
    container = containers.get(travel.container or "")
    if container is None:
        return CannotTell("no-container", "write-a-container", inputs=(travel.source,))
    measured = sides_of_coral(coral)
    if measured is None:
        return CannotTell("never-measured", "measure-it", inputs=(coral.source,))
    sides, mass = measured
    standing = coral.placement_on(today) if way != "coming" else None
    start, air = _expected(travel, latest.get(standing.system, {}).get("temperature") if standing else None)
    trip = Trip(
        colony=sides,
        surface_factor=surface_factor(genus_name(coral.species), coral.form),
        mass=mass,
        container=sides_of_container(container),
        hours=travel.duration.canonical(),
        start=start,
        air=air,
        container_id=travel.container,
        container_mass=container.mass.canonical() / 1e3 if container.mass else None,
        container_holds=container.volume.canonical() if container.volume else None,
        inputs=(container.source, travel.source, max(coral.sizes, key=lambda size: size.at).source),
    )
    return judge(trip, trades)


def _expected(travel: Travel, read: float | None) -> tuple[float, tuple[float, float]]:
    """The water's temperature on leaving, and the air's mean with its standard uncertainty; °C."""
    told = travel.expected
    start = told.water.canonical() if told and told.water else read
    air = (told.air.canonical(), _FORECAST_SPREAD) if told and told.air else (_AIR, _AIR_SPREAD)
    return (_WATER if start is None else start), air


class PlanFindings(Struct, frozen=True):
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


class BasisOfPlans(Struct, frozen=True):
    """What is found already that plans are judged by, each by system.

    The corals `standing`, the doses `held`, the last salinity and temperature (`latest`), events, and the corals that
    `ever` stood in it.
    """

    standing: Mapping[str, Sequence[Standing]]
    held: Mapping[str, Plan | CannotTell]
    latest: Mapping[str, Mapping[str, float]]
    events: Mapping[str, Sequence[Informed]]
    ever: Mapping[str, Mapping[str, Coral]]


def places(plan: Planned, journal: Journal, known: BasisOfPlans, at: datetime) -> Places:
    """Where all that comes and moves could stand; what comes takes of its water is asked apart (`water_of`)."""
    moving, day = movers(plan, journal.corals, at.date()), at.date()
    gone = {given.coral for given in plan.going if given.whole} | {coral.id for _, coral in moving}
    left = left_by(gone, journal.systems, known.standing)
    landings, left = _landings(_come(plan, journal, day), journal, left, day)
    return landings, tuple(settlings(moving, journal, known.standing, left, day))


def water_of(plan: Planned, coral: str, id: str, journal: Journal, known: BasisOfPlans, at: datetime) -> InWater:
    """What a coral to come takes of a system's water: the part of a plan that takes by far the longest to calculate."""
    new = next(new for each, new in _come(plan, journal, at.date()) if each.coral == coral)
    own = journal.systems[id], journal.log_of(id), known.ever[id], known.held[id], known.events[id]
    return in_water(new, *own, at, alone=not _changes_together(plan, journal, at))


def whole(
    plan: Planned,
    journal: Journal,
    known: BasisOfPlans,
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
    several = _changes_together(plan, journal, at)
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
    come: Sequence[tuple[Newcomer, Coral]], journal: Journal, left: Room, day: date
) -> tuple[tuple[Landing, ...], Room]:
    """Where each newcomer could go, those with a decided place first, and the room that they leave."""
    found = {}
    for new, coral in sorted(come, key=lambda each: each[0].x is None):
        found[new.coral] = here = landing(new, coral, journal, left)
        spread = spread_of(coral, spreading(coral, day))
        if here.places and not isinstance(spread, CannotTell) and (new.x is not None or not here.places[0].stuck):
            one = Standing(coral, "", None, None, False, 0.0, 0.0, True, spread, coral.source)
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
    known: BasisOfPlans,
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


def _changes_together(plan: Planned, journal: Journal, at: datetime) -> bool:
    """Whether a plan takes something out of a water, or brings more than one colony, so that their sum counts."""
    leaves = any(given.whole for given in plan.going) or bool(movers(plan, journal.corals, at.date()))
    return leaves or len(plan.coming) > 1
