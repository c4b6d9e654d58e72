"""The range of uptake while part of it is only predicted.

A filter knows a predicted step as a normal variable, as far below as above. The prediction itself has a long upper end
and is never less than nothing: its own two sides take the place of the normal ones.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from math import hypot, sqrt

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.findings import Calcification, Forecast, Uptake
from generator.reckon.water.forecast import unslowed, with_levels
from generator.reckon.water.stoichiometry import GRAMS_PER_MEQ
from generator.units.quantity import Estimate, coverage_factor

# Steps of alkalinity's uptake (meq/L/day) that nobody has read since, each from a moment on.
Steps = Sequence[tuple[datetime, Estimate]]


def of_uptake(uptake: Uptake, steps: Steps, litres: float) -> Uptake:
    """Alkalinity's uptake with predicted steps, in so much water."""
    return replace(uptake, per_day=_of(uptake.per_day, steps, 1.0), amount=_of(uptake.amount, steps, litres))


def of_calcification(found: Calcification, steps: Steps, litres: float) -> Calcification:
    """Calcification with predicted steps, in so much water."""
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
        above, below = sides(most - value, value - least, taken)
        courses.append((value, value - below, value + above))
    return with_levels(found, courses, low, high)


def sides(below: float, above: float, steps: Sequence[Estimate]) -> tuple[float, float]:
    """How far below and above its likeliest value something may be that follows some steps."""
    normal = coverage_factor() * sqrt(sum(step.standard**2 for step in steps))
    lower, upper = (hypot(*(getattr(step, end) - step.value for step in steps)) for end in ("low", "high"))
    return hypot(_rest(below, normal), lower), hypot(_rest(above, normal), upper)


def _rest(half: float, normal: float) -> float:
    return sqrt(max(half**2 - normal**2, 0.0))


def _of(answer: Answer, steps: Steps, times: float) -> Answer:
    if not isinstance(answer, Finding):
        return answer
    found, taken = answer.estimate, [step.scaled(times, answer.estimate.unit) for _, step in steps]
    below, above = sides(found.value - found.low, found.high - found.value, taken)
    low = found.value - below if found.low < 0.0 else max(found.value - below, 0.0)
    return replace(answer, estimate=replace(found, low=low, high=found.value + above))
