"""How many of a group are left after a time, when some are watched for less long than others."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, inf, log, sqrt
from typing import Literal

from generator.units.quantity import LEVEL, coverage_factor

Scale = Literal["plain", "log-log"]


@dataclass(frozen=True, slots=True)
class Step:
    """The curve from a time on: how many were at risk just before it, how many fell, the share that survives.

    `standard` is Greenwood's standard error of that share.
    """

    time: float
    at_risk: int
    events: int
    survival: float
    standard: float


@dataclass(frozen=True, slots=True)
class Curve:
    """A Kaplan-Meier curve: its steps, and every time watched, in order."""

    steps: tuple[Step, ...]
    times: tuple[float, ...]

    def at_risk(self, time: float) -> int:
        """How many were still watched just before a time."""
        return sum(each >= time for each in self.times)

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
            return tail ** (1.0 / max(1, self.at_risk(time))), 1.0
        if survival == 0.0:
            return 0.0, 1.0 - tail ** (1.0 / self.steps[-1].at_risk)
        k = coverage_factor(level)
        if scale == "plain":
            return max(0.0, survival - k * standard), min(1.0, survival + k * standard)
        spread = exp(k * standard / (survival * abs(log(survival))))
        return survival**spread, survival ** (1.0 / spread)


def kaplan_meier(times: Sequence[float], fell: Sequence[bool]) -> Curve:
    """The curve of a group from how long each was watched, and whether it fell then (else it left, or is left).

    One that leaves at the time another falls was still at risk.
    Source: Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457-481; error: Greenwood 1926.
    """
    watched = sorted(zip(times, fell, strict=True))
    steps: list[Step] = []
    survival, hazard = 1.0, 0.0
    for time in sorted({time for time, dead in watched if dead}):
        at_risk = sum(each >= time for each, _ in watched)
        events = sum(dead and each == time for each, dead in watched)
        survival *= 1.0 - events / at_risk
        hazard += events / (at_risk * (at_risk - events)) if at_risk > events else inf
        standard = survival * sqrt(hazard) if survival else 0.0
        steps.append(Step(time, at_risk, events, survival, standard))
    return Curve(tuple(steps), tuple(time for time, _ in watched))
