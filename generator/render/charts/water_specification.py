"""The specification of the water chart for scripts: panels, marks and words by name, and no data.

The data sets are named, and filled from `water.water_chart`; the colours are the stylesheet's variables,
so that one chart follows a dark page and paper alike.
"""

from typing import Any

import altair as alt

from generator.render.charts.water_deeds import LANES, SIGN_OF_LANE
from generator.render.drawings.signs import SIGNS

# altair's own annotations do not follow its chained calls.
Marks = Any

LEVEL_HEIGHT, UPTAKE_HEIGHT, LANE_HEIGHT = 190, 104, 27
_LABELS = 46
# An outline of our own is drawn at its own size where the area of the mark is four.
_OWN_OUTLINE = 4
_DAY_OR_MONTH = (
    "utcFormat(datum.value, utcdate(datum.value) > 1 ? '%-d %b'"
    " : utcmonth(datum.value) > 0 && datum.index > 0 ? '%b' : '%b %Y')"
)


def water_specification(with_uptake: bool) -> dict[str, Any]:
    """The validated specification: level and deeds, and below them the uptake where there is one."""
    panels = [_level_panel(with_uptake), _deeds_panel(labelled=not with_uptake)]
    if with_uptake:
        panels.append(_uptake_panel())
    chart = (
        alt.vconcat(*panels, spacing=8)
        .resolve_scale(x="shared", color="independent", shape="independent")
        .configure(**_config())
    )
    made: dict[str, Any] = chart.to_dict()
    return made


def _config() -> dict[str, Any]:
    return {
        "background": "transparent",
        "font": "system-ui, sans-serif",
        "padding": {"left": 0, "right": 4, "top": 4, "bottom": 6},
        "view": {"stroke": None},
        # Only marks with words of their own speak; the chart as a whole has its description.
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


def _framed(field: str) -> alt.ExprRef:
    """The ends of an axis as the page's data say them, so that both pictures have the same."""
    return alt.ExprRef(f"pluck(data('frame'), '{field}')")


def _time(labelled: bool) -> alt.X:
    axis = alt.Axis(title=None, labels=labelled, tickCount=7, labelExpr=_DAY_OR_MONTH, labelOverlap=True)
    return alt.X("t:T", axis=axis, scale=alt.Scale(type="utc", nice=False, domain=_framed("t")))


def _value(field: str, count: int) -> alt.Y:
    axis = alt.Axis(title=None, tickCount=count, minExtent=_LABELS, maxExtent=_LABELS)
    return alt.Y(f"{field}:Q", axis=axis, scale=alt.Scale(zero=False, nice=False, domain=_framed(field)))


def _data(name: str) -> Marks:
    return alt.Chart(alt.NamedData(name=name))


def _heading(panel: str) -> Marks:
    mark = _data("heads").mark_text(align="left", baseline="bottom", fontWeight=600, clip=False)
    return mark.encode(x=alt.value(-_LABELS), y=alt.value(-8), text="words:N").transform_filter(
        alt.FieldEqualPredicate(field="panel", equal=panel)
    )


def _frame(field: str, count: int, labelled: bool) -> Marks:
    return _data("frame").mark_point(opacity=0, aria=False).encode(x=_time(labelled), y=_value(field, count))


def _through() -> tuple[Marks, Marks]:
    events = _data("events").mark_rule(color="var(--chart-event)", strokeDash=[2, 3]).encode(x="t:T")
    today = _data("today").mark_rule(color="var(--chart-faint)", strokeDash=[1, 3]).encode(x="t:T")
    return events, today


def _under_pointer(name: str) -> Marks:
    """A rule that follows the pointer from day to day, with that day's numbers in words."""
    near = alt.selection_point(name=name, fields=["t"], nearest=True, on="pointerover", clear="pointerout", empty=False)
    rule = _data("track").mark_rule(color="var(--chart-faint)")
    shown = alt.condition(near, alt.value(0.7), alt.value(0), empty=False)
    return rule.encode(x="t:T", opacity=shown, tooltip="words:N").add_params(near)


def _interval(data: str, low: str, high: str, colour: str, opacity: float) -> Marks:
    return _data(data).mark_area(color=colour, opacity=opacity).encode(x="t:T", y=f"{low}:Q", y2=f"{high}:Q")


def _level_panel(with_uptake: bool) -> Marks:
    readings = _data("readings")
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
    strip = _data("band").mark_rect(color="var(--chart-band)").encode(y="low:Q", y2="high:Q")
    joined = _data("joined").mark_line(color="var(--chart-reading)", opacity=0.35, strokeWidth=1)
    level = _data("track").mark_line(color="var(--chart-level)", strokeWidth=2).encode(x="t:T", y="level:Q")
    ahead = _data("ahead").mark_line(color="var(--chart-level)", strokeDash=[4, 4]).encode(x="t:T", y="value:Q")
    estimated = (_interval("track", "low", "high", "var(--chart-level)", 0.18), level, _under_pointer("day_of_level"))
    return alt.layer(
        strip,
        _frame("level", 5, labelled=False),
        *_through(),
        _interval("ahead", "low", "high", "var(--chart-level)", 0.1),
        ahead,
        *(estimated if with_uptake else (joined.encode(x="t:T", y="value:Q", detail="run:N"),)),
        bars,
        points,
        _heading("level"),
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
    names = _data("lanes").mark_text(align="left", baseline="middle", color="var(--chart-faint)", dy=-8, fontSize=11)
    spans = _data("spans").mark_bar(height=5, cornerRadius=2, yOffset=5, opacity=0.75)
    marks = _data("moments").mark_point(filled=True, size=_OWN_OUTLINE, opacity=1, yOffset=5)
    return alt.layer(
        _data("frame").mark_point(opacity=0, aria=False).encode(x=_time(labelled)),
        *_through(),
        names.encode(x=alt.value(2), y=lane, text="words:N"),
        spans.encode(x="t:T", x2="until:T", y=lane, **look),
        marks.encode(x="t:T", y=lane, shape=alt.Shape("lane:N", scale=shape, legend=None), **look),
    ).properties(height=alt.Step(LANE_HEIGHT))


def _uptake_panel() -> Marks:
    rate = _data("track").mark_line(color="var(--chart-uptake)", strokeWidth=2).encode(x="t:T", y="rate:Q")
    put_in = _data("supply").mark_line(color="var(--chart-dose)", interpolate="step-after", strokeWidth=1.5)
    return alt.layer(
        _frame("rate", 3, labelled=True),
        *_through(),
        put_in.encode(x="t:T", y="value:Q"),
        _interval("track", "rate_low", "rate_high", "var(--chart-uptake)", 0.2),
        rate,
        _under_pointer("day_of_uptake"),
        _heading("uptake"),
    ).properties(height=UPTAKE_HEIGHT)
