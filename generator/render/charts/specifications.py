"""The specification of each kind of chart for scripts: its panels, marks and words by name, and no data.

They are made and validated by altair, which is slow, so that builds read what was made (`.ci/chart_specifications.py`).
"""

from typing import Any

import altair as alt

from generator.render.charts.change import CHANCE_HEIGHT, RISE_HEIGHT
from generator.render.charts.growth import GROWTH_HEIGHT
from generator.render.charts.water import LEVEL_HEIGHT, UPTAKE_HEIGHT
from generator.render.charts.water_rows import LANES, SIGN_OF_LANE
from generator.render.drawings.timeline import SIGNS

# altair's own annotations do not follow its chained calls.
Marks = Any

_LABELS = 46
_DAY_OR_MONTH = (
    "utchours(datum.value) > 0 ? '' : utcFormat(datum.value, utcdate(datum.value) > 1 ? '%-d %b'"
    " : utcmonth(datum.value) > 0 && datum.index > 0 && span(domain('x')) < 366 * 864e5 ? '%b' : '%b %Y')"
)


def config() -> dict[str, Any]:
    """Colours are the stylesheet's variables, so that one chart follows a dark page and paper alike."""
    return {
        "background": "transparent",
        "font": "system-ui, sans-serif",
        "padding": {"left": 0, "right": 4, "top": 4, "bottom": 6},
        "view": {"stroke": None},
        # A screen reader reads only marks with a label; the chart as a whole has a description.
        **{mark: {"aria": False} for mark in ("area", "line", "rect", "rule")},
        "text": {"aria": False, "color": "var(--chart-ink)", "fontSize": 12},
        "axis": {
            "domain": False,
            "ticks": False,
            "gridColor": "var(--chart-grid)",
            "labelColor": "var(--chart-faint)",
            "labelFontSize": 12,
            "labelPadding": 8,
            "titleColor": "var(--chart-faint)",
        },
    }


def framed(field: str, data: str = "frame") -> alt.ExprRef:
    """The ends of an axis as the page's data say them, so that both pictures have the same."""
    return alt.ExprRef(f"pluck(data('{data}'), '{field}')")


def time_axis(labelled: bool) -> alt.X:
    """The axis of time, which reads UTC: times come as the wall clock's."""
    axis = alt.Axis(title=None, labels=labelled, tickCount=7, labelExpr=_DAY_OR_MONTH, labelOverlap=True)
    return alt.X("t:T", axis=axis, scale=alt.Scale(type="utc", nice=False, domain=framed("t")))


def value_axis(field: str, count: int, data: str = "frame") -> alt.Y:
    """An axis of a value, between the ends of a data set."""
    axis = alt.Axis(title=None, tickCount=count, minExtent=_LABELS, maxExtent=_LABELS)
    return alt.Y(f"{field}:Q", axis=axis, scale=alt.Scale(zero=False, nice=False, domain=framed(field, data)))


def data_set(name: str) -> Marks:
    """Marks of a data set that the page fills."""
    return alt.Chart(alt.NamedData(name=name))


def chart_heading(panel: str) -> Marks:
    """The words above a panel."""
    mark = data_set("heads").mark_text(align="left", baseline="bottom", fontWeight=600, clip=False)
    return mark.encode(x=alt.value(-_LABELS), y=alt.value(-8), text="words:N").transform_filter(
        alt.FieldEqualPredicate(field="panel", equal=panel)
    )


def chart_frame(field: str, count: int, labelled: bool) -> Marks:
    """An invisible layer that sets the ends of both axes."""
    return data_set("frame").mark_point(opacity=0, aria=False).encode(x=time_axis(labelled), y=value_axis(field, count))


def under_pointer(name: str) -> Marks:
    """A rule that follows the pointer from day to day, with that day's numbers in words."""
    near = alt.selection_point(name=name, fields=["t"], nearest=True, on="pointerover", clear="pointerout", empty=False)
    rule = data_set("track").mark_rule(color="var(--chart-faint)")
    shown = alt.condition(near, alt.value(0.7), alt.value(0), empty=False)
    return rule.encode(x="t:T", opacity=shown, tooltip="words:N").add_params(near)


def interval_layer(data: str, low: str, high: str, colour: str, opacity: float) -> Marks:
    """The area between two fields."""
    return (
        data_set(data).mark_area(color=colour, opacity=opacity, clip=True).encode(x="t:T", y=f"{low}:Q", y2=f"{high}:Q")
    )


LANE_HEIGHT = 27
# An outline of our own is drawn at its own size where the area of the mark is four.
_OWN_OUTLINE = 4


def water_specification() -> Marks:
    """A level, an uptake, and what was done, one panel of each.

    The page's script repeats the first two for each quantity (`of-` in the name of a data set becomes its name) over
    one axis of time, and moves `at` with the pointer.
    """
    return (
        alt.vconcat(_level_panel(), _uptake_panel(), _deeds_panel(), spacing=8)
        .resolve_scale(x="shared", color="independent", shape="independent")
        .add_params(alt.param(name="at", value=0))
        .configure(**config())
    )


def _water_frame(part: str) -> Marks:
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
        *_water_frame("level"),
        *_through(),
        interval_layer("of-ahead", "low", "high", "var(--chart-level)", 0.1),
        ahead.encode(x="t:T", y="value:Q"),
        interval_layer("of-track", "low", "high", "var(--chart-level)", 0.18),
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
        *_water_frame("uptake"),
        *_through(),
        put_in.encode(x="t:T", y="value:Q"),
        interval_layer("of-track", "rate_low", "rate_high", "var(--chart-uptake)", 0.2),
        rate.encode(x="t:T", y="rate:Q"),
    ).properties(height=UPTAKE_HEIGHT, name="uptake")


def _deeds_panel() -> Marks:
    lane = alt.Y("lane:N", sort=None, axis=None, scale=alt.Scale(paddingInner=0, paddingOuter=0))
    colour = alt.Scale(
        domain=LANES, range=[f"var(--chart-{name})" for name in ("dose", "dose", "dose", "dose", "water", "event")]
    )
    shape = alt.Scale(domain=LANES, range=[SIGNS[SIGN_OF_LANE.get(lane, "tick")] for lane in LANES])
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


def growth_specification() -> Marks:
    """Measurements of one kind over time, and where they lead; `growth.growth_charts` fills its data sets."""
    points = data_set("points")
    bars = points.mark_rule(color="var(--chart-reading)", opacity=0.45).encode(x="t:T", y="low:Q", y2="high:Q")
    dots = points.mark_point(
        filled=True, size=30, opacity=1, color="var(--chart-reading)", stroke="var(--chart-paper)", strokeWidth=1
    ).encode(x="t:T", y="value:Q", tooltip="words:N", description="words:N")
    joined = data_set("joined").mark_line(color="var(--chart-level)", strokeWidth=2)
    ahead = data_set("ahead").mark_line(color="var(--chart-level)", strokeDash=[4, 4]).encode(x="t:T", y="value:Q")
    breaks = data_set("breaks").mark_rule(color="var(--chart-event)", strokeDash=[2, 3], strokeWidth=2)
    fell = data_set("fell").mark_point(filled=True, shape=SIGNS["below"], size=4, opacity=1, color="var(--chart-doubt)")
    today = data_set("today").mark_rule(color="var(--chart-faint)", strokeDash=[1, 3]).encode(x="t:T")
    return (
        alt.layer(
            chart_frame("value", 5, labelled=True),
            today,
            breaks.encode(x="t:T", tooltip="words:N"),
            interval_layer("ahead", "low", "high", "var(--chart-level)", 0.1),
            ahead,
            joined.encode(x="t:T", y="value:Q", detail="run:N"),
            bars,
            dots,
            fell.encode(x="t:T", y=alt.value(6), tooltip="words:N", description="words:N"),
            chart_heading("value"),
        )
        .properties(height=GROWTH_HEIGHT)
        .configure(**config())
    )


def change_specification() -> Marks:
    """Its size day by day, and the odds that it matters; `change.change_chart` fills its data sets."""
    event = data_set("event").mark_rule(color="var(--chart-event)", strokeDash=[2, 3]).encode(x="t:T")
    prior = data_set("prior")
    strip = prior.mark_rect(color="var(--chart-dose)", opacity=0.14).encode(y="low:Q", y2="high:Q")
    expected = prior.mark_rule(color="var(--chart-dose)", strokeDash=[6, 4]).encode(y="value:Q")
    nothing = data_set("nothing").mark_rule(color="var(--chart-faint)").encode(y="value:Q")
    alone = data_set("track").mark_line(color="var(--chart-uptake)", strokeWidth=1.5).encode(x="t:T", y="value:Q")
    both = data_set("track").mark_line(color="var(--chart-level)", strokeWidth=2).encode(x="t:T", y="both:Q")
    chance = data_set("track").mark_line(color="var(--chart-reading)", strokeWidth=2).encode(x="t:T", y="chance:Q")
    rise = alt.layer(
        strip,
        chart_frame("rise", 5, labelled=False),
        event,
        nothing,
        expected,
        interval_layer("track", "low", "high", "var(--chart-uptake)", 0.16),
        alone,
        interval_layer("track", "both_low", "both_high", "var(--chart-level)", 0.22),
        both,
        under_pointer("day_of_rise"),
        chart_heading("rise"),
    ).properties(height=RISE_HEIGHT)
    surely = alt.layer(
        chart_frame("chance", 3, labelled=True), event, chance, under_pointer("day_of_chance"), chart_heading("chance")
    ).properties(height=CHANCE_HEIGHT)
    return alt.vconcat(rise, surely, spacing=14).resolve_scale(x="shared").configure(**config())


def made(kind: str) -> dict[str, Any]:
    """The validated Vega-Lite specification of one kind of chart (see `KINDS_OF_CHART`)."""
    charts = {"water": water_specification, "growth": growth_specification, "change": change_specification}
    specification: dict[str, Any] = charts[kind]().to_dict()
    return specification
