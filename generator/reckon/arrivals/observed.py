"""What is known of the alkalinity just before an event, and what the event really did to the uptake, day by day."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import groupby
from math import sqrt
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.estimate.uncertainty import Array
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart, one_cause
from generator.reckon.water.analysis import OF_SKELETON, gather
from generator.reckon.water.calcification import grams_per_day
from generator.reckon.water.canonical import band, kit_error
from generator.reckon.water.change import Step, UptakeSteps, estimate_steps, foresight
from generator.reckon.water.deliveries import changes_by_habit, habits
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.reckon.water.forecast import going_on, with_step
from generator.reckon.water.ledger import Evidence, in_days, moment_of_days
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import cannot_tell, interval, recent_inputs
from generator.reckon.water.when_to_test import LOOK_AHEAD, WORTH_MAKING, odds_of_telling, reading_plan
from generator.records.log import SystemLog
from generator.records.source import Source
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, sum_of_estimates

if TYPE_CHECKING:
    from generator.reckon.arrivals.informed import Informed


# Where the keeper wrote nothing of what matters, it is a change of so much of the demand before it: well below the
# least that plans of readings are made for. A choice of ours.
MATTERS = 0.10
# Events within so many days are estimated together; the rise is reported day by day for so long.
TOGETHER = timedelta(days=21)
STORY = timedelta(days=45)
# Two steps cannot be told apart where knowing the others would shrink a step's variance to a quarter, and what
# is known would not even tell the step expected from none.
# Source: variance inflation factor, Marquardt 1970, Technometrics 12:591-612 (from memory).
MOST_INFLATION = 4.0

_NORMAL = NormalDist()


class Foreseen(Struct, frozen=True):
    """What was expected of an event's step before any reading: canonical unit a day, one standard deviation."""

    mean: float
    error: float


class ChangeDay(Struct, frozen=True):
    """The rise as known after a reading: by readings alone, with the prediction, and the odds that it matters."""

    at: datetime
    measured: Estimate
    combined: Estimate | None
    chance: float


class EventsTogether(Struct, frozen=True):
    """Events too close to tell apart: what all of them did, and when daily readings would tell (None: never)."""

    events: tuple[DemandEvent, ...]
    sum: Estimate
    told_apart: datetime | None


class Observed(Struct, frozen=True):
    """One event's effect on the uptake of one quantity, canonical unit a day; positive: more is taken up since.

    `step` is what changed at once, `rise` what has come of it by the last reading: a newcomer settles for weeks, and
    other corals' growth in that time counts with it. `combined` is the rise with what was foreseen.
    `chance` is the probability that the rise passes `matters` in the direction the event leads to
    expect (either, where it leads to none).
    """

    kind: str
    event: DemandEvent
    before: Finding
    after: Finding
    step: Answer
    rise: Answer
    combined: Finding | None
    matters: float
    chance: float
    days: tuple[ChangeDay, ...]
    together: EventsTogether | None


def observe(
    evidence: Evidence,
    found: StateEstimate,
    event: DemandEvent,
    events: Sequence[DemandEvent],
    foreseen: dict[DemandEvent, Foreseen],
    as_of: datetime,
    matters: float | None = None,
) -> Observed:
    """The step an event made, from the readings on either side of it, together with the events near it.

    `matters` is how large a change the keeper said matters (canonical unit a day); None: nothing was said.
    """
    near = [e for e in events if e == event or abs(e.at - event.at) <= TOGETHER]
    index = near.index(event)
    blank = [Step(in_days(e.at)) for e in near]
    believed = [
        replace(step, mean=foreseen[e].mean, error=foreseen[e].error) if e in foreseen else step
        for step, e in zip(blank, near, strict=True)
    ]
    measured = estimate_steps(evidence, found, blank)
    combined = estimate_steps(evidence, found, believed) if foreseen else None
    unit = f"{KINDS[evidence.kind].canonical}/day"
    inputs = tuple(dict.fromkeys([event.source, *recent_inputs(evidence, as_of)]))
    best = combined or measured
    if matters is None:
        matters = MATTERS * max(abs(best.before[index][0]), found.demand * MATTERS)
    size = abs(foreseen[event].mean) if event in foreseen else event.share * found.demand
    together = _together(evidence, found, near, blank, measured, index, size, as_of)
    rise = _rise(measured, -1, index, unit)

    def side(known: tuple[float, float], read: tuple[float, float]) -> Finding:
        told = interval(*known, unit)
        return _with_foreseen(told, interval(*read, unit), inputs) if combined else _read(told, inputs)

    return Observed(
        kind=evidence.kind,
        event=event,
        before=side(best.before[index], measured.before[index]),
        after=side(best.after, measured.after),
        step=_told(_at(measured, -1, index, unit), event, together, evidence, inputs),
        rise=_told(rise, event, together, evidence, inputs),
        combined=_with_foreseen(_rise(combined, -1, index, unit), rise, inputs) if combined else None,
        matters=matters,
        chance=_chance(best, -1, index, event, matters),
        days=tuple(_days(evidence, measured, combined, index, event, matters)),
        together=together,
    )


def _told(
    effect: Estimate,
    event: DemandEvent,
    together: EventsTogether | None,
    evidence: Evidence,
    inputs: tuple[Source, ...],
) -> Answer:
    """An effect, unless nothing was read since, or it cannot be told from that of other events."""
    if not any(reading.at > event.at for reading in evidence.readings):
        return CannotTell("no-reading-since", "read-again-later", inputs=inputs)
    if together is not None:
        return CannotTell("too-close-together", "read-between", inputs=inputs)
    return _read(effect, inputs)


def _read(found: Estimate, inputs: tuple[Source, ...]) -> Finding:
    """What the readings alone tell."""
    return Finding(found, "change", inputs, one_cause("readings-and-drift", found))


def _with_foreseen(found: Estimate, read: Estimate, inputs: tuple[Source, ...]) -> Finding:
    """The effect by the readings and the prediction together, each weighted by how sure it is.

    Source: weighted mean of two, weights 1/s²; JCGM 100:2008 (GUM), 5.1.2.
    """
    (whole,), (of_readings,) = one_cause("", found), one_cause("readings-and-drift", read)
    share = min(1.0, whole.standard / of_readings.standard)
    parts = (
        UncertaintyPart("readings-and-drift", whole.standard * share),
        UncertaintyPart("prediction", whole.standard * sqrt(1.0 - share**2)),
    )
    return Finding(found, "change-predicted", inputs, parts)


def _at(steps: UptakeSteps, moment: int, index: int, unit: str) -> Estimate:
    """A step as it was known after one of the moments."""
    return interval(float(steps.mean[moment, index]), sqrt(float(steps.variance[moment, index, index])), unit)


def _rise(steps: UptakeSteps, moment: int, index: int, unit: str) -> Estimate:
    """The rise since an event, as it was known after one of the moments."""
    return interval(float(steps.rise[moment, index]), sqrt(float(steps.rise_variance[moment, index])), unit)


def _chance(steps: UptakeSteps, moment: int, index: int, event: DemandEvent, matters: float) -> float:
    """The probability that the rise is larger than what matters, upwards for an arrival, downwards for a loss."""
    mean, error = float(steps.rise[moment, index]), sqrt(float(steps.rise_variance[moment, index]))
    up = 1.0 - _NORMAL.cdf((matters - mean) / error)
    down = _NORMAL.cdf((-matters - mean) / error)
    return {"arrival": up, "loss": down, "cutting": down}.get(event.what, max(up, down))


def _days(
    evidence: Evidence,
    measured: UptakeSteps,
    combined: UptakeSteps | None,
    index: int,
    event: DemandEvent,
    matters: float,
) -> list[ChangeDay]:
    """The rise as known after each reading since the event."""
    best, unit = combined or measured, f"{KINDS[evidence.kind].canonical}/day"
    read = set(evidence.times.tolist())
    story = []
    for position, days in enumerate(measured.moments.tolist()):
        if days in read and in_days(event.at) < days <= in_days(event.at + STORY):
            story.append(
                ChangeDay(
                    moment_of_days(days),
                    _rise(measured, position, index, unit),
                    _rise(combined, position, index, unit) if combined else None,
                    _chance(best, position, index, event, matters),
                )
            )
    return story


def _together(
    evidence: Evidence,
    found: StateEstimate,
    near: Sequence[DemandEvent],
    steps: Sequence[Step],
    measured: UptakeSteps,
    index: int,
    size: float,
    as_of: datetime,
) -> EventsTogether | None:
    """The events that this one, of about a `size`, cannot be separated from, with their sum; None if there are none."""
    variance = measured.variance[-1]
    if len(near) < 2 or _apart(variance, index, size):
        return None
    whole = interval(
        float(measured.mean[-1].sum()), sqrt(float(variance.sum())), f"{KINDS[evidence.kind].canonical}/day"
    )
    days = [in_days(as_of) + day for day in range(1, LOOK_AHEAD + 1)]
    foreseen, _ = foresight(evidence, found, steps).in_a_row(days, found.kit_error)
    parted = next((day for day, left in zip(days, foreseen, strict=True) if _apart(left, index, size)), None)
    return EventsTogether(tuple(near), whole, None if parted is None else moment_of_days(parted))


def _apart(variance: Array, index: int, size: float) -> bool:
    """Whether a step of a size can be told from the others: they do not blur it, or not so that it matters."""
    told = odds_of_telling(size, sqrt(float(variance[index, index]))) >= WORTH_MAKING
    return told or inflation(variance, index) <= MOST_INFLATION


def inflation(variance: Array, index: int) -> float:
    """By what factor a step's variance (k, k) is larger because the other steps are not known."""
    return float(variance[index, index] * np.linalg.inv(variance)[index, index])


def events_at_once(events: "Iterable[Informed]") -> "Iterator[tuple[tuple[Informed, ...], Estimate]]":
    """The events of one kind at one moment, the largest first, with what they are predicted to do together.

    Of the uptake of alkalinity, meq/L/day; what nothing was predicted of is left out.
    """
    steps = {id(each): each.step for each in events if each.step is not None}
    told = sorted((each for each in events if id(each) in steps), key=_time_and_kind)
    for _, same in groupby(told, key=_time_and_kind):
        together = tuple(sorted(same, key=lambda each: -abs(steps[id(each)].value)))
        yield together, sum_of_estimates([steps[id(each)] for each in together])


def _time_and_kind(told: "Informed") -> "tuple[datetime, str]":
    return told.event.at, told.event.what


class Baseline(Struct, frozen=True):
    """What is known of a system's alkalinity at a moment, and its measured calcification, g CaCO3/day."""

    system: System
    at: datetime
    alkalinity: Evidence
    found: StateEstimate | None
    measured: Answer

    @property
    def cannot_tell(self) -> CannotTell | None:
        """Why uptake is not known; None if it is."""
        return (
            CannotTell("no-readings", "read-twice") if self.found is None else cannot_tell(self.alkalinity, self.found)
        )


def baseline_of(system: System, log: SystemLog, events: Sequence[DemandEvent], at: datetime) -> Baseline:
    """The baseline of a change: all that readings up to a moment tell, and what was predicted of `events` by then."""
    evidence, found = gather(system, log, [event for event in events if event.at <= at], at, OF_SKELETON)
    alkalinity, calcium = evidence["alkalinity"], evidence["calcium"]
    measured = grams_per_day(alkalinity, calcium, found["alkalinity"], found["calcium"], system.water, at)
    return Baseline(system, at, alkalinity, found["alkalinity"], measured)


def if_unchanged(known: Baseline, log: SystemLog, step: Estimate) -> Forecast | CannotTell:
    """Where alkalinity goes with a step of the demand (meq/L/day) if all that runs or is given by habit goes on."""
    by_habit = habits(log, known.at), changes_by_habit(log, known.at)
    before, _ = going_on(known.alkalinity, known.found, known.system, *by_habit, known.at)
    if isinstance(before, CannotTell):
        return before
    return with_step(before, step, *band(known.system, "alkalinity"))


def readings_that_tell(known: Baseline, since: datetime, size: float) -> ReadingPlan | None:
    """The plan of readings for a change of `size` (meq/L/day) at a moment; None where the demand is not known."""
    if known.found is None or known.cannot_tell is not None:
        return None
    error = kit_error(known.system, known.alkalinity.readings[-1], known.found.kit_error)
    return reading_plan(known.alkalinity, known.found, since, size, error, since)
