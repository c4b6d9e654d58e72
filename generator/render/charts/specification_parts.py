"""What the specifications of all charts share: axes the page's data frame, headings, intervals, the pointer's rule."""

from typing import Any

import altair as alt

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


def heading(panel: str) -> Marks:
    """The words above a panel."""
    mark = data_set("heads").mark_text(align="left", baseline="bottom", fontWeight=600, clip=False)
    return mark.encode(x=alt.value(-_LABELS), y=alt.value(-8), text="words:N").transform_filter(
        alt.FieldEqualPredicate(field="panel", equal=panel)
    )


def frame(field: str, count: int, labelled: bool) -> Marks:
    """An invisible layer that sets the ends of both axes."""
    return data_set("frame").mark_point(opacity=0, aria=False).encode(x=time_axis(labelled), y=value_axis(field, count))


def under_pointer(name: str) -> Marks:
    """A rule that follows the pointer from day to day, with that day's numbers in words."""
    near = alt.selection_point(name=name, fields=["t"], nearest=True, on="pointerover", clear="pointerout", empty=False)
    rule = data_set("track").mark_rule(color="var(--chart-faint)")
    shown = alt.condition(near, alt.value(0.7), alt.value(0), empty=False)
    return rule.encode(x="t:T", opacity=shown, tooltip="words:N").add_params(near)


def interval(data: str, low: str, high: str, colour: str, opacity: float) -> Marks:
    """The area between two fields."""
    return (
        data_set(data).mark_area(color=colour, opacity=opacity, clip=True).encode(x="t:T", y=f"{low}:Q", y2=f"{high}:Q")
    )
