"""Where a quantity goes, and when it leaves its band: if nothing is changed, if the keeper goes on as before, and the
trend of what is only read.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import erf, hypot, sqrt
from typing import Literal

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.estimate.slopes import RobustSlope, robust_slope
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.account import Account, Paid, Renewal
from generator.reckon.water.canonical import band, canonical_value, resolution
from generator.reckon.water.deliveries import Habit, per_litre
from generator.reckon.water.findings import Forecast, Trend, WaterFindings
from generator.reckon.water.ledger import MIX_ERROR, Evidence, in_days
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import as_estimate, cannot_tell
from generator.records.log import Reading
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, coverage_factor

# How far back a trend looks, and how far apart its ends must be at least: a shorter span mistakes
# the swing of a day or of a feeding for a trend. Common practice, no source.
DAYS = 90.0
LEAST_DAYS = 7.0


def trends(readings: Sequence[Reading], values: Sequence[float], as_of: datetime) -> dict[str, Trend]:
    """The trend of every kind among `readings`, whose canonical `values` stand in the same order.

    Over the last `DAYS` before `as_of`; later readings do not count. A kind with too little to tell
    from is there too, with the reason.
    """
    since = as_of - timedelta(days=DAYS)
    by_kind: dict[str, list[tuple[Reading, float]]] = defaultdict(list)
    for reading, value in zip(readings, values, strict=True):
        if reading.at <= as_of:
            by_kind[reading.kind].append((reading, value))
    found = {}
    for kind, of_kind in sorted(by_kind.items()):
        recent = [(reading, value) for reading, value in of_kind if reading.at >= since]
        found[kind] = Trend(kind, _change_per_day(kind, recent), DAYS, len(recent))
    return found


def _change_per_day(kind: str, recent: Sequence[tuple[Reading, float]]) -> Answer:
    """Theil–Sen slope with Sen's 90 % interval, never narrower than what rounding alone can hide.

    Readings that all agree do not prove that nothing changes: a line that rises by one step of what was
    written over the whole span can still read the same everywhere.
    """
    sources = tuple(reading.source for reading, _ in recent)
    if not recent:
        return CannotTell("no-recent-readings", "read-again-later", (("days", f"{DAYS:g}"),))
    first = min(reading.at for reading, _ in recent)
    x = np.array([(reading.at - first).total_seconds() / 86400.0 for reading, _ in recent])
    span = float(x.max())
    if span == 0.0:
        return CannotTell("one-time", "read-again-later", inputs=sources)
    if span < LEAST_DAYS:
        return CannotTell("span-too-short", "read-again-later", (("days", f"{LEAST_DAYS:g}"),), sources)
    slope = robust_slope(x, np.array([value for _, value in recent]))
    if slope is None:
        return CannotTell("too-few-readings", "read-more", (("readings", f"{len(recent)}"),), sources)
    step = max(resolution(reading.value) for reading, _ in recent) / span
    return Finding(
        Estimate(
            slope.slope,
            min(slope.low, slope.slope - step),
            max(slope.high, slope.slope + step),
            f"{KINDS[kind].canonical}/day",
        ),
        "trend",
        sources,
        _parts(slope, step),
    )


def _parts(slope: RobustSlope, step: float) -> tuple[UncertaintyPart, ...]:
    scatter = (slope.high - slope.low) / 2.0 / coverage_factor()
    # A step's whole width is spread evenly over what the slope can be to either side.
    return (UncertaintyPart("scatter", scatter), UncertaintyPart("resolution", step / 3.0**0.5))


HORIZON_DAYS = 30.0
STEP_DAYS = 0.5
# A forecast speaks of an earliest, a likely and a latest moment: 5, 50 and 95 futures in 100 have passed.
ODDS = (0.05, 0.5, 0.95)
# Beside its 90 % interval a level is told with these odds, by which plans are trusted.
FAR = 0.975

# Below these levels (meq/L, mg/L) coral lays down less in proportion to what is left. Calcification follows the water's
# saturation (Langdon & Atkinson 2005, J. Geophys. Res. 110:C09S07: from memory); where it begins to be felt is an
# assumption of ours.
SLOWS_BELOW = {"alkalinity": 1.8, "calcium": 250.0, "magnesium": 600.0}

Side = Literal["low", "high"]


def forecast(
    evidence: Evidence,
    found: StateEstimate | None,
    low: float | None,
    high: float | None,
    as_of: datetime,
    more: tuple[Account, Array] | None = None,
) -> Forecast | CannotTell:
    """The level over the next `HORIZON_DAYS` with all standing doses running on, and the band's end it passes first.

    `low` and `high` are the band's ends in the canonical unit. `more` is what is paid in beside, and by how much that
    makes the level stray at each of `days_ahead` (one standard deviation). Answers `CannotTell` without a band or
    where the uptake itself cannot be told.
    """
    if low is None and high is None:
        return CannotTell("no-band", "write-a-band")
    if found is None:
        return CannotTell("no-readings", "read-twice")
    if (unknown := cannot_tell(evidence, found)) is not None:
        return unknown
    days = days_ahead()
    moments = [as_of + timedelta(days=float(day)) for day in days]
    told = found.ahead(days)
    if more is not None:
        beside, strays = more
        own = found.accounts[found.level]
        accounts = list(found.accounts)
        doses, renewals = (*own.doses, *beside.doses), (*own.renewals, *beside.renewals)
        accounts[found.level] = replace(own, doses=tuple(sorted(doses, key=lambda dose: dose.at)), renewals=renewals)
        told = found.ahead(days, accounts)
        told = replace(told, sd=np.hypot(told.sd, strays[:, None]))
    told = told.wider(found.times_as_wide)
    levels = np.array([slowed(evidence.kind, each) for each in told.interval()]).T.tolist()
    chances = {side: told.cdf(end) if side == "low" else 1.0 - told.cdf(end) for side, end in _ends(low, high)}
    unit = KINDS[evidence.kind].canonical
    far = told.quantiles((1.0 - FAR) / 2.0, (1.0 + FAR) / 2.0)
    ends = np.array([slowed(evidence.kind, each) for each in far]).T
    found_there = _forecast(evidence.kind, moments, [as_estimate(each, unit) for each in levels], chances)
    return replace(found_there, far=tuple((float(below), float(above)) for below, above in ends))


def days_ahead() -> Array:
    """The days from now for which a forecast tells the level (T,)."""
    return np.arange(0.0, HORIZON_DAYS + STEP_DAYS / 2, STEP_DAYS)


def slowed(kind: str, level: Array) -> Array:
    """Levels as they can be: coral takes up the less, the less is left, and nothing of what is not there.

    Below `SLOWS_BELOW` what is taken up falls in proportion to the level, so that where nothing is paid in the level
    decays exponentially instead of passing zero.
    """
    knee = SLOWS_BELOW[kind]
    return np.where(level < knee, knee * np.exp(np.minimum(level - knee, 0.0) / knee), level)


def unslowed(kind: str, level: Estimate) -> tuple[float, float, float]:
    """A level's value and ends as they would be if coral took up the same of any level: `slowed` turned back."""
    knee, told = SLOWS_BELOW[kind], np.array([level.value, level.low, level.high])
    value, low, high = np.where(told < knee, knee * (1.0 + np.log(np.maximum(told, 1e-9) / knee)), told).tolist()
    return value, low, high


def with_step(found: Forecast, step: Estimate, low: float | None, high: float | None) -> Forecast:
    """The same forecast if from its start on the demand is changed by `step` (canonical unit a day; positive: more).

    `low` and `high` are the band's ends as `forecast` was given them.
    """
    start, courses = found.track[0][0], []
    for moment, level in found.track:
        days, (at, least, most) = (moment - start).total_seconds() / 86400.0, unslowed(found.kind, level)
        value = at - step.value * days
        below, above = (
            hypot(*each)
            for each in ((at - least, (step.high - step.value) * days), (most - at, (step.value - step.low) * days))
        )
        courses.append((value, value - below, value + above))
    return with_levels(found, courses, low, high)


def with_levels(
    found: Forecast, courses: Sequence[tuple[float, float, float]], low: float | None, high: float | None
) -> Forecast:
    """The same forecast with another level at each moment of its track: its value, and how low and high it may be.

    The levels are those that would be if coral took up the same of any; `low` and `high` are the band's ends.
    """
    moments, unit = [moment for moment, _ in found.track], found.track[0][1].unit
    levels = [as_estimate(slowed(found.kind, np.array(each)).tolist(), unit) for each in courses]
    chances = {side: np.array([_passed(each, end, side) for each in levels]) for side, end in _ends(low, high)}
    return _forecast(found.kind, moments, levels, chances)


def _forecast(
    kind: str, moments: Sequence[datetime], levels: Sequence[Estimate], chances: Mapping[Side, Array]
) -> Forecast:
    # The band's end that is the likelier to be passed at any time within the horizon is the one to speak of.
    side = max(chances, key=lambda s: float(chances[s].max()))
    reached = [_first(chances[side], odds, moments) for odds in ODDS]
    return Forecast(
        kind=kind,
        leaves=side if reached[0] is not None else None,
        earliest=reached[0],
        likely=reached[1],
        latest=reached[2],
        horizon_days=HORIZON_DAYS,
        track=tuple(zip(moments, levels, strict=True)),
    )


def _ends(low: float | None, high: float | None) -> list[tuple[Side, float]]:
    ends: list[tuple[Side, float | None]] = [("low", low), ("high", high)]
    return [(side, end) for side, end in ends if end is not None]


def _passed(level: Estimate, end: float, side: Side) -> float:
    """The chance that a level lies beyond an end of its band, normal to either side of its value."""
    half = level.value - level.low if end < level.value else level.high - level.value
    # A level that can only be zero has no width.
    beyond = (end - level.value if side == "low" else level.value - end) / max(
        half / coverage_factor(level.level), 1e-9
    )
    return 0.5 * (1.0 + erf(beyond / sqrt(2.0)))


def _first(chances: Array, odds: float, moments: Sequence[datetime]) -> datetime | None:
    passed = np.flatnonzero(chances >= odds)
    return moments[passed[0]] if len(passed) else None


def renews(system: System, changing: Sequence[Habit], kind: str) -> tuple[tuple[Habit, float], ...]:
    """The habits of changing water that move a kind, each with its level in the mix (canonical)."""
    levels = ((habit, system.mixes[habit.solution].of(kind)) for habit in changing if habit.solution in system.mixes)
    return tuple((habit, canonical_value(level)) for habit, level in levels if level is not None)


def going_on(
    evidence: Evidence,
    found: StateEstimate | None,
    system: System,
    habits: Sequence[Habit],
    changing: Sequence[Habit],
    as_of: datetime,
) -> tuple[Forecast | CannotTell, Forecast | None]:
    """The forecast with the pourings and water changes to come, step by step as they are likely, and as unsure.

    A pouring to come is as strong as those before it, whatever that is. The second answer is the forecast without
    them (None: there are none, or nothing can be told).
    """
    ends = band(system, evidence.kind)
    without, renewed = forecast(evidence, found, *ends, as_of), renews(system, changing, evidence.kind)
    poured = [(habit, raises) for habit in habits if (raises := _raises(system, habit, evidence.kind))]
    if isinstance(without, CannotTell) or not (poured or renewed):
        return without, None
    days, paid, renewals, variance = days_ahead(), [], [], np.zeros(len(days_ahead()))
    at, now = in_days(as_of) + days[:-1], 0.0 if found is None else float(found.now.of(found.stands).moments()[0])
    for habit, raises in poured:
        factors = evidence.deliveries.by.get((habit.solution, "dose"), ())
        each, stray = habit.ahead(as_of, days)
        paid += [Paid(float(when), raises * float(more), factors) for when, more in zip(at, np.diff(each), strict=True)]
        variance += (raises * stray) ** 2
    for habit, level in renewed:
        each, stray = (litres / system.water.volume.canonical() for litres in habit.ahead(as_of, days))
        renewals += [
            Renewal(float(when), min(float(more), 1.0), level, MIX_ERROR * level)
            for when, more in zip(in_days(as_of) + days[1:], np.diff(each), strict=True)
        ]
        variance += ((level - now) * stray) ** 2
    more = Account(doses=tuple(paid), renewals=tuple(renewals))
    return forecast(evidence, found, *ends, as_of, (more, np.sqrt(variance))), without


def _raises(system: System, habit: Habit, kind: str) -> float:
    """By how much a litre raises a level."""
    return per_litre(system.solutions[habit.solution], kind) / system.water.volume.canonical()


class Counted(Struct, frozen=True):
    """Water changes by habit that a plan counts on, and the alkalinity they bring a day (meq/L; None: not known)."""

    habit: Habit
    per_day: Estimate | None


def brought_by_habits(system: System, water: WaterFindings, level: float) -> tuple[Counted, ...]:
    """What each habit of changing water brings a day to water held at a level of alkalinity.

    The uncertainty is that of the rhythm's means and of the mix.
    """
    known, litres = {each.solution: mix for each, mix in renews(system, water.changing, "alkalinity")}, system.water
    found = []
    for habit in water.changing:
        mix, share = known.get(habit.solution), habit.per_day / litres.volume.canonical()
        if mix is None:
            found.append(Counted(habit, None))
            continue
        of_rhythm = hypot(habit.litres_stray / habit.litres, habit.days_stray / habit.days) / habit.pourings**0.5
        error = share * hypot((mix - level) * of_rhythm, MIX_ERROR * mix)
        found.append(Counted(habit, Estimate.normal(share * (mix - level), error, "meq/L/day")))
    return tuple(found)
