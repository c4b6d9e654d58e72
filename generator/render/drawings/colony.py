"""A colony in its container, from above and from the front, to scale, with what is left free.

Ten units are a centimetre of the container's longer side, or less, so that both views have one scale.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from math import sqrt

from markupsafe import Markup

from generator.render.drawings.timeline import svg

_POSE_WIDE = 420.0
_MARGIN, _RIGHT = 34.0, 66.0


@dataclass(frozen=True, slots=True)
class OvalOutline:
    """The colony's outline from one side, cm and degrees; `reach` is half of what it takes across and along."""

    half_long: float
    half_short: float
    turned: float
    reach: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Face:
    """One view: the container's inner measures across and up (cm), padding, the colony, and what to write.

    `water` is how high the water stands (None: the view from above). `stands_on` is how high the colony's
    lowest point is, where it does not lie in the middle. `words` are the sides, then the gaps right and above.
    """

    id: str
    title: str
    across: float
    up: float
    padding: float
    colony: OvalOutline
    sides: tuple[str, str]
    gaps: tuple[str, str]
    water: float | None = None
    stands_on: float | None = None


def draw_pose(face: Face, longest: float) -> Markup:
    """A view as one SVG element; `longest` is the longest side (cm) of all views that share a scale."""
    scale = _POSE_WIDE / longest
    box = f"0 0 {_POSE_WIDE + _MARGIN + _RIGHT:g} {round(face.up * scale + 2 * _MARGIN, 1):g}"
    return svg(face.id, "pose", f'width="100%" viewBox="{box}"', face.title, _parts(face, scale))


def _parts(face: Face, scale: float) -> Iterator[str]:
    wide, high = round(face.across * scale, 1), round(face.up * scale, 1)
    pad = round(face.padding * scale, 1)
    if face.water is not None:
        level = round(face.water * scale, 1)
        yield _box("o-water", _MARGIN, _MARGIN + high - level, wide, level)
    yield _box("o-wall", _MARGIN, _MARGIN, wide, high)
    yield _box("o-foam", _MARGIN + pad, _MARGIN + pad, wide - 2 * pad, high - 2 * pad)
    middle = face.up / 2.0 if face.stands_on is None else face.stands_on + face.colony.reach[1]
    x, y = round(_MARGIN + wide / 2.0, 1), round(_MARGIN + high - middle * scale, 1)
    yield (
        f'<ellipse class="o-colony" cx="{x:g}" cy="{y:g}" rx="{round(face.colony.half_long * scale, 1):g}"'
        f' ry="{round(face.colony.half_short * scale, 1):g}"'
        f' transform="rotate({-face.colony.turned:.1f} {x:g} {y:g})"/>'
    )
    right = round(x + face.colony.reach[0] * scale, 1)
    top = round(y - face.colony.reach[1] * scale, 1)
    yield f'<path class="o-gap" d="M{right:g} {y:g}H{_MARGIN + wide:g}M{x:g} {top:g}V{_MARGIN:g}"/>'
    yield _words(_MARGIN + wide + 4, y + 4, "start", face.gaps[0])
    yield _words(x, _MARGIN - 6, "middle", face.gaps[1])
    yield _words(_MARGIN, _MARGIN + high + 18, "start", face.sides[0])
    yield _words(_MARGIN - 8, _MARGIN + high / 2.0, "middle", face.sides[1], turned=True)


def _box(look: str, x: float, y: float, width: float, height: float) -> str:
    width, height = (round(max(0.0, side), 1) for side in (width, height))
    return f'<rect class="{look}" x="{round(x, 1):g}" y="{round(y, 1):g}" width="{width:g}" height="{height:g}"/>'


def _words(x: float, y: float, anchor: str, text: str, turned: bool = False) -> str:
    turn = f' transform="rotate(-90 {round(x, 1):g} {round(y, 1):g})"' if turned else ""
    return f'<text x="{round(x, 1):g}" y="{round(y, 1):g}" text-anchor="{anchor}"{turn}>{escape(text)}</text>'


# Beside the rings stand their labels, a line each.
_RINGS_WIDE, _LABELS, _LINE, _FOOT, _EDGE = 240.0, 120.0, 21.0, 30.0, 6.0


@dataclass(frozen=True, slots=True)
class Ring:
    """The outline at a time: length and width in cm, and what it is called."""

    length: float
    width: float
    label: str


def draw_rings(id: str, title: str, said: str, rings: Sequence[Ring], bar: tuple[float, str]) -> Markup:
    """The outlines as one SVG element, the largest filled; `bar`: length (cm) and words of the scale."""
    longest, widest = max(ring.length for ring in rings), max(ring.width for ring in rings)
    scale = (_RINGS_WIDE - 2 * _EDGE) / max(longest, 1.2 * widest)
    high = max(scale * widest + 2 * _EDGE, _LINE * (len(rings) + 1))
    x, y = _RINGS_WIDE / 2, high / 2
    parts = []
    by_size = sorted(rings, key=lambda ring: -ring.length)
    for number, ring in enumerate(by_size):
        rx, ry = (round(scale * side / 2, 1) for side in (ring.length, ring.width))
        look = "p-coral" if number == 0 else "p-ring"
        parts.append(f'<ellipse class="{look}" cx="{x:g}" cy="{y:.1f}" rx="{rx}" ry="{ry}"/>')
    # From each ring a line leads to its label, so that no label covers another or stands in a ring.
    for number, ring in enumerate(by_size):
        rx, ry = scale * ring.length / 2, scale * ring.width / 2
        level = y + _LINE * (number - (len(rings) - 1) / 2)
        down = min(max(level, y - 0.9 * ry), y + 0.9 * ry)
        across = x + rx * sqrt(1.0 - ((down - y) / ry) ** 2)
        parts.append(f'<circle class="p-end" cx="{across:.1f}" cy="{down:.1f}" r="2"/>')
        parts.append(f'<path class="p-lead" d="M{across:.1f} {down:.1f}L{_RINGS_WIDE - 2:g} {level:.1f}h6"/>')
        parts.append(f'<text class="p-words" x="{_RINGS_WIDE + 8:g}" y="{level + 4:.1f}">{escape(ring.label)}</text>')
    foot = high + _FOOT - 8
    parts.append(f'<path class="p-scale" d="M2 {foot - 8:.1f}v12m0-6h{scale * bar[0]:.1f}m0-6v12"/>')
    parts.append(f'<text class="p-words" x="{scale * bar[0] + 12:.1f}" y="{foot + 4:.1f}">{escape(bar[1])}</text>')
    box = f'width="100%" viewBox="0 0 {_RINGS_WIDE + _LABELS:g} {high + _FOOT:.1f}"'
    return svg(id, "floor rings", box, title, parts, said)
