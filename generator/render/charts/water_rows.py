"""What the chart of one quantity shows, deeds too: plain rows in the unit shown, in ms of the wall clock."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, datetime, timedelta
from itertools import chain, groupby
from statistics import median
from typing import Literal, TypeVar, cast

from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.water.canonical import canonical_value, kit_error
from generator.reckon.water.findings import Forecast, LedgerLine, WaterFindings
from generator.records.log import SystemLog
from generator.records.system import Levels, System
from generator.render.base.numbers import Say, Shown, decimals, plain, with_unit
from generator.render.base.scale import Plotted, thinned, wall_clock
from generator.render.base.words import Words
from generator.render.drawings.timeline import Sign
from generator.units.quantity import Estimate, coverage_factor


class Telling(Struct, frozen=True):
    """One quantity, in one journal's units, clock and words, from one moment until another."""

    kind: str
    say: Say
    since: datetime
    until: datetime

    @property
    def words(self) -> Words:
        """The words of the journal's language."""
        return self.say.words

    def clock(self, moment: datetime) -> int:
        """The wall clock's time, as the axis counts it."""
        return wall_clock(moment, self.say.display.zone)

    def moment(self, at: datetime) -> str:
        """The same in words."""
        return self.say.moment(at).text

    def told(self, clock: int) -> str:
        """A time of the axis in words."""
        return self.moment(datetime.fromtimestamp(clock / 1000, UTC).replace(tzinfo=self.say.display.zone))

    def shows(self, moment: datetime) -> bool:
        """Whether the chart reaches so far."""
        return self.since <= moment <= self.until

    def level(self, at: datetime, found: Estimate) -> Plotted:
        """What the quantity was, from its estimate in the canonical unit."""
        return self._known(at, self.say.level(self.kind, found), self.say.display.estimate(self.kind, found, True))

    def rate(self, at: datetime, found: Estimate) -> Plotted:
        """What it changed by in a day, from its estimate in the canonical unit a day."""
        return self._known(at, self.say.per_day(self.kind, found), self.say.display.estimate(self.kind, found, False))

    def _known(self, at: datetime, said: Shown, shown: Estimate) -> Plotted:
        ends = shown.value, shown.low, shown.high
        return Plotted(self.clock(at), self.moment(at), *ends, f"{said.value}, {said.interval}")

    def change(self, canonical: float) -> str:
        """What a deed changed, exact to two digits, with its sign."""
        value = self.say.display.change(self.kind, canonical)
        number = plain(self.words, value, decimals(abs(value) / 10))
        return with_unit(f"+{number}" if value > 0 else number, self.say.unit(self.kind))


LaneName = Literal["dose", "pump", "top-off", "reactor", "water-change", "event"]
LANES: tuple[LaneName, ...] = ("dose", "pump", "top-off", "reactor", "water-change", "event")
SIGN_OF_LANE: dict[str, Sign] = {"water-change": "drop", "event": "flag"}


class Deed(Struct, frozen=True):
    """Something done or that happened, over [at, until], in its lane, with its words.

    `of` is what was given, `per_day` what a deed that lasted put in a day, in the unit shown.
    """

    at: int
    until: int
    lane: LaneName
    words: str
    per_day: float = 0.0
    of: str = ""


def deeds(
    tellings: Sequence[Telling], of: Sequence["WaterRows"], log: SystemLog, findings: WaterFindings
) -> tuple[Deed, ...]:
    """Every deed and event, once, by lane and in order of time within each; with what it did to each quantity."""
    done: dict[tuple[LaneName, int, int, str], list[str]] = defaultdict(list)
    for deed in chain.from_iterable(rows.given for rows in of):
        done[deed.lane, deed.at, deed.until, deed.of].append(deed.words)
    first = tellings[0]
    given = (
        Deed(at, until, lane, f"{first.told(at)}: {of} {'; '.join(words)}".replace("  ", " "))
        for (lane, at, until, of), words in sorted(done.items())
    )
    return (*given, *_water_changes(tellings, log, findings), *_events(first, log))


def _water_changes(tellings: Sequence[Telling], log: SystemLog, findings: WaterFindings) -> Iterator[Deed]:
    changed = {(each.source, each.kind): each.change for each in findings.ledger if each.cause == "water-change"}
    first = tellings[0]
    for change in filter(lambda change: first.shows(change.at), log.water_changes):
        parts = [first.say.written(change.volume)]
        moved = ((each, changed.get((change.source, each.kind))) for each in tellings)
        parts += [_of(each, each.change(by)) for each, by in moved if by]
        said = f"{first.moment(change.at)}: {', '.join(parts)}"
        yield Deed(first.clock(change.at), first.clock(change.at), "water-change", said)


def _of(telling: Telling, change: str) -> str:
    return f"{telling.words(f'quantities.{telling.kind}')} {change}"


def _events(telling: Telling, log: SystemLog) -> Iterator[Deed]:
    for event in filter(lambda event: telling.shows(event.at), log.events):
        said = f"{telling.moment(event.at)}: {telling.words(f'events.{event.what}')}"
        yield Deed(telling.clock(event.at), telling.clock(event.at), "event", said)


def doses_given(telling: Telling, findings: WaterFindings) -> Iterator[Deed]:
    """What doses, pumps, top-off and reactor did to one quantity."""
    lines = [
        line
        for line in findings.ledger
        if line.kind == telling.kind and line.cause in LANES and line.cause != "water-change"
        if telling.since < line.until <= telling.until and line.at <= telling.until
    ]
    # The ledger splits a constant rate into many lines; on the chart it is one.
    lines.sort(key=lambda line: (line.cause, line.solution, line.source, line.at))
    for _, group in groupby(lines, key=_one_deed):
        pieces = list(group)
        begin, end = max(pieces[0].at, telling.since), pieces[-1].until
        whole = sum(_within(piece, telling.since) for piece in pieces)
        days = (end - begin) / timedelta(days=1)
        per_day = whole / days if days else 0.0
        said = telling.change(whole)
        if days:
            said = telling.words("chart.water.standing", change=telling.change(per_day))
        rate, cause = telling.say.display.change(telling.kind, per_day), cast(LaneName, pieces[0].cause)
        yield Deed(telling.clock(begin), telling.clock(end), cause, _of(telling, said), rate, pieces[0].solution)


def supply(lasting: Sequence[Deed]) -> list[tuple[int, float]]:
    """What pumps, top-off and reactor put in a day, all together: each moment it changed, and to what."""
    moments = sorted({moment for deed in lasting for moment in (deed.at, deed.until)})
    return [(moment, sum(deed.per_day for deed in lasting if deed.at <= moment < deed.until)) for moment in moments]


def _one_deed(line: LedgerLine) -> tuple[str, str, str, datetime | None]:
    return line.cause, line.solution, str(line.source), line.at if line.cause == "dose" else None


def _within(line: LedgerLine, since: datetime) -> float:
    """The part of a line's change that falls into the window."""
    return line.change if line.at >= since else line.change * ((line.until - since) / (line.until - line.at))


# Half a year is what a page can show with each reading still apart; the downloads hold the whole record.
WINDOW = timedelta(days=180)
# Of each of the last month, the half year before it and all before that, a chart has so many points at the most.
_STEPS, _MOST_POINTS = (timedelta(days=30), WINDOW), 90
_FORECAST_SHOWN = timedelta(days=14)
# Days after which two readings are not joined, because the level between them is not known.
LONGEST_JOIN = 21 * 86_400_000
# The first days can be a hundred times less certain than the rest; such intervals are cut off.
_WIDEST = 6.0

Ends = tuple[float, float]
Standing = Literal["usual", "doubtful", "below"]
_T = TypeVar("_T")


class Seen(Struct, frozen=True):
    """One reading: its value, the ends of its error bar (None: not known), its standing and its words."""

    at: int
    value: float
    low: float | None
    high: float | None
    standing: Standing
    moment: str
    words: str


class WaterRows(Struct, frozen=True):
    """All that is shown of one quantity, until a moment; `given` is what doses, pumps, top-off and reactor did."""

    kind: str
    today: int
    band: tuple[float | None, float | None]
    readings: tuple[Seen, ...]
    level: tuple[Plotted, ...]
    ahead: tuple[Plotted, ...]
    uptake: tuple[Plotted, ...]
    supply: tuple[tuple[int, float], ...]
    given: tuple[Deed, ...]

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
    given = tuple(doses_given(telling, findings))
    put_in = [step for step in supply([deed for deed in given if deed.per_day]) if step[0] < today]
    return WaterRows(
        kind=telling.kind,
        today=today,
        band=(_band_end(telling, system.low), _band_end(telling, system.high)),
        readings=tuple(_readings(telling, system, findings)),
        level=level,
        ahead=_ahead(telling, findings),
        uptake=uptake,
        supply=(*put_in, (today, put_in[-1][1])) if put_in and uptake else (),
        given=given,
    )


def _thinned(telling: Telling, findings: WaterFindings, points: Iterable[tuple[datetime, _T]]) -> Iterator[_T]:
    """What a chart shows of points in order of time."""
    month, half_year = (findings.as_of - step for step in _STEPS)
    parts: tuple[list[_T], list[_T], list[_T]] = ([], [], [])
    for moment, point in points:
        if telling.shows(moment):
            parts[(moment >= half_year) + (moment >= month)].append(point)
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


def _track(telling: Telling, findings: WaterFindings) -> tuple[tuple[Plotted, ...], tuple[Plotted, ...]]:
    uptake = findings.uptake.get(telling.kind)
    points = tuple(_thinned(telling, findings, ((point.at, point) for point in uptake.track))) if uptake else ()
    level = tuple(telling.level(p.at, p.level) for p in points)
    return level, tuple(telling.rate(p.at, p.per_day.at_least_zero()) for p in points)


def _ahead(telling: Telling, findings: WaterFindings) -> tuple[Plotted, ...]:
    forecast = findings.forecasts.get(telling.kind)
    if not isinstance(forecast, Forecast):
        return ()
    last = findings.as_of + _FORECAST_SHOWN
    return tuple(telling.level(at, level) for at, level in forecast.track if findings.as_of <= at <= last)


def _band_end(telling: Telling, levels: Levels) -> float | None:
    quantity = levels.of(telling.kind)
    return None if quantity is None else telling.say.display.level(telling.kind, canonical_value(quantity))


def _sober(points: tuple[Plotted, ...]) -> list[float]:
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


def _cut(points: tuple[Plotted, ...], ends: tuple[float, float]) -> tuple[Plotted, ...]:
    low, high = ends
    return tuple(
        replace(p, value=min(max(p.value, low), high), low=max(p.low, low), high=min(p.high, high)) for p in points
    )
