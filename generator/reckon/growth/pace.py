"""How fast a coral grew between its measurements, and how fast it will grow after them: two separate answers.

The first is uncertain only because measurements have errors. The second is uncertain for two more reasons: growth
slows down as the coral gets larger, and it varies from week to week.
"""

from collections.abc import Sequence
from datetime import date, timedelta
from functools import cached_property
from math import exp, hypot, log, sqrt
from statistics import fmean
from typing import Literal

import numpy as np
from msgspec import Struct

from generator.nature.constants import RULER_REPEATS_TO
from generator.reckon.estimate.slopes import (
    Comparable,
    Grid,
    WeighedStories,
    mean_of_stories,
    robust_slope,
    wandered,
    weigh_stories,
)
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


class Course:
    """Measurements of one kind in their segments, and how well each story explains them.

    `told` are the segments that tell a rate: measured on two days, and never at nothing. `days` are how far ahead of
    `today` is looked. `powers` are those of the kind, and the one of which so many % a day, or cm, are a straight line.
    """

    def __init__(self, blocks: Sequence[Block], kind: PaceKind, today: date, days: Sequence[int]) -> None:
        self.blocks, self.kind, self.days = blocks, kind, days
        self.told = [b for b in blocks if b[0].at < b[-1].at and all(point.value > 0.0 for point in b)]
        self.today = today
        straight = 1.0 if kind.logarithmic else 0.0
        self.powers = tuple(dict.fromkeys((*(power for power, _ in kind.powers), straight)))
        self.straight = self.powers.index(straight)

    def day(self, at: date) -> float:
        """A day, counted from the first measurement that tells a rate."""
        return float((at - self.told[0][0].at).days)

    @property
    def so_far(self) -> list[tuple[float, float]]:
        """From the first to the last measurement of each segment."""
        return [(self.day(block[0].at), self.day(block[-1].at)) for block in self.told]

    @cached_property
    def scale(self) -> float:
        """The geometric mean of the measurements."""
        return exp(fmean(log(point.value) for block in self.told for point in block))

    @cached_property
    def stories(self) -> WeighedStories:
        """The stories for each power, with the growth so far, since the last measurement, and on from today."""
        now, so_far = self.day(self.today), self.so_far
        spans = [so_far, [(so_far[-1][1], now)], *([(now, now + each)] for each in self.days)]
        series = [self._series(block) for block in self.told]
        stories = weigh_stories(series, Grid(self.kind.errors, WANDERING, MEMORY_DAYS), spans)
        assert stories is not None
        return stories

    def on_scales(self, values: Sequence[float]) -> tuple[Array, Array]:
        """Values on the scales on which growth with each power is a straight line, and how steep these are.

        A scale is ((W/W0)^(1-b) - 1) / (1-b), with W0 the geometric mean. Both: powers × values.
        Source: dW/dt = c W^b, solved; Box & Cox 1964, J. R. Stat. Soc. B 26:211-252.
        """
        logs = np.log(np.array(values) / self.scale)
        rest = 1.0 - np.array(self.powers)[:, None]
        steep = np.exp(rest * logs)
        return np.where(rest == 0.0, logs, (steep - 1.0) / np.where(rest == 0.0, 1.0, rest)), steep

    def _series(self, block: Block) -> Comparable:
        straight, steep = self.on_scales([point.value for point in block])
        known, repeats = np.array([_errors(point, self.kind) for point in block]).T
        days = np.array([self.day(point.at) for point in block])
        return Comparable(days, straight, np.hypot(known, _slips(block)) * steep, repeats * steep)


def mean_rates(course: Course) -> Pace | None:
    """Mean rate (a day) from the first to the last measurement of each segment; None if no segment has two days."""
    if not course.told:
        return None
    at, stories = course.straight, course.stories
    grown, standard = mean_of_stories(stories.log_odds[at], stories.spans[0].mean[at], stories.spans[0].variance[at])
    factor = (1.0 if course.kind.logarithmic else course.scale) / sum(end - start for start, end in course.so_far)
    return Pace(grown * factor, standard * factor)


def repeats_to(course: Course) -> Repeats:
    """The error of a repeat: recorded, learned from the scatter if there are enough measurements, or assumed."""
    points = [point for block in course.blocks for point in block]
    written = [point.repeats / point.value for point in points if point.repeats is not None]
    if points and len(written) == len(points):
        return Repeats(max(written), min(written), max(written), "written")
    known: Literal["assumed", "learned"] = "learned"
    if sum(len(block) - 1 for block in course.told) < _TELLING:
        errors, odds = (np.array(each) for each in zip(*course.kind.errors, strict=True))
        known = "assumed"
    else:
        errors, log_odds = course.stories.errors, course.stories.log_odds[course.straight]
        odds = np.exp(log_odds - log_odds.max())
    order = np.argsort(errors)
    below = np.cumsum(odds[order]) / odds.sum()
    low, high = (float(errors[order][np.searchsorted(below, end)]) for end in (0.05, 0.95))
    return Repeats(sqrt(float(odds @ errors**2 / odds.sum())), low, high, known)


def ahead(course: Course) -> tuple[Pace, ...] | None:
    """Growth from today until each of the course's days later; None if no segment has two days."""
    if not course.told:
        return None
    powers, odds = np.array(course.kind.powers).T[..., None]
    count, stories = len(powers), course.stories
    _, since, *later = stories.spans
    last, _ = course.on_scales([course.told[-1][-1].value])
    log_odds, wanderings = stories.log_odds[:count] + np.log(odds), stories.wanderings[:count]
    found = []
    for days, span in zip(course.days, later, strict=True):
        if course.kind.logarithmic:
            grown, factor = _grown((last + since.mean)[:count], span.mean[:count], 1.0 - powers)
        else:
            grown, factor = span.mean[:count] * course.scale, np.full_like(log_odds, course.scale)
        found.append(_pace(log_odds, grown, span.variance[:count] * factor**2, (wanderings * factor) ** 2, days))
    return tuple(found)


def _pace(log_odds: Array, grown: Array, variance: Array, strays: Array, days: int) -> Pace:
    mean, standard = mean_of_stories(log_odds.ravel(), grown.ravel(), variance.ravel())
    odds = np.exp(log_odds - log_odds.max())
    new = sqrt(float((odds * strays).sum() / odds.sum()) * wandered(float(days), MEMORY_DAYS))
    return Pace(mean, standard, min(standard, new))


def _grown(start: Array, more: Array, rest: Array) -> tuple[Array, Array]:
    """Growth of the logarithm from growth on the scale of a power, and the derivative of the two; `rest` is 1 - b."""
    # Zero has no logarithm.
    before, after = np.maximum(1.0 + rest * start, 0.05), np.maximum(1.0 + rest * (start + more), 0.05)
    return np.where(rest == 0.0, more, np.log(after / before) / np.where(rest == 0.0, 1.0, rest)), 1.0 / after


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


def specific_growth_rate(course: Course) -> Answer:
    """How fast masses or areas grew (%/day) from the first to the last measurement of each segment, d ln(W)/dt.

    Source: SGR = ln(W2/W1)/Δt; its uncertainty by `mean_rates`.
    """
    return _grew(course, 100.0, "%/day")


def specific_growth_ahead(course: Course) -> Answer:
    """How fast masses or areas will grow (%/day) in the first of the course's days, by `ahead`."""
    return _will_grow(course, 100.0, "%/day")


def extension(course: Course) -> Answer:
    """How fast radii or heights (cm) grew, cm/year."""
    return _grew(course, DAYS_PER_YEAR, "cm/year")


def extension_ahead(course: Course) -> Answer:
    """How fast radii or heights (cm) will grow in the first of the course's days, cm/year."""
    return _will_grow(course, DAYS_PER_YEAR, "cm/year")


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


def _grew(course: Course, factor: float, unit: str) -> Answer:
    pace = mean_rates(course)
    if pace is None:
        return _too_few(course.blocks)
    rate = _estimate(pace, factor, unit)
    return Finding(rate, "growth-rate", _inputs(course.blocks), one_cause("repeats", rate))


def _will_grow(course: Course, factor: float, unit: str) -> Answer:
    paces = ahead(course)
    if paces is None:
        return _too_few(course.blocks)
    pace, factor = paces[0], factor / course.days[0]
    measured = sqrt(max(0.0, pace.standard**2 - pace.wandering**2))
    parts = uncertainty_parts([("rate-so-far", measured * factor), ("wandering", pace.wandering * factor)])
    return Finding(_estimate(pace, factor, unit), "growth-ahead", _inputs(course.blocks), parts)


def _estimate(pace: Pace, factor: float, unit: str) -> Estimate:
    return Estimate.normal(pace.grown, pace.standard, unit).scaled(factor, unit)


def _too_few(blocks: Sequence[Block]) -> CannotTell:
    points = sum(len(block) for block in blocks)
    if not points:
        return CannotTell("never-measured", "measure-it")
    return CannotTell("measured-once", "measure-again", (("measurements", f"{points}"),), _inputs(blocks))


def _inputs(blocks: Sequence[Block]) -> tuple[Source, ...]:
    return tuple(dict.fromkeys(point.source for block in blocks for point in block))
