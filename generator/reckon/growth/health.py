"""A coral's health: quarantine, lost tissue, changes of its colour, and growth that fell against its own past."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from math import sqrt
from statistics import NormalDist
from typing import Literal

import numpy as np
from msgspec import Struct

from generator.nature.constants import LEAST_FALL_OF_GROWTH
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.growth.measurements import Block
from generator.reckon.growth.pace import DAYS_PER_YEAR
from generator.records.coral import Coral, Health
from generator.records.source import Source
from generator.units.quantity import Estimate, coverage_factor

# A fall counts when chance explains it in fewer than one case in twenty.
_SURE = 0.95
# A split needs so many steps of growth before it and after it.
_BEFORE, _AFTER = 3, 2
_AT_ONCE = 64


class Decline(Struct, frozen=True):
    """Growth that fell: by how much (%), from what to what, and the day it began with the days it may have.

    `before` and `after` are radial extension (cm/year), or specific growth rate (%/day) at the mass the
    coral had when it began.
    """

    of: Literal["radius", "mass"]
    fell_by: Estimate
    before: Estimate
    after: Estimate
    began: date
    earliest: date
    latest: date
    inputs: tuple[Source, ...]


class _Fit(Struct, frozen=True):
    """A line bent at `knot`: slope before, change of slope, their covariance, squares left, value at the knot."""

    knot: int
    slope: float
    bend: float
    covariance: Array
    left: float
    freedom: int
    at_knot: float


def decline(blocks: Sequence[Block], of: Literal["radius", "mass"]) -> Decline | None:
    """The fall of growth that explains the measurements best; None if growth kept up, or too few can tell.

    On a scale on which even spreading is straight: the radius, or the cube root of the mass. Each
    segment may stand at a height of its own; the slope is common but for one bend.
    """
    told = [block for block in blocks if len(block) > 1]
    if not (knots := _knots(told)):
        return None
    measured = _heights(told, of)
    if not (fits := _bent(measured, told, knots)):
        return None
    least = min(fit.left for fit in fits)
    # Between two blocks several knots give one fit: the first counts, on every machine.
    best = next(fit for fit in fits if fit.left <= least * (1.0 + 1e-9))
    spread = max(best.left / best.freedom, _instrument(told, of))
    change = best.bend / sqrt(best.covariance[1, 1] * spread) if spread > 0.0 else -np.inf
    if best.slope <= 0.0 or -best.bend < LEAST_FALL_OF_GROWTH.value * best.slope:
        return None
    if -change < _quantile_of_t(1.0 - (1.0 - _SURE) / len(fits), best.freedom):
        return None
    # Knots whose fit is worse by less than a chi-square of one degree explains at 90 %; growth can have
    # turned anywhere between them and the measurements beside them.
    near = [fit for fit in fits if fit.left <= best.left + spread * coverage_factor() ** 2]
    days = sorted({point.at.toordinal() for block in told for point in block})
    earliest, latest = days[days.index(near[0].knot) - 1], days[days.index(near[-1].knot) + 1]
    possible = [fit for fit in fits if earliest <= fit.knot <= latest]
    return _told(best, possible, spread, of, (earliest, latest), told)


def _knots(blocks: Sequence[Block]) -> list[int]:
    """The days of measurement that have enough steps of growth before and after."""
    steps = [(block[i].at.toordinal(), block[i + 1].at.toordinal()) for block in blocks for i in range(len(block) - 1)]
    days = sorted({day for step in steps for day in step})
    return [
        day
        for day in days
        if sum(end <= day for _, end in steps) >= _BEFORE and sum(start >= day for start, _ in steps) >= _AFTER
    ]


def _heights(blocks: Sequence[Block], of: str) -> tuple[Array, Array, Array]:
    """The day and the value on the straight scale of each measurement, and a column for the height of each block."""
    days = np.array([float(point.at.toordinal()) for block in blocks for point in block])
    power = 1.0 if of == "radius" else 1.0 / 3.0
    values = np.array([point.value**power for block in blocks for point in block])
    return days, values, np.repeat(np.eye(len(blocks)), [len(block) for block in blocks], axis=0)


def _bent(measured: tuple[Array, Array, Array], blocks: Sequence[Block], knots: Sequence[int]) -> list[_Fit]:
    """One fit for each knot that the measurements can tell: a height for each block, a slope, its change (per day).

    Least squares; so many knots at a time that a coral measured daily for years takes no more room than its pages.
    """
    return [
        fit for at in range(0, len(knots), _AT_ONCE) for fit in _bent_at(measured, blocks, knots[at : at + _AT_ONCE])
    ]


def _bent_at(measured: tuple[Array, Array, Array], blocks: Sequence[Block], knots: Sequence[int]) -> Iterator[_Fit]:
    days, values, heights = measured
    since = days - np.array(knots, dtype=float)[:, None]
    of_blocks = np.broadcast_to(heights, (len(knots), *heights.shape))
    designs = np.concatenate([np.stack([since, np.maximum(since, 0.0)], axis=-1), of_blocks], axis=-1)
    freedom = len(values) - designs.shape[-1]
    if freedom < 2:
        return
    told = np.linalg.matrix_rank(designs) == designs.shape[-1]
    designs, turned = designs[told], designs[told].swapaxes(1, 2)
    inverses = np.linalg.inv(turned @ designs)
    found = inverses @ (turned @ values)[..., None]
    left = ((values - (designs @ found)[..., 0]) ** 2).sum(axis=-1)
    ends = np.array([block[-1].at.toordinal() for block in blocks])
    for knot, inverse, (slope, bend, *height), squares in zip(
        np.array(knots)[told].tolist(), inverses, found[..., 0].tolist(), left.tolist(), strict=True
    ):
        standing = int(np.argmax(ends >= knot)) if (ends >= knot).any() else len(blocks) - 1
        yield _Fit(knot, slope, bend, inverse[:2, :2], squares, freedom, height[standing])


def _instrument(blocks: Sequence[Block], of: str) -> float:
    """Mean variance of a value on the straight scale, from the error of scale or ruler."""
    every = [point for block in blocks for point in block]
    if of == "radius":
        return float(np.mean([point.standard**2 for point in every]))
    return float(np.mean([(point.standard * point.value ** (-2.0 / 3.0) / 3.0) ** 2 for point in every]))


def _quantile_of_t(probability: float, freedom: int) -> float:
    """Quantile of Student's t. Source: Abramowitz & Stegun 1964, 26.7.5, first three terms."""
    z = NormalDist().inv_cdf(probability)
    first = (z**3 + z) / 4.0
    second = (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / 96.0
    third = (3.0 * z**7 + 19.0 * z**5 + 17.0 * z**3 - 15.0 * z) / 384.0
    return z + first / freedom + second / freedom**2 + third / freedom**3


def _told(
    best: _Fit,
    possible: list[_Fit],
    spread: float,
    of: Literal["radius", "mass"],
    within: tuple[int, int],
    blocks: list[Block],
) -> Decline:
    factor, unit = (DAYS_PER_YEAR, "cm/year") if of == "radius" else (300.0 / best.at_knot, "%/day")
    return Decline(
        of,
        _around(best, possible, spread, _share).scaled(100.0, "%"),
        _around(best, possible, spread, _before).scaled(factor, unit),
        _around(best, possible, spread, _after).scaled(factor, unit),
        date.fromordinal(best.knot),
        date.fromordinal(within[0]),
        date.fromordinal(within[1]),
        tuple(dict.fromkeys(point.source for block in blocks for point in block)),
    )


_Told = Callable[[_Fit], tuple[float, float]]


def _around(best: _Fit, possible: list[_Fit], spread: float, told: _Told) -> Estimate:
    """What the best fit tells, with the interval of all whose knot is possible."""
    k = coverage_factor()
    ends = [(value - k * error, value + k * error) for fit in possible for value, error in [_scaled(told(fit), spread)]]
    return Estimate(told(best)[0], min(low for low, _ in ends), max(high for _, high in ends), "1/day")


def _scaled(told: tuple[float, float], spread: float) -> tuple[float, float]:
    value, variance = told
    return value, sqrt(max(0.0, variance * spread))


def _before(fit: _Fit) -> tuple[float, float]:
    return fit.slope, float(fit.covariance[0, 0])


def _after(fit: _Fit) -> tuple[float, float]:
    return fit.slope + fit.bend, float(fit.covariance.sum())


def _share(fit: _Fit) -> tuple[float, float]:
    """The share lost, its variance by the delta method for a ratio of two correlated numbers."""
    share = -fit.bend / fit.slope
    variance = fit.covariance[1, 1] + share**2 * fit.covariance[0, 0] + 2.0 * share * fit.covariance[0, 1]
    return share, float(variance) / fit.slope**2


# A change of colour by so many scores is more than eyes differ: Siebeck, Marshall, Klüter & Hoegh-Guldberg
# 2006, Coral Reefs 25:453-460 (from memory).
SURE_CHANGE = 2

_ILL = ("tissue-loss", "bleaching")
_WELL = ("recovery", "well")


class Colour(Struct, frozen=True):
    """The last score on the Coral Health Chart, the one before, and whether the coral paled or darkened for sure.

    Scores of different hues (the letter) are compared by brightness (the figure), as the chart does.
    """

    at: date
    score: str
    before: str | None
    change: Literal["paled", "darkened", "none", "unknown"]


class HealthState(Struct, frozen=True):
    """A coral's health on a day: quarantine and treatment that hold, harm not yet recovered from, its colour.

    `past` is the last trouble of a coral that has none now.
    """

    coral: str
    quarantine: Health | None
    treatments: tuple[Health, ...]
    ailing: tuple[Health, ...]
    colour: Colour | None
    past: Health | None = None


def health_state(coral: Coral, as_of: date) -> HealthState:
    """A coral's state on a day, by its own file up to then.

    Quarantine and treatment without an end hold until the coral is noted as well or recovered, and
    nothing holds of a coral that is no longer here. A recovery with an end is one from that day on. What is noted as
    well on its first day of quarantine stays in it, and no harm is undone on the day it shows; a dip is.
    """
    known = sorted((health for health in coral.health if health.at <= as_of), key=lambda health: health.at)
    ends = [health.until or health.at for health in known if health.what in _WELL]
    well = max((end for end in ends if end <= as_of), default=None)
    here = known if coral.lives_on(as_of) else []
    quarantines = [health for health in here if health.what == "quarantine" and _holds(health, well, as_of)]
    ailing = tuple(health for health in here if health.what in _ILL and not _is_over(health, well))
    past = [health for health in known if health.what in (*_ILL, "breakage")]
    return HealthState(
        coral.id,
        quarantines[-1] if quarantines else None,
        tuple(health for health in here if health.what == "treatment" and _holds(health, well, as_of)),
        ailing,
        _colour(known),
        past[-1] if past and not ailing else None,
    )


def _holds(health: Health, well: date | None, as_of: date) -> bool:
    if health.until is not None:
        return health.at <= as_of <= health.until
    return not _is_over(health, well)


def _is_over(health: Health, well: date | None) -> bool:
    return well is not None and (well > health.at or (well == health.at and health.what == "treatment"))


def _colour(known: list[Health]) -> Colour | None:
    scored = [(health.at, health.colour) for health in known if health.colour is not None]
    if not scored:
        return None
    at, score = scored[-1]
    if len(scored) == 1:
        return Colour(at, score, None, "unknown")
    before = scored[-2][1]
    darker = int(score[1]) - int(before[1])
    change: Literal["paled", "darkened", "none"] = "none"
    if abs(darker) >= SURE_CHANGE:
        change = "darkened" if darker > 0 else "paled"
    return Colour(at, score, before, change)
