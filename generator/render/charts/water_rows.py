"""What the chart of one quantity shows: plain rows in the unit shown, in ms of the wall clock."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import median
from typing import Literal

from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.reckon.water.health import kit_error
from generator.records.log import SystemLog
from generator.records.system import Levels, System
from generator.render.base.chart import thinned
from generator.render.base.numbers import Display, say_reading
from generator.render.base.words import Words
from generator.render.charts.telling import Known, Telling
from generator.render.charts.water_deeds import LANES, Deed, deeds, supply
from generator.units.quantity import coverage_factor

# Half a year is what a page can show with each reading still apart; the downloads hold the whole record.
WINDOW = timedelta(days=180)
_MARGIN = timedelta(days=2)
# Quantities that are rarely tested are shown further back, so that there is something to compare.
_FEWEST_READINGS = 6
# Quantities that are tested many times a day are shown for a shorter time, to keep pages small.
_MOST_READINGS = 120
_FORECAST_SHOWN = timedelta(days=14)
# Days after which two readings are not joined, because the level between them is not known.
LONGEST_JOIN = 21 * 86_400_000
_MOST_POINTS = 90
# One standard deviation to half of a 90 % interval of the normal distribution.
# The first days can be a hundred times less certain than the rest; such intervals are cut off.
_WIDEST = 6.0


Standing = Literal["usual", "doubtful", "below"]


@dataclass(frozen=True, slots=True)
class Seen:
    """One reading: its value, the ends of its error bar (None: not known), its standing and its words."""

    at: int
    value: float
    low: float | None
    high: float | None
    standing: Standing
    moment: str
    words: str


@dataclass(frozen=True, slots=True)
class WaterRows:
    """All that the chart of one quantity shows."""

    start: int
    end: int
    today: int
    level_ends: tuple[float, float]
    uptake_ends: tuple[float, float] | None
    band: tuple[float | None, float | None]
    readings: tuple[Seen, ...]
    level: tuple[Known, ...]
    ahead: tuple[Known, ...]
    uptake: tuple[Known, ...]
    supply: tuple[tuple[int, float], ...]
    deeds: tuple[Deed, ...]

    @property
    def has_band(self) -> bool:
        """Whether the keeper set either end of the band."""
        return self.band != (None, None)


def deeds_by_lane(rows: WaterRows) -> list[tuple[str, list[Deed]]]:
    """The lanes that have something in them, in their order."""
    lanes = ((lane, [deed for deed in rows.deeds if deed.lane == lane]) for lane in LANES)
    return [(lane, deeds) for lane, deeds in lanes if deeds]


def runs(rows: WaterRows) -> list[list[tuple[float, float]]]:
    """Readings that are close enough in time to be joined."""
    joined: list[list[tuple[float, float]]] = []
    for seen in (seen for seen in rows.readings if seen.standing != "doubtful"):
        if not joined or seen.at - joined[-1][-1][0] > LONGEST_JOIN:
            joined.append([])
        joined[-1].append((seen.at, seen.value))
    return joined


def strip(rows: WaterRows) -> tuple[float, float]:
    """The band to hold, as far as the panel shows it; an end that is not set is the panel's."""
    low, high = rows.level_ends
    band_low, band_high = rows.band
    return (
        low if band_low is None else min(max(band_low, low), high),
        high if band_high is None else max(min(band_high, high), low),
    )


def water_rows(
    system: System, log: SystemLog, findings: WaterFindings, kind: str, display: Display, words: Words
) -> WaterRows:
    """The rows of one quantity's chart over the last half year or more before the findings' moment."""
    telling = Telling(kind, display, words, _since(findings, kind), findings.as_of)
    readings = tuple(_readings(telling, system, findings))
    level, uptake = _track(telling, findings)
    ahead = _ahead(telling, findings)
    low, high = (_band_end(telling, ends) for ends in (system.low, system.high))
    start, today = telling.clock(telling.since), telling.clock(findings.as_of)
    end = max([today, *(point.at for point in ahead)])
    marks = [value for seen in readings for value in (seen.value, seen.low, seen.high)] + [low, high]
    level_ends = _ends([*(m for m in marks if m is not None), *_sober(level), *_sober(ahead)])
    done = deeds(telling, log, findings)
    put_in = [step for step in supply([deed for deed in done if deed.per_day]) if step[0] < today]
    uptake_ends = _ends([0.0, *_sober(uptake), *(rate for _, rate in put_in)]) if uptake else None
    return WaterRows(
        start=start,
        end=end + round((end - start) * 0.012),
        today=today,
        level_ends=level_ends,
        uptake_ends=uptake_ends,
        band=(low, high),
        readings=readings,
        level=_cut(level, level_ends),
        ahead=_cut(ahead, level_ends),
        uptake=_cut(uptake, uptake_ends) if uptake_ends else (),
        supply=(*put_in, (today, put_in[-1][1])) if put_in and uptake else (),
        deeds=done,
    )


def _since(findings: WaterFindings, kind: str) -> datetime:
    """Where the chart begins: `WINDOW` ago, earlier for what is seldom read and later for what is read often.

    Never long before the first reading.
    """
    read = sorted(reading.at for reading, _ in findings.readings if reading.kind == kind)
    if not read:
        return findings.as_of - WINDOW
    enough, most = read[-_FEWEST_READINGS:][0], read[-_MOST_READINGS:][0]
    return max(
        min(findings.as_of - WINDOW, enough - _MARGIN), most if len(read) > _MOST_READINGS else read[0] - _MARGIN
    )


def _readings(telling: Telling, system: System, findings: WaterFindings) -> Iterator[Seen]:
    kind, display, words = telling.kind, telling.display, telling.words
    uptake = findings.uptake.get(kind)
    doubtful = {doubt.reading.source for doubt in uptake.doubtful} if uptake else set()
    for reading, canonical in findings.readings:
        if reading.kind != kind or not telling.shows(reading.at):
            continue
        value = display.level(kind, canonical)
        error = kit_error(system, findings, reading)
        half = None if error is None else display.change(kind, error) * coverage_factor()
        standing: Standing = "below" if reading.value.below else "usual"
        yield Seen(
            at=telling.clock(reading.at),
            value=value,
            low=None if half is None else value - half,
            high=None if half is None else value + half,
            standing="doubtful" if reading.source in doubtful else standing,
            moment=telling.moment(reading.at),
            words=say_reading(display, words, reading, canonical),
        )


def _track(telling: Telling, findings: WaterFindings) -> tuple[tuple[Known, ...], tuple[Known, ...]]:
    uptake = findings.uptake.get(telling.kind)
    points = thinned([p for p in uptake.track if telling.shows(p.at)] if uptake else [], _MOST_POINTS)
    return tuple(telling.level(p.at, p.level) for p in points), tuple(telling.rate(p.at, p.per_day) for p in points)


def _ahead(telling: Telling, findings: WaterFindings) -> tuple[Known, ...]:
    forecast = findings.forecasts.get(telling.kind)
    if not isinstance(forecast, Forecast):
        return ()
    last = findings.as_of + _FORECAST_SHOWN
    return tuple(telling.level(at, level) for at, level in forecast.track if findings.as_of <= at <= last)


def _band_end(telling: Telling, levels: Levels) -> float | None:
    quantity = levels.of(telling.kind)
    return None if quantity is None else telling.display.level(telling.kind, canonical_value(quantity))


def _sober(points: tuple[Known, ...]) -> list[float]:
    """Ends of the intervals, without those that are far wider than most."""
    if not points:
        return []
    usual = median(point.high - point.low for point in points)
    near = [point for point in points if point.high - point.low <= _WIDEST * usual]
    return [value for point in near for value in (point.low, point.high)]


def _ends(values: list[float]) -> tuple[float, float]:
    low, high = min(values, default=0.0), max(values, default=1.0)
    room = 0.06 * (high - low) or abs(high) * 0.05 or 1.0
    return (low if low == 0.0 else low - room), high + room


def _cut(points: tuple[Known, ...], ends: tuple[float, float]) -> tuple[Known, ...]:
    low, high = ends
    return tuple(
        replace(p, value=min(max(p.value, low), high), low=max(p.low, low), high=min(p.high, high)) for p in points
    )
