"""Survival of arrivals at 30, 90 and 365 days, by how they came and how they travelled."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from generator.reckon.estimate.kaplan_meier import Curve, kaplan_meier
from generator.reckon.finding import Answer, CannotTell, Finding, one_cause, parts_of
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.trade import Trade
from generator.units.quantity import Estimate

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
    curve: Curve
    horizons: tuple[Horizon, ...]
    inputs: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class _Watched:
    coral: Coral
    days: float
    lost: bool


def survival(corals: Iterable[Coral], trades: Mapping[str, Trade], as_of: date) -> tuple[GroupSurvival, ...]:
    """Survival of the corals that came from elsewhere (own frags do not count), all together and by groups.

    A death or a loss is an event. A coral given, sold, merged, or still here is censored on that day.
    """
    watched = [_watch(coral, as_of) for coral in corals if coral.arrival.at <= as_of and _came(coral)]
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


def _came(coral: Coral) -> bool:
    return coral.arrival.how not in ("cutting", "broken-off", "settled")


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
        inputs,
    )


def _at(curve: Curve, days: int, arrivals: int, inputs: tuple[Source, ...]) -> Answer:
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
    parts = parts_of([("watched", 100.0 * standard)]) or one_cause("watched", found)
    return Finding(found, "survival", inputs, parts)
