"""When a test can tell: the readings worth making of one system, the earliest that can show a change, the next one.

Uptake in light is several times that in the dark, so a reading compares with one made at the same
time of day; hence plans are in whole days after an event (Gattuso, Allemand & Frankignoulle 1999,
Am. Zool. 39:160-183, light to dark about 3: from memory).
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from math import ceil, hypot, inf, sqrt
from statistics import NormalDist, median
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from generator.reckon.finding import CannotTell
from generator.reckon.water.canonical import kit_error
from generator.reckon.water.change import Step, foresight
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.findings import Forecast, Latest, NextTest, PlannedReading, ReadingPlan, WaterFindings, Why
from generator.reckon.water.health import measured_with_error
from generator.reckon.water.ledger import Evidence, in_days, moment_of_days
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import cannot_tell
from generator.records.system import System
from generator.units.kinds import KINDS, WATER_KINDS
from generator.units.quantity import Canonical, Estimate, coverage_factor

# How many readings back a keeper's usual step from one to the next is looked for, and how many such steps are far.
_BACK, _FAR = 12, 4.0
# Makes the median size of normal steps their standard deviation (Rousseeuw & Croux 1993, JASA 88:1273).
_MAD = 1.4826
# Differences of fewer readings say nothing of what is usual.
_ENOUGH = 4


def far_from_last(values: Sequence[Canonical], kit_error: Canonical | None) -> Canonical | None:
    """How far from the last of its readings one of a quantity is odd, in their unit; None if nothing tells.

    That is four times what is usual from one reading to the next, or what the kit alone makes of two readings.
    """
    steps = [abs(later - earlier) for earlier, later in pairwise(values[-_BACK:])]
    usual = _MAD * median(steps) if len(steps) >= _ENOUGH else 0.0
    return _FAR * max(usual, 2.0**0.5 * (kit_error or 0.0)) or None


def readings_ahead(
    found: WaterFindings, kind: str, kit_error: Canonical | None
) -> tuple[tuple[datetime, Estimate], ...]:
    """What a kit should show of a quantity, day by day from now on, the kit's own error included; none if unknown."""
    forecast, half = found.forecasts.get(kind), coverage_factor() * (kit_error or 0.0)
    track = getattr(forecast, "track", ())
    return tuple(
        (
            at,
            replace(
                level,
                low=level.value - hypot(level.value - level.low, half),
                high=level.value + hypot(level.high - level.value, half),
            ),
        )
        for at, level in track[::2]
    )


# A change is told from none when its estimate exceeds zero by so many standard errors: 1 in 20 by chance.
TOLD = NormalDist().inv_cdf(0.95)
# The odds at which a reading is worth making, and the width at which demand counts as settled: its 90 %
# interval within 15 % of the demand to either side. Choices of ours.
WORTH_MAKING = 0.90
SETTLED = 0.15
# How far ahead a plan looks, and when the newcomer is read once more after it is settled; days.
LOOK_AHEAD = 21
CONFIRM_AFTER = 7


class Rhythm(NamedTuple):
    """After how many days a quantity with a band is read again: `calm` at the latest, `outside` its band.

    While a tank cycles, ammonium and nitrite stand above what a living one shows, `cycles_above`, in the table's unit.
    """

    calm: float = 14.0
    outside: float = 3.5
    cycles_above: Canonical = inf


# What a laboratory reads, each quarter. Outside its band the next day where coral suffers within days, all else after a
# quarter of its usual time: nitrate or calcium come back in weeks. Common practice, no source.
RHYTHMS = {
    "alkalinity": Rhythm(7.0, outside=1.0),
    "magnesium": Rhythm(30.0, outside=7.5),
    **dict.fromkeys(("salinity", "temperature", "ph"), Rhythm(outside=1.0)),
    **dict.fromkeys(("potassium", "strontium", "boron", "silicate"), Rhythm(90.0, outside=22.5)),
    **dict.fromkeys(("ammonium", "nitrite"), Rhythm(90.0, outside=1.0, cycles_above=0.1)),
}
# A tank that cycles is read again after so many days. Common practice, no source.
WHILE_CYCLING = 3.0
# A reading says nothing of the water of today after so many times that long. A choice of ours.
TOO_OLD = 2.0
# A reading serves as the one that was planned up to so long after it. A choice of ours.
SERVES = timedelta(hours=3)


def rhythm(kind: str) -> Rhythm:
    """When a quantity is due to be read again; days."""
    return RHYTHMS.get(kind, Rhythm())


def is_old(latest: Latest) -> bool:
    """Whether the last reading against a band is too old to tell how the water is today."""
    return latest.standing != "no-band" and latest.age_days > TOO_OLD * rhythm(latest.reading.kind).calm


def beyond_band(system: System, latest: Latest) -> Estimate | None:
    """How far the last reading lies beyond an end of its band, with its kit's error; None where it does not."""
    end = {"low": latest.low, "high": latest.high}.get(latest.standing)
    if end is None or latest.doubtful:
        return None
    error = measured_with_error(system, latest.reading, latest.value).standard
    return Estimate.normal(latest.value - end, error, KINDS[latest.reading.kind].canonical)


TELLS: Why = "tells-a-change"

_NORMAL = NormalDist()


def odds_of_telling(size: float, error: float) -> float:
    """The chance that a change of `size`, estimated with standard error `error`, is told from none."""
    return _NORMAL.cdf(abs(size) / error - TOLD)


def reading_plan(
    evidence: Evidence, found: StateEstimate, since: datetime, size: float, kit_error: float, as_of: datetime
) -> ReadingPlan | None:
    """The fewest readings that tell a change of demand of `size` made at `since`, from `as_of` on.

    The first is the earliest whole day on which it alone tells the change at `WORTH_MAKING` odds; where
    it does not settle the demand as well, the second does, if one can within `LOOK_AHEAD` days; the last
    confirms. A plan without readings: none tells it within those days. None: the change is longer ago.
    """
    start = in_days(since)
    told = foresight(evidence, found, [Step(start)])
    days = [start + day for day in range(max(1, ceil(in_days(as_of) - start)), LOOK_AHEAD + 1)]

    def foresee(made: Sequence[float], times: Sequence[float]) -> list[tuple[float, float]]:
        """Of one more reading at each time by itself: the odds that it tells the change, how wide uptake is left."""
        steps, uptake = told.each_alone(made, times, kit_error)
        odds = [odds_of_telling(size, sqrt(variance)) for variance in steps[:, 0, 0].tolist()]
        return list(zip(odds, (coverage_factor() * np.sqrt(uptake)).tolist(), strict=True))

    one = foresee([], days)
    alone = tuple((moment_of_days(day), odds) for day, (odds, _) in zip(days, one, strict=True))
    first = next((i for i, (odds, _) in enumerate(one) if odds >= WORTH_MAKING), None)
    if first is None:
        return ReadingPlan(evidence.kind, since, size, (), alone) if alone else None
    made = [days[first]]
    readings = [PlannedReading(moment_of_days(days[first]), *one[first], "first")]
    narrow = SETTLED * (found.demand + abs(size))
    if readings[0].half_width > narrow:
        later = days[first + 1 :]
        two = zip(later, foresee(made, later), strict=True)
        settled = next(((day, known) for day, known in two if known[1] <= narrow), None)
        if settled is not None:
            made.append(settled[0])
            readings.append(PlannedReading(moment_of_days(settled[0]), *settled[1], "settles"))
    confirms = made[-1] + CONFIRM_AFTER
    readings.append(PlannedReading(moment_of_days(confirms), *foresee(made, [confirms])[0], "confirms"))
    return ReadingPlan(evidence.kind, since, size, tuple(readings), alone)


def next_test(
    kind: str,
    latest: Latest | None,
    forecast: Forecast | None,
    plans: Sequence[ReadingPlan],
    as_of: datetime,
    parted_by: datetime | None = None,
) -> NextTest:
    """The earliest of: telling a change, a level outside its band or perhaps so, a doubtful reading, the usual rhythm.

    `parted_by` is when a reading could tell apart the stories that compete, if any do. Of several reasons on one day
    the reading that tells a change is made, at its hour: it serves the others too.
    """
    if latest is None:
        return NextTest(kind, as_of, "no-reading")
    if latest.doubtful:
        return NextTest(kind, as_of, "doubtful-reading")
    usual = rhythm(kind)
    calm = WHILE_CYCLING if latest.value > usual.cycles_above else usual.calm
    due = latest.reading.at + timedelta(days=calm)
    reasons = [NextTest(kind, max(due, as_of), "usual-interval", days=calm)]
    if latest.standing in ("low", "high"):
        again = latest.reading.at + timedelta(days=usual.outside)
        reasons.append(NextTest(kind, max(again, as_of), "outside-band"))
    if forecast is not None and forecast.earliest is not None:
        # A test that was just made cannot be bettered at once, however unsure it is.
        soonest = latest.reading.at + timedelta(days=rhythm(kind).outside)
        reasons.append(NextTest(kind, max(forecast.earliest, soonest, as_of), "could-leave-band"))
    if parted_by is not None:
        reasons.append(NextTest(kind, parted_by, "parts-stories"))
    for plan in plans:
        after = max(as_of - timedelta(days=1), latest.reading.at + SERVES)
        if (first := next((reading for reading in plan.readings if reading.at > after), None)) is not None:
            timed = plan.timed and first.at > as_of
            reasons.append(NextTest(kind, max(first.at, as_of), TELLS, first.odds, timed))
    return min(
        reasons, key=lambda each: (each.at.astimezone(as_of.tzinfo).date(), each.why != TELLS, each.at, each.why)
    )


# What a plan of readings is made for: changes of at least this share of the demand, since so long. A smaller
# one drowns in the ordinary drift, and what happened longer ago has been told or never will. Choices of ours.
LEAST_SHARE = 0.15
EVENTS_FOR = timedelta(days=14)
DOSES_FOR = timedelta(days=7)
# More plans at once nobody follows: those of the largest changes are kept.
MOST_PLANS = 3

# Which way an event moves demand, where it is known.
LESS = ("cutting", "loss")
STEADY_INFLOWS = ("pump", "top-off", "reactor")


def reading_plans(
    system: System,
    evidence: Mapping[str, Evidence],
    found: Mapping[str, StateEstimate | None],
    events: Sequence[DemandEvent],
    as_of: datetime,
) -> tuple[ReadingPlan, ...]:
    """Plans of readings for each quantity coral takes up, after events and changes of a standing dose.

    What changed on one day counts as one change, named by its largest part.
    """
    plans = []
    for kind, known in found.items():
        if known is None or cannot_tell(evidence[kind], known) is not None:
            continue
        changes = [*_events(evidence[kind], known, events, as_of), *_doses(evidence[kind], known, as_of)]
        changes.sort(key=lambda change: -abs(change.size))
        for change in changes[:MOST_PLANS]:
            error = kit_error(system, evidence[kind].readings[-1], known.kit_error)
            plan = reading_plan(evidence[kind], known, change.since, change.size, error, as_of)
            if plan is not None:
                plans.append(
                    replace(plan, what=change.what, coral=change.coral, inputs=change.inputs, timed=change.timed)
                )
    return tuple(sorted(plans, key=lambda plan: (plan.kind, plan.since)))


def next_tests(
    system: System,
    latest: Mapping[str, Latest],
    forecasts: Mapping[str, Forecast | CannotTell],
    plans: Sequence[ReadingPlan],
    as_of: datetime,
    parted_by: Mapping[str, datetime | None] | None = None,
) -> dict[str, NextTest]:
    """The next reading worth making of every quantity that was read or has a band."""
    found = {}
    for kind in WATER_KINDS:
        if kind in latest or system.low.of(kind) or system.high.of(kind):
            ahead = forecasts.get(kind)
            of_kind = [plan for plan in plans if plan.kind == kind]
            found[kind] = next_test(
                kind,
                latest.get(kind),
                ahead if isinstance(ahead, Forecast) else None,
                of_kind,
                as_of,
                (parted_by or {}).get(kind),
            )
    return found


def _change(evidence: Evidence, since: datetime, size: float, what: str) -> ReadingPlan:
    """A change before there is a plan for it."""
    return ReadingPlan(evidence.kind, since, size, (), (), what)


def _events(
    evidence: Evidence, found: StateEstimate, events: Sequence[DemandEvent], as_of: datetime
) -> Iterator[ReadingPlan]:
    recent = [event for event in events if as_of - EVENTS_FOR <= event.at <= as_of and event.share >= LEAST_SHARE]
    for _, same_day in groupby(recent, key=lambda event: event.day):
        together = list(same_day)
        share = sum(-event.share if event.what in LESS else event.share for event in together)
        before = _demand_before(found, together[0].at)
        if abs(share) >= LEAST_SHARE and before > 0.0:
            largest = max(together, key=lambda event: event.share)
            yield replace(
                _change(evidence, together[-1].at, share * before, largest.what),
                coral=largest.coral,
                timed=all(event.timed for event in together),
                inputs=tuple(event.source for event in together),
            )


def _demand_before(found: StateEstimate, at: datetime) -> float:
    """The demand at the last reading before a moment; 0 if there is none, or if nothing was taken up."""
    index = int(np.searchsorted(found.moments, in_days(at))) - 1
    return max(float(found.middle(found.takes)[index]), 0.0) if index >= 0 else 0.0


def _doses(evidence: Evidence, found: StateEstimate, as_of: datetime) -> Iterator[ReadingPlan]:
    """Each day on which what runs by itself was set to more or less."""
    by_day = defaultdict(list)
    for line in evidence.lines:
        if line.cause in STEADY_INFLOWS:
            rate = line.change / (in_days(line.until) - in_days(line.at))
            by_day[line.at.astimezone(as_of.tzinfo).date()].append((line.at, rate, line.source))
            if line.until < as_of:
                by_day[line.until.astimezone(as_of.tzinfo).date()].append((line.until, -rate, line.source))
    for _, changes in sorted(by_day.items()):
        since, size = max(at for at, _, _ in changes), sum(rate for _, rate, _ in changes)
        if since < as_of - DOSES_FOR:
            continue
        before = _demand_before(found, since)
        if before > 0.0 and abs(size) >= LEAST_SHARE * before:
            inputs = tuple(dict.fromkeys(source for _, _, source in changes))
            yield replace(_change(evidence, since, size, "dose"), inputs=inputs)


def set_last(water: WaterFindings, kind: str) -> datetime | None:
    """When the pumps or the reactor that supply a kind now were last set; None if none runs."""
    standing = [line for line in water.ledger if line.kind == kind and line.cause in STEADY_INFLOWS]
    running = {line.source for line in standing if line.until == water.as_of}
    # A reactor's line is cut at every reading, so a setting begins with the first of its lines.
    begun = {source: min(line.at for line in standing if line.source == source) for source in running}
    return max(begun.values(), default=None)
