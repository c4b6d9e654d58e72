"""How fast a coral grows: specific growth rate, extension, doubling time."""

from collections.abc import Callable, Sequence
from datetime import date, timedelta
from math import log

import numpy as np
from numpy.typing import NDArray

from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.estimate.robust_slope import blocked_slope, within_blocks
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart, scaled_parts
from generator.reckon.growth.segments import Block
from generator.units.quantity import Estimate

Array = NDArray[np.float64]

DAYS_PER_YEAR = 365.25
# Growth of now is that of the last year, or of as many measurements as an interval takes.
RECENT = timedelta(days=365)
ENOUGH = 4

_LEVEL = 0.90


def specific_growth_rate(blocks: Sequence[Block]) -> Answer:
    """Specific growth rate (%/day), d ln(W)/dt, of masses or areas measured within segments.

    Source: SGR = ln(W2/W1)/Δt; slope by `estimate.robust_slope`.
    """
    return _slope(blocks, log, lambda value: 1.0 / value, 100.0, "%/day")


def extension(blocks: Sequence[Block]) -> Answer:
    """Linear extension (cm/year): slope of radii or heights (cm) measured within segments."""
    return _slope(blocks, lambda value: value, lambda _: 1.0, DAYS_PER_YEAR, "cm/year")


def doubling_time(rate: Answer) -> Answer:
    """Days in which a coral doubles, from its specific growth rate (%/day): ln 2 over the rate."""
    if isinstance(rate, CannotTell):
        return rate
    estimate = rate.estimate
    if estimate.low <= 0.0:
        return CannotTell("may-not-grow", "measure-again-later", inputs=rate.inputs)
    value, low, high = (100.0 * log(2.0) / each for each in (estimate.value, estimate.high, estimate.low))
    parts = scaled_parts(rate.parts, value / estimate.value)
    return Finding(Estimate(value, low, high, "days", estimate.level), "doubling-time", rate.inputs, parts)


def recent(blocks: Sequence[Block], as_of: date) -> tuple[Block, ...]:
    """The blocks' points of the last year, or as far back as it takes to have four that compare."""
    earlier = sorted({point.at for block in blocks for point in block if point.at < as_of - RECENT}, reverse=True)
    for since in (as_of - RECENT, *earlier):
        late = tuple(tuple(point for point in block if point.at >= since) for block in blocks)
        if sum(len(block) for block in late if _comparable(block)) >= ENOUGH:
            return tuple(block for block in late if block)
    return tuple(blocks)


def _comparable(block: Block) -> bool:
    return len({point.at for point in block}) > 1


def _slope(
    blocks: Sequence[Block],
    straight: Callable[[float], float],
    steepness: Callable[[float], float],
    factor: float,
    unit: str,
) -> Answer:
    """The common slope of the blocks' values on the scale `straight` (derivative `steepness`), times `factor`."""
    told = [block for block in blocks if _comparable(block) and all(point.value > 0.0 for point in block)]
    sources = tuple(dict.fromkeys(point.source for block in blocks for point in block))
    if not told:
        points = sum(len(block) for block in blocks)
        return CannotTell("measured-once", "measure-again", (("measurements", f"{points}"),), sources)
    arrays = [_arrays(block, straight) for block in told]
    slopes = within_blocks(arrays)
    robust = blocked_slope(arrays, _LEVEL)
    value = float(np.median(slopes))
    low, high = (robust.low, robust.high) if robust else (float(slopes[0]), float(slopes[-1]))
    instrument = _instrument(told, steepness)
    half = coverage_factor(_LEVEL) * instrument
    scatter = (high - low) / 2.0 / coverage_factor(_LEVEL)
    return Finding(
        Estimate(value * factor, min(low, value - half) * factor, max(high, value + half) * factor, unit, _LEVEL),
        _method(robust is not None, sum(len(block) for block in told)),
        sources,
        tuple(
            UncertaintyPart(cause, standard * factor)
            for cause, standard in (("scatter", scatter), ("instrument", instrument))
            if standard > 0.0
        ),
    )


def _method(robust: bool, points: int) -> str:
    if robust:
        return "growth-rate"
    return "growth-two-points" if points == 2 else "growth-few-points"


def _arrays(block: Block, straight: Callable[[float], float]) -> tuple[Array, Array]:
    days = np.array([float(point.at.toordinal()) for point in block])
    return days, np.array([straight(point.value) for point in block])


def _instrument(blocks: Sequence[Block], steepness: Callable[[float], float]) -> float:
    """Standard uncertainty of the slope (a day) by scale or ruler alone, as a least-squares slope would have it.

    Source: JCGM 100:2008 (GUM), 5.1.2; for two points it is the root of both variances over the days between.
    """
    information = 0.0
    for block in blocks:
        days = np.array([float(point.at.toordinal()) for point in block])
        variance = np.mean([(point.standard * steepness(point.value)) ** 2 for point in block])
        if variance == 0.0:
            return 0.0
        information += float(((days - days.mean()) ** 2).sum() / variance)
    return float(information**-0.5)
