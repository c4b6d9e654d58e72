"""The water chart as a still picture, from the same rows as the chart for scripts."""

from itertools import pairwise

from generator.render.base.words import Words
from generator.render.charts.water_deeds import SIGN_OF_LANE, Deed
from generator.render.charts.water_rows import Standing, WaterRows, deeds_by_lane, runs, strip
from generator.render.drawings.timeline import (
    Area,
    Bars,
    Dots,
    Lane,
    Line,
    Panel,
    Region,
    Shape,
    Signs,
    Timeline,
    draw,
)


def water_picture(id: str, title: str, description: str, rows: WaterRows, heads: tuple[str, str], words: Words) -> str:
    """The SVG of one quantity's chart; `heads` stand above the level and above the uptake."""
    panels: list[Panel | Lane] = [_level_panel(rows, heads[0])]
    panels += (_lane(name, deeds, words) for name, deeds in deeds_by_lane(rows))
    if rows.uptake_ends:
        panels.append(_uptake_panel(rows, rows.uptake_ends, heads[1]))
    events = [deed.at for deed in rows.deeds if deed.lane == "event"]
    return draw(Timeline(id, title, description, rows.start, rows.end, tuple(panels), events, rows.today), words)


def _level_panel(rows: WaterRows, heading: str) -> Panel:
    low, high = rows.level_ends
    band = [Region("band", *strip(rows))] if rows.has_band else []
    ahead: list[Shape] = [
        Area("ahead", [(p.at, p.low, p.high) for p in rows.ahead]),
        Line("ahead-line", [(p.at, p.value) for p in rows.ahead]),
    ]
    told: list[Shape] = [
        Area("level", [(p.at, p.low, p.high) for p in rows.level]),
        Line("level-line", [(p.at, p.value) for p in rows.level]),
    ]
    joined: list[Shape] = [Line("joined", [point for run in runs(rows) for point in (*run, None)])]
    usual = [seen for seen in rows.readings if seen.standing == "usual"]
    read: list[Shape] = [
        Bars("reading-bar", [(s.at, s.low, s.high) for s in rows.readings if s.low is not None and s.high is not None]),
        Dots([(seen.at, seen.value) for seen in usual]),
        Signs("reading", "below", _signed(rows, "below")),
        Signs("doubt", "diamond", _signed(rows, "doubtful")),
    ]
    return Panel(heading, 190, low, high, (*band, *ahead, *(told if rows.level else joined), *read))


def _signed(rows: WaterRows, standing: Standing) -> list[tuple[float, float, str]]:
    return [(s.at, s.value, f"{s.moment}: {s.words}") for s in rows.readings if s.standing == standing]


def _lane(name: str, deeds: list[Deed], words: Words) -> Lane:
    lasting = [deed for deed in deeds if deed.until > deed.at]
    at_once = [deed for deed in deeds if deed.until == deed.at]
    return Lane(
        words(f"chart.lanes.{name}"),
        f"deed-{name}",
        SIGN_OF_LANE.get(name, "tick"),
        [(deed.at, deed.until, deed.words) for deed in lasting],
        [(deed.at, deed.words) for deed in at_once],
    )


def _uptake_panel(rows: WaterRows, ends: tuple[float, float], heading: str) -> Panel:
    return Panel(
        heading,
        104,
        *ends,
        (
            Line(
                "supply-line", [step for pair in pairwise(rows.supply) for step in (pair[0], (pair[1][0], pair[0][1]))]
            ),
            Area("uptake", [(p.at, p.low, p.high) for p in rows.uptake]),
            Line("uptake-line", [(p.at, p.value) for p in rows.uptake]),
        ),
    )
