"""A chart as a page holds it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TypeVar
from zoneinfo import ZoneInfo

from markupsafe import Markup

_T = TypeVar("_T")
Columns = Mapping[str, Sequence[float | str | None]]


@dataclass(frozen=True, slots=True)
class Key:
    """One line of the legend: the class of its swatch, and its words."""

    look: str
    words: str


@dataclass(frozen=True, slots=True)
class Chart:
    """One chart of one page.

    `kind` names its specification (see `catalogue.specifications`); `data` are that specification's data
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


def wall_clock(moment: datetime, zone: ZoneInfo) -> int:
    """A moment as ms of the zone's wall clock, written as if it were UTC."""
    return round(moment.astimezone(zone).replace(tzinfo=UTC).timestamp() * 1000)


def columns(items: Sequence[_T], **fields: Callable[[_T], float | str | None]) -> Columns:
    """Items as columns: half as long on a page as rows, which repeat every name."""
    return {name: tuple(field(item) for item in items) for name, field in fields.items()}


def thinned(points: Sequence[_T], most: int) -> list[_T]:
    """Evenly spaced points, `most` at the most, always with the last."""
    step = -(-len(points) // most) if points else 1
    return list(points[::-step])[::-1]
