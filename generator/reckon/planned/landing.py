"""Where a colony that is to come could stand, what it would take out of the water there, and what to do about it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from generator.reckon.arrivals.baseline import baseline_of
from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.informed import Informed, own_factors
from generator.reckon.arrivals.known import water_with
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.dosing.analysis import DosingFindings
from generator.reckon.finding import CannotTell
from generator.reckon.growth.light import LightStep, daily_light, step_up
from generator.reckon.growth.places import Suggestion, standing_at, where_could_it_go, wish_for
from generator.reckon.growth.room import Standing
from generator.reckon.growth.spots import Spot, Wish
from generator.reckon.planned.steps import Steps, steps
from generator.reckon.water.demand_events import DemandEvent
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.planned import Newcomer
from generator.records.system import System
from generator.units.quantity import Quantity


@dataclass(frozen=True, slots=True)
class InWater:
    """What a colony would take out of one system's water, and what to do about it hour by hour.

    No steps: its uptake cannot be told, or it is not the only one that changes this water, so that their sum counts.
    """

    system: str
    uptake: ExpectedUptake | CannotTell
    steps: Steps | None = None


def in_water(
    coral: Coral,
    id: str,
    journal: Journal,
    dosing: DosingFindings,
    told: Sequence[Informed],
    at: datetime,
    alone: bool = True,
) -> InWater:
    """What a coral asks of a system's water from the moment it goes in (`at`, on the keeper's own clock).

    `told` are the events of the system so far, with what was predicted of each; `alone` whether nothing else of its
    plan changes a water.
    """
    system, log, corals = journal.systems[id], journal.log_of(id), journal.corals.values()
    events = [each.event for each in told]
    baseline = baseline_of(system, log, events, at)
    own = own_factors(journal.corals, told, at.date())
    factor = present_factor(corals, id, at.date(), baseline.measured, own)
    uptake = expected(colony_of(coral, coral.arrival.at), system.water, factor)
    if isinstance(uptake, CannotTell) or not alone:
        return InWater(id, uptake)
    step = uptake.alkalinity.estimate
    day, error = at.date(), step.standard
    arrival = DemandEvent(at, 0.0, "arrival", coral.id, coral.source, day, step=step.value, step_error=error)
    with_it = water_with(system, log, [*told, Informed(arrival, step=step)], at, past=False)
    return InWater(id, uptake, steps(system, log, baseline, (uptake.grams_per_day, step), dosing.plan, with_it, at))


# So many places are told of each colony, and what it would take in their waters.
MOST_PLACES = 4


@dataclass(frozen=True, slots=True)
class FirstLight:
    """The light it comes from (PAR; None: not known; `told` where it is written), that of its place, and the steps up.

    No steps: the place has no more than a week may bring, or its light is not known.
    """

    used_to: float | None
    told: bool
    place: tuple[float, float] | None
    steps: tuple[LightStep, ...]


@dataclass(frozen=True, slots=True)
class Landing:
    """A colony to come: what it wants, the places it could go to (the best first), and the waters they are in.

    `coral` is what it will be; where its system or its place is decided, only those are told.
    """

    new: Newcomer
    coral: Coral
    wish: Wish
    places: tuple[Suggestion, ...]
    light: FirstLight | None
    waters: tuple[InWater, ...]


def landing(
    new: Newcomer,
    coral: Coral,
    journal: Journal,
    standing: Mapping[str, Sequence[Standing]],
    water: Callable[[Coral, str], InWater],
) -> Landing:
    """Where a colony could go; `standing` is by system, `water` tells what it asks of one."""
    own = journal.settings.safe_distances
    wish = replace(wish_for(new.species, new.form, wish_of_newcomer(new), own), line=coral.line)
    spot = decided(new.system, new.place, new.x, new.y, journal)
    if spot is not None:
        places: tuple[Suggestion, ...] = (standing_at(wish, spot, journal.systems, standing, own, coral.arrival.at),)
    else:
        found = where_could_it_go(wish, journal.systems.values(), standing, own, coral.arrival.at, only=new.system)
        there = [each for each in found if new.place and each.spot.place == new.place]
        places = tuple(there or found)[:MOST_PLACES]
    waters = dict.fromkeys([new.system] if new.system else [place.spot.system for place in places])
    first = _light(new, places[0], journal.systems[places[0].spot.system], coral.arrival.at) if places else None
    return Landing(new, coral, wish, places, first, tuple(water(coral, id) for id in waters))


def decided(
    system: str | None, named: str | None, x: Quantity | None, y: Quantity | None, journal: Journal
) -> Spot | None:
    """The spot of a coral, if the plan says just where it will stand."""
    known = journal.systems.get(system or "")
    place = known.places.get(named or "") if known else None
    if system is None or named is None or place is None or x is None or y is None:
        return None
    return Spot(
        system, place.part, named, place.x.canonical() + x.canonical(), place.y.canonical() + y.canonical(), False
    )


def wish_of_newcomer(new: Newcomer) -> Wish:
    """What a colony wants as far as it is written; the gap to its neighbours is not in it."""
    sides = [side.canonical() for side in (new.length, new.width or new.length)]
    ends = [light.canonical() for light in (new.light, new.light_to) if light is not None]
    height = new.height.canonical() if new.height else None
    return Wish(max(sides), min(sides), height, min(ends, default=None), max(ends, default=None), new.flow)


def _light(new: Newcomer, place: Suggestion, system: System, since: date) -> FirstLight:
    """The light of the place against what it is used to; where that is not written, the least it wants."""
    used = (
        new.used_to.canonical()
        if new.used_to
        else min((light.canonical() for light in (new.light, new.light_to) if light is not None), default=None)
    )
    hours = system.photoperiod.canonical() if system.photoperiod else None
    if used is None or hours is None or place.light is None:
        return FirstLight(used, new.used_to is not None, place.light, ())
    wanted = sum(place.light) / 2.0
    steps = step_up(daily_light(used, hours), daily_light(wanted, hours), hours, since)
    return FirstLight(used, new.used_to is not None, place.light, steps)
