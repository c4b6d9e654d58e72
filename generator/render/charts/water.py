"""The chart of one system's water: every quantity, its uptake, and all that was done, over one axis of time."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from itertools import groupby, pairwise

from markupsafe import Markup

from generator.reckon.finding import Finding
from generator.reckon.water.findings import WaterFindings
from generator.records.log import SystemLog
from generator.records.system import System
from generator.render.base.blocks import Chart, Columns, Key
from generator.render.base.numbers import Say
from generator.render.base.scale import columns, point_columns, short
from generator.render.base.words import Words
from generator.render.charts.water_rows import (
    SIGN_OF_LANE,
    WINDOW,
    Deed,
    Ends,
    Seen,
    Standing,
    Telling,
    WaterRows,
    band_strip,
    deeds,
    deeds_by_lane,
    runs,
    water_rows,
)
from generator.render.drawings import timeline

# What the table below the chart shows; the download holds them all.
_TABLE_ROWS = 8
# How far back a reader can ask the chart to look, in days; at last all of the record. `_STILL` is the still picture's,
# which shows all of a record that is shorter, and no less than `_LEAST`.
_RANGES: dict[str, float | None] = {"week": 7, "month": 30, "half-year": WINDOW.days, "year": 365, "all": None}
_STILL = "half-year"
_LEAST = timedelta(days=7)
_FORECAST_SHOWN, _SHARE_AHEAD = timedelta(days=14), 6
_SPARK_HEIGHT = 150


def water_chart(system: System, log: SystemLog, findings: WaterFindings, kinds: Sequence[str], say: Say) -> Chart:
    """The chart of some quantities, in the units, the clock and the words of the journal."""
    words, since = say.words, min(reading.at for reading, _ in findings.readings)
    tellings = [Telling(kind, say, since, findings.as_of) for kind in kinds]
    of = [water_rows(system, findings, telling) for telling in tellings]
    done = deeds(tellings, of, log, findings)
    days = (findings.as_of - since) / timedelta(days=1)
    spans = {name: back for name, back in _RANGES.items() if back is None or back < days}
    first = _STILL if _STILL in spans else "all"
    ranges = {name: _span(back, tellings[0]) for name, back in spans.items()}
    id, heads = f"chart-{system.id}", dict(_heads(of, say))
    still = [rows.since(*ranges[first]) for rows in of]
    named = id, words("chart.water.title", system=system.name), " ".join(_description(rows, words) for rows in still)
    columns, rows, n = _table(still, words)
    return Chart(
        id=id,
        kind="water",
        title=named[1],
        description=named[2],
        svg=water_picture(named, ranges[first], still, done, heads, words),
        data=water_data(of, done, list(ranges.values()), heads, words),
        keys=_keys(still, words),
        columns=columns,
        rows=rows,
        rows_note=words("chart.rows_note" if len(rows) < n else "chart.rows_note_all", shown=len(rows), n=n),
        ranges=tuple((words(f"chart.ranges.{name}"), name == first) for name in ranges),
    )


def uptake_spark(system: System, findings: WaterFindings, kind: str, say: Say) -> tuple[Markup, tuple[Key, ...]] | None:
    """What is taken up a day over the last half year, small, and its legend; None if the readings cannot tell."""
    begun = min([reading.at for reading, _ in findings.readings if reading.kind == kind], default=findings.as_of)
    since = max(findings.as_of - WINDOW, min(begun, findings.as_of - _LEAST))
    words, telling = say.words, Telling(kind, say, since, findings.as_of)
    start, today = telling.clock(telling.since), telling.clock(findings.as_of)
    rows = water_rows(system, findings, telling).since(start, today)
    if len(rows.uptake) < 2:
        return None
    title = words("chart.water.uptake", quantity=words(f"quantities.{kind}"), unit=say.unit(kind).strip("()"))
    now, last = findings.uptake[kind].per_day, rows.uptake[-1].words
    if isinstance(now, Finding) and rows.uptake[-1].at < today:
        # What came since the last reading is counted in the number now, and the line ends before it.
        shown = say.per_day(kind, now.estimate)
        last = f"{shown.value}, {shown.interval}"
    said = words("chart.water.spark", first=rows.uptake[0].words, at=rows.uptake[0].moment, last=last)
    panel = uptake_panel(rows, title, _SPARK_HEIGHT)
    drawn = timeline.Timeline(f"spark-{system.id}", title, said, start, today, (panel,))
    looks = ("uptake", *(["supply"] if rows.supply else []))
    return timeline.draw_timeline(drawn, words), tuple(Key(look, words(f"chart.keys.{look}")) for look in looks)


def _span(days: float | None, telling: Telling) -> tuple[int, int]:
    """The ends of a range: so far back, and ahead by a share of it."""
    begin = telling.until - timedelta(days=days) if days else min(telling.since, telling.until - _LEAST)
    ahead = min(_FORECAST_SHOWN, (telling.until - begin) / _SHARE_AHEAD)
    return telling.clock(begin), telling.clock(telling.until + ahead)


def _heads(of: Sequence[WaterRows], say: Say) -> Iterator[tuple[tuple[str, str], str]]:
    words = say.words
    for rows in of:
        # Some units are written in brackets behind a number; a heading needs none.
        said = {"quantity": words(f"quantities.{rows.kind}"), "unit": say.unit(rows.kind).strip("()")}
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


def water_data(
    of: Sequence[WaterRows],
    done: Sequence[Deed],
    ranges: Sequence[tuple[int, int]],
    heads: dict[tuple[str, str], str],
    words: Words,
) -> dict[str, Columns]:
    """Every data set of the specification; one with nothing to show is empty."""
    at_once = [deed for deed in done if deed.until == deed.at]
    lasting = [deed for deed in done if deed.until > deed.at]
    ends = list(_ends(of, ranges))
    data: dict[str, Columns] = {
        "panels": columns(
            list(heads.items()),
            of=lambda head: head[0][0],
            part=lambda head: head[0][1],
            words=lambda head: head[1],
            told=lambda head: _told(head[0], of, words),
        ),
        "ranges": columns(ranges, since=lambda span: span[0], until=lambda span: span[1]),
        "ends": columns(
            ends,
            panel=lambda end: f"{end[0]}-{end[1]}",
            range=lambda end: end[2],
            low=lambda end: short(end[3][0]),
            high=lambda end: short(end[3][1]),
        ),
        "today": {"t": (of[0].today,)},
        "events": columns([d for d in done if d.lane == "event"], t=lambda deed: deed.at),
        "lanes": columns(
            [name for name, _ in deeds_by_lane(done)],
            lane=lambda lane: lane,
            words=lambda lane: words(f"chart.lanes.{lane}"),
        ),
        "spans": columns(
            lasting,
            t=lambda deed: deed.at,
            until=lambda deed: deed.until,
            lane=lambda deed: deed.lane,
            words=lambda deed: deed.words,
        ),
        "moments": columns(at_once, t=lambda deed: deed.at, lane=lambda deed: deed.lane, words=lambda deed: deed.words),
    }
    for rows in of:
        data |= {f"{rows.kind}-{name}": each for name, each in _data_of(rows).items()}
    return data


def _told(head: tuple[str, str], of: Sequence[WaterRows], words: Words) -> str:
    """What is read of a panel on one day: a calculated level, what was last read, or what is taken up."""
    kind, part = head
    tracked = any(rows.kind == kind and rows.level for rows in of)
    return words(f"chart.told.{part if tracked else 'reading'}", quantity=words(f"quantities.{kind}"))


def _ends(of: Sequence[WaterRows], ranges: Sequence[tuple[int, int]]) -> Iterator[tuple[str, str, int, Ends]]:
    """The ends of each panel in each range; where nothing was read, those of the next longer one."""
    for rows in of:
        for number in range(len(ranges)):
            there = (rows.since(*each) for each in ranges[number:])
            part = next((each for each in there if each.readings), rows)
            yield rows.kind, "level", number, part.level_ends
            if rates := part.uptake_ends or rows.uptake_ends:
                yield rows.kind, "uptake", number, rates


def _data_of(rows: WaterRows) -> dict[str, Columns]:
    joined = [] if rows.level else [(at, value, number) for number, run in enumerate(runs(rows)) for at, value in run]
    return {
        "band": columns([rows.band] if rows.has_band else [], low=lambda b: b[0], high=lambda b: b[1]),
        "readings": point_columns(
            rows.readings, standing=lambda seen: seen.standing, words=lambda seen: f"{seen.moment}: {seen.words}"
        ),
        "joined": columns(joined, t=lambda p: p[0], value=lambda p: short(p[1]), run=lambda p: p[2]),
        "track": columns(
            list(zip(rows.level, rows.uptake, strict=True)),
            t=lambda both: both[0].at,
            level=lambda both: short(both[0].value),
            low=lambda both: short(both[0].low),
            high=lambda both: short(both[0].high),
            rate=lambda both: short(both[1].value),
            rate_low=lambda both: short(both[1].low),
            rate_high=lambda both: short(both[1].high),
            words=lambda both: both[0].words,
            rate_words=lambda both: both[1].words,
        ),
        "supply": columns(rows.supply, t=lambda step: step[0], value=lambda step: short(step[1])),
        "ahead": point_columns(rows.ahead),
    }


LEVEL_HEIGHT, UPTAKE_HEIGHT = 62, 44


def water_picture(
    named: tuple[str, str, str],
    ends: tuple[int, int],
    of: Sequence[WaterRows],
    done: Sequence[Deed],
    heads: dict[tuple[str, str], str],
    words: Words,
) -> Markup:
    """The SVG of all quantities over one axis of time, from its id, title and description.

    `heads` name each panel by its quantity and part.
    """
    start, end = ends
    panels: list[timeline.Panel | timeline.Lane] = []
    for rows in of:
        panels.append(_level_panel(rows, heads[rows.kind, "level"]))
        if rows.uptake_ends:
            panels.append(uptake_panel(rows, heads[rows.kind, "uptake"]))
    shown = [deed for deed in done if deed.until >= start]
    panels += (_lane(name, deeds, start, words) for name, deeds in deeds_by_lane(shown))
    events = [deed.at for deed in shown if deed.lane == "event"]
    return timeline.draw_timeline(timeline.Timeline(*named, start, end, tuple(panels), events, of[0].today), words)


def _level_panel(rows: WaterRows, heading: str) -> timeline.Panel:
    low, high = rows.level_ends
    band = [timeline.Region("band", *band_strip(rows))] if rows.has_band else []
    ahead: list[timeline.Shape] = [
        timeline.Area("ahead", [(p.at, p.low, p.high) for p in rows.ahead]),
        timeline.Curve("ahead-line", [(p.at, p.value) for p in rows.ahead]),
    ]
    told: list[timeline.Shape] = [
        timeline.Area("level", [(p.at, p.low, p.high) for p in rows.level]),
        timeline.Curve("level-line", [(p.at, p.value) for p in rows.level]),
    ]
    joined: list[timeline.Shape] = [timeline.Curve("joined", [point for run in runs(rows) for point in (*run, None)])]
    usual = [seen for seen in rows.readings if seen.standing == "usual"]
    read: list[timeline.Shape] = [
        timeline.Bars(
            "reading-bar", [(s.at, s.low, s.high) for s in rows.readings if s.low is not None and s.high is not None]
        ),
        timeline.Dots([(seen.at, seen.value) for seen in usual]),
        timeline.Signs("reading", "below", _signed(rows, "below")),
        timeline.Signs("doubt", "diamond", _signed(rows, "doubtful")),
    ]
    return timeline.Panel(heading, LEVEL_HEIGHT, low, high, (*band, *ahead, *(told if rows.level else joined), *read))


def _signed(rows: WaterRows, standing: Standing) -> list[tuple[float, float, str]]:
    return [(s.at, s.value, f"{s.moment}: {s.words}") for s in rows.readings if s.standing == standing]


def _lane(name: str, deeds: list[Deed], start: int, words: Words) -> timeline.Lane:
    lasting = [deed for deed in deeds if deed.until > deed.at]
    at_once = [deed for deed in deeds if deed.until == deed.at]
    return timeline.Lane(
        words(f"chart.lanes.{name}"),
        f"deed-{name}",
        SIGN_OF_LANE.get(name, "tick"),
        [(max(deed.at, start), deed.until, deed.words) for deed in lasting],
        [(deed.at, deed.words) for deed in at_once],
    )


def uptake_panel(rows: WaterRows, heading: str, height: int = UPTAKE_HEIGHT) -> timeline.Panel:
    """What the coral takes up a day, and what is put in."""
    steps = [step for pair in pairwise(rows.supply) for step in (pair[0], (pair[1][0], pair[0][1]))]
    return timeline.Panel(
        heading,
        height,
        *(rows.uptake_ends or (0.0, 1.0)),
        (
            timeline.Curve("supply-line", steps),
            timeline.Area("uptake", [(p.at, p.low, p.high) for p in rows.uptake]),
            timeline.Curve("uptake-line", [(p.at, p.value) for p in rows.uptake]),
        ),
    )
