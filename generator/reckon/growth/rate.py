"""How fast a coral grew, and how fast it will: specific growth rate, extension, doubling time."""

from collections.abc import Sequence
from datetime import date, timedelta
from math import log, sqrt

from generator.reckon.finding import Answer, CannotTell, Finding, one_cause, parts_of, scaled_parts
from generator.reckon.growth.pace import LENGTH, MASS, Kind, Pace, ahead, between
from generator.reckon.growth.segments import Block
from generator.records.source import Source
from generator.units.quantity import Estimate

DAYS_PER_YEAR = 365.25
# Growth of now is that of the last year, or of as many measurements as an interval takes.
RECENT = timedelta(days=365)
ENOUGH = 4
# A rate whose lower end is so many times less tells no time to double by.
_LEAST_SURE = 4.0


def specific_growth_rate(blocks: Sequence[Block], kind: Kind = MASS) -> Answer:
    """How fast masses or areas grew (%/day) from the first to the last measurement of each segment, d ln(W)/dt.

    Source: SGR = ln(W2/W1)/Δt; its uncertainty by `pace.between`.
    """
    return _grew(blocks, kind, 100.0, "%/day")


def specific_growth_ahead(blocks: Sequence[Block], today: date, days: int, kind: Kind = MASS) -> Answer:
    """How fast masses or areas will grow (%/day) in the next so many days, by `pace.ahead`."""
    return _will_grow(blocks, today, days, kind, 100.0, "%/day")


def extension(blocks: Sequence[Block]) -> Answer:
    """How fast radii or heights (cm) grew, cm/year."""
    return _grew(blocks, LENGTH, DAYS_PER_YEAR, "cm/year")


def extension_ahead(blocks: Sequence[Block], today: date, days: int) -> Answer:
    """How fast radii or heights (cm) will grow in the next so many days, cm/year."""
    return _will_grow(blocks, today, days, LENGTH, DAYS_PER_YEAR, "cm/year")


def doubling_time(rate: Answer) -> Answer:
    """Days in which a coral doubles, from its specific growth rate (%/day): ln 2 over the rate.

    `CannotTell` where it may not grow at all, or a quarter of that.
    """
    if isinstance(rate, CannotTell):
        return rate
    estimate = rate.estimate
    if estimate.low * _LEAST_SURE <= estimate.value:
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


def _grew(blocks: Sequence[Block], kind: Kind, factor: float, unit: str) -> Answer:
    pace = between(blocks, kind)
    if pace is None:
        return _too_few(blocks)
    rate = _estimate(pace, factor, unit)
    return Finding(rate, "growth-rate", _inputs(blocks), one_cause("repeats", rate))


def _will_grow(blocks: Sequence[Block], today: date, days: int, kind: Kind, factor: float, unit: str) -> Answer:
    paces = ahead(blocks, kind, today, (days,))
    if paces is None:
        return _too_few(blocks)
    pace, factor = paces[0], factor / days
    measured = sqrt(max(0.0, pace.standard**2 - pace.wandering**2))
    parts = parts_of([("rate-so-far", measured * factor), ("wandering", pace.wandering * factor)])
    return Finding(_estimate(pace, factor, unit), "growth-ahead", _inputs(blocks), parts)


def _estimate(pace: Pace, factor: float, unit: str) -> Estimate:
    return Estimate.normal(pace.grown, pace.standard, unit).scaled(factor, unit)


def _too_few(blocks: Sequence[Block]) -> CannotTell:
    points = sum(len(block) for block in blocks)
    if not points:
        return CannotTell("never-measured", "measure-it")
    return CannotTell("measured-once", "measure-again", (("measurements", f"{points}"),), _inputs(blocks))


def _inputs(blocks: Sequence[Block]) -> tuple[Source, ...]:
    return tuple(dict.fromkeys(point.source for block in blocks for point in block))
