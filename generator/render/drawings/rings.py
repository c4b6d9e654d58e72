"""A coral's footprint by year, one outline within the other to one scale, like the rings of a tree."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import cos, radians, sin

_WIDE, _FOOT, _EDGE = 260.0, 30.0, 6.0


@dataclass(frozen=True, slots=True)
class Ring:
    """The outline at a time: length and width in cm, and what it is called."""

    length: float
    width: float
    label: str


def draw(id: str, title: str, said: str, rings: Sequence[Ring], bar: tuple[float, str]) -> str:
    """The outlines as one SVG element, the largest filled; `bar`: length (cm) and words of the scale."""
    longest, widest = max(ring.length for ring in rings), max(ring.width for ring in rings)
    scale = (_WIDE - 2 * _EDGE) / max(longest, 1.2 * widest)
    high = scale * widest + 2 * _EDGE + 18
    x, y = _WIDE / 2, high / 2 + 6
    parts = []
    for number, ring in enumerate(sorted(rings, key=lambda ring: -ring.length)):
        rx, ry = (round(scale * side / 2, 1) for side in (ring.length, ring.width))
        look = "p-coral" if number == 0 else "p-ring"
        parts.append(f'<ellipse class="{look}" cx="{x:g}" cy="{y:.1f}" rx="{rx}" ry="{ry}"/>')
    # Labels stand on the edges of their rings, each further around, so that none covers another.
    for number, ring in enumerate(rings):
        turn = radians(200 + 280 * number / len(rings))
        across, down = x + scale * ring.length / 2 * cos(turn), y + scale * ring.width / 2 * sin(turn) + 4
        anchor = "start" if across < _WIDE / 4 else "end" if across > 3 * _WIDE / 4 else "middle"
        place = f'x="{min(max(across, 2.0), _WIDE - 2.0):.1f}" y="{down:.1f}" text-anchor="{anchor}"'
        parts.append(f'<text class="p-words" {place}>{escape(ring.label)}</text>')
    foot = high + _FOOT - 8
    parts.append(f'<path class="p-scale" d="M2 {foot - 8:.1f}v12m0-6h{scale * bar[0]:.1f}m0-6v12"/>')
    parts.append(f'<text class="p-words" x="{scale * bar[0] + 12:.1f}" y="{foot + 4:.1f}">{escape(bar[1])}</text>')
    named = escape(id)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="floor rings" role="img" width="100%"'
        f' viewBox="0 0 {_WIDE:g} {high + _FOOT:.1f}" aria-labelledby="{named}-title {named}-said">'
        f'<title id="{named}-title">{escape(title)}</title><desc id="{named}-said">{escape(said)}</desc>'
        f"{''.join(parts)}</svg>"
    )
