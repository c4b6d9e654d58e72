"""The chart of a coral's growth: measurements, joined where they are comparable, and the forecast."""

from collections.abc import Sequence
from datetime import date
from math import hypot
from typing import Literal

from markupsafe import Markup
from msgspec import Struct

from generator.reckon.growth.analysis import Growth
from generator.reckon.growth.corals import CUT_LASTS, CoralFindings
from generator.reckon.growth.forecast import Spread
from generator.reckon.growth.measurements import Block, Point, blocks, mass_points
from generator.render.base.blocks import Chart, Columns, Key
from generator.render.base.numbers import Display, Say
from generator.render.base.scale import MS_PER_DAY, Plotted, columns, day_clock, point_columns, short
from generator.render.base.words import Words
from generator.render.drawings.timeline import Area, Bars, Curve, Dots, Panel, Signs, Timeline, draw_timeline
from generator.units.quantity import coverage_factor

Measure = Literal["mass", "diameter"]
# Moments ahead, each with its likely value and the ends of its 90 % interval.
_Fan = tuple[tuple[int, float, float, float], ...]
_KIND: dict[Measure, str] = {"mass": "mass", "diameter": "length"}
# A single point shows no growth.
_LEAST_POINTS = 2
_STEPS = 6
GROWTH_HEIGHT = 200


class _Rows(Struct, frozen=True):
    """All that the chart shows, from the first measurement on until half a year ahead."""

    start: int
    end: int
    today: int
    ends: tuple[float, float]
    runs: tuple[tuple[Plotted, ...], ...]
    ahead: _Fan
    breaks: tuple[tuple[int, str], ...]
    fell: tuple[tuple[int, str], ...]

    @property
    def points(self) -> tuple[Plotted, ...]:
        """Every measurement once: one on the day of a move ends one run and begins the next."""
        return tuple(dict.fromkeys(point for run in self.runs for point in run))


def growth_charts(name: str, found: CoralFindings, say: Say) -> tuple[Chart, ...]:
    """A coral's charts: of its mass and of its diameter, if each was measured at least twice."""
    growth = found.growth
    drawn = []
    if growth.mass_kind:
        masses = blocks(mass_points(growth.weighed, growth.mass_kind), growth.segments)
        drawn.append(_chart(name, found, "mass", masses, say))
    drawn.append(_chart(name, found, "diameter", blocks(growth.radii, growth.segments), say))
    return tuple(chart for chart in drawn if chart is not None)


def _chart(name: str, found: CoralFindings, measure: Measure, told: Sequence[Block], say: Say) -> Chart | None:
    if len({point for block in told for point in block}) < _LEAST_POINTS:
        return None
    words, rows = say.words, _rows(found, measure, told, say)
    id = f"growth-{measure}"
    unit = say.unit(_KIND[measure])
    kind = found.growth.mass_kind if measure == "mass" else measure
    heading = words(f"chart.growth.{kind}", unit=unit)
    title = words("chart.growth.title", measure=words(f"chart.growth.of.{kind}"), name=name)
    last = rows.points[-1]
    description = words(
        "chart.growth.description",
        n=len(rows.points),
        since=rows.points[0].moment,
        first=rows.points[0].words,
        last=last.words,
        at=last.moment,
    )
    heads = (heading,)
    return Chart(
        id=id,
        kind="growth",
        title=title,
        description=description,
        svg=_picture(id, title, description, rows, heading, words),
        data=_data(rows, heads),
        keys=_keys(rows, words),
        columns=(words("chart.columns.at"), heading),
        rows=tuple((point.moment, point.words) for point in reversed(rows.points)),
        rows_note=words("chart.growth.rows_note", n=len(rows.points)),
    )


def _rows(found: CoralFindings, measure: Measure, told: Sequence[Block], say: Say) -> _Rows:
    growth, words, display = found.growth, say.words, say.display
    runs = tuple(tuple(_tell(point, measure, say) for point in block) for block in told)
    every = [point for run in runs for point in run]
    ahead: _Fan = ()
    if found.ahead:
        ahead = _ahead(found.spread, growth.as_of, display) if measure == "diameter" else _mass_ahead(growth, display)
    start, today = min(point.at for point in every), day_clock(growth.as_of)
    low = min(*(point.low for point in every), *(each[2] for each in ahead), every[0].low)
    high = max(*(point.high for point in every), *(each[3] for each in ahead), every[0].high)
    room = (high - low or 1.0) * 0.08
    fall = growth.decline
    return _Rows(
        start - 10 * MS_PER_DAY,
        max([today, *(each[0] for each in ahead)]) + 5 * MS_PER_DAY,
        today,
        (max(0.0, low - room), high + room),
        runs,
        ahead,
        tuple(
            (day_clock(part.since), words(f"growth.began.{part.began}", day=say.on(part.since)))
            for part in growth.segments[1:]
            if day_clock(part.since) > start
        ),
        ((day_clock(fall.began), words("growth.fell_here", day=say.on(fall.began))),) if fall else (),
    )


def _tell(point: Point, measure: Measure, say: Say) -> Plotted:
    kind, factor = _KIND[measure], 2.0 if measure == "diameter" else 1.0
    value, half = point.value * factor, coverage_factor() * hypot(point.standard, point.repeats or 0.0) * factor
    shown, low, high = (say.display.level(kind, each) for each in (value, max(0.0, value - half), value + half))
    # In pounds or ounces a frag is a small number.
    digits = 0 if shown >= 100 else 2 if kind == "mass" and shown < 10 else 1
    said = say.number(shown, digits, say.display.unit(kind))
    return Plotted(day_clock(point.at), say.on(point.at), shown, low, high, said)


def _ahead(spread: object, today: date, display: Display) -> _Fan:
    """The diameter from its last measurement until half a year ahead, with its 90 % interval."""
    if not isinstance(spread, Spread) or spread.cut_since:
        return ()
    found = []
    for step in range(_STEPS + 1):
        day = spread.at + (today + CUT_LASTS - spread.at) * step // _STEPS
        radius, error = spread.reach(day)
        ends = (radius, max(0.0, radius - coverage_factor() * error), radius + coverage_factor() * error)
        value, low, high = (display.level("length", 2.0 * end) for end in ends)
        found.append((day_clock(day), value, low, high))
    return tuple(found)


def _mass_ahead(growth: Growth, display: Display) -> _Fan:
    """The mass until half a year ahead, with its 90 % interval."""

    def shown(value: float) -> float:
        return display.level("mass", value)

    return tuple(
        (day_clock(day), shown(grams.value), shown(grams.low), shown(grams.high)) for day, grams in growth.mass_ahead
    )


def _picture(id: str, title: str, description: str, rows: _Rows, heading: str, words: Words) -> Markup:
    panel = Panel(
        heading,
        GROWTH_HEIGHT,
        *rows.ends,
        (
            Area("ahead", [(at, low, high) for at, _, low, high in rows.ahead]),
            Curve("ahead-line", [(at, value) for at, value, _, _ in rows.ahead]),
            Curve("level-line", [each for run in rows.runs for each in (*((p.at, p.value) for p in run), None)]),
            Bars("reading-bar", [(point.at, point.low, point.high) for point in rows.points]),
            Dots([(point.at, point.value) for point in rows.points]),
            Signs("doubt", "below", [(at, rows.ends[1], said) for at, said in rows.fell]),
        ),
    )
    marked = [at for at, _ in rows.breaks]
    return draw_timeline(Timeline(id, title, description, rows.start, rows.end, (panel,), marked, rows.today, 4), words)


def _data(rows: _Rows, heads: tuple[str]) -> dict[str, Columns]:
    return {
        "frame": {"t": (rows.start, rows.end), "value": rows.ends},
        "today": {"t": (rows.today,)},
        "heads": {"panel": ("value",), "words": heads},
        "points": point_columns(rows.points, words=lambda point: f"{point.moment}: {point.words}"),
        "joined": columns(
            [(point, number) for number, run in enumerate(rows.runs) for point in run],
            t=lambda each: each[0].at,
            value=lambda each: short(each[0].value),
            run=lambda each: each[1],
        ),
        "ahead": columns(
            rows.ahead,
            t=lambda each: each[0],
            value=lambda each: short(each[1]),
            low=lambda each: short(each[2]),
            high=lambda each: short(each[3]),
        ),
        "breaks": columns(rows.breaks, t=lambda each: each[0], words=lambda each: each[1]),
        "fell": columns(rows.fell, t=lambda each: each[0], words=lambda each: each[1]),
    }


def _keys(rows: _Rows, words: Words) -> tuple[Key, ...]:
    there = {"measured": True, "ahead": bool(rows.ahead), "break": bool(rows.breaks), "fell": bool(rows.fell)}
    looks = {"measured": "reading", "ahead": "ahead", "break": "break", "fell": "fell"}
    return tuple(Key(looks[name], words(f"chart.growth.keys.{name}")) for name, shown in there.items() if shown)
