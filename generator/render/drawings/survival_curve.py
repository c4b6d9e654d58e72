"""How many of a group are left after so many days: the stepped curve, its interval, and how many are still watched."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

_LEFT, _SPAN = 9.0, 88.0
_HEIGHT, _TOP, _FOOT = 150, 12, 44
_THIN = 'fill="none" stroke="currentColor" vector-effect="non-scaling-stroke"'


@dataclass(frozen=True, slots=True)
class SurvivalCurve:
    """A curve: from each day on (the first is 0) the share left, low and high in per cent; `ticks` are
    days with how many were watched then, in words."""

    id: str
    title: str
    description: str
    last: float
    steps: Sequence[tuple[float, float, float, float]]
    ticks: Sequence[tuple[float, str, str]]


def draw(curve: SurvivalCurve) -> str:
    """The curve as one SVG element."""
    named = escape(curve.id)
    ends = [*(step[0] for step in curve.steps[1:]), curve.last]
    line = f"M0 {_y(100)}" + "".join(
        f"V{_y(left)}H{_x(curve, end)}" for (_, left, _, _), end in zip(curve.steps, ends, strict=True)
    )
    there = "".join(
        f"L{_x(curve, at)} {_y(high)}L{_x(curve, end)} {_y(high)}"
        for (at, _, _, high), end in zip(curve.steps, ends, strict=True)
    )
    back = "".join(
        f"L{_x(curve, end)} {_y(low)}L{_x(curve, at)} {_y(low)}"
        for (at, _, low, _), end in reversed(list(zip(curve.steps, ends, strict=True)))
    )
    grid = "".join(f"M0 {_y(share)}H1000" for share in (0, 25, 50, 75, 100))
    parts = [
        f'<svg x="{_LEFT}%" y="{_TOP}" width="{_SPAN}%" height="{_HEIGHT}" viewBox="0 0 1000 {_HEIGHT}"'
        ' preserveAspectRatio="none" aria-hidden="true">'
        f'<path class="t-level" d="M{there[1:]}{back}Z"/>'
        f'<path class="t-grid" {_THIN} d="{grid}"/><path class="t-level-line" {_THIN} d="{line}"/></svg>'
    ]
    parts += [_text(_LEFT - 0.9, _TOP + _y(share) + 4, "end", f"{share}\u00a0%") for share in (0, 50, 100)]
    bottom = _TOP + _HEIGHT
    for at, day, watched in curve.ticks:
        x = _LEFT + _SPAN * at / curve.last
        parts += [_text(x, bottom + 20, "middle", day), _text(x, bottom + 38, "middle", watched)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="timeline" role="img" width="100%" height="{bottom + _FOOT}"'
        f' aria-labelledby="{named}-title {named}-words"><title id="{named}-title">{escape(curve.title)}</title>'
        f'<desc id="{named}-words">{escape(curve.description)}</desc>{"".join(parts)}</svg>'
    )


def _text(x: float, y: float, anchor: str, words: str) -> str:
    return f'<text class="t-tick" x="{round(x, 2)}%" y="{round(y, 1)}" text-anchor="{anchor}">{escape(words)}</text>'


def _x(curve: SurvivalCurve, at: float) -> float:
    return round(1000 * at / curve.last, 1)


def _y(share: float) -> float:
    return round(_HEIGHT * (1 - share / 100), 1)
