"""How fast a coral grew between its measurements, and how fast it will grow after them: two separate answers.

The first is uncertain only because measurements have errors. The second is uncertain for two more reasons: growth
slows down as the coral gets larger, and it varies from week to week.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from math import exp, hypot, log, sqrt
from typing import Literal

import numpy as np
from msgspec import Struct

from generator.nature.constants import RULER_REPEATS_TO
from generator.reckon.estimate.slopes import Comparable, Grid, mean_of_stories, robust_slope, wandered, weigh_stories
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.finding import Answer, CannotTell, Finding, one_cause, scaled_parts, uncertainty_parts
from generator.reckon.growth.measurements import Block, Point
from generator.records.source import Source
from generator.units.quantity import Estimate

Odds = tuple[tuple[float, float], ...]

# The growth rate differs from its mean by these shares (with prior odds) and returns to it within about eight weeks;
# common practice, no source.
MEMORY_DAYS = 56.0
WANDERING: Odds = ((0.10, 0.3), (0.25, 0.4), (0.40, 0.3))
# Growth of a mass is proportional to a power of the mass. Growth is proportional to surface to the power 0.79 to 0.97
# (Carlot et al. 2022), and surface to mass to the power 2/3 (massive) to 1 (branches and plates; Kahng, Odle &
# Wakeman 2024): together 0.53 to 0.97. The lower powers are for young frags, which can slow down faster.
MASS_POWERS: Odds = ((0.25, 0.1), (0.45, 0.2), (0.65, 0.25), (0.85, 0.25), (1.0, 0.2))
# Relative error of repeated weighings of one living coral (water it holds, how it hangs), with prior odds: about 2 %;
# common practice, no source.
WEIGHING_REPEATS: Odds = ((0.0025, 0.08), (0.006, 0.12), (0.012, 0.2), (0.022, 0.3), (0.035, 0.3))
# The real error of a ruler may be half or twice the stated one.
_RULER: Odds = ((0.5, 0.25), (1.0, 0.5), (2.0, 0.25))
# With so many measurements, not counting the first of each segment, their scatter tells the error of a repeat.
_TELLING = 5
# A typing mistake is off the line by more than ten times the median, and by a tenth of the value; shorter series are
# not checked.
_ENOUGH_FOR_SLIPS = 5
_MOST_OF_USUAL, _LEAST_SLIP = 10.0, 0.10


class PaceKind(Struct, frozen=True):
    """What is measured: possible powers of its growth and possible errors of a repeat, each with prior odds.

    `relative` errors are shares of the value, others multiples of the stated error. `logarithmic` means growth of
    the logarithm, not of the value.
    """

    powers: Odds
    errors: Odds
    relative: bool
    logarithmic: bool


MASS = PaceKind(MASS_POWERS, WEIGHING_REPEATS, True, True)
# A colony of any size spreads outwards by about the same length each year; Pratchett et al. 2015, Oceanogr. Mar.
# Biol. 53:215-295 (from memory). So growth of the footprint is proportional to its square root.
FOOTPRINT = PaceKind(((0.5, 1.0),), _RULER, False, True)
LENGTH = PaceKind(((0.0, 1.0),), _RULER, False, False)


class Pace(Struct, frozen=True):
    """Growth over some days (of the logarithm, or cm), its standard uncertainty, and the part from wandering."""

    grown: float
    standard: float
    wandering: float = 0.0


class Repeats(Struct, frozen=True):
    """Standard error of a repeated weighing, as a share of the mass, with a 90 % interval.

    "assumed": the prior; "learned": from the scatter of the weighings; "written": recorded with every weighing.
    """

    share: float
    low: float
    high: float
    known: Literal["assumed", "learned", "written"]


def mean_rates(blocks: Sequence[Block], kind: PaceKind) -> Pace | None:
    """Mean rate (a day) from the first to the last measurement of each segment; None if no segment has two days."""
    told = _told(blocks)
    if not told:
        return None
    since = told[0][0].at
    spans = [((block[0].at - since).days, (block[-1].at - since).days) for block in told]
    power = 1.0 if kind.logarithmic else 0.0
    series, scale = _series(told, kind, power)
    posterior = weigh_stories(series, _grid(kind), [[(float(start), float(end)) for start, end in spans]])
    assert posterior is not None
    grown, standard = mean_of_stories(posterior.log_odds, posterior.spans[0].mean, posterior.spans[0].variance)
    factor = (1.0 if kind.logarithmic else scale) / sum(end - start for start, end in spans)
    return Pace(grown * factor, standard * factor)


def repeats_to(blocks: Sequence[Block], kind: PaceKind) -> Repeats:
    """The error of a repeat: recorded, learned from the scatter if there are enough measurements, or assumed."""
    points = [point for block in blocks for point in block]
    written = [point.repeats / point.value for point in points if point.repeats is not None]
    if points and len(written) == len(points):
        return Repeats(max(written), min(written), max(written), "written")
    told = _told(blocks)
    posterior = weigh_stories(_series(told, kind, 1.0)[0], _grid(kind), []) if told else None
    known: Literal["assumed", "learned"] = "learned"
    if posterior is None or sum(len(block) - 1 for block in told) < _TELLING:
        errors, odds = (np.array(each) for each in zip(*kind.errors, strict=True))
        known = "assumed"
    else:
        errors, odds = posterior.errors, np.exp(posterior.log_odds - posterior.log_odds.max())
    order = np.argsort(errors)
    below = np.cumsum(odds[order]) / odds.sum()
    low, high = (float(errors[order][np.searchsorted(below, end)]) for end in (0.05, 0.95))
    return Repeats(sqrt(float(odds @ errors**2 / odds.sum())), low, high, known)


def ahead(blocks: Sequence[Block], kind: PaceKind, today: date, days: Sequence[int]) -> tuple[Pace, ...] | None:
    """Growth from today until each of `days` later; None if no segment has two days."""
    told = _told(blocks)
    if not told:
        return None
    since, last = told[0][0].at, told[-1][-1]
    now = float((today - since).days)
    spans = [[(float((last.at - since).days), now)], *([(now, now + each)] for each in days)]
    found: list[list[tuple[Array, ...]]] = [[] for _ in days]
    for power, odds in kind.powers:
        series, scale = _series(told, kind, power)
        posterior = weigh_stories(series, _grid(kind), spans)
        assert posterior is not None
        start = series[-1].values[-1] + posterior.spans[0].mean
        for each, span in zip(found, posterior.spans[1:], strict=True):
            grown, steepness = _grown(start, span.mean, power, kind.logarithmic)
            factor = steepness * (1.0 if kind.logarithmic else scale)
            grown = grown * (1.0 if kind.logarithmic else scale)
            strays = (posterior.wanderings * factor) ** 2
            each.append((posterior.log_odds + log(odds), grown, span.variance * factor**2, strays))
    return tuple(_pace(each, count) for each, count in zip(found, days, strict=True))


def _pace(stories: Sequence[tuple[Array, ...]], days: int) -> Pace:
    log_odds, grown, variance, strays = (np.concatenate(part) for part in zip(*stories, strict=True))
    mean, standard = mean_of_stories(log_odds, grown, variance)
    odds = np.exp(log_odds - log_odds.max())
    new = sqrt(float(odds @ strays / odds.sum()) * wandered(float(days), MEMORY_DAYS))
    return Pace(mean, standard, min(standard, new))


def _grown(start: Array, more: Array, power: float, logarithmic: bool) -> tuple[Array, Array]:
    """Growth of the logarithm (or the value) from growth on the straight scale, and the derivative of the two."""
    if not logarithmic or power == 1.0:
        return more, np.ones_like(more)
    rest = 1.0 - power
    # Zero has no logarithm.
    before, after = np.maximum(1.0 + rest * start, 0.05), np.maximum(1.0 + rest * (start + more), 0.05)
    return np.log(after / before) / rest, 1.0 / after


def _told(blocks: Sequence[Block]) -> list[Block]:
    return [block for block in blocks if block[0].at < block[-1].at and all(point.value > 0.0 for point in block)]


def _grid(kind: PaceKind) -> Grid:
    return Grid(kind.errors, WANDERING, MEMORY_DAYS)


def _series(blocks: Sequence[Block], kind: PaceKind, power: float) -> tuple[list[Comparable], float]:
    """The blocks on a scale on which growth with a power is a straight line, and the mean that it is relative to.

    The scale is ((W/W0)^(1-b) - 1) / (1-b), with W0 the geometric mean.
    Source: dW/dt = c W^b, solved; Box & Cox 1964, J. R. Stat. Soc. B 26:211-252.
    """
    scale = exp(float(np.mean([log(point.value) for block in blocks for point in block])))
    rest, since = 1.0 - power, blocks[0][0].at
    found = []
    for block in blocks:
        share = np.array([point.value / scale for point in block])
        straight = np.log(share) if power == 1.0 else (share**rest - 1.0) / rest
        steep = share**rest
        days = np.array([float((point.at - since).days) for point in block])
        known, repeats = (np.array(each) for each in zip(*(_errors(point, kind) for point in block), strict=True))
        found.append(Comparable(days, straight, np.hypot(known, _slips(block)) * steep, repeats * steep))
    return found, scale


def _errors(point: Point, kind: PaceKind) -> tuple[float, float]:
    """The known error of a measurement and the factor for the error of a repeat, both as shares of the value."""
    stated = point.standard / point.value
    if not kind.relative:
        # A length without a stated error was measured with a ruler.
        return 0.0, stated or RULER_REPEATS_TO.value
    return (stated, 1.0) if point.repeats is None else (hypot(stated, point.repeats / point.value), 0.0)


def _slips(block: Block) -> Array:
    """The extra error of each measurement that looks like a typing mistake; 0 for all others."""
    if len(block) < _ENOUGH_FOR_SLIPS:
        return np.zeros(len(block))
    days = np.array([float((point.at - block[0].at).days) for point in block])
    logs = np.log([point.value for point in block])
    line = robust_slope(days, logs)
    left = logs - (line.slope if line else 0.0) * days
    left = np.abs(left - np.median(left))
    usual = max(_MOST_OF_USUAL * float(np.median(left)), _LEAST_SLIP)
    return np.where(left > usual, left, 0.0)


DAYS_PER_YEAR = 365.25
# Growth of now is that of the last year, or of as many measurements as an interval takes.
RECENT = timedelta(days=365)
ENOUGH = 4
# A rate whose lower end is so many times less tells no doubling time.
_LEAST_SURE = 4.0


def specific_growth_rate(blocks: Sequence[Block], kind: PaceKind = MASS) -> Answer:
    """How fast masses or areas grew (%/day) from the first to the last measurement of each segment, d ln(W)/dt.

    Source: SGR = ln(W2/W1)/Δt; its uncertainty by `pace.between`.
    """
    return _grew(blocks, kind, 100.0, "%/day")


def specific_growth_ahead(blocks: Sequence[Block], today: date, days: int, kind: PaceKind = MASS) -> Answer:
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

    `CannotTell` where the lower end of the rate is a quarter of it or less.
    """
    if isinstance(rate, CannotTell):
        return rate
    estimate = rate.estimate
    if estimate.low * _LEAST_SURE <= estimate.value:
        return CannotTell("may-not-grow", "measure-again-later", inputs=rate.inputs)
    value, low, high = (100.0 * log(2.0) / each for each in (estimate.value, estimate.high, estimate.low))
    parts = scaled_parts(rate.parts, value / estimate.value)
    return Finding(Estimate(value, low, high, "days", estimate.level), "doubling-time", rate.inputs, parts)


def recent_points(blocks: Sequence[Block], as_of: date) -> tuple[Block, ...]:
    """The blocks' points of the last year, or as far back as it takes to have four that compare."""
    earlier = sorted({point.at for block in blocks for point in block if point.at < as_of - RECENT}, reverse=True)
    for since in (as_of - RECENT, *earlier):
        late = tuple(tuple(point for point in block if point.at >= since) for block in blocks)
        if sum(len(block) for block in late if len({point.at for point in block}) > 1) >= ENOUGH:
            return tuple(block for block in late if block)
    return tuple(blocks)


def _grew(blocks: Sequence[Block], kind: PaceKind, factor: float, unit: str) -> Answer:
    pace = mean_rates(blocks, kind)
    if pace is None:
        return _too_few(blocks)
    rate = _estimate(pace, factor, unit)
    return Finding(rate, "growth-rate", _inputs(blocks), one_cause("repeats", rate))


def _will_grow(blocks: Sequence[Block], today: date, days: int, kind: PaceKind, factor: float, unit: str) -> Answer:
    paces = ahead(blocks, kind, today, (days,))
    if paces is None:
        return _too_few(blocks)
    pace, factor = paces[0], factor / days
    measured = sqrt(max(0.0, pace.standard**2 - pace.wandering**2))
    parts = uncertainty_parts([("rate-so-far", measured * factor), ("wandering", pace.wandering * factor)])
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
