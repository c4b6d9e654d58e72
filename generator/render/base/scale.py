"""The marks of an axis and their labels."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from generator.render.base.numbers import plain
from generator.render.base.words import Words


@dataclass(frozen=True, slots=True)
class Tick:
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
