"""The specification of the growth chart for scripts: measurements of one kind over time, and where they lead."""

from typing import Any

import altair as alt

from generator.render.charts.specification_parts import config, data_set, frame, heading, interval
from generator.render.drawings.signs import SIGNS

HEIGHT = 200


def growth_specification() -> dict[str, Any]:
    """The validated specification; its data sets are filled by `growth.growth_chart`."""
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
    chart = (
        alt.layer(
            frame("value", 5, labelled=True),
            today,
            breaks.encode(x="t:T", tooltip="words:N"),
            interval("ahead", "low", "high", "var(--chart-level)", 0.1),
            ahead,
            joined.encode(x="t:T", y="value:Q", detail="run:N"),
            bars,
            dots,
            fell.encode(x="t:T", y=alt.value(6), tooltip="words:N", description="words:N"),
            heading("value"),
        )
        .properties(height=HEIGHT)
        .configure(**config())
    )
    made: dict[str, Any] = chart.to_dict()
    return made
