"""Uncertainty from what went in to what came out; quantities known within a factor, and several ways of telling one."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from generator.reckon.estimate.mixture import Array
from generator.reckon.finding import OutsideRange
from generator.units.quantity import Estimate, coverage_factor


@dataclass(frozen=True, slots=True)
class Measured:
    """A value and its standard uncertainty, in the same unit."""

    value: float
    standard: float = 0.0


def contributions(function: Callable[..., float], inputs: Mapping[str, Measured]) -> dict[str, float]:
    """Standard uncertainty that each input alone gives to ``function(**values)``.

    The inputs are taken to be independent. Sensitivities are central differences over one standard
    uncertainty to each side, which also catches a little of the curvature; where the function does not hold on
    one side, the difference to the other counts.
    Source: JCGM 100:2008 (GUM), 5.1.2 and 5.1.3, note 2.
    """
    values = {name: measured.value for name, measured in inputs.items()}
    found = {}
    for name, measured in inputs.items():
        if measured.standard:
            sides = [_at(function, {**values, name: measured.value + turn * measured.standard}) for turn in (1, -1)]
            held = [side for side in sides if side is not None]
            found[name] = abs(held[0] - held[1]) / 2.0 if len(held) == 2 else abs(held[0] - function(**values))
    return found


def _at(function: Callable[..., float], values: Mapping[str, float]) -> float | None:
    try:
        return function(**values)
    except OutsideRange:
        return None


@dataclass(frozen=True, slots=True)
class LogNormal:
    """A positive quantity by its median and the standard deviation of its natural logarithm."""

    median: float
    spread: float

    def times(self, factor: "LogNormal") -> "LogNormal":
        """The product with another quantity that is independent of this one."""
        return LogNormal(self.median * factor.median, sqrt(self.spread**2 + factor.spread**2))

    def estimate(self, unit: str) -> Estimate:
        """Median and 90 % interval."""
        factor = exp(coverage_factor() * self.spread)
        return Estimate(self.median, self.median / factor, self.median * factor, unit)


def from_estimate(estimate: Estimate) -> LogNormal | None:
    """A normal estimate as a log-normal of the same mean and variance; None where it may well be nothing.

    An estimate less than its own 90 % half-width is not known to be positive at all.
    Source: moments of the log-normal distribution; Aitchison & Brown 1957 (from memory).
    """
    half_width = (estimate.high - estimate.low) / 2.0
    if estimate.value <= half_width:
        return None
    relative = half_width / coverage_factor(estimate.level) / estimate.value
    return LogNormal(estimate.value, sqrt(log(1.0 + relative**2)))


def geometric_mean(values: Sequence[LogNormal]) -> LogNormal:
    """The middle of values that rest on the same data: averaging them makes it no surer."""
    logs = [log(value.median) for value in values]
    return LogNormal(exp(sum(logs) / len(logs)), sqrt(sum(value.spread**2 for value in values) / len(values)))


def combine(values: Sequence[LogNormal], least_between: float) -> LogNormal:
    """What independent ways say together, when ways differ by more than each one admits.

    Random effects: each way has its own spread and, beside it, the spread between ways, which is found
    from the ways themselves but never taken for less than `least_between` (few ways that happen to
    agree prove little). The result is the spread of the middle, so one way alone keeps both.
    Source: DerSimonian & Laird 1986, Control. Clin. Trials 7:177-188, eq. 8 (from memory).
    """
    logs = np.array([log(value.median) for value in values])
    variances = np.array([value.spread**2 for value in values])
    between = max(_between(logs, variances), least_between**2)
    weights = 1.0 / (variances + between)
    return LogNormal(exp(float(weights @ logs / weights.sum())), float(1.0 / np.sqrt(weights.sum())))


def _between(logs: Array, variances: Array) -> float:
    if len(logs) < 2:
        return 0.0
    weights = 1.0 / variances
    middle = weights @ logs / weights.sum()
    excess = weights @ (logs - middle) ** 2 - (len(logs) - 1)
    return float(excess / (weights.sum() - weights @ weights / weights.sum()))
