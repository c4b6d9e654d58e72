"""The specification of the water chart for scripts: its panels, marks and words by name, and no data.

It holds one panel of each part: a level, an uptake, and what was done. The page's script repeats the first two for each
quantity (`of-` in the name of a data set becomes its name) over one axis of time, and moves `at` with the pointer.
"""

from typing import Any

import altair as alt

from generator.render.charts.specification_parts import Marks, config, data_set, interval, time_axis, value_axis
from generator.render.charts.water_deeds import LANES, SIGN_OF_LANE
from generator.render.charts.water_picture import LEVEL_HEIGHT, UPTAKE_HEIGHT
from generator.render.drawings.signs import SIGNS

LANE_HEIGHT = 27
# An outline of our own is drawn at its own size where the area of the mark is four.
_OWN_OUTLINE = 4


def water_specification() -> dict[str, Any]:
    """The validated specification: a level, an uptake, and what was done."""
    chart = (
        alt.vconcat(_level_panel(), _uptake_panel(), _deeds_panel(), spacing=8)
        .resolve_scale(x="shared", color="independent", shape="independent")
        .add_params(alt.param(name="at", value=0))
        .configure(**config())
    )
    made: dict[str, Any] = chart.to_dict()
    return made


def _frame(part: str) -> Marks:
    """An invisible layer that sets the ends of both axes, and the words above the panel."""
    ends = data_set(f"of-{part}-frame").mark_point(opacity=0, aria=False)
    head = data_set(f"of-{part}-head").mark_text(align="left", baseline="bottom", fontWeight=600, clip=False)
    return (
        ends.encode(x=time_axis(labelled=False), y=value_axis("value", 3, f"of-{part}-frame")),
        head.encode(x=alt.value(0), y=alt.value(-4), text="words:N"),
    )


def _through() -> tuple[Marks, ...]:
    events = data_set("events").mark_rule(color="var(--chart-event)", strokeDash=[2, 3], clip=True).encode(x="t:T")
    today = data_set("today").mark_rule(color="var(--chart-faint)", strokeDash=[1, 3], clip=True).encode(x="t:T")
    pointer = data_set("here").mark_rule(color="var(--chart-ink)", clip=True).encode(x="t:T")
    return events, today, pointer.transform_calculate(t="at").transform_filter("datum.t > 0")


def _level_panel() -> Marks:
    readings = data_set("of-readings")
    bars = readings.mark_rule(color="var(--chart-reading)", opacity=0.45, clip=True)
    shape = alt.Scale(domain=["usual", "doubtful", "below"], range=["circle", SIGNS["diamond"], SIGNS["below"]])
    colour = alt.Scale(
        domain=["usual", "doubtful", "below"],
        range=["var(--chart-reading)", "var(--chart-doubt)", "var(--chart-reading)"],
    )
    points = readings.mark_point(
        filled=True, size=26, opacity=1, stroke="var(--chart-paper)", strokeWidth=1, clip=True
    ).encode(
        x="t:T",
        y="value:Q",
        shape=alt.Shape("standing:N", scale=shape, legend=None),
        color=alt.Color("standing:N", scale=colour, legend=None),
        size=alt.condition("datum.standing == 'usual'", alt.value(26), alt.value(_OWN_OUTLINE)),
        tooltip="words:N",
        description="words:N",
    )
    strip = data_set("of-band").mark_rect(color="var(--chart-band)", clip=True).encode(y="low:Q", y2="high:Q")
    joined = data_set("of-joined").mark_line(color="var(--chart-reading)", opacity=0.35, strokeWidth=1, clip=True)
    level = data_set("of-track").mark_line(color="var(--chart-level)", strokeWidth=2, clip=True)
    ahead = data_set("of-ahead").mark_line(color="var(--chart-level)", strokeDash=[4, 4], clip=True)
    return alt.layer(
        strip,
        *_frame("level"),
        *_through(),
        interval("of-ahead", "low", "high", "var(--chart-level)", 0.1),
        ahead.encode(x="t:T", y="value:Q"),
        interval("of-track", "low", "high", "var(--chart-level)", 0.18),
        level.encode(x="t:T", y="level:Q"),
        joined.encode(x="t:T", y="value:Q", detail="run:N"),
        bars.encode(x="t:T", y="low:Q", y2="high:Q"),
        points,
    ).properties(height=LEVEL_HEIGHT, name="level")


def _uptake_panel() -> Marks:
    rate = data_set("of-track").mark_line(color="var(--chart-uptake)", strokeWidth=2, clip=True)
    put_in = data_set("of-supply").mark_line(
        color="var(--chart-dose)", interpolate="step-after", strokeWidth=1.5, clip=True
    )
    return alt.layer(
        *_frame("uptake"),
        *_through(),
        put_in.encode(x="t:T", y="value:Q"),
        interval("of-track", "rate_low", "rate_high", "var(--chart-uptake)", 0.2),
        rate.encode(x="t:T", y="rate:Q"),
    ).properties(height=UPTAKE_HEIGHT, name="uptake")


def _deeds_panel() -> Marks:
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
    names = data_set("lanes").mark_text(align="left", baseline="middle", color="var(--chart-faint)", dy=-8)
    spans = data_set("spans").mark_bar(height=5, cornerRadius=2, yOffset=5, opacity=0.75, clip=True)
    marks = data_set("moments").mark_point(filled=True, size=_OWN_OUTLINE, opacity=1, yOffset=5, clip=True)
    return alt.layer(
        data_set("frame").mark_point(opacity=0, aria=False).encode(x=time_axis(labelled=True)),
        *_through(),
        names.encode(x=alt.value(2), y=lane, text="words:N"),
        spans.encode(x="t:T", x2="until:T", y=lane, **look),
        marks.encode(x="t:T", y=lane, shape=alt.Shape("lane:N", scale=shape, legend=None), **look),
    ).properties(height=alt.Step(LANE_HEIGHT), name="deeds")
