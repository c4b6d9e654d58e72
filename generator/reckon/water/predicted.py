"""The range of uptake while part of it is only predicted.

A filter knows a predicted step as a normal variable, as far below as above. The prediction itself has a long upper end
and is never less than nothing: its own two sides take the place of the normal ones.
"""

from collections.abc import Sequence
from dataclasses import replace
from math import hypot, sqrt

from generator.reckon.finding import Answer, Finding
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.stoichiometry import GRAMS_PER_MEQ
from generator.units.quantity import Estimate, coverage_factor


def with_predicted(water: WaterFindings, steps: Sequence[Estimate], litres: float) -> WaterFindings:
    """The findings with the steps of alkalinity's uptake (meq/L/day) that nobody has read since, in so much water."""
    uptake, grams = water.uptake["alkalinity"], water.calcification.grams_per_day
    if not steps or not isinstance(uptake.per_day, Finding):
        return water
    alkalinity = replace(uptake, per_day=_of(uptake.per_day, steps, 1.0), amount=_of(uptake.amount, steps, litres))
    calcification = replace(water.calcification, grams_per_day=_of(grams, steps, litres * GRAMS_PER_MEQ))
    return replace(
        water,
        uptake={**water.uptake, "alkalinity": alkalinity},
        calcification=calcification,
        predicted=tuple(steps),
    )


def sides(below: float, above: float, steps: Sequence[Estimate], times: float) -> tuple[float, float]:
    """How far below and above its likeliest value something may be that follows steps of uptake so many times."""
    normal = coverage_factor() * sqrt(sum(step.standard**2 for step in steps)) * times
    lower, upper = (hypot(*(getattr(step, end) - step.value for step in steps)) * times for end in ("low", "high"))
    return hypot(_rest(below, normal), lower), hypot(_rest(above, normal), upper)


def _rest(half: float, normal: float) -> float:
    return sqrt(max(half**2 - normal**2, 0.0))


def _of(answer: Answer, steps: Sequence[Estimate], times: float) -> Answer:
    if not isinstance(answer, Finding):
        return answer
    found = answer.estimate
    below, above = sides(found.value - found.low, found.high - found.value, steps, times)
    low = found.value - below if found.low < 0.0 else max(found.value - below, 0.0)
    return replace(answer, estimate=replace(found, low=low, high=found.value + above))
