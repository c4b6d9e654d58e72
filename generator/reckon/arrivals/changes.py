"""What every large change among a system's corals was foreseen to do, when a reading could tell, and what it did."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Literal, cast

from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import LARGE_SHARE, ExpectedUptake, expected
from generator.reckon.arrivals.foresight import Eve, eve_of, if_unchanged, readings_that_tell
from generator.reckon.arrivals.observed import STORY, TOGETHER, Foreseen, Observed, observe
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.constants import CALCIFICATION_SIZE_EXPONENT
from generator.reckon.dosing.newcomer import added_doses
from generator.reckon.dosing.phases import Phase
from generator.reckon.estimate.lognormal import LogNormal, spread_of_range
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.demand_events import DemandEvent, demand_events
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.reckon.water.survey import gather
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate

# A neighbour in time that moves the demand by less than this share of what an event does is left to the drift. Ours.
COUNTS_BESIDE = 0.25
# A cut of which no mass is written counts as half of the coral, as it does among the demand's events; 9 in 10 of
# such cuts take between a fifth and four fifths. An assumption of ours.
HALF = 0.5
HALF_OR_SO = (0.2, 0.8)
# Readings further back than this tell nothing more of the days around an event.
WINDOW = timedelta(days=180)

_LEVEL = 0.90

What = Literal["arrival", "cutting", "loss"]


@dataclass(frozen=True, slots=True)
class CoralChange:
    """A coral that came, was cut or went, large for its system.

    `foreseen` is what the whole coral takes by what was known the day before, `step` what the change
    was then expected to do to the demand for alkalinity (meq/L/day; negative: less; None: not known), and
    `unchanged` where alkalinity would then have gone had the doses stayed as they were.
    `added` are the doses foreseen for an arrival beside those that ran. `plan` is that of the
    readings as it stood at the moment of the change. `observed` is told up to `until`: so long it is the
    change's own story, later other things have happened. `day` is the keeper's own day of it;
    `part_assumed` marks a cut of which nobody wrote the mass.
    """

    system: str
    coral: str
    what: What
    at: datetime
    day: date
    foreseen: ExpectedUptake | CannotTell
    step: Estimate | None
    unchanged: Forecast | CannotTell | None
    added: Phase | None
    plan: ReadingPlan | None
    observed: Observed | CannotTell
    until: datetime
    part_assumed: bool = False


def coral_changes(
    system: System, log: SystemLog, corals: Mapping[str, Coral], as_of: datetime
) -> tuple[CoralChange, ...]:
    """Every change of a system's corals since its alkalinity was first read that is large for it, by day.

    Large is at least `LARGE_SHARE` of the whole demand: by published rates where the coral was measured or
    weighed, else by what it covers seen from above. Days are those of the zone of `as_of`, the keeper's.
    """
    first = next((reading.at for reading in log.readings if reading.kind == "alkalinity"), None)
    if first is None:
        return ()
    events = [
        event
        for event in demand_events(system.id, log, corals.values(), as_of)
        if event.coral in corals and event.what in ("arrival", "cutting", "loss") and event.at > first
    ]
    return tuple(
        _change(system, _near(log, event.at), corals, event, as_of)
        for event in events
        if _share(system, corals, event) >= LARGE_SHARE * (1.0 - 1e-9)
    )


def _near(log: SystemLog, at: datetime) -> SystemLog:
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
    lost = LogNormal(lost_by_cutting(HALF), spread_of_range(least, most, _LEVEL))
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


def _change(
    system: System, log: SystemLog, corals: Mapping[str, Coral], event: DemandEvent, as_of: datetime
) -> CoralChange:
    known = eve_of(system, log, corals, (event.at - timedelta(seconds=1)).astimezone(as_of.tzinfo))
    foreseen = _foreseen(system, corals, event, known.measured)
    step = step_of(event, corals[str(event.coral)], foreseen) if isinstance(foreseen, ExpectedUptake) else None
    until = min(as_of, (event.at + STORY).astimezone(as_of.tzinfo))
    return CoralChange(
        system=system.id,
        coral=str(event.coral),
        what=cast(What, event.what),
        at=event.at,
        day=event.day,
        foreseen=foreseen,
        step=step,
        unchanged=if_unchanged(system, known, step) if step else None,
        added=added_doses(system, log, foreseen.grams_per_day, known.at)
        if event.what == "arrival" and isinstance(foreseen, ExpectedUptake)
        else None,
        plan=_plan(known, event, step),
        observed=_observed(system, log, corals, event, known.measured, until)
        if known.cannot_tell is None
        else _unknown_before(event),
        until=until,
        part_assumed=event.what == "cutting" and part_cut(corals[str(event.coral)], event) is None,
    )


def _foreseen(
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


def _share(system: System, corals: Mapping[str, Coral], event: DemandEvent) -> float:
    """How much of the whole demand an event moves, as well as it can be told without reckoning the water."""
    unread = CannotTell("uptake-not-known", "read-alkalinity")
    foreseen = _foreseen(system, corals, event, unread)
    if isinstance(foreseen, CannotTell):
        return 0.0 if foreseen.why == "no-skeleton" else event.share
    share = foreseen.share.estimate.value if isinstance(foreseen.share, Finding) else 1.0
    if event.what != "cutting":
        return share
    part = part_cut(corals[str(event.coral)], event)
    return lost_by_cutting(HALF if part is None else part) * share


def _unknown_before(event: DemandEvent) -> CannotTell:
    """There is no telling what was taken up before an event, and so what it changed."""
    return CannotTell("not-read-before", "read-before-a-change", inputs=(event.source,))


def _plan(known: Eve, event: DemandEvent, step: Estimate | None) -> ReadingPlan | None:
    """The readings that tell a change of the size foreseen, as planned at its moment."""
    demand = known.found.demand if known.found else 0.0
    plan = readings_that_tell(known, event.at, step.value if step else event.share * demand)
    return (
        replace(plan, what=event.what, coral=event.coral, timed=event.timed, inputs=(event.source,)) if plan else None
    )


def _observed(
    system: System, log: SystemLog, corals: Mapping[str, Coral], event: DemandEvent, measured: Answer, until: datetime
) -> Observed | CannotTell:
    """What the readings tell of an event, beside those near it that are not small against it."""
    every = demand_events(system.id, log, corals.values(), until)
    evidence, found = gather(system, log, every, until)
    known = found["alkalinity"]
    if known is None:
        return CannotTell("no-readings", "read-twice")
    beside = [other for other in every if other == event or other.share >= COUNTS_BESIDE * event.share]
    steps = {}
    for other in beside:
        if other.coral in corals and abs(other.at - event.at) <= TOGETHER:
            told = _foreseen(system, corals, other, measured)
            if isinstance(told, ExpectedUptake):
                step = step_of(other, corals[str(other.coral)], told)
                error = (step.high - step.low) / 2.0 / coverage_factor(step.level)
                steps[other] = Foreseen(step.value, error)
    declared = system.smallest_change.alkalinity if system.smallest_change else None
    matters = canonical_value(declared) if declared else None
    seen = observe(evidence["alkalinity"], known, event, beside, steps, until, matters)
    before = seen.before.estimate
    if (before.high - before.low) / 2.0 > known.demand:
        return _unknown_before(event)
    return seen
