"""A slope that outliers hardly change; and a rate that varies around its mean: its past change and the one to expect.

Of the latter neither the error of the measurements nor the variation of the rate is known.
The calculation tries several sizes of
both (each pair is a story), weights each story by how well it explains the measurements, and combines them.
Source: Gaussian process regression with a linear mean, restricted likelihood, and averaging over a grid of
hyperparameters; Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 2.7 and 5.2 (from memory).
"""

from collections.abc import Sequence
from math import exp

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
    """Measurements that can be compared: days, and values on a scale on which even growth is a straight line.

    `read` is the known standard error of each, `repeats` the factor for a story's error of a repeat (0 if the whole
    error is known). All arrays have the same length.
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
    """Mean and variance, for each story, of the change over a span of days."""

    mean: Array
    variance: Array


class WeighedStories(Struct, frozen=True):
    """Each story's log odds given the measurements, and its results for the spans.

    `errors` and `wanderings` (per day, absolute) belong to each story; `rate` is its mean rate.
    """

    log_odds: Array
    errors: Array
    wanderings: Array
    rate: Array
    spans: tuple[Increment, ...]


def weigh_stories(
    series: Sequence[Comparable], grid: Grid, spans: Sequence[Sequence[tuple[float, float]]]
) -> WeighedStories | None:
    """Weigh the stories by series that share one rate, each with its own level; None if no series has two days.

    Each of `spans` is one or more stretches from a day to a day, whose growth is added up; no day is below 0.
    """
    told = [each for each in series if len(set(each.days)) > 1]
    if not told:
        return None
    days = np.concatenate([each.days for each in told])
    values = np.concatenate([each.values for each in told])
    read = np.concatenate([each.read for each in told]) ** 2
    repeats = np.concatenate([each.repeats for each in told]) ** 2
    differences = _from_the_first(told)
    run, rise = differences @ days, differences @ values
    errors, wanderings, log_odds = _stories(grid)
    absolute = wanderings * _size_of_rate(run, rise, read, repeats, grid, differences)

    # All of a story's errors are sums of three: of wandering, of reading and of repeats, times sizes of the story.
    ends, turns = _ends_of(spans)
    integrals = differences @ _integrated(days, np.concatenate([days, ends]), grid.memory)
    kernel, of_spans = integrals[:, : len(days)] @ differences.T, integrals[:, len(days) :] @ turns
    covariance = (absolute**2)[:, None, None] * kernel + (errors**2)[:, None, None] * (
        (differences * repeats) @ differences.T
    )
    # Two measurements without any error would make the covariance singular.
    least = 1e-12 * max(float(rise @ rise) / len(rise), 1e-12)
    covariance += (differences * read) @ differences.T + np.eye(len(run)) * least
    known = np.column_stack([run, rise, of_spans])
    solved = np.linalg.solve(covariance, np.broadcast_to(known, (len(errors), *known.shape)))
    # For each story the products of run, rise and spans, each weighed by what is known.
    products = known.T @ solved
    information = products[:, 0, 0]
    rate = products[:, 0, 1] / information
    log_odds = log_odds - 0.5 * (
        np.linalg.slogdet(covariance)[1] + np.log(information) + products[:, 1, 1] - rate * products[:, 0, 1]
    )
    lengths, bare = turns.T @ ends, np.einsum("is,ij,js->s", turns, _integrated(ends, ends, grid.memory), turns)
    found = []
    for at, (length, alone) in enumerate(zip(lengths, bare, strict=True), start=2):
        by_run = absolute**2 * products[:, 0, at]
        mean = rate * (length - by_run) + absolute**2 * products[:, 1, at]
        variance = absolute**2 * alone - absolute**4 * products[:, at, at] + (length - by_run) ** 2 / information
        found.append(Increment(mean, np.maximum(variance, 0.0)))
    return WeighedStories(log_odds, errors, absolute, rate, tuple(found))


def _ends_of(spans: Sequence[Sequence[tuple[float, float]]]) -> tuple[Array, Array]:
    """The days on which stretches of spans begin and end, and the matrix that makes spans of them."""
    ends = np.array([day for span in spans for stretch in span for day in stretch])
    turns, at = np.zeros((len(ends), len(spans))), 0
    for column, span in enumerate(spans):
        turns[at : at + 2 * len(span), column] = [-1.0, 1.0] * len(span)
        at += 2 * len(span)
    return ends, turns


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


def _stories(grid: Grid) -> tuple[Array, Array, Array]:
    pairs = [(error, wander, np.log(a * b)) for error, a in grid.errors for wander, b in grid.wanderings]
    errors, wanderings, odds = (np.array(each) for each in zip(*pairs, strict=True))
    return errors, wanderings, odds


def _from_the_first(series: Sequence[Comparable]) -> Array:
    """The matrix that takes the first of each series from the others: heights drop out."""
    rows, start = [], 0
    count = sum(len(each.days) for each in series)
    for each in series:
        for index in range(1, len(each.days)):
            row = np.zeros(count)
            row[start], row[start + index] = -1.0, 1.0
            rows.append(row)
        start += len(each.days)
    return np.array(rows)


def _integrated(first: Array, second: Array, memory: float) -> Array:
    """Covariance of the integrals of a unit Ornstein-Uhlenbeck process from day 0 to these days."""
    s, t = first[:, None], second[None, :]
    apart = np.exp(-np.abs(s - t) / memory)
    return 2.0 * memory * np.minimum(s, t) + memory**2 * (np.exp(-s / memory) + np.exp(-t / memory) - apart - 1.0)


def _size_of_rate(run: Array, rise: Array, read: Array, repeats: Array, grid: Grid, differences: Array) -> float:
    """About how large the rate is: that of a straight line, with what the errors may make of it."""
    middle = sum(error * odds for error, odds in grid.errors) / sum(odds for _, odds in grid.errors)
    variance = np.abs(differences) @ (read + middle**2 * repeats)
    information = float(run @ run)
    straight = float(run @ rise) / information
    return float(np.hypot(straight, np.sqrt(float((run**2) @ variance)) / information))
