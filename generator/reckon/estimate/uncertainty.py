"""Uncertainty: what comes out of what went in, quantities known within a factor, numbers told by several stories.

At the end, the share of a group that survives, with its error.
"""

from collections.abc import Callable, Mapping, Sequence
from math import exp, inf, log, sqrt
from statistics import NormalDist
from typing import Literal

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from generator.reckon.finding import OutsideRange
from generator.units.quantity import LEVEL, Estimate, coverage_factor

Array = NDArray[np.float64]
Ints = NDArray[np.intp]

# A quantile is sought until a step is so small a share of the bracket it must lie in, or for so many steps.
_CLOSE = 1e-10
_STEPS = 60
# A bracket of so many standard deviations to each side of every part holds all quantiles anybody asks for.
_REACH = 8.0


def normal_cdf(z: Array) -> Array:
    """The standard normal distribution function, with an error of at most 1.5e-7.

    Source: Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 7.1.26.
    """
    return _normal(z)[0]


def _normal(z: Array) -> tuple[Array, Array]:
    """The standard normal distribution function, and its density."""
    bell = np.exp(-0.5 * z * z)
    t = 1.0 / (1.0 + 0.3275911 * 0.7071067811865476 * np.abs(z))
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    tail = 0.5 * series * bell
    return np.where(z > 0.0, 1.0 - tail, tail), bell * 0.3989422804014327


class Mixture(Struct, frozen=True):
    """Normal distributions side by side: `weights` (H,) or (..., H), `mean` and `sd` (..., H).

    One mixture a leading index.
    `weights` sum to one. `least` cuts off what the number cannot be: the mixture given that it is above. `believed`,
    where given, are the weights for the middle alone.
    """

    weights: Array
    mean: Array
    sd: Array
    least: float = -np.inf
    believed: Array | None = None

    def cdf(self, x: Array | float) -> Array:
        """The probability of a value of at most `x` (shape ...)."""
        at = np.asarray(x, dtype=float)
        below = self._below(np.maximum(at, self.least))
        if self.least == -np.inf:
            return below
        cut = self._below(np.full(at.shape, self.least))
        inside: Array = (below - cut) / np.maximum(1.0 - cut, 1e-9)
        return inside

    def quantile(self, chance: float) -> Array:
        """The value below which the quantity lies with a probability `chance` (shape ...)."""
        return np.asarray(self.quantiles(chance)[0])

    def quantiles(self, *chances: float) -> Array:
        """The values below which the quantity lies with each of some probabilities (K, ...).

        Newton's steps from where one normal distribution has them, or halvings of the bracket where those lead out of
        it or hardly on. Source: Press et al. 2007, Numerical Recipes, 3rd ed., 9.4 (from memory).
        """
        low = np.maximum(np.min(self.mean - _REACH * self.sd, axis=-1), self.least)
        high = np.maximum(np.max(self.mean + _REACH * self.sd, axis=-1), low)
        low, high = (np.repeat(end[None], len(chances), axis=0) for end in (low, high))
        shape = len(chances), *(1,) * (low.ndim - 1)
        wanted = np.reshape(chances, shape)
        if self.least > -np.inf:
            cut = self._below(np.full(low.shape, self.least))
            wanted = cut + wanted * np.maximum(1.0 - cut, 1e-9)
        middle, spread = self.moments()
        as_normal = np.reshape([NormalDist().inv_cdf(chance) for chance in chances], shape)
        at: Array = np.clip(middle + as_normal * spread, low, high)
        close, last = _CLOSE * (high - low), high - low
        for _ in range(_STEPS):
            z = (at[..., None] - self.mean) / self.sd
            below, density = _normal(z)
            over = np.sum(below * self.weights, axis=-1) - wanted
            low, high = np.where(over < 0.0, at, low), np.where(over < 0.0, high, at)
            step = over / np.maximum(np.sum(density * self.weights / self.sd, axis=-1), 1e-300)
            there = np.abs(step) <= close
            if there.all():
                break
            to = at - step
            on = there | ((to > low) & (to < high) & (np.abs(step) < last / 2.0))
            to = np.where(on, to, (low + high) / 2.0)
            last, at = np.abs(to - at), to
        return at

    def wider(self, times: Array | float) -> "Mixture":
        """The same about its mean, so many times as wide (a number, or one a leading index)."""
        middle, by = self.moments()[0][..., None], np.asarray(times)[..., None]
        return replace(self, mean=middle + by * (self.mean - middle), sd=by * self.sd)

    def moments(self) -> tuple[Array, Array]:
        """Mean and standard deviation, of the whole mixture where something is cut off (shape ...)."""
        middle = np.sum(self.mean * self.weights, axis=-1)
        spread = np.sum((self.sd**2 + (self.mean - middle[..., None]) ** 2) * self.weights, axis=-1)
        return middle, np.sqrt(spread)

    def interval(self, level: float = LEVEL) -> tuple[Array, Array, Array]:
        """Median, and the ends that leave equal chances on either side."""
        tail = (1.0 - level) / 2.0
        middle, low, high = self.quantiles(0.5, tail, 1.0 - tail)
        if self.believed is not None and not np.array_equal(self.believed, self.weights):
            middle = np.clip(replace(self, weights=self.believed).quantile(0.5), low, high)
        return middle, low, high

    def _below(self, x: Array) -> Array:
        found: Array = np.sum(normal_cdf((x[..., None] - self.mean) / self.sd) * self.weights, axis=-1)
        return found


class Measured(Struct, frozen=True):
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


class LogNormal(Struct, frozen=True):
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


Scale = Literal["plain", "log-log"]


class CurveStep(Struct, frozen=True):
    """The curve from a time on: how many were at risk just before it, how many fell, the share that survives.

    `standard` is Greenwood's standard error of that share.
    """

    time: float
    at_risk: int
    events: int
    survival: float
    standard: float


class SurvivalCurve(Struct, frozen=True):
    """A Kaplan-Meier curve: its steps, every time until which one was watched, in order, and when that one entered."""

    steps: tuple[CurveStep, ...]
    times: tuple[float, ...]
    entered: tuple[float, ...]

    def at_risk(self, time: float) -> int:
        """How many were watched just before a time."""
        return sum(_watches(since, until, time) for since, until in zip(self.entered, self.times, strict=True))

    def least_at_risk(self, time: float) -> int:
        """How few were watched at some time up to one."""
        ends = {0.0, *(each for each in self.times if each < time)}
        every = list(zip(self.entered, self.times, strict=True))
        return min(self.at_risk(time), *(sum(since <= end < until for since, until in every) for end in ends))

    def survival(self, time: float) -> tuple[float, float]:
        """The share surviving beyond a time, and its standard error."""
        past = [step for step in self.steps if step.time <= time]
        return (past[-1].survival, past[-1].standard) if past else (1.0, 0.0)

    def interval(self, time: float, level: float = LEVEL, scale: Scale = "log-log") -> tuple[float, float]:
        """The interval of the share surviving beyond a time.

        By Greenwood's error on the share itself ("plain"), or on log(-log) of it, which keeps within 0
        and 1. Where none has fallen yet, or none is left, Greenwood's error is nothing: then by the exact
        interval of a proportion, among those at risk at the time or at the last fall.
        Source: Greenwood 1926; Kalbfleisch & Prentice 1980; Clopper & Pearson 1934, Biometrika 26:404-413.
        """
        survival, standard = self.survival(time)
        tail = (1.0 - level) / 2.0
        if survival == 1.0:
            return tail ** (1.0 / max(1, self.least_at_risk(time))), 1.0
        if survival == 0.0:
            # Others may have entered since: they say nothing of it.
            return 0.0, 1.0 - tail ** (1.0 / next(step.at_risk for step in self.steps if not step.survival))
        k = coverage_factor(level)
        if scale == "plain":
            return max(0.0, survival - k * standard), min(1.0, survival + k * standard)
        spread = exp(k * standard / (survival * abs(log(survival))))
        return survival**spread, survival ** (1.0 / spread)


def _watches(since: float, until: float, time: float) -> bool:
    """Whether one that entered at a time, or was there from the first (0), was at risk just before another."""
    return (since < time or not since) and time <= until


def kaplan_meier(times: Sequence[float], fell: Sequence[bool], entered: Sequence[float] = ()) -> SurvivalCurve:
    """The curve of a group from how long each was watched, whether it fell then (else it left, or is left), since when.

    Without `entered` all were watched from the first.

    One that leaves at the time another falls was still at risk; one that enters then was not yet.
    Source: Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457-481; error: Greenwood 1926; late entry: Tsai, Jewell &
    Wang 1987, Biometrika 74:883-886 (from memory).
    """
    watched = sorted(zip(times, fell, entered if len(entered) else [0.0] * len(times), strict=True))
    steps: list[CurveStep] = []
    survival, hazard = 1.0, 0.0
    for time in sorted({time for time, dead, _ in watched if dead}):
        at_risk = sum(_watches(since, until, time) for until, _, since in watched)
        events = sum(dead and until == time for until, dead, _ in watched)
        survival *= 1.0 - events / at_risk
        hazard += events / (at_risk * (at_risk - events)) if at_risk > events else inf
        standard = survival * sqrt(hazard) if survival else 0.0
        steps.append(CurveStep(time, at_risk, events, survival, standard))
    return SurvivalCurve(tuple(steps), tuple(each[0] for each in watched), tuple(each[2] for each in watched))
