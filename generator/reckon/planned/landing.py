"""Where a colony to come could stand, what it takes out of the water, and the water once a plan is carried out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from math import inf

from generator.reckon.arrivals.colony import colony_of, spot_of
from generator.reckon.arrivals.expected import ExpectedUptake, expected, factor_of_system, followed
from generator.reckon.arrivals.informed import Informed, own_factors
from generator.reckon.arrivals.known import Waters, water_with
from generator.reckon.arrivals.observed import baseline_of
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.growth.places import Suggestion, standing_at, where_could_it_go, wish_for
from generator.reckon.growth.room import Standing
from generator.reckon.growth.spots import LightStep, Spot, Wish, daily_light, light_ends, step_up
from generator.reckon.planned.steps import PlanSteps, steps
from generator.reckon.water.deliveries import GRAMS_PER_MEQ
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.uptake import uptake as uptake_of
from generator.records.carried_out import Affected, movers, told_with
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.log import SystemLog
from generator.records.system import System
from generator.records.trade import Appointed, Mover, Newcomer, Planned
from generator.units.quantity import Estimate

# So long after it is carried out every event of a plan has happened.
_JUST_AFTER = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class After:
    """A system just after a plan is carried out.

    `events` are the plan's own in it, with what each is predicted to do; `before` and `after` are the uptake of
    alkalinity (meq/L/day) on either side of it, `steps` what to do about all of them together (None: nothing is
    predicted of any).
    """

    system: str
    events: tuple[Informed, ...]
    before: Answer
    after: Answer
    steps: PlanSteps | None


def changes_together(plan: Planned, journal: Journal, at: datetime) -> bool:
    """Whether a plan takes something out of a water, or brings more than one colony, so that their sum counts."""
    leaves = any(given.whole for given in plan.going) or bool(movers(plan, journal.corals, at.date()))
    return leaves or len(plan.coming) > 1


def afters(
    plan: Planned,
    chosen: Mapping[str, str],
    journal: Journal,
    held: Mapping[str, Plan | CannotTell],
    told: Mapping[str, Sequence[Informed]],
    at: datetime,
) -> tuple[After, ...]:
    """Every system that a plan changes, at the moment (on the keeper's own clock) it is carried out.

    `chosen` is the system of each newcomer, as decided or the best; `held` and `told` are the doses and
    the events today, by system.
    """
    coming = tuple(replace(new, system=new.system or chosen.get(new.coral)) for new in plan.coming)
    when = Appointed(at.date(), at.astimezone(UTC))
    done = told_with(Affected(journal.corals, journal.trades, journal.logs), replace(plan, coming=coming), when)
    names = {new.coral for new in coming} | {given.coral for given in plan.going if given.whole}
    names |= {coral.id for _, coral in movers(plan, journal.corals, at.date())}
    then, found = at + _JUST_AFTER, []
    waters = Waters(journal.systems, done.logs, done.corals, journal.settings.time_zone)
    for id, system in journal.systems.items():
        log = waters.log_of(id)
        if not any(event.at == when.at and event.coral in names for event in log.events):
            continue
        known = waters.known(id, then, past=False)
        its = (each for each in known.events if each.event.coral in names and each.event.at == when.at)
        own = tuple(_unread(each, system, waters) for each in its)
        baseline = baseline_of(system, journal.log_of(id), [each.event for each in told[id]], at)
        before = uptake_of(baseline.alkalinity, baseline.found, system.water, at, past=False).per_day
        changed = _changed(system, own, before)
        found.append(
            After(
                id,
                own,
                before,
                known.water.uptake["alkalinity"].per_day,
                steps(system, log, baseline, changed, held[id], known.water, at) if changed else None,
            )
        )
    return tuple(found)


def _unread(told: Informed, system: System, waters: Waters) -> Informed:
    """An arrival with what it is predicted to take, also in a water that was never read."""
    event, unread = told.event, CannotTell("uptake-not-known", "read-alkalinity")
    coral = waters.corals.get(event.coral or "")
    if told.step is not None or event.what != "arrival" or coral is None:
        return told
    colony, taken = colony_of(coral, event.day), waters.taken_before(coral, event)
    there = factor_of_system({}, unread)
    spot = spot_of(coral.placement_on(event.day), system)
    predicted = followed(taken, colony, system.water, there, spot) if taken else expected(colony, system.water, there)
    if isinstance(predicted, CannotTell):
        return told
    return replace(told, predicted=predicted, step=predicted.alkalinity.estimate)


def _changed(system: System, events: Sequence[Informed], before: Answer) -> tuple[Finding, Estimate] | None:
    """What events do to the uptake together, g CaCO3/day and meq/L/day; no more can fall away than was taken up."""
    least = -max(before.estimate.value, 0.0) if isinstance(before, Finding) else -inf
    values = [each.step for each in events if each.step is not None]
    if not values:
        return None
    value = sum(step.value for step in values)
    below = sum((step.value - step.low) ** 2 for step in values) ** 0.5
    above = sum((step.high - step.value) ** 2 for step in values) ** 0.5
    low, middle, high = (max(each, least) for each in (value - below, value, value + above))
    step = Estimate(middle, low, high, values[0].unit)
    grams = step.scaled(GRAMS_PER_MEQ * system.water.volume.canonical(), "g/day")
    inputs = [s for e in events if isinstance(e.predicted, ExpectedUptake) for s in e.predicted.grams_per_day.inputs]
    return Finding(grams, "expected-uptake", tuple(dict.fromkeys(inputs))), step


@dataclass(frozen=True, slots=True)
class InWater:
    """What a colony would take out of one system's water, and what to do about it hour by hour.

    `after` is the uptake of alkalinity (meq/L/day) with it. No steps and no `after`: its uptake cannot be told, or it
    is not the only one that changes this water, so that their sum counts.
    """

    system: str
    uptake: ExpectedUptake | CannotTell
    steps: PlanSteps | None = None
    after: Answer | None = None


def in_water(
    coral: Coral,
    system: System,
    log: SystemLog,
    corals: Mapping[str, Coral],
    held: Plan | CannotTell,
    told: Sequence[Informed],
    at: datetime,
    alone: bool = True,
) -> InWater:
    """What a coral takes of a system's water from the moment it goes in (`at`, on the keeper's own clock).

    `corals` ever stood in the system, `held` are its doses and `told` its events so far, with what was predicted of
    each; `alone` whether nothing else of its plan changes a water.
    """
    events = [each.event for each in told]
    baseline = baseline_of(system, log, events, at)
    own = own_factors(corals, told, at.date())
    factor = present_factor(corals.values(), system.id, at.date(), baseline.measured, own)
    uptake = expected(colony_of(coral, coral.arrival.at), system.water, factor)
    if isinstance(uptake, CannotTell) or not alone:
        return InWater(system.id, uptake)
    step = uptake.alkalinity.estimate
    day, error = at.date(), step.standard
    whole = baseline.measured.estimate.value if isinstance(baseline.measured, Finding) else 0.0
    grams = uptake.grams_per_day.estimate.value
    share = min(grams / whole, 1.0) if whole > 0.0 else 1.0
    arrival = DemandEvent(at, share, "arrival", coral.id, coral.source, day, step=step.value, step_error=error)
    with_it = water_with(system, log, [*told, Informed(arrival, step=step)], at, past=False)
    what_to_do = steps(system, log, baseline, (uptake.grams_per_day, step), held, with_it, at)
    return InWater(system.id, uptake, what_to_do, _at_least(step, with_it.uptake["alkalinity"].per_day))


def _at_least(step: Estimate, after: Answer) -> Answer:
    """The uptake with a coral: no less than its own, since the uptake of all others is never negative."""
    if isinstance(after, CannotTell):
        return after
    found = after.estimate
    value, low, high = (max(getattr(found, end), getattr(step, end)) for end in ("value", "low", "high"))
    return replace(after, estimate=Estimate(value, low, high, found.unit))


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
    waters: tuple[InWater, ...] = ()


def landing(new: Newcomer, coral: Coral, journal: Journal, standing: Mapping[str, Sequence[Standing]]) -> Landing:
    """Where a colony could go, its waters aside; `standing` is by system."""
    own = journal.settings.safe_distances
    wish = replace(wish_for(new.species, new.form, wish_of_newcomer(new), own), line=coral.line)
    places = places_for(new, wish, new.system, journal, journal.systems, standing, coral.arrival.at)
    first = _light(new, places[0], journal.systems[places[0].spot.system], coral.arrival.at) if places else None
    return Landing(new, coral, wish, places, first)


def places_for(
    told: Newcomer | Mover,
    wish: Wish,
    system: str | None,
    journal: Journal,
    systems: Mapping[str, System],
    standing: Mapping[str, Sequence[Standing]],
    day: date,
) -> tuple[Suggestion, ...]:
    """Where a coral stands as it is decided; else the best places in a system or in all, at most `MOST_PLACES`.

    Where only the place is decided, those on it. `systems` are those that may be changed to make room.
    """
    own, spot = journal.settings.safe_distances, decided(told, system, journal)
    if spot is not None:
        return (standing_at(wish, spot, systems, standing, own, day),)
    found = where_could_it_go(wish, systems.values(), standing, own, day, only=system)
    there = [each for each in found if told.place and each.spot.place == told.place]
    return tuple(there or found)[:MOST_PLACES]


def systems_of(found: Landing) -> tuple[str, ...]:
    """The systems that a colony could go to, the best first."""
    return tuple(dict.fromkeys([found.new.system] if found.new.system else [each.spot.system for each in found.places]))


def decided(told: Newcomer | Mover, system: str | None, journal: Journal) -> Spot | None:
    """The spot of a coral in a system, if the plan says just where it will stand."""
    known = journal.systems.get(system or "")
    place = known.places.get(told.place or "") if known else None
    if system is None or told.place is None or place is None or told.x is None or told.y is None:
        return None
    x, y = place.x.canonical() + told.x.canonical(), place.y.canonical() + told.y.canonical()
    return Spot(system, place.part, told.place, x, y, False)


def wish_of_newcomer(new: Newcomer) -> Wish:
    """What a colony wants as far as it is written; the gap to its neighbours is not in it."""
    sides = [side.canonical() for side in (new.length, new.width or new.length)]
    ends = light_ends(new)
    height = new.height.canonical() if new.height else None
    return Wish(max(sides), min(sides), height, ends[0] if ends else None, ends[-1] if ends else None, new.flow)


def _light(new: Newcomer, place: Suggestion, system: System, since: date) -> FirstLight:
    """The light of the place against what it is used to; where that is not written, the least it wants."""
    used = new.used_to.canonical() if new.used_to else next(iter(light_ends(new)), None)
    hours = system.photoperiod.canonical() if system.photoperiod else None
    if used is None or hours is None or place.light is None:
        return FirstLight(used, new.used_to is not None, place.light, ())
    wanted = sum(place.light) / 2.0
    steps = step_up(daily_light(used, hours), daily_light(wanted, hours), hours, since)
    return FirstLight(used, new.used_to is not None, place.light, steps)
