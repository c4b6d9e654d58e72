"""A slope that outliers hardly change; and a rate that varies around its mean: its past change and the one to expect.

Of the latter neither the error of the measurements nor the variation of the rate is known. The calculation tries
several sizes of both (each pair is a story), weights each story by how well it explains the measurements, and combines
them.
Source: Gaussian process regression with a linear mean, restricted likelihood, and averaging over a grid of
hyperparameters; Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 2.7 and 5.2 (from memory).
"""

from collections.abc import Sequence
from functools import cache
from math import exp, log

import numpy as np
from msgspec import Struct

from generator.reckon.estimate.uncertainty import Array
from generator.units.quantity import LEVEL, coverage_factor


class RobustSlope(Struct, frozen=True):
    """A slope and its interval, which holds the true one with probability `level`."""

    slope: float
    low: float
    high: float
    level: float


def robust_slope(x: Array, y: Array, level: float = LEVEL) -> RobustSlope | None:
    """The median of the slopes between all pairs of points, with Sen's interval (Theil–Sen estimator).

    `x` and `y` are one-dimensional and of one length, in any order. Pairs of equal `x` have no slope and do
    not count; ties in either shrink the variance of Kendall's statistic as for its rank test. None
    where the points are too few, or too few differ in `x`, for an interval of this level to exist: at
    90 % that is fewer than four points. The interval's ranks are rounded to the nearest.
    Source: Theil 1950, Proc. K. Ned. Akad. Wet. 53:386-392; Sen 1968, J. Am. Stat. Assoc. 63:1379-1389.
    """
    slopes = np.sort(_pairwise_slopes(x, y))
    half_width = coverage_factor(level) * np.sqrt(_variance_of_kendall(x, y))
    below = round((len(slopes) - half_width) / 2.0)
    if below < 1:
        return None
    above = round((len(slopes) + half_width) / 2.0)
    low, high = slopes[below - 1], slopes[min(above, len(slopes) - 1)]
    return RobustSlope(float(np.median(slopes)), float(low), float(high), level)


def _pairwise_slopes(x: Array, y: Array) -> Array:
    first, second = np.triu_indices(len(x), 1)
    run = x[second] - x[first]
    apart = run != 0.0
    slopes: Array = (y[second] - y[first])[apart] / run[apart]
    return slopes


def _variance_of_kendall(x: Array, y: Array) -> float:
    return max(0.0, _untied(len(x)) - _tied(x) - _tied(y)) / 18.0


def _untied(n: int) -> float:
    return float(n * (n - 1) * (2 * n + 5))


def _tied(values: Array) -> float:
    _, counts = np.unique(values, return_counts=True)
    return sum(_untied(int(count)) for count in counts)


class Comparable(Struct, frozen=True):
    """Measurements that can be compared: days, and values on each of some scales, on which even growth may be straight.

    `read` is the known standard error of each, `repeats` the factor for a story's error of a repeat (0 if the whole
    error is known). All three have a row for each scale and a column for each day.
    """

    days: Array
    values: Array
    read: Array
    repeats: Array


class Grid(Struct, frozen=True):
    """Possible errors of a repeat and possible wanderings (as a share of the mean rate), each with prior odds.

    The rate returns to its mean within about `memory` days.
    """

    errors: tuple[tuple[float, float], ...]
    wanderings: tuple[tuple[float, float], ...]
    memory: float


class Increment(Struct, frozen=True):
    """Mean and variance, for each scale and story, of the change over a span of days."""

    mean: Array
    variance: Array


class WeighedStories(Struct, frozen=True):
    """Each story's log odds given the measurements on each scale, and its results for the spans: scales × stories.

    `errors` and `wanderings` (per day, absolute) belong to each story; `rate` is its mean rate.
    """

    log_odds: Array
    errors: Array
    wanderings: Array
    rate: Array
    spans: tuple[Increment, ...]


# Covariances of so many numbers are held at once, 32 MB: of one scale, where 500 measurements are compared.
_AT_ONCE = 4_000_000


def weigh_stories(
    series: Sequence[Comparable], grid: Grid, spans: Sequence[Sequence[tuple[float, float]]]
) -> WeighedStories | None:
    """Weigh the stories by series that share one rate, each with its own level; None if no series has two days.

    Each of `spans` is one or more stretches from a day to a day, whose growth is added up.
    """
    told = [each for each in series if len(set(each.days)) > 1]
    if not told:
        return None
    values = np.concatenate([each.values for each in told], axis=1)
    read = np.concatenate([each.read for each in told], axis=1) ** 2
    repeats = np.concatenate([each.repeats for each in told], axis=1) ** 2
    days = np.concatenate([*(each.days for each in told), *(stretch for span in spans for stretch in span)])
    rows = _rows([len(each.days) for each in told], spans)
    count = len(rows) - len(spans)
    differences = rows[:count, : values.shape[1]]
    passed, rise = rows @ days, values @ differences.T
    run, lengths = passed[:count], passed[count:]
    errors, wanderings, prior, middle = _stories(grid)
    absolute = _size_of_rate(run, rise, (read + middle * repeats) @ np.abs(differences).T)[:, None] * wanderings
    squared = absolute[..., None] ** 2

    # All of a story's errors are sums of three: of wandering, of reading and of repeats, times sizes of the story.
    kernel = rows @ _together(days, grid.memory) @ rows.T
    # Two measurements without any error would make the covariance singular.
    least = 1e-12 * np.maximum((rise**2).mean(axis=1), 1e-12)
    of_read = _of_each(read, differences) + least[:, None, None, None] * np.eye(count)
    of_repeats = _of_each(repeats, differences)
    known = np.empty((len(rise), 1, count, 2 + len(spans)))
    known[..., 0], known[..., 1], known[..., 2:] = run, rise[:, None], kernel[:count, count:]

    def weighed(scales: slice) -> tuple[Array, Array]:
        """For each story the products of run, rise and spans, weighed by what is known; and the log determinant."""
        covariance = squared[scales, ..., None] * kernel[:count, :count]
        covariance += (errors**2)[:, None, None] * of_repeats[scales]
        covariance += of_read[scales]
        solved = np.linalg.solve(covariance, known[scales])
        return np.swapaxes(known[scales], 2, 3) @ solved, np.linalg.slogdet(covariance)[1]

    some = max(1, _AT_ONCE // (len(errors) * count**2))
    parts = [weighed(slice(first, first + some)) for first in range(0, len(rise), some)]
    products, determinants = (np.concatenate(part) for part in zip(*parts, strict=True))
    by_run, by_rise = products[..., 0, :], products[..., 1, :]
    information = by_run[..., :1]
    rate = by_run[..., 1:2] / information
    left_over = np.log(information) + by_rise[..., 1:2] - rate * by_run[..., 1:2]
    log_odds = prior - 0.5 * (determinants + left_over[..., 0])
    left = lengths - squared * by_run[..., 2:]
    mean = rate * left + squared * by_rise[..., 2:]
    told_of = products.diagonal(axis1=2, axis2=3)[..., 2:]
    variance = squared * (kernel.diagonal()[count:] - squared * told_of) + left**2 / information
    both = np.moveaxis(mean, 2, 0), np.moveaxis(np.maximum(variance, 0.0), 2, 0)
    return WeighedStories(log_odds, errors, absolute, rate[..., 0], tuple(map(Increment, *both)))


def mean_of_stories(log_odds: Array, mean: Array, variance: Array) -> tuple[float, float]:
    """Mean and standard deviation of all stories put together."""
    odds = np.exp(log_odds - log_odds.max())
    odds /= odds.sum()
    middle = float(odds @ mean)
    return middle, float(np.sqrt(odds @ (variance + (mean - middle) ** 2)))


def wandered(days: float, memory: float) -> float:
    """Variance that wandering by one unit adds to so many days of growth at a rate that is known when they begin.

    Source: integral of an Ornstein-Uhlenbeck process from a known state; Uhlenbeck & Ornstein 1930, Phys. Rev.
    36:823-841 (from memory).
    """
    left = exp(-days / memory)
    return memory * (2.0 * days - memory * (3.0 - 4.0 * left + left**2))


@cache
def _stories(grid: Grid) -> tuple[Array, Array, Array, float]:
    """Each story's error, wandering and log odds before anything is measured; and the usual error, squared."""
    pairs = [(error, wander, log(a * b)) for error, a in grid.errors for wander, b in grid.wanderings]
    errors, wanderings, odds = (np.array(each) for each in zip(*pairs, strict=True))
    middle = sum(error * odds for error, odds in grid.errors) / sum(odds for _, odds in grid.errors)
    return errors, wanderings, odds, middle**2


def _rows(counts: Sequence[int], spans: Sequence[Sequence[object]]) -> Array:
    """The matrix that takes the first of each series from the others, so that heights drop out, and adds up spans.

    Its columns are the measurements, series by series, then the two ends of every stretch.
    """
    stretches = sum(map(len, spans))
    rows = np.zeros((sum(counts) - len(counts) + len(spans), sum(counts) + 2 * stretches))
    row = column = 0
    for count in counts:
        rows[row : row + count - 1, column] = -1.0
        for index in range(1, count):
            rows[row, column + index] = 1.0
            row += 1
        column += count
    for span in spans:
        rows[row, column : column + 2 * len(span)] = [-1.0, 1.0] * len(span)
        row, column = row + 1, column + 2 * len(span)
    return rows


def _together(days: Array, memory: float) -> Array:
    """Covariance of the integrals of a unit Ornstein-Uhlenbeck process to each of these days.

    Without the parts that belong to one of two days alone, which drop out of every difference.
    """
    apart = np.abs(days[:, None] - days) / memory
    return -(memory**2) * (apart + np.exp(-apart))


def _of_each(variances: Array, differences: Array) -> Array:
    """The covariance of the differences, scale by scale, of measurements of which each has a variance of its own."""
    found: Array = ((differences * variances[:, None]) @ differences.T)[:, None]
    return found


def _size_of_rate(run: Array, rise: Array, variance: Array) -> Array:
    """About how large the rate is on each scale: that of a straight line, with what the errors may make of it."""
    information = float(run @ run)
    return np.hypot(rise @ run, np.sqrt(variance @ run**2)) / information
