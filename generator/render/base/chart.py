"""A chart as a page holds it."""

import json
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime
from functools import cache
from hashlib import sha256
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from markupsafe import Markup
from msgspec import Struct

from generator.render.base.words import Words, template_files

_T = TypeVar("_T")
Columns = Mapping[str, Sequence[float | str | None]]


class Key(Struct, frozen=True):
    """One line of the legend: the class of its swatch, and its words."""

    look: str
    words: str


class Chart(Struct, frozen=True):
    """One chart of one page.

    `kind` names its specification (see `specification`); `data` are that specification's data
    sets as columns of equal length; `svg` is the still picture of the same data; `columns` and `rows`
    are the numbers for those who cannot see it, and `rows_note` says which of them these are. `ranges` names the spans
    of time that the live chart can show, and says which of them the still picture shows.
    """

    id: str
    kind: str
    title: str
    description: str
    svg: Markup
    data: dict[str, Columns]
    keys: tuple[Key, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    rows_note: str
    ranges: tuple[tuple[str, bool], ...] = ()


MS_PER_DAY = 86_400_000


def day_clock(day: date) -> int:
    """The first moment of a day, as `wall_clock` gives it."""
    return (day - date(1970, 1, 1)).days * MS_PER_DAY


def wall_clock(moment: datetime, zone: ZoneInfo) -> int:
    """A moment as ms of the zone's wall clock, written as if it were UTC."""
    return round(moment.astimezone(zone).replace(tzinfo=UTC).timestamp() * 1000)


def columns(items: Sequence[_T], **fields: Callable[[_T], float | str | None]) -> Columns:
    """Items as columns: half as long on a page as rows, which repeat every name."""
    return {name: tuple(field(item) for item in items) for name, field in fields.items()}


class Plotted(Struct, frozen=True):
    """An estimate at a moment, in numbers and in words."""

    at: int
    moment: str
    value: float
    low: float
    high: float
    words: str


def short(value: float | None) -> float | None:
    """A number with five significant digits: no screen shows more."""
    return None if value is None else float(f"{value:.5g}")


def point_columns(points: Sequence[Any], **more: Callable[[Any], float | str | None]) -> Columns:
    """Columns of points, each with a moment (`at`), a value and its interval, and of what else is told of them."""
    return columns(
        points,
        t=lambda point: point.at,
        value=lambda point: short(point.value),
        low=lambda point: short(point.low),
        high=lambda point: short(point.high),
        **more,
    )


def thinned(points: Sequence[_T], most: int) -> list[_T]:
    """Evenly spaced points, at most `most` of them, with the last one."""
    step = -(-len(points) // most) if points else 1
    return list(points[::-step])[::-1]


# How d3-time-format writes the day of a month.
_DAY = "%-d"
KINDS = ("water", "growth", "change")


def specification_in_words(kind: str, words: Words) -> dict[str, Any]:
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


def beside(charts: Sequence[Chart], words: Words) -> tuple[str, bytes]:
    """Address and content of the script that gives a page's charts their data, and each kind's specification once."""
    given = {
        "kinds": {kind: specification_in_words(kind, words) for kind in sorted({chart.kind for chart in charts})},
        "data": {chart.id: chart.data for chart in charts},
    }
    script = f"chartData({json.dumps(given, ensure_ascii=False, separators=(',', ':'))})\n".encode()
    return f"charts/{charts[0].id.removeprefix('chart-')}-{sha256(script).hexdigest()[:10]}.js", script
