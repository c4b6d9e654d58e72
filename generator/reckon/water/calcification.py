"""CaCO3 laid down, from alkalinity and calcium together or from uptake over a time; and what is only predicted of them.

A filter treats a predicted step as a normal variable, symmetric about its mean. The prediction itself has a long upper
end and is never less than nothing: its own two sides take the place of the normal ones.
"""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from math import hypot, sqrt

import numpy as np
from msgspec.structs import replace

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.deliveries import GRAMS_PER_MEQ
from generator.reckon.water.dynamics import JUMP
from generator.reckon.water.estimate import OTHER_SHARE
from generator.reckon.water.findings import Calcification, Forecast, TrackPoint, UnexplainedShift, Uptake, WornPump
from generator.reckon.water.forecast import unslowed, with_levels
from generator.reckon.water.ledger import Evidence, moment_of_days
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import as_estimate, cannot_tell, in_whole, interval, recent_inputs, run, told
from generator.records.system import Water
from generator.units.quantity import Estimate, coverage_factor

# Steps of alkalinity's uptake (meq/L/day) that nobody has read since, each from a moment on.
Steps = Sequence[tuple[datetime, Estimate]]


def of_uptake(uptake: Uptake, steps: Steps, litres: float) -> Uptake:
    """Alkalinity's uptake with predicted steps, in `litres` of water; the last point of its track shows it too."""
    per_day, track = _of(uptake.per_day, steps, 1.0), uptake.track
    if isinstance(per_day, Finding) and track:
        track = (*track[:-1], replace(track[-1], per_day=per_day.estimate))
    return replace(uptake, per_day=per_day, amount=_of(uptake.amount, steps, litres), track=track)


def of_calcification(found: Calcification, steps: Steps, litres: float) -> Calcification:
    """Calcification (g CaCO3 a day) with predicted steps, in `litres` of water."""
    return replace(found, grams_per_day=_of(found.grams_per_day, steps, litres * GRAMS_PER_MEQ))


def of_forecast(
    found: Forecast | CannotTell, steps: Steps, low: float | None, high: float | None
) -> Forecast | CannotTell:
    """Alkalinity's forecast with predicted steps. More uptake than predicted lets the level fall, less lets it rise."""
    if isinstance(found, CannotTell):
        return found
    courses = []
    for moment, level in found.track:
        value, least, most = unslowed(found.kind, level)
        taken = [step.scaled((moment - at).total_seconds() / 86400.0, step.unit) for at, step in steps]
        above, below = two_sides(most - value, value - least, taken)
        courses.append((value, value - below, value + above))
    return with_levels(found, courses, low, high)


def two_sides(below: float, above: float, steps: Sequence[Estimate]) -> tuple[float, float]:
    """How far below and above its likeliest value a quantity may be that some steps were added to, 90 %."""
    normal = coverage_factor() * sqrt(sum(step.standard**2 for step in steps))
    lower, upper = (hypot(*(getattr(step, end) - step.value for step in steps)) for end in ("low", "high"))
    return hypot(_rest(below, normal), lower), hypot(_rest(above, normal), upper)


def _rest(half: float, normal: float) -> float:
    return sqrt(max(half**2 - normal**2, 0.0))


def _of(answer: Answer, steps: Steps, times: float) -> Answer:
    if not isinstance(answer, Finding):
        return answer
    found, taken = answer.estimate, [step.scaled(times, answer.estimate.unit) for _, step in steps]
    below, above = two_sides(found.value - found.low, found.high - found.value, taken)
    low = found.value - below if found.low < 0.0 else max(found.value - below, 0.0)
    return replace(answer, estimate=replace(found, low=low, high=found.value + above))


def laid_down(track: Sequence[TrackPoint], litres: float, since: datetime, until: datetime) -> Estimate | None:
    """Grams of CaCO3 by the alkalinity taken up between two moments, as far as its track (meq/L/day) reaches.

    By the trapezoidal rule. All days may err in the same direction, so the ends of the interval add up as well. Source
    of the proportion: see `deliveries`. None where fewer than two points of the track are within.
    """
    within = [point for point in track if since <= point.at <= until]
    if len(within) < 2:
        return None
    total = [0.0, 0.0, 0.0]
    for one, other in pairwise(within):
        days = (other.at - one.at) / timedelta(days=1)
        ends = ((each.per_day.value, each.per_day.low, each.per_day.high) for each in (one, other))
        for number, (begin, end) in enumerate(zip(*ends, strict=True)):
            total[number] += days * (begin + end) / 2.0
    value, low, high = (each * litres * GRAMS_PER_MEQ for each in total)
    return Estimate(max(value, 0.0), max(low, 0.0), max(high, 0.0), "g")


# Beside calcification by both, that by alkalinity alone is told by the readings of so long, and so many at least: older
# ones hardly count. A choice of ours.
BY_ITSELF, LEAST_BY_ITSELF = timedelta(days=180), 20
# A shift is shown from these odds on that there was one.
SHOWN = 0.5


def calcification(
    alkalinity: Evidence,
    calcium: Evidence,
    found: StateEstimate | None,
    calcium_found: StateEstimate | None,
    water: Water,
    as_of: datetime,
    past: bool = True,
) -> Calcification:
    """Grams of CaCO3 a day with and without the calcium readings, and what alkalinity is left unexplained.

    `found` and `calcium_found` are the quantities' tracks. Answers `CannotTell` where alkalinity itself cannot be
    told; the unexplained part needs calcium too. Not `past`: without what only a page of the water asks for.
    """
    if found is None:
        unknown = CannotTell("no-readings", "read-twice")
        return Calcification(unknown, unknown, unknown)
    shifts = unexplained_shifts(alkalinity, found) if past else ()
    if (why := cannot_tell(alkalinity, found)) is not None:
        return Calcification(why, why, why, shifts)
    if not _by_both(calcium, found, calcium_found):
        no_calcium = CannotTell("no-calcium", "read-calcium", inputs=recent_inputs(alkalinity, as_of))
        alone = _by_itself(alkalinity, found, water, as_of)
        return Calcification(alone, alone, no_calcium, shifts)
    lately = alkalinity.since(alkalinity.readings[-1].at - BY_ITSELF, LEAST_BY_ITSELF)
    by_itself = _by_itself(lately, found, water, as_of) if past else None
    grams = _together(alkalinity, calcium, found, water, as_of)
    other = np.eye(found.laid.layout.size)[4]
    unexplained = told(
        found, alkalinity.deliveries, other, 1.0, "meq/L/day", "calcification", grams.inputs, signed=True
    )
    return Calcification(grams, by_itself, unexplained, shifts, tuple(_pumps(alkalinity, calcium, found)))


def _pumps(alkalinity: Evidence, calcium: Evidence, found: StateEstimate) -> Iterator[WornPump]:
    """What each pump that may wear lacks, with the lines of its rates and the last calcium readings."""
    for place, pump in enumerate(alkalinity.deliveries.pumps):
        for evidence in (alkalinity, calcium):
            if given := evidence.pumped(pump.solution):
                read = [reading.source for each in (alkalinity, calcium) for reading in each.readings[-3:]]
                odds = float(found.now.weights[found.worn(place)].sum())
                lacks = as_estimate(found.lacks(place).interval(), "1")
                inputs = tuple(dict.fromkeys([given[-1], *read]))
                yield WornPump(pump.solution, evidence.kind, odds, lacks, inputs)


def grams_per_day(
    alkalinity: Evidence,
    calcium: Evidence,
    found: StateEstimate | None,
    calcium_found: StateEstimate | None,
    water: Water,
    as_of: datetime,
) -> Answer:
    """Grams of CaCO3 a day alone, as in `calcification`."""
    if found is None:
        return CannotTell("no-readings", "read-twice")
    if (why := cannot_tell(alkalinity, found)) is not None:
        return why
    if _by_both(calcium, found, calcium_found):
        return _together(alkalinity, calcium, found, water, as_of)
    return _by_itself(alkalinity, found, water, as_of)


def _by_both(calcium: Evidence, found: StateEstimate, calcium_found: StateEstimate | None) -> bool:
    """Whether calcium was tracked together with alkalinity, and says something."""
    together = found.laid.dynamics.levels == 2
    return together and calcium_found is not None and cannot_tell(calcium, calcium_found) is None


def _together(alkalinity: Evidence, calcium: Evidence, found: StateEstimate, water: Water, as_of: datetime) -> Finding:
    inputs = tuple(dict.fromkeys([*recent_inputs(alkalinity, as_of), *recent_inputs(calcium, as_of)]))
    formed = in_whole(found, np.eye(found.laid.layout.size)[2])
    volume = water.volume.canonical() * GRAMS_PER_MEQ
    return told(found, alkalinity.deliveries, formed, volume, "g/day", "calcification", inputs)


def _by_itself(alkalinity: Evidence, found: StateEstimate, water: Water, as_of: datetime) -> Answer:
    alone = found if found.laid.dynamics.levels == 1 else run(alkalinity, as_of)
    if alone is None:
        return CannotTell("no-readings", "read-twice")
    return told(
        alone,
        alkalinity.deliveries,
        in_whole(alone, alone.takes),
        water.volume.canonical() * GRAMS_PER_MEQ,
        "g/day",
        "calcification",
        recent_inputs(alkalinity, as_of),
        beside=OTHER_SHARE * alone.demand,
    )


def unexplained_shifts(alkalinity: Evidence, found: StateEstimate) -> tuple[UnexplainedShift, ...]:
    """Jumps of alkalinity (meq/L) between two readings that no payment explains."""
    return tuple(
        UnexplainedShift(
            after=moment_of_days(float(found.moments[jump.index - 1])),
            before=moment_of_days(float(found.moments[jump.index])),
            size=interval(jump.size, jump.error, "meq/L"),
            surprise=jump.size / jump.error,
            inputs=tuple(alkalinity.readings[i].source for i in (jump.index - 1, jump.index)),
            odds=jump.odds,
        )
        for jump in found.told((JUMP,), -np.inf, SHOWN)
    )
