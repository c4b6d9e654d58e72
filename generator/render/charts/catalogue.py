"""The kinds of chart, and the specification of each, free of data: as `making` made them, once for all builds."""

import json
from functools import cache
from typing import Any

from generator.render.base.template_files import template_files
from generator.render.base.words import Words

# How d3-time-format writes the day of a month.
_DAY = "%-d"
KINDS = ("water", "growth", "change")


def in_words(kind: str, words: Words) -> dict[str, Any]:
    """The specification of one kind of chart, its axes in a language's months and signs."""
    day = words("numbers.day", day=_DAY, month="%b")
    made: dict[str, Any] = json.loads(json.dumps(specification(kind)).replace(f"{_DAY} %b", day))
    months = [words(f"months.{month}") for month in range(1, 13)]
    days, short_days = ([words(f"{key}.{(day + 6) % 7}") for day in range(7)] for key in ("weekdays", "weekdays_short"))
    made["config"]["locale"] = {
        # The shapes are those of d3-format and d3-time-format; only months and the decimal sign are ever used.
        "number": {"decimal": words("numbers.decimal"), "thousands": "", "grouping": [3], "currency": ["", ""]},
        "time": {
            "dateTime": "%Y-%m-%d %H:%M",
            "date": "%Y-%m-%d",
            "time": "%H:%M",
            "periods": ["", ""],
            "days": days,
            "shortDays": short_days,
            "months": months,
            "shortMonths": months,
        },
    }
    return made


@cache
def specification(kind: str) -> dict[str, Any]:
    """The Vega-Lite specification of one kind of chart (see `KINDS`), in no language yet."""
    kept: dict[str, Any] = json.loads((template_files() / "charts" / f"{kind}.json").read_text("utf-8"))
    return kept
