"""The water chart as a still picture of half a year, from the same rows as the chart for scripts."""

from collections.abc import Sequence
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

LEVEL_HEIGHT, UPTAKE_HEIGHT = 62, 44


def water_picture(
    named: tuple[str, str, str],
    ends: tuple[int, int],
    of: Sequence[WaterRows],
    done: Sequence[Deed],
    heads: dict[tuple[str, str], str],
    words: Words,
) -> str:
    """The SVG of all quantities over one axis of time, from its id, title and description.

    `heads` name each panel by its quantity and part.
    """
    start, end = ends
    panels: list[Panel | Lane] = []
    for rows in of:
        panels.append(_level_panel(rows, heads[rows.kind, "level"]))
        if rows.uptake_ends:
            panels.append(uptake_panel(rows, heads[rows.kind, "uptake"]))
    shown = [deed for deed in done if deed.until >= start]
    panels += (_lane(name, deeds, start, words) for name, deeds in deeds_by_lane(shown))
    events = [deed.at for deed in shown if deed.lane == "event"]
    return draw(Timeline(*named, start, end, tuple(panels), events, of[0].today), words)


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
    return Panel(heading, LEVEL_HEIGHT, low, high, (*band, *ahead, *(told if rows.level else joined), *read))


def _signed(rows: WaterRows, standing: Standing) -> list[tuple[float, float, str]]:
    return [(s.at, s.value, f"{s.moment}: {s.words}") for s in rows.readings if s.standing == standing]


def _lane(name: str, deeds: list[Deed], start: int, words: Words) -> Lane:
    lasting = [deed for deed in deeds if deed.until > deed.at]
    at_once = [deed for deed in deeds if deed.until == deed.at]
    return Lane(
        words(f"chart.lanes.{name}"),
        f"deed-{name}",
        SIGN_OF_LANE.get(name, "tick"),
        [(max(deed.at, start), deed.until, deed.words) for deed in lasting],
        [(deed.at, deed.words) for deed in at_once],
    )


def uptake_panel(rows: WaterRows, heading: str, height: int = UPTAKE_HEIGHT) -> Panel:
    """What the coral takes up a day, and what is put in."""
    steps = [step for pair in pairwise(rows.supply) for step in (pair[0], (pair[1][0], pair[0][1]))]
    return Panel(
        heading,
        height,
        *(rows.uptake_ends or (0.0, 1.0)),
        (
            Line("supply-line", steps),
            Area("uptake", [(p.at, p.low, p.high) for p in rows.uptake]),
            Line("uptake-line", [(p.at, p.value) for p in rows.uptake]),
        ),
    )
