"""How fast a coral grew between its measurements and how fast it will grow after them: two answers, never one.

Between measurements only their errors leave open what it grew. After them its rate falls as it gets larger, and
wanders from week to week, so that what it grows gets less sure with every day ahead.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import exp, hypot, log, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from generator.reckon.estimate.robust_slope import robust_slope
from generator.reckon.estimate.wandering import Grid, Series, explain, together, wandered
from generator.reckon.growth.segments import RULER_REPEATS_TO, Block, Point

Array = NDArray[np.float64]
Odds = tuple[tuple[float, float], ...]

# A rate comes back to its mean within eight weeks or so, and strays from it by these shares; common practice, no
# source.
MEMORY_DAYS = 56.0
WANDERING: Odds = ((0.10, 0.3), (0.25, 0.4), (0.40, 0.3))
# The growth of a mass goes with the mass to such a power. With the surface it goes to the power 0.79 to 0.97 (Carlot
# et al. 2022), and surface with mass to the power 2/3 (massive) to 1 (branches and plates; Kahng, Odle & Wakeman
# 2024): together 0.53 to 0.97. Young cuttings have been seen to slow down faster.
MASS_POWERS: Odds = ((0.25, 0.1), (0.45, 0.2), (0.65, 0.25), (0.85, 0.25), (1.0, 0.2))
# By such a share the weighings of one living coral differ, by the water it holds and how it hangs: about 2 % until
# its own weighings tell; common practice, no source.
WEIGHING_REPEATS: Odds = ((0.0025, 0.08), (0.006, 0.12), (0.012, 0.2), (0.022, 0.3), (0.035, 0.3))
# The stated error of a ruler may be half or twice what it is.
_RULER: Odds = ((0.5, 0.25), (1.0, 0.5), (2.0, 0.25))
# So many measurements beyond the first of each segment tell how far they repeat.
_TELLING = 5
# A shorter series is not searched for slips. A slip lies off the line by ten times what half of all do, and by a
# tenth of the value.
_ENOUGH_FOR_SLIPS = 5
_MOST_OF_USUAL, _LEAST_SLIP = 10.0, 0.10


@dataclass(frozen=True, slots=True)
class Kind:
    """What is measured: the powers of itself its growth may go with, and the errors of a repeat, each with its odds.

    `relative` errors are shares of the value, others multiples of the stated error. `logarithmic`: growth is
    told as of the logarithm, not of the value.
    """

    powers: Odds
    errors: Odds
    relative: bool
    logarithmic: bool


MASS = Kind(MASS_POWERS, WEIGHING_REPEATS, True, True)
# A colony spreads outwards by about as much each year, whatever its size; Pratchett et al. 2015, Oceanogr. Mar.
# Biol. 53:215-295 (from memory). So its footprint grows with its own root.
FOOTPRINT = Kind(((0.5, 1.0),), _RULER, False, True)
LENGTH = Kind(((0.0, 1.0),), _RULER, False, False)


@dataclass(frozen=True, slots=True)
class Pace:
    """Growth over a span: of the logarithm, or in cm; its standard uncertainty, and the part that wandering has.

    `strays` is how far the rate (a day) strays from its mean.
    """

    grown: float
    standard: float
    wandering: float = 0.0
    strays: float = 0.0


@dataclass(frozen=True, slots=True)
class Repeats:
    """The standard error of a repeated weighing, as a share of the mass; ends that hold 90 %; how it is known.

    Where the keeper wrote it with every weighing it is "written", and the numbers are what it comes to.
    """

    share: float
    low: float
    high: float
    known: Literal["assumed", "learned", "written"]


def between(blocks: Sequence[Block], kind: Kind) -> Pace | None:
    """Mean rate (a day) from the first to the last measurement of each segment; None where none has two days."""
    told = _told(blocks)
    if not told:
        return None
    since = told[0][0].at
    spans = [((block[0].at - since).days, (block[-1].at - since).days) for block in told]
    power = 1.0 if kind.logarithmic else 0.0
    series, scale = _series(told, kind, power)
    posterior = explain(series, _grid(kind), [[(float(start), float(end)) for start, end in spans]])
    assert posterior is not None
    grown, standard = together(posterior.log_odds, posterior.spans[0].mean, posterior.spans[0].variance)
    factor = (1.0 if kind.logarithmic else scale) / sum(end - start for start, end in spans)
    return Pace(grown * factor, standard * factor)


def repeats_to(blocks: Sequence[Block], kind: Kind) -> Repeats:
    """How far measurements repeat, by their own scatter where there are enough, else what is usual."""
    points = [point for block in blocks for point in block]
    written = [point.repeats / point.value for point in points if point.repeats is not None]
    if points and len(written) == len(points):
        return Repeats(max(written), min(written), max(written), "written")
    told = _told(blocks)
    posterior = explain(_series(told, kind, 1.0)[0], _grid(kind), []) if told else None
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


def ahead(blocks: Sequence[Block], kind: Kind, today: date, days: Sequence[int]) -> tuple[Pace, ...] | None:
    """What will be grown from a day until so many days later, for each of `days`; None where nothing tells."""
    told = _told(blocks)
    if not told:
        return None
    since, last = told[0][0].at, told[-1][-1]
    now = float((today - since).days)
    spans = [[(float((last.at - since).days), now)], *([(now, now + each)] for each in days)]
    found: list[list[tuple[Array, ...]]] = [[] for _ in days]
    for power, odds in kind.powers:
        series, scale = _series(told, kind, power)
        posterior = explain(series, _grid(kind), spans)
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
    mean, standard = together(log_odds, grown, variance)
    odds = np.exp(log_odds - log_odds.max())
    stray = sqrt(float(odds @ strays / odds.sum()))
    return Pace(mean, standard, min(standard, stray * sqrt(wandered(float(days), MEMORY_DAYS))), stray)


def _grown(start: Array, more: Array, power: float, logarithmic: bool) -> tuple[Array, Array]:
    """Growth of the logarithm (or the value) by growth on the straight scale, and how steeply it follows that."""
    if not logarithmic or power == 1.0:
        return more, np.ones_like(more)
    rest = 1.0 - power
    # A coral that shrank to nothing has no logarithm.
    before, after = np.maximum(1.0 + rest * start, 0.05), np.maximum(1.0 + rest * (start + more), 0.05)
    return np.log(after / before) / rest, 1.0 / after


def _told(blocks: Sequence[Block]) -> list[Block]:
    return [block for block in blocks if block[0].at < block[-1].at and all(point.value > 0.0 for point in block)]


def _grid(kind: Kind) -> Grid:
    return Grid(kind.errors, WANDERING, MEMORY_DAYS)


def _series(blocks: Sequence[Block], kind: Kind, power: float) -> tuple[list[Series], float]:
    """The blocks on the scale on which growth with a power is straight, and the value that counts as 1 there.

    The scale is ((W/W0)^(1-b) - 1) / (1-b), W0 the geometric mean: near it as the logarithm.
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
        found.append(Series(days, straight, np.hypot(known, _slips(block)) * steep, repeats * steep))
    return found, scale


def _errors(point: Point, kind: Kind) -> tuple[float, float]:
    """What is known of a measurement's error, and what an error of a repeat is multiplied with, as shares."""
    stated = point.standard / point.value
    if not kind.relative:
        # A length of which nothing is stated was read with a ruler.
        return 0.0, stated or RULER_REPEATS_TO
    return (stated, 1.0) if point.repeats is None else (hypot(stated, point.repeats / point.value), 0.0)


def _slips(block: Block) -> Array:
    """How far each measurement strays beyond all others from the line of most; 0 for those that do not."""
    if len(block) < _ENOUGH_FOR_SLIPS:
        return np.zeros(len(block))
    days = np.array([float((point.at - block[0].at).days) for point in block])
    logs = np.log([point.value for point in block])
    line = robust_slope(days, logs)
    left = logs - (line.slope if line else 0.0) * days
    left = np.abs(left - np.median(left))
    usual = max(_MOST_OF_USUAL * float(np.median(left)), _LEAST_SLIP)
    return np.where(left > usual, left, 0.0)
