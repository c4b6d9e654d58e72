"""What the chart of one quantity shows: plain rows in the unit shown, in ms of the wall clock."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import chain
from statistics import median
from typing import Literal, TypeVar

from generator.reckon.water.canonical import canonical_value, kit_error
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.records.system import Levels, System
from generator.render.base.chart import Known, thinned
from generator.render.charts.water_deeds import LANES, Deed, Telling, doses_given, supply
from generator.units.quantity import coverage_factor

_DAY = 86_400_000
# Half a year is what a page can show with each reading still apart; the downloads hold the whole record.
WINDOW = timedelta(days=180)
# Of each of the last month, the half year before it and all before that, a chart has so many points at the most.
_STEPS, _MOST_POINTS = (30 * _DAY, 180 * _DAY), 90
_FORECAST_SHOWN = timedelta(days=14)
# Days after which two readings are not joined, because the level between them is not known.
LONGEST_JOIN = 21 * _DAY
# One standard deviation to half of a 90 % interval of the normal distribution.
# The first days can be a hundred times less certain than the rest; such intervals are cut off.
_WIDEST = 6.0


Ends = tuple[float, float]
Standing = Literal["usual", "doubtful", "below"]
_T = TypeVar("_T")


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
    """All that is shown of one quantity, until a moment."""

    kind: str
    today: int
    band: tuple[float | None, float | None]
    readings: tuple[Seen, ...]
    level: tuple[Known, ...]
    ahead: tuple[Known, ...]
    uptake: tuple[Known, ...]
    supply: tuple[tuple[int, float], ...]

    @property
    def has_band(self) -> bool:
        """Whether the keeper set either end of the band."""
        return self.band != (None, None)

    def since(self, start: int, end: int) -> "WaterRows":
        """The part of them between two moments, cut to the ends of its panels."""
        readings = tuple(seen for seen in self.readings if seen.at >= start)
        level, uptake = (tuple(point for point in points if point.at >= start) for points in (self.level, self.uptake))
        ahead = tuple(point for point in self.ahead if point.at <= end)
        before = [(start, rate) for at, rate in self.supply if at < start][-1:]
        supply = (*before, *(step for step in self.supply if step[0] >= start))
        part = replace(self, readings=readings, level=level, ahead=ahead, uptake=uptake, supply=supply)
        ends, rates = part.level_ends, part.uptake_ends
        return replace(part, level=_cut(level, ends), ahead=_cut(ahead, ends), uptake=_cut(uptake, rates or (0.0, 1.0)))

    @property
    def level_ends(self) -> tuple[float, float]:
        """The ends of the panel of the level."""
        marks = [value for seen in self.readings for value in (seen.value, seen.low, seen.high)] + list(self.band)
        return _ends([*(m for m in marks if m is not None), *_sober(self.level), *_sober(self.ahead)])

    @property
    def uptake_ends(self) -> tuple[float, float] | None:
        """The ends of the panel of the uptake; None if there is none."""
        return _ends([0.0, *_sober(self.uptake), *(rate for _, rate in self.supply)]) if self.uptake else None


def deeds_by_lane(deeds: Sequence[Deed]) -> list[tuple[str, list[Deed]]]:
    """The lanes that have something in them, in their order."""
    lanes = ((lane, [deed for deed in deeds if deed.lane == lane]) for lane in LANES)
    return [(lane, deeds) for lane, deeds in lanes if deeds]


def runs(rows: WaterRows) -> list[list[tuple[float, float]]]:
    """Readings that are close enough in time to be joined."""
    joined: list[list[tuple[float, float]]] = []
    for seen in (seen for seen in rows.readings if seen.standing != "doubtful"):
        if not joined or seen.at - joined[-1][-1][0] > LONGEST_JOIN:
            joined.append([])
        joined[-1].append((seen.at, seen.value))
    return joined


def band_strip(rows: WaterRows) -> tuple[float, float]:
    """The band to hold, as far as the panel shows it; an end that is not set is the panel's."""
    low, high = rows.level_ends
    band_low, band_high = rows.band
    return (
        low if band_low is None else min(max(band_low, low), high),
        high if band_high is None else max(min(band_high, high), low),
    )


def water_rows(system: System, findings: WaterFindings, telling: Telling) -> WaterRows:
    """The rows of one quantity until the findings' moment."""
    today = telling.clock(findings.as_of)
    level, uptake = _track(telling, findings)
    lasting = [deed for deed in doses_given(telling, findings) if deed.per_day]
    put_in = [step for step in supply(lasting) if step[0] < today]
    return WaterRows(
        kind=telling.kind,
        today=today,
        band=(_band_end(telling, system.low), _band_end(telling, system.high)),
        readings=tuple(_readings(telling, system, findings)),
        level=level,
        ahead=_ahead(telling, findings),
        uptake=uptake,
        supply=(*put_in, (today, put_in[-1][1])) if put_in and uptake else (),
    )


def _thinned(telling: Telling, findings: WaterFindings, points: Iterable[tuple[datetime, _T]]) -> Iterator[_T]:
    """What a chart shows of points in order of time."""
    today = telling.clock(findings.as_of)
    month, half_year = (today - step for step in _STEPS)
    parts: tuple[list[_T], list[_T], list[_T]] = ([], [], [])
    for moment, point in points:
        if telling.shows(moment):
            at = telling.clock(moment)
            parts[(at >= half_year) + (at >= month)].append(point)
    return chain.from_iterable(thinned(part, _MOST_POINTS) for part in parts)


def _readings(telling: Telling, system: System, findings: WaterFindings) -> Iterator[Seen]:
    kind, display = telling.kind, telling.say.display
    uptake = findings.uptake.get(kind)
    doubtful = {doubt.reading.source for doubt in uptake.doubtful} if uptake else set()
    of_kind = ((reading.at, (reading, value)) for reading, value in findings.readings if reading.kind == kind)
    for reading, canonical in _thinned(telling, findings, of_kind):
        value = display.level(kind, canonical)
        error = kit_error(system, reading, findings.learned_error(kind))
        half = None if error is None else display.change(kind, error) * coverage_factor()
        standing: Standing = "below" if reading.value.below else "usual"
        yield Seen(
            at=telling.clock(reading.at),
            value=value,
            low=None if half is None else value - half,
            high=None if half is None else value + half,
            standing="doubtful" if reading.source in doubtful else standing,
            moment=telling.moment(reading.at),
            words=telling.say.reading(reading, canonical),
        )


def _track(telling: Telling, findings: WaterFindings) -> tuple[tuple[Known, ...], tuple[Known, ...]]:
    uptake = findings.uptake.get(telling.kind)
    points = tuple(_thinned(telling, findings, ((point.at, point) for point in uptake.track))) if uptake else ()
    level = tuple(telling.level(p.at, p.level) for p in points)
    return level, tuple(telling.rate(p.at, p.per_day.at_least_zero()) for p in points)


def _ahead(telling: Telling, findings: WaterFindings) -> tuple[Known, ...]:
    forecast = findings.forecasts.get(telling.kind)
    if not isinstance(forecast, Forecast):
        return ()
    last = findings.as_of + _FORECAST_SHOWN
    return tuple(telling.level(at, level) for at, level in forecast.track if findings.as_of <= at <= last)


def _band_end(telling: Telling, levels: Levels) -> float | None:
    quantity = levels.of(telling.kind)
    return None if quantity is None else telling.say.display.level(telling.kind, canonical_value(quantity))


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
