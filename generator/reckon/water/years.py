"""A water over time: its ledger over the last days, and by year the middle reading of each week and the skeleton."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo
from math import hypot, sqrt
from statistics import median

from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.calcification import laid_down
from generator.reckon.water.deliveries import relative_volume_error
from generator.reckon.water.findings import Cause, LedgerLine, Uptake, WaterFindings
from generator.reckon.water.uptake import interval
from generator.records.source import Source
from generator.records.system import Water
from generator.units.kinds import KINDS, WATER_KINDS
from generator.units.quantity import Estimate

PAID: tuple[Cause, ...] = ("dose", "pump", "top-off", "reactor", "water-change")


@dataclass(frozen=True, slots=True)
class Balance:
    """One quantity's account over some days, as change of its level in the canonical unit.

    `paid` is what each cause came to by the log; what was `taken_up` (negative: it left the water) balances it
    against the level's own `change`. `inputs` are the lines of each cause.
    """

    kind: str
    paid: dict[Cause, float]
    taken_up: Answer
    change: Answer
    inputs: dict[Cause, tuple[Source, ...]]


def balance(found: WaterFindings, water: Water, kind: str, days: int) -> Balance:
    """The account of one quantity over the days before the findings' moment.

    The uptake is as unsure as the level at both ends, and as the water volume that turns doses into level.
    What was taken up between two readings is spread evenly over the time between them.
    """
    since = found.as_of - timedelta(days=days)
    lines = [line for line in found.ledger if line.kind == kind and _within(line, since) != 0.0]
    paid = {cause: total for cause in PAID if (total := _total(lines, cause, since)) != 0.0}
    inputs = {cause: _sources(lines, cause) for cause in (*PAID, "uptake")}
    uptake = found.uptake[kind]
    if isinstance(uptake.per_day, CannotTell):
        return Balance(kind, paid, uptake.per_day, uptake.per_day, inputs)
    taken, unit = _total(lines, "uptake", since), KINDS[kind].canonical
    of_level = hypot(_level_error(uptake, since), _level_error(uptake, found.as_of))
    of_volume = relative_volume_error(water) * abs(sum(paid.values()))
    parts = UncertaintyPart("readings-and-drift", of_level), UncertaintyPart("water-volume", of_volume)
    every = tuple(dict.fromkeys(source for each in inputs.values() for source in each))
    return Balance(
        kind,
        paid,
        Finding(interval(taken, hypot(of_level, of_volume), unit), "ledger", every, parts),
        Finding(interval(taken + sum(paid.values()), of_level, unit), "ledger", every, parts[:1]),
        inputs,
    )


def _level_error(uptake: Uptake, at: datetime) -> float:
    """The level's standard uncertainty at a moment: as at the nearest reading, and what may have come since.

    From there the uptake is unsure by its own interval, and drifts: the integral of a random walk.
    """
    near = min(uptake.track, key=lambda point: abs(point.at - at))
    days = abs(near.at - at) / timedelta(days=1)
    level, rate = (each.standard for each in (near.level, near.per_day))
    return hypot(level, rate * days, uptake.drift.value * sqrt(days**3 / 3.0))


def _total(lines: Iterable[LedgerLine], cause: Cause, since: datetime) -> float:
    return sum(_within(line, since) for line in lines if line.cause == cause)


def _sources(lines: Sequence[LedgerLine], cause: Cause) -> tuple[Source, ...]:
    return tuple(dict.fromkeys(line.source for line in lines if line.cause == cause))


def _within(line: LedgerLine, since: datetime) -> float:
    """The part of a line's change that falls after a moment."""
    if line.until <= since:
        return 0.0
    if line.at >= since or line.until == line.at:
        return line.change
    return line.change * ((line.until - since) / (line.until - line.at))


@dataclass(frozen=True, slots=True)
class YearOfWater:
    """One year of one water.

    `weeks` are, by quantity, the weeks (from 0) in which it was read, each with the median of its readings in the
    canonical unit. `grams` of CaCO3 are those that alkalinity tells, from the moment `since` on.
    """

    weeks: Mapping[str, tuple[tuple[int, float], ...]]
    grams: Estimate | None = None
    since: datetime | None = None


def years_of(found: WaterFindings, litres: float, zone: tzinfo) -> dict[int, YearOfWater]:
    """Each year in which something was read, on the keeper's own clock."""
    read: dict[int, dict[str, dict[int, list[float]]]] = {}
    for reading, value in found.readings:
        day = reading.at.astimezone(zone).date()
        if reading.kind in WATER_KINDS:
            weeks = read.setdefault(day.year, {}).setdefault(reading.kind, {})
            weeks.setdefault((day - date(day.year, 1, 1)).days // 7, []).append(value)
    track = found.uptake["alkalinity"].track if "alkalinity" in found.uptake else ()
    years = {}
    for year, kinds in read.items():
        begin, end = (datetime(each, 1, 1, tzinfo=zone) for each in (year, year + 1))
        weeks_of = {
            kind: tuple((week, median(of)) for week, of in sorted(weeks.items())) for kind, weeks in kinds.items()
        }
        grams = laid_down(track, litres, begin, end)
        years[year] = YearOfWater(weeks_of, grams, max(begin, track[0].at) if grams else None)
    return years
