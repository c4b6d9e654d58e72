"""How arrivals survive: the share that lives 30, 90 and 365 days after, by how they came and how they travelled.

Some are watched less long, and those that came before the journal began only from then on.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Literal, Protocol

from msgspec import Struct

from generator.door.door import later
from generator.reckon.finding import Answer, CannotTell, Finding, one_cause, uncertainty_parts
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.settings import Settings
from generator.records.source import Source
from generator.records.trade import Trade
from generator.units.quantity import Estimate

if TYPE_CHECKING:
    from generator.reckon.estimate.uncertainty import SurvivalCurve

with later():  # to say how the groups are named needs none of it
    from generator.reckon.estimate import uncertainty as _uncertainty

HORIZONS = (30, 90, 365)
# The least arrivals to report, and the least still watched on a day to report that day.
LEAST_ARRIVALS = 5
LEAST_AT_RISK = 3
# Hours that separate a short trip, a long trip and a parcel; our own limits.
SHORT_TRIP, LONG_TRIP = 2.0, 12.0

By = Literal["all", "how-it-came", "how-it-travelled"]


class Horizon(Struct, frozen=True):
    """Survival (%) to a number of days, and how many were still watched then."""

    days: int
    survival: Answer
    at_risk: int


class GroupSurvival(Struct, frozen=True):
    """A group of arrivals: how many, how many were lost, the curve in days, survival at each horizon.

    `name` is a way of coming (`trade`, `gift`, …) or a trip (`short-trip`, `long-trip`, `parcel`).
    """

    by: By
    name: str
    arrivals: int
    lost: int
    curve: "SurvivalCurve"
    horizons: tuple[Horizon, ...]


class _Watched(Struct, frozen=True):
    """A coral, and the days after its arrival from which (0: the first) and until which it was watched."""

    coral: Coral
    since: float
    days: float
    lost: bool


class Logged(Protocol):
    """A journal, or a view of one."""

    @property
    def settings(self) -> Settings:
        """Of which the zone counts."""

    @property
    def logs(self) -> Mapping[str, SystemLog]:
        """By system."""


def first_day(journal: Logged) -> date | None:
    """The day on which a journal began: that of the first line of any log."""
    firsts = [facts[0].at for log in journal.logs.values() for facts in log.lists.values() if facts]
    return min(firsts).astimezone(journal.settings.time_zone).date() if firsts else None


def survival(
    corals: Iterable[Coral], trades: Mapping[str, Trade], as_of: date, began: date | None
) -> tuple[GroupSurvival, ...]:
    """Survival of the corals that came from elsewhere (own frags do not count), all together and by groups.

    A death or a loss is an event. A coral given, sold, merged, or still here is censored on that day. One that came
    before the journal `began` is watched from then on: had it been lost before, nobody would have written it down.
    """
    came = (coral for coral in corals if coral.arrival.how not in ("cutting", "broken-off", "settled"))
    every = (_watch(coral, as_of, began) for coral in came if coral.arrival.at <= as_of)
    watched = [each for each in every if each.since < each.days or not each.since]
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


def _watch(coral: Coral, as_of: date, began: date | None) -> _Watched:
    end = coral.end if coral.end and coral.end.at <= as_of else None
    until, came = end.at if end else as_of, coral.arrival.at
    since = max((began - came).days, 0) if began else 0
    lost = end is not None and end.how in ("died", "lost")
    return _Watched(coral, float(since), float((until - came).days), lost)


def _trip(trade: Trade | None) -> str | None:
    if trade is None or trade.travel is None:
        return None
    hours = trade.travel.duration.canonical()
    return "short-trip" if hours <= SHORT_TRIP else "long-trip" if hours <= LONG_TRIP else "parcel"


def _survival(by: By, name: str, group: list[_Watched]) -> GroupSurvival:
    curve = _uncertainty.kaplan_meier(
        [each.days for each in group], [each.lost for each in group], [each.since for each in group]
    )
    inputs = tuple(each.coral.arrival.source for each in group)
    return GroupSurvival(
        by,
        name,
        len(group),
        sum(each.lost for each in group),
        curve,
        tuple(Horizon(days, _at(curve, days, len(group), inputs), curve.at_risk(days)) for days in HORIZONS),
    )


def _at(curve: "SurvivalCurve", days: int, arrivals: int, inputs: tuple[Source, ...]) -> Answer:
    if arrivals < LEAST_ARRIVALS:
        numbers = (("arrivals", f"{arrivals}"), ("least", f"{LEAST_ARRIVALS}"))
        return CannotTell("too-few-arrivals", "more-arrivals", numbers, inputs)
    value, standard = curve.survival(days)
    # Where all are gone the curve says so, however few were left to watch.
    if (least := curve.least_at_risk(days)) < LEAST_AT_RISK and (value or max(curve.entered)):
        watched = (("watched", f"{least}"), ("least", f"{LEAST_AT_RISK}"), ("days", f"{days}"))
        return CannotTell("not-watched-long-enough", "wait", watched, inputs)
    low, high = curve.interval(days)
    found = Estimate(value, low, high, "1").scaled(100.0, "%")
    parts = uncertainty_parts([("watched", 100.0 * standard)]) or one_cause("watched", found)
    return Finding(found, "survival", inputs, parts)
