"""Places along a scale: marks of an axis, estimates on strips, a reading against its band; and rows for charts."""

import math
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING, Any, Literal, TypeVar
from zoneinfo import ZoneInfo

from msgspec import Struct

from generator.render.base.blocks import Columns, Drawn
from generator.render.base.links import Inline
from generator.render.base.numbers import Shown, plain
from generator.render.base.words import Words
from generator.units.quantity import Estimate, coverage_factor

if TYPE_CHECKING:
    from generator.reckon.water.findings import Latest


class Tick(Struct, frozen=True):
    """A mark on an axis and its label."""

    at: float
    label: str


def number_ticks(words: Words, low: float, high: float, most: int = 5) -> tuple[Tick, ...]:
    """About `most` round numbers between two ends, each with the decimals its step needs."""
    power = 10.0 ** math.floor(math.log10((high - low) / (most + 1)))
    for step in (power * nice for nice in (1, 2, 5, 10, 20)):
        first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
        if last - first <= most:
            break
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    return tuple(Tick(n * step, plain(words, n * step, decimals)) for n in range(first, last + 1))


def time_ticks(words: Words, start: float, end: float, most: int = 7) -> tuple[Tick, ...]:
    """Days, Mondays, months or years between two moments, given in ms of the keeper's wall clock.

    A month that is January, the first on the axis, or there a second time carries its year.
    """
    days = (end - start) / 86_400_000
    for step in (1, 2, 7, 14):
        if days / step <= most:
            return tuple(_day_ticks(words, start, end, step))
    for months in (1, 2, 3, 6, 12, 24, 60, 120):
        if days / 30.44 / months <= most:
            return tuple(_month_ticks(words, start, end, months))
    return ()


def _wall(ms: float) -> datetime:
    return datetime.fromtimestamp(ms / 1000, UTC)


def _day_ticks(words: Words, start: float, end: float, step: int) -> Iterator[Tick]:
    day = _wall(start).replace(hour=0, minute=0, second=0, microsecond=0)
    # Counted from a Monday, so that weekly marks are Mondays and others stay put as the window moves.
    day -= timedelta(days=(day.toordinal() - 1) % step)
    while day.timestamp() * 1000 <= end:
        if day.timestamp() * 1000 >= start:
            yield Tick(day.timestamp() * 1000, words("numbers.day", day=day.day, month=words(f"months.{day.month}")))
        day += timedelta(days=step)


def _month_ticks(words: Words, start: float, end: float, step: int) -> Iterator[Tick]:
    first = _wall(start)
    month = (first.year * 12 + first.month - 1) // step * step
    seen: set[str] = set()
    while (at := datetime(month // 12, month % 12 + 1, 1, tzinfo=UTC).timestamp() * 1000) <= end:
        if at >= start:
            name = words(f"months.{month % 12 + 1}")
            # A month that stands there already, a year or more before, has its year too.
            yield Tick(at, f"{name} {month // 12}" if not seen or month % 12 == 0 or name in seen else name)
            seen.add(name)
        month += step


Look = Literal["predicted", "way", "measured", "both", "plain"]
# An interval may run off the scale if it is so long that the others could not be read.
_LONGEST = 2.5


class Row(Struct, frozen=True):
    """One estimate to draw: its label, its text, its numbers and its look."""

    label: Inline
    said: Shown
    found: Estimate
    look: Look = "plain"


class Strip(Struct, frozen=True):
    """A row with its positions along the scale in per cent; `beyond`: its interval is longer than the scale."""

    label: Inline
    said: Shown
    look: Look
    start: str
    width: str
    value: str
    beyond: bool


class Ranges(Struct, frozen=True):
    """Strips over one scale, its marks, and the position of the reference, if there is one: no script is needed."""

    title: str
    unit: str
    strips: tuple[Strip, ...]
    ticks: tuple[tuple[str, str], ...]
    reference: str


def drawn_ranges(words: Words, title: str, unit: str, rows: Sequence[Row], reference: float | None = None) -> Drawn:
    """The rows as a picture, if there are any: see `ranges`."""
    return Drawn("ranges", ranges(words, title, unit, rows, reference) if rows else None)


def ranges(words: Words, title: str, unit: str, rows: Sequence[Row], reference: float | None = None) -> Ranges:
    """The rows on a scale that holds every value and all but the longest intervals.

    It starts at zero, or below if an interval does. With a `reference` it is centred on that.
    """
    low, high = _ends_of(rows) if reference is None else _about(rows, reference)
    span = high - low

    def at(value: float) -> float:
        return min(max((value - low) / span, 0.0), 1.0)

    return Ranges(
        title,
        unit,
        tuple(
            Strip(
                row.label,
                row.said,
                row.look,
                _percent(at(row.found.low)),
                _percent(at(row.found.high) - at(row.found.low)),
                _percent(at(row.found.value)),
                row.found.high > high,
            )
            for row in rows
        ),
        tuple((_percent(at(tick.at)), tick.label) for tick in number_ticks(words, low, high, 4)),
        "" if reference is None else _percent(at(reference)),
    )


def _ends_of(rows: Sequence[Row]) -> tuple[float, float]:
    most = max(*(abs(row.found.value) for row in rows), 0.0) * _LONGEST
    high = max(0.0, min(max(row.found.high for row in rows), most))
    low = min(0.0, max(min(row.found.low for row in rows), -most))
    room = 0.03 * (high - low or 1.0)
    return low - (room if low < 0.0 else 0.0), high + room


def _about(rows: Sequence[Row], reference: float) -> tuple[float, float]:
    half = max(abs(each - reference) for row in rows for each in (row.found.low, row.found.high)) or 1.0
    return reference - 1.05 * half, reference + 1.05 * half


def _percent(share: float) -> str:
    return f"{100.0 * share:.4g}%"


# The band takes the middle of the strip; this much of its width is shown on either side.
_MARGIN = 0.6


class Gauge(Struct, frozen=True):
    """Places along the strip in per cent, ready to be drawn; None where there is nothing to draw.

    `band` and `error` are (start, width). `beyond` says at which end a value lies off the strip, `was` where an
    earlier one lay.
    """

    band: tuple[str, str]
    low: str | None
    high: str | None
    target: str | None
    value: str
    error: tuple[str, str] | None
    beyond: str
    standing: str
    was: str | None = None


def gauge(latest: "Latest", standard: float | None, was: float | None = None) -> Gauge | None:
    """The gauge of a reading with the kit's standard deviation (canonical unit); None without a band.

    `was` is an earlier value to show beside it.
    """
    if latest.low is None and latest.high is None:
        return None
    start, end = _strip(latest)
    half = (standard or 0.0) * coverage_factor()

    def at(value: float) -> float:
        return min(1.0, max(0.0, (value - start) / (end - start)))

    band_start = at(latest.low) if latest.low is not None else 0.0
    band_end = at(latest.high) if latest.high is not None else 1.0
    error = (at(latest.value - half), at(latest.value + half))
    return Gauge(
        (_percent(band_start), _percent(band_end - band_start)),
        None if latest.low is None else _percent(band_start),
        None if latest.high is None else _percent(band_end),
        None if latest.target is None else _percent(at(latest.target)),
        _percent(min(0.985, max(0.015, at(latest.value)))),
        (_percent(error[0]), _percent(error[1] - error[0])) if half else None,
        "below" if latest.value < start else "above" if latest.value > end else "",
        latest.standing,
        None if was is None else _percent(min(0.985, max(0.015, at(was)))),
    )


def _strip(latest: "Latest") -> tuple[float, float]:
    """The ends of the strip: from zero if only a high end is set, otherwise the band with a margin."""
    if latest.low is None:
        high = latest.high if latest.high else 1.0
        return 0.0, high * (1 + _MARGIN)
    if latest.high is None:
        return latest.low * (1 - _MARGIN), latest.low * (1 + _MARGIN)
    margin = (latest.high - latest.low or 1.0) * _MARGIN
    return latest.low - margin, latest.high + margin


_T = TypeVar("_T")


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
