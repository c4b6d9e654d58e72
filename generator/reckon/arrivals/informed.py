"""Every event among a system's corals with what it is predicted to do, by what was known just before it.

This is what the water is estimated with from the minute of an event on: what was measured before, plus what is
predicted of it, until readings tell better.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from generator.nature.constants import CALCIFICATION_SIZE_EXPONENT
from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.eve import Eve, eve_of
from generator.reckon.arrivals.expected import LARGE_SHARE, ExpectedUptake, expected
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.estimate.lognormal import LogNormal
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.demand_events import DemandEvent, demand_events
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate, spread_of_range

# A cut of which no mass is written counts as half of the coral, as it does among the demand's events; 9 in 10 of
# such cuts take between a fifth and four fifths. An assumption of ours.
HALF = 0.5
HALF_OR_SO = (0.2, 0.8)
# Readings further back than this tell nothing more of the days around an event.
WINDOW = timedelta(days=180)
# So long after a small event readings have told what it did; of large ones it is always said. A choice of ours.
TOLD_BY = timedelta(days=60)

_OF_CORALS = ("arrival", "cutting", "loss")


@dataclass(frozen=True, slots=True)
class Informed:
    """An event with what it is predicted to do in it (`step` and `step_error`), if that was told.

    `eve` is what was known just before it, `predicted` what the coral takes by that, `step` what the event does to
    the uptake of alkalinity (meq/L/day; negative: less). None: nothing is predicted, the readings have to tell.
    """

    event: DemandEvent
    eve: Eve | None = None
    predicted: ExpectedUptake | CannotTell | None = None
    step: Estimate | None = None
    large: bool = False


def informed(system: System, log: SystemLog, corals: Mapping[str, Coral], as_of: datetime) -> tuple[Informed, ...]:
    """Every event up to a moment, in order of time, each with what was predicted of it on its eve.

    Days are those of the zone of `as_of`, the keeper's.
    """
    first = next((reading.at for reading in log.readings if reading.kind == "alkalinity"), None)
    found: list[Informed] = []
    for event in demand_events(system.id, log, corals.values(), as_of):
        known = event.coral in corals and event.what in _OF_CORALS and first is not None and event.at > first
        large = known and share_of(system, corals, event) >= LARGE_SHARE * (1.0 - 1e-9)
        if known and (large or as_of - event.at <= TOLD_BY):
            found.append(_informed(system, log, corals, event, [each.event for each in found], as_of, large))
        else:
            found.append(Informed(event))
    return tuple(found)


def _informed(
    system: System,
    log: SystemLog,
    corals: Mapping[str, Coral],
    event: DemandEvent,
    before: list[DemandEvent],
    as_of: datetime,
    large: bool,
) -> Informed:
    eve = eve_of(system, near(log, event.at), before, (event.at - timedelta(seconds=1)).astimezone(as_of.tzinfo))
    predicted = predicted_uptake(system, corals, event, eve.measured)
    if isinstance(predicted, CannotTell):
        return Informed(event, eve, predicted, None, large)
    step = step_of(event, corals[str(event.coral)], predicted)
    # Until a reading follows a newcomer counts in full, so that all shares add up. How it settles, readings tell.
    read = any(each.kind == "alkalinity" and event.at < each.at <= as_of for each in log.readings)
    settles = event.settles if read else 0.0
    with_step = replace(event, step=step.value, step_error=step.standard, settles=settles)
    return Informed(with_step, eve, predicted, step, large)


def predicted_step(
    system: System, corals: Mapping[str, Coral], event: DemandEvent, measured: Answer
) -> Estimate | None:
    """What an event is predicted to do, given the measured g CaCO3/day before it; None where nothing tells."""
    predicted = predicted_uptake(system, corals, event, measured)
    return None if isinstance(predicted, CannotTell) else step_of(event, corals[str(event.coral)], predicted)


def near(log: SystemLog, at: datetime) -> SystemLog:
    """The log around an event: its readings, doses and water changes of the last months before, all that runs."""
    since = at - WINDOW
    return replace(
        log,
        readings=tuple(r for r in log.readings if r.at >= since),
        doses=tuple(d for d in log.doses if d.at >= since),
        water_changes=tuple(w for w in log.water_changes if w.at >= since),
    )


def step_of(event: DemandEvent, coral: Coral, foreseen: ExpectedUptake) -> Estimate:
    """What an event is foreseen to do to the demand, meq/L/day.

    What stays of a cut coral calcifies by its size to a power below one (Carlot et al. 2022). A cut of which
    no mass is known is foreseen as `HALF_OR_SO`.
    """
    whole = foreseen.alkalinity.estimate
    if event.what == "arrival":
        return whole
    part = 1.0 if event.what == "loss" else part_cut(coral, event)
    if part is not None:
        return whole.scaled(-lost_by_cutting(part), whole.unit)
    least, most = (lost_by_cutting(end) for end in HALF_OR_SO)
    lost = LogNormal(lost_by_cutting(HALF), spread_of_range(least, most))
    alone = LogNormal(whole.value, spread_of_range(whole.low, whole.high, whole.level))
    return alone.times(lost).estimate(whole.unit).scaled(-1.0, whole.unit)


def lost_by_cutting(part: float) -> float:
    """The share of a coral's calcification that goes with a share of its mass (0 to 1); it heals in its own time."""
    left: float = (1.0 - part) ** CALCIFICATION_SIZE_EXPONENT.value
    return 1.0 - left


def part_cut(coral: Coral, event: DemandEvent) -> float | None:
    """The share of a coral's mass that was cut away on a day; None where it or the coral was not weighed in air."""
    day = event.day
    cut = [cutting.mass.canonical() for cutting in coral.cuttings if cutting.at == day and cutting.mass]
    mass = colony_of(coral, day - timedelta(days=1)).mass
    if not cut or mass is None or mass.in_water or mass.grams <= mass.holder:
        return None
    return min(sum(cut) / (mass.grams - mass.holder), 1.0)


def predicted_uptake(
    system: System, corals: Mapping[str, Coral], event: DemandEvent, measured: Answer
) -> ExpectedUptake | CannotTell:
    """What the coral of an event takes by what was known the day before, and its share with the others."""
    coral, day = corals[str(event.coral)], event.day
    eve = day - timedelta(days=1)
    others = present_factor(corals.values(), system.id, eve, measured, without=coral.id)
    if event.what == "arrival":
        return expected(colony_of(coral, day), system.water, others)
    # It was part of what was measured: the factor is that of all, itself among them.
    everyone = present_factor(corals.values(), system.id, eve, measured)
    colony = colony_of(coral, eve)
    found, beside = expected(colony, system.water, everyone), expected(colony, system.water, others)
    if isinstance(found, CannotTell) or isinstance(beside, CannotTell):
        return found
    alone = Finding(Estimate(1.0, 1.0, 1.0, "share"), "expected-uptake", colony.inputs)
    return replace(found, share=alone if others.present is None else beside.share)


def share_of(system: System, corals: Mapping[str, Coral], event: DemandEvent) -> float:
    """How much of the whole demand an event moves, as well as it can be told without reckoning the water."""
    unread = CannotTell("uptake-not-known", "read-alkalinity")
    foreseen = predicted_uptake(system, corals, event, unread)
    if isinstance(foreseen, CannotTell):
        return 0.0 if foreseen.why == "no-skeleton" else event.share
    share = foreseen.share.estimate.value if isinstance(foreseen.share, Finding) else 1.0
    if event.what != "cutting":
        return share
    part = part_cut(corals[str(event.coral)], event)
    return lost_by_cutting(HALF if part is None else part) * share
