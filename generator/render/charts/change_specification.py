"""The specification of the live chart of a change: its size day by day, and the odds that it matters."""

from typing import Any

import altair as alt

from generator.render.charts.specification_parts import config, data_set, frame, heading, interval, under_pointer

RISE_HEIGHT, CHANCE_HEIGHT = 200, 84


def change_specification() -> dict[str, Any]:
    """The validated specification; its data sets are filled by `change.change_chart`."""
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
        frame("rise", 5, labelled=False),
        event,
        nothing,
        expected,
        interval("track", "low", "high", "var(--chart-uptake)", 0.16),
        alone,
        interval("track", "both_low", "both_high", "var(--chart-level)", 0.22),
        both,
        under_pointer("day_of_rise"),
        heading("rise"),
    ).properties(height=RISE_HEIGHT)
    surely = alt.layer(
        frame("chance", 3, labelled=True), event, chance, under_pointer("day_of_chance"), heading("chance")
    ).properties(height=CHANCE_HEIGHT)
    chart = alt.vconcat(rise, surely, spacing=14).resolve_scale(x="shared").configure(**config())
    made: dict[str, Any] = chart.to_dict()
    return made
