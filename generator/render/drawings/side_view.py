"""One tank from the front, drawn to scale: each place at its height with its light, and what stands on it."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

_WIDE = 1000.0


@dataclass(frozen=True, slots=True)
class Shelf:
    """A place in cm from the left and from the floor; `shade` is its light from 0 to 1 (None: not measured)."""

    words: str
    x: float
    width: float
    height: float
    shade: float | None


@dataclass(frozen=True, slots=True)
class Colony:
    """A colony that stands at a height, all in cm, with its number in the list."""

    number: str
    x: float
    level: float
    length: float
    height: float


def draw(id: str, title: str, width: float, high: float, shelves: Sequence[Shelf], colonies: Sequence[Colony]) -> str:
    """The view as one SVG element; what stands nearer to the surface is higher up, where the light is stronger."""

    def u(cm: float) -> float:
        return round(_WIDE * cm / width, 1)

    top = max(high, *(colony.level + colony.height for colony in colonies), 0.0)
    deep, parts = u(top), [f'<rect class="p-glass" width="{_WIDE:g}" height="{u(top)}"/>']
    parts.append(f'<path class="p-surface" d="M0 {deep - u(high):.1f}H{_WIDE:g}"/>')
    for shelf in shelves:
        y = deep - u(shelf.height)
        if shelf.shade is not None:
            shade = f'fill-opacity="{0.08 + 0.5 * max(0.0, min(1.0, shelf.shade)):.2f}"'
            above = u(high) - u(shelf.height)
            place = f'x="{u(shelf.x)}" y="{deep - u(high):.1f}" width="{u(shelf.width)}" height="{max(above, 0):.1f}"'
            parts.append(f'<rect class="p-light" {place} {shade}/>')
        parts.append(f'<path class="p-shelf" d="M{u(shelf.x)} {y:.1f}h{u(shelf.width)}"/>')
        parts.append(
            f'<text class="p-words p-say" x="{u(shelf.x) + 4:.1f}" y="{y + 17:.1f}">{escape(shelf.words)}</text>'
        )
    for colony in sorted(colonies, key=lambda colony: -colony.length):
        half, high_, x, y = u(colony.length / 2), u(colony.height), u(colony.x), deep - u(colony.level)
        dome = f"M{x - half:.1f} {y:.1f}A{half} {high_} 0 0 1 {x + half:.1f} {y:.1f}Z"
        parts.append(f'<path class="p-coral" d="{dome}"/>')
    for colony in colonies:
        x, y = u(colony.x), deep - u(colony.level) - u(colony.height) - 4
        parts.append(
            f'<text class="p-number p-beside" x="{x}" y="{y:.1f}" text-anchor="middle">{escape(colony.number)}</text>'
        )
    named = escape(id)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="floor" role="img" width="100%"'
        f' viewBox="-2 -22 {_WIDE + 4:g} {deep + 44:.1f}" aria-labelledby="{named}-title">'
        f'<title id="{named}-title">{escape(title)}</title>{"".join(parts)}</svg>'
    )
