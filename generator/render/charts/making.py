"""The specification of each kind of chart, made and validated by altair: slow, so that builds read what was made."""

from typing import Any

from generator.render.charts.change_specification import change_specification
from generator.render.charts.growth_specification import growth_specification
from generator.render.charts.water_specification import water_specification


def made(kind: str) -> dict[str, Any]:
    """The Vega-Lite specification of one kind of chart (see `catalogue.KINDS`)."""
    if kind == "growth":
        return growth_specification()
    if kind == "change":
        return change_specification()
    return water_specification()
