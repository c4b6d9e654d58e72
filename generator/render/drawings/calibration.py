"""How often what was predicted came about: for each stated chance, the share of readings that fell inside."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

_LEFT, _TOP, _SIZE, _FOOT, _RIGHT = 44, 12, 200, 40, 20


@dataclass(frozen=True, slots=True)
class Calibration:
    """A picture of stated chance against share found, both in per cent; `low` and `high` are what luck alone gives."""

    id: str
    title: str
    description: str
    stated: str
    points: Sequence[tuple[float, float]]
    luck: Sequence[tuple[float, float, float]]


def draw(of: Calibration) -> str:
    """The picture as one SVG element; on the diagonal the ranges are as wide as they should be."""
    named, width, height = escape(of.id), _LEFT + _SIZE + _RIGHT, _TOP + _SIZE + _FOOT
    there = "L".join(f"{_x(stated)} {_y(high)}" for stated, _, high in of.luck)
    back = "L".join(f"{_x(stated)} {_y(low)}" for stated, low, _ in reversed(of.luck))
    line = "L".join(f"{_x(stated)} {_y(found)}" for stated, found in of.points)
    grid = "".join(f"M{_x(0)} {_y(share)}H{_x(100)}" for share in (0, 50, 100))
    parts = [
        f'<path class="t-level" d="M{there}L{back}Z"/>',
        f'<path class="t-grid" fill="none" stroke="currentColor" d="{grid}"/>',
        f'<path class="t-ahead-line" fill="none" stroke="currentColor" d="M{_x(0)} {_y(0)}L{_x(100)} {_y(100)}"/>',
        f'<path class="t-level-line" fill="none" stroke="currentColor" d="M{line}"/>',
        *(f'<circle class="t-level-dot" cx="{_x(stated)}" cy="{_y(found)}" r="4"/>' for stated, found in of.points),
        *(_text(_LEFT - 6, _y(share) + 4, "end", f"{share}\u00a0%") for share in (0, 50, 100)),
        *(_text(_x(share), _y(0) + 18, "middle", f"{share}\u00a0%") for share in (0, 50, 100)),
        _text(_x(50), _y(0) + 35, "middle", of.stated),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="timeline calibration" role="img" width="{width}"'
        f' height="{height}" viewBox="0 0 {width} {height}" aria-labelledby="{named}-title {named}-words">'
        f'<title id="{named}-title">{escape(of.title)}</title>'
        f'<desc id="{named}-words">{escape(of.description)}</desc>{"".join(parts)}</svg>'
    )


def _text(x: float, y: float, anchor: str, words: str) -> str:
    return f'<text class="t-tick" x="{x}" y="{y}" text-anchor="{anchor}">{escape(words)}</text>'


def _x(share: float) -> float:
    return round(_LEFT + _SIZE * share / 100, 1)


def _y(share: float) -> float:
    return round(_TOP + _SIZE * (1 - share / 100), 1)
