"""Estimates side by side on one scale, each a strip with its interval: a picture without scripts."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from generator.render.base.numbers import Shown
from generator.render.base.scale import number_ticks
from generator.render.base.words import Words
from generator.units.quantity import Estimate

Look = Literal["predicted", "way", "measured", "both", "plain"]
# An interval may run off the scale if it is so long that the others could not be read.
_LONGEST = 2.5


@dataclass(frozen=True, slots=True)
class Row:
    """One estimate to draw: its label, its text, its numbers and its look."""

    label: str
    said: Shown
    found: Estimate
    look: Look = "plain"


@dataclass(frozen=True, slots=True)
class Strip:
    """A row with its positions along the scale in per cent; `beyond`: its interval is longer than the scale."""

    label: str
    said: Shown
    look: Look
    start: str
    width: str
    value: str
    beyond: bool


@dataclass(frozen=True, slots=True)
class Ranges:
    """Strips over one scale, its marks, and the position of the reference, if there is one."""

    title: str
    unit: str
    strips: tuple[Strip, ...]
    ticks: tuple[tuple[str, str], ...]
    reference: str


def ranges(words: Words, title: str, unit: str, rows: Sequence[Row], reference: float | None = None) -> Ranges:
    """The rows on a scale that holds every value and all but the longest intervals.

    It starts at zero, or below if an interval does. With a `reference` it is centred on that.
    """
    low, high = _ends(rows) if reference is None else _about(rows, reference)
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


def _ends(rows: Sequence[Row]) -> tuple[float, float]:
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
