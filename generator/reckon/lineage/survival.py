"""Survival of arrivals at 30, 90 and 365 days, by how they came and how they travelled; some are watched less long."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import exp, inf, log, sqrt
from typing import Literal

from generator.reckon.finding import Answer, CannotTell, Finding, one_cause, uncertainty_parts
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.trade import Trade
from generator.units.quantity import LEVEL, Estimate, coverage_factor

Scale = Literal["plain", "log-log"]


@dataclass(frozen=True, slots=True)
class CurveStep:
    """The curve from a time on: how many were at risk just before it, how many fell, the share that survives.

    `standard` is Greenwood's standard error of that share.
    """

    time: float
    at_risk: int
    events: int
    survival: float
    standard: float


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """A Kaplan-Meier curve: its steps, and every time watched, in order."""

    steps: tuple[CurveStep, ...]
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


def kaplan_meier(times: Sequence[float], fell: Sequence[bool]) -> SurvivalCurve:
    """The curve of a group from how long each was watched, and whether it fell then (else it left, or is left).

    One that leaves at the time another falls was still at risk.
    Source: Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457-481; error: Greenwood 1926.
    """
    watched = sorted(zip(times, fell, strict=True))
    steps: list[CurveStep] = []
    survival, hazard = 1.0, 0.0
    for time in sorted({time for time, dead in watched if dead}):
        at_risk = sum(each >= time for each, _ in watched)
        events = sum(dead and each == time for each, dead in watched)
        survival *= 1.0 - events / at_risk
        hazard += events / (at_risk * (at_risk - events)) if at_risk > events else inf
        standard = survival * sqrt(hazard) if survival else 0.0
        steps.append(CurveStep(time, at_risk, events, survival, standard))
    return SurvivalCurve(tuple(steps), tuple(time for time, _ in watched))


HORIZONS = (30, 90, 365)
# The least arrivals to report, and the least still watched on a day to report that day.
LEAST_ARRIVALS = 5
LEAST_AT_RISK = 3
# Hours that separate a short trip, a long trip and a parcel; our own limits.
SHORT_TRIP, LONG_TRIP = 2.0, 12.0

By = Literal["all", "how-it-came", "how-it-travelled"]


@dataclass(frozen=True, slots=True)
class Horizon:
    """Survival (%) to a number of days, and how many were still watched then."""

    days: int
    survival: Answer
    at_risk: int


@dataclass(frozen=True, slots=True)
class GroupSurvival:
    """A group of arrivals: how many, how many were lost, the curve in days, survival at each horizon.

    `name` is a way of coming (`trade`, `gift`, …) or a trip (`short-trip`, `long-trip`, `parcel`).
    """

    by: By
    name: str
    arrivals: int
    lost: int
    curve: SurvivalCurve
    horizons: tuple[Horizon, ...]


@dataclass(frozen=True, slots=True)
class _Watched:
    coral: Coral
    days: float
    lost: bool


def survival(corals: Iterable[Coral], trades: Mapping[str, Trade], as_of: date) -> tuple[GroupSurvival, ...]:
    """Survival of the corals that came from elsewhere (own frags do not count), all together and by groups.

    A death or a loss is an event. A coral given, sold, merged, or still here is censored on that day.
    """
    came = (coral for coral in corals if coral.arrival.how not in ("cutting", "broken-off", "settled"))
    watched = [_watch(coral, as_of) for coral in came if coral.arrival.at <= as_of]
    if not watched:
        return ()
    groups: dict[tuple[By, str], list[_Watched]] = {("all", "all"): watched}
    by_coral = {arrival.coral: trade for trade in trades.values() for arrival in trade.received}
    for each in watched:
        arrival = each.coral.arrival
        groups.setdefault(("how-it-came", arrival.how), []).append(each)
        trip = _trip(trades.get(arrival.trade or "") or by_coral.get(each.coral.id))
        if trip:
            groups.setdefault(("how-it-travelled", trip), []).append(each)
    return tuple(_survival(by, name, group) for (by, name), group in sorted(groups.items()))


def _watch(coral: Coral, as_of: date) -> _Watched:
    end = coral.end if coral.end and coral.end.at <= as_of else None
    until = end.at if end else as_of
    return _Watched(coral, float((until - coral.arrival.at).days), end is not None and end.how in ("died", "lost"))


def _trip(trade: Trade | None) -> str | None:
    if trade is None or trade.travel is None:
        return None
    hours = trade.travel.duration.canonical()
    return "short-trip" if hours <= SHORT_TRIP else "long-trip" if hours <= LONG_TRIP else "parcel"


def _survival(by: By, name: str, group: list[_Watched]) -> GroupSurvival:
    curve = kaplan_meier([each.days for each in group], [each.lost for each in group])
    inputs = tuple(each.coral.arrival.source for each in group)
    return GroupSurvival(
        by,
        name,
        len(group),
        sum(each.lost for each in group),
        curve,
        tuple(Horizon(days, _at(curve, days, len(group), inputs), curve.at_risk(days)) for days in HORIZONS),
    )


def _at(curve: SurvivalCurve, days: int, arrivals: int, inputs: tuple[Source, ...]) -> Answer:
    if arrivals < LEAST_ARRIVALS:
        numbers = (("arrivals", f"{arrivals}"), ("least", f"{LEAST_ARRIVALS}"))
        return CannotTell("too-few-arrivals", "more-arrivals", numbers, inputs)
    value, standard = curve.survival(days)
    # Where all are gone the curve says so, however few were left to watch.
    if curve.at_risk(days) < LEAST_AT_RISK and value:
        watched = (("watched", f"{curve.at_risk(days)}"), ("least", f"{LEAST_AT_RISK}"), ("days", f"{days}"))
        return CannotTell("not-watched-long-enough", "wait", watched, inputs)
    low, high = curve.interval(days)
    found = Estimate(value, low, high, "1").scaled(100.0, "%")
    parts = uncertainty_parts([("watched", 100.0 * standard)]) or one_cause("watched", found)
    return Finding(found, "survival", inputs, parts)
