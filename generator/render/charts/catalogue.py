"""The kinds of chart, and the specification of each: made and checked when first asked for, free of data."""

from functools import cache
from typing import Any

KINDS = ("water-level", "water-uptake", "growth", "change")


@cache
def specification(kind: str) -> dict[str, Any]:
    """The Vega-Lite specification of one kind of chart (see `KINDS`)."""
    # altair takes a third of a second to import: only a build that draws charts waits for it.
    from generator.render.charts.change_specification import change_specification
    from generator.render.charts.growth_specification import growth_specification
    from generator.render.charts.water_specification import water_specification

    if kind == "growth":
        return growth_specification()
    if kind == "change":
        return change_specification()
    return water_specification(with_uptake=kind == "water-uptake")
