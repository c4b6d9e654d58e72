"""A straight line's slope that wild points cannot bend."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.units.quantity import LEVEL, coverage_factor

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class RobustSlope:
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
