"""The chart of one system's water: every quantity, its uptake, and all that was done, over one axis of time."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from itertools import groupby

from markupsafe import Markup

from generator.reckon.finding import Finding
from generator.reckon.water.findings import WaterFindings
from generator.records.log import SystemLog
from generator.records.system import System
from generator.render.base.chart import Chart, Key
from generator.render.base.numbers import Display, say_per_day
from generator.render.base.words import Words
from generator.render.charts.telling import Telling
from generator.render.charts.water_data import water_data
from generator.render.charts.water_deeds import deeds
from generator.render.charts.water_picture import uptake_panel, water_picture
from generator.render.charts.water_rows import WINDOW, Seen, WaterRows, water_rows
from generator.render.drawings.timeline import Timeline, draw

# What the table below the chart shows; the download holds them all.
_TABLE_ROWS = 16
# How far back a reader can ask the chart to look, in days; at last all of the record. `_STILL` is the still picture's.
_RANGES: dict[str, float | None] = {"week": 7, "month": 30, "half-year": WINDOW.days, "year": 365, "all": None}
_STILL = "half-year"
_FORECAST_SHOWN, _SHARE_AHEAD = timedelta(days=14), 6
_SPARK_HEIGHT = 96


def water_chart(
    system: System, log: SystemLog, findings: WaterFindings, kinds: Sequence[str], display: Display, words: Words
) -> Chart:
    """The chart of some quantities, in the units, the clock and the words of the journal."""
    since = min(reading.at for reading, _ in findings.readings)
    tellings = [Telling(kind, display, words, since, findings.as_of) for kind in kinds]
    of = [water_rows(system, findings, telling) for telling in tellings]
    done = deeds(tellings, log, findings)
    days = (findings.as_of - since) / timedelta(days=1)
    spans = {name: back for name, back in _RANGES.items() if back is None or back < days or name == _STILL}
    ranges = {name: _span(back, tellings[0]) for name, back in spans.items()}
    id, heads = f"chart-{system.id}", dict(_heads(of, display, words))
    still = [rows.since(*ranges[_STILL]) for rows in of]
    named = id, words("chart.water.title", system=system.name), " ".join(_description(rows, words) for rows in still)
    columns, rows, n = _table(still, words)
    return Chart(
        id=id,
        kind="water",
        title=named[1],
        description=named[2],
        svg=Markup(water_picture(named, ranges[_STILL], still, done, heads, words)),
        data=water_data(of, done, list(ranges.values()), heads, words),
        keys=_keys(still, words),
        columns=columns,
        rows=rows,
        rows_note=words("chart.rows_note", shown=len(rows), n=n),
        ranges=tuple((words(f"chart.ranges.{name}"), name == _STILL) for name in ranges),
    )


def uptake_spark(system: System, findings: WaterFindings, kind: str, display: Display, words: Words) -> Markup | None:
    """What is taken up a day over the last half year, small; None if the readings cannot tell."""
    telling = Telling(kind, display, words, findings.as_of - WINDOW, findings.as_of)
    start, today = telling.clock(telling.since), telling.clock(findings.as_of)
    rows = water_rows(system, findings, telling).since(start, today)
    if len(rows.uptake) < 2:
        return None
    quantity, unit = words(f"quantities.{kind}"), words.unit(display.unit(kind))
    title = words("chart.water.uptake", quantity=quantity, unit=unit.strip("()"))
    now, last = findings.uptake[kind].per_day, rows.uptake[-1].words
    if isinstance(now, Finding) and rows.uptake[-1].at < today:
        # What came since the last reading is counted in the number now, and the line ends before it.
        shown = say_per_day(display, words, kind, now.estimate)
        last = f"{shown.value}, {shown.interval}"
    said = words("chart.water.spark", first=rows.uptake[0].words, at=rows.uptake[0].moment, last=last)
    panel = uptake_panel(rows, title, _SPARK_HEIGHT)
    return Markup(draw(Timeline(f"spark-{system.id}", title, said, start, today, (panel,)), words))


def _span(days: float | None, telling: Telling) -> tuple[int, int]:
    """The ends of a range: so far back, and ahead by a share of it."""
    begin = telling.since if days is None else telling.until - timedelta(days=days)
    ahead = min(_FORECAST_SHOWN, (telling.until - begin) / _SHARE_AHEAD)
    return telling.clock(begin), telling.clock(telling.until + ahead)


def _heads(of: Sequence[WaterRows], display: Display, words: Words) -> Iterator[tuple[tuple[str, str], str]]:
    for rows in of:
        # Some units are written in brackets behind a number; a heading needs none.
        said = {"quantity": words(f"quantities.{rows.kind}"), "unit": words.unit(display.unit(rows.kind)).strip("()")}
        yield (rows.kind, "level"), words("chart.water.level", **said)
        if rows.uptake:
            yield (rows.kind, "uptake"), words("chart.water.uptake", **said)


def _description(rows: WaterRows, words: Words) -> str:
    quantity = words(f"quantities.{rows.kind}")
    if not rows.readings:
        return words("chart.water.no_readings", quantity=quantity)
    last = rows.readings[-1]
    said = words("chart.water.description", n=len(rows.readings), quantity=quantity, last=last.words, at=last.moment)
    if rows.uptake and rows.uptake[-1].at == rows.today:
        said += " " + words("chart.water.uptake_description", uptake=rows.uptake[-1].words)
    return said


def _table(of: Sequence[WaterRows], words: Words) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...], int]:
    """The readings moment by moment, the newest first: heads, rows, and how many moments there are."""
    seen = sorted((-each.at, number, each) for number, rows in enumerate(of) for each in rows.readings)
    table = []
    for _, group in groupby(seen, key=lambda each: each[0]):
        read = {number: each for _, number, each in group}
        cells = (_cell(read[number], words) if number in read else "" for number in range(len(of)))
        table.append((next(iter(read.values())).moment, *cells))
    heads = (words("chart.columns.at"), *(words(f"quantities.{rows.kind}") for rows in of))
    return heads, tuple(table[:_TABLE_ROWS]), len(table)


def _cell(seen: Seen, words: Words) -> str:
    return seen.words if seen.standing == "usual" else f"{seen.words} ({words(f'chart.standing.{seen.standing}')})"


def _keys(of: Sequence[WaterRows], words: Words) -> tuple[Key, ...]:
    """The legend, with only what the chart shows."""
    standings = {seen.standing for rows in of for seen in rows.readings}
    there = {
        "reading": bool(standings),
        "doubt": "doubtful" in standings,
        "below": "below" in standings,
        "level": any(rows.level for rows in of),
        "ahead": any(rows.ahead for rows in of),
        "band": any(rows.has_band for rows in of),
        "uptake": any(rows.uptake for rows in of),
        "supply": any(rows.supply for rows in of),
    }
    return tuple(Key(look, words(f"chart.keys.{look}")) for look, shown in there.items() if shown)
