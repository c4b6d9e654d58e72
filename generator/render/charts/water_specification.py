"""The specification of the water chart for scripts: panels, marks and words by name, and no data.

The data sets are named, and filled from `water.water_chart`; the colours are the stylesheet's variables,
so that one chart follows a dark page and paper alike.
"""

from typing import Any

import altair as alt

from generator.render.charts.specification_parts import (
    Marks,
    config,
    data_set,
    frame,
    heading,
    interval,
    time_axis,
    under_pointer,
)
from generator.render.charts.water_deeds import LANES, SIGN_OF_LANE
from generator.render.drawings.signs import SIGNS

LEVEL_HEIGHT, UPTAKE_HEIGHT, LANE_HEIGHT = 190, 104, 27
# An outline of our own is drawn at its own size where the area of the mark is four.
_OWN_OUTLINE = 4


def water_specification(with_uptake: bool) -> dict[str, Any]:
    """The validated specification: level and deeds, and below them the uptake where there is one."""
    panels = [_level_panel(with_uptake), _deeds_panel(labelled=not with_uptake)]
    if with_uptake:
        panels.append(_uptake_panel())
    chart = (
        alt.vconcat(*panels, spacing=8)
        .resolve_scale(x="shared", color="independent", shape="independent")
        .configure(**config())
    )
    made: dict[str, Any] = chart.to_dict()
    return made


def _through() -> tuple[Marks, Marks]:
    events = data_set("events").mark_rule(color="var(--chart-event)", strokeDash=[2, 3]).encode(x="t:T")
    today = data_set("today").mark_rule(color="var(--chart-faint)", strokeDash=[1, 3]).encode(x="t:T")
    return events, today


def _level_panel(with_uptake: bool) -> Marks:
    readings = data_set("readings")
    bars = readings.mark_rule(color="var(--chart-reading)", opacity=0.45).encode(x="t:T", y="low:Q", y2="high:Q")
    shape = alt.Scale(domain=["usual", "doubtful", "below"], range=["circle", SIGNS["diamond"], SIGNS["below"]])
    colour = alt.Scale(
        domain=["usual", "doubtful", "below"],
        range=["var(--chart-reading)", "var(--chart-doubt)", "var(--chart-reading)"],
    )
    points = readings.mark_point(filled=True, size=26, opacity=1, stroke="var(--chart-paper)", strokeWidth=1).encode(
        x="t:T",
        y="value:Q",
        shape=alt.Shape("standing:N", scale=shape, legend=None),
        color=alt.Color("standing:N", scale=colour, legend=None),
        size=alt.condition("datum.standing == 'usual'", alt.value(26), alt.value(_OWN_OUTLINE)),
        tooltip="words:N",
        description="words:N",
    )
    strip = data_set("band").mark_rect(color="var(--chart-band)").encode(y="low:Q", y2="high:Q")
    joined = data_set("joined").mark_line(color="var(--chart-reading)", opacity=0.35, strokeWidth=1)
    level = data_set("track").mark_line(color="var(--chart-level)", strokeWidth=2).encode(x="t:T", y="level:Q")
    ahead = data_set("ahead").mark_line(color="var(--chart-level)", strokeDash=[4, 4]).encode(x="t:T", y="value:Q")
    estimated = (interval("track", "low", "high", "var(--chart-level)", 0.18), level, under_pointer("day_of_level"))
    return alt.layer(
        strip,
        frame("level", 5, labelled=False),
        *_through(),
        interval("ahead", "low", "high", "var(--chart-level)", 0.1),
        ahead,
        *(estimated if with_uptake else (joined.encode(x="t:T", y="value:Q", detail="run:N"),)),
        bars,
        points,
        heading("level"),
    ).properties(height=LEVEL_HEIGHT)


def _deeds_panel(labelled: bool) -> Marks:
    lane = alt.Y("lane:N", sort=None, axis=None, scale=alt.Scale(paddingInner=0, paddingOuter=0))
    colour = alt.Scale(
        domain=LANES,
        range=[f"var(--chart-{name})" for name in ("dose", "dose", "dose", "dose", "water", "event")],
    )
    shape = alt.Scale(
        domain=LANES,
        range=[SIGNS[SIGN_OF_LANE.get(lane, "tick")] for lane in LANES],
    )
    look: Any = {
        "color": alt.Color("lane:N", scale=colour, legend=None),
        "tooltip": "words:N",
        "description": "words:N",
    }
    names = data_set("lanes").mark_text(align="left", baseline="middle", color="var(--chart-faint)", dy=-8, fontSize=11)
    spans = data_set("spans").mark_bar(height=5, cornerRadius=2, yOffset=5, opacity=0.75)
    marks = data_set("moments").mark_point(filled=True, size=_OWN_OUTLINE, opacity=1, yOffset=5)
    return alt.layer(
        data_set("frame").mark_point(opacity=0, aria=False).encode(x=time_axis(labelled)),
        *_through(),
        names.encode(x=alt.value(2), y=lane, text="words:N"),
        spans.encode(x="t:T", x2="until:T", y=lane, **look),
        marks.encode(x="t:T", y=lane, shape=alt.Shape("lane:N", scale=shape, legend=None), **look),
    ).properties(height=alt.Step(LANE_HEIGHT))


def _uptake_panel() -> Marks:
    rate = data_set("track").mark_line(color="var(--chart-uptake)", strokeWidth=2).encode(x="t:T", y="rate:Q")
    put_in = data_set("supply").mark_line(color="var(--chart-dose)", interpolate="step-after", strokeWidth=1.5)
    return alt.layer(
        frame("rate", 3, labelled=True),
        *_through(),
        put_in.encode(x="t:T", y="value:Q"),
        interval("track", "rate_low", "rate_high", "var(--chart-uptake)", 0.2),
        rate,
        under_pointer("day_of_uptake"),
        heading("uptake"),
    ).properties(height=UPTAKE_HEIGHT)
