"""Colonies to scale: one in its container, one as it grew, and all of a tank from the front."""

from collections.abc import Iterator, Sequence
from html import escape
from math import sqrt

from markupsafe import Markup
from msgspec import Struct

from generator.render.drawings.tank import WIDE, Box, named, tint
from generator.render.drawings.timeline import svg

_POSE_WIDE = 420.0
_MARGIN, _RIGHT = 34.0, 66.0


class OvalOutline(Struct, frozen=True):
    """The colony's outline from one side, cm and degrees; `reach` is half of what it takes across and along."""

    half_long: float
    half_short: float
    turned: float
    reach: tuple[float, float]


class Face(Struct, frozen=True):
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
    for row, said in enumerate(face.gaps[0].rsplit(" ", 1)):  # in the narrow margin
        yield _words(_MARGIN + wide + 4, y + 4 + 20 * row, "start", said)
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


class Ring(Struct, frozen=True):
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


# How wide a figure of a colony's number is, in units, and how high it is on a telephone.
_FIGURE, _HIGH = 9.0, 23.0


class Shelf(Struct, frozen=True):
    """A place in cm from the left and from the floor, its name, and what it says of itself."""

    name: str
    words: str
    x: float
    width: float
    height: float


class Lit(Struct, frozen=True):
    """Water in cm from the left and from the floor, and its light from 0 to 1."""

    x: float
    width: float
    low: float
    high: float
    shade: float


class StandingColony(Struct, frozen=True):
    """A colony that stands at a height, all in cm, with its number in the list.

    `later` says for some months to come how many times as large it will likely be, and may be.
    """

    number: str
    x: float
    level: float
    length: float
    height: float
    later: Sequence[tuple[int, float, float]] = ()


def draw_front(
    id: str,
    told: tuple[str, str],
    width: float,
    high: float,
    shelves: Sequence[Shelf],
    colonies: Sequence[StandingColony],
    lit: Sequence[Lit] = (),
) -> Markup:
    """The view as one SVG element, its title and words `told`; what stands nearer to the surface is higher up."""

    def u(cm: float) -> float:
        return round(WIDE * cm / width, 1)

    def dome(look: str, colony: StandingColony, times: float = 1.0) -> str:
        half, x, y = u(colony.length / 2 * times), u(colony.x), deep - u(colony.level)
        arc = f"M{x - half:.1f} {y:.1f}A{half} {u(colony.height * times)} 0 0 1 {x + half:.1f} {y:.1f}Z"
        return f'<path class="{look}" d="{arc}"/>'

    top = max(high, *(colony.level + colony.height for colony in colonies), 0.0)
    deep, parts = u(top), [f'<rect class="p-glass" width="{WIDE:g}" height="{u(top)}"/>']
    parts.append(f'<path class="p-surface" d="M0 {deep - u(high):.1f}H{WIDE:g}"/>')
    for each in lit:
        place = f'x="{u(each.x)}" y="{deep - u(each.high):.1f}" width="{u(each.width)}"'
        parts.append(
            f'<rect class="p-lit" {place} height="{u(each.high - each.low)}" fill-opacity="{tint(each.shade)}"/>'
        )
    parts += (dome("p-coral", colony) for colony in sorted(colonies, key=lambda colony: -colony.length))
    months = dict.fromkeys(n for colony in colonies for n, _, _ in colony.later)
    for month in months:
        then = ((colony, each) for colony in colonies for each in colony.later if each[0] == month)
        domes = (
            dome(look, colony, times) for colony, each in then for look, times in zip(_THEN, each[1:], strict=True)
        )
        parts.append(f'<g class="stage in-{month}">{"".join(domes)}</g>')
    rounds: list[Box] = [(u(each.x), deep - u(each.level), u(each.length / 2), u(each.height)) for each in colonies]
    taken: list[Box] = []
    edges: list[Box] = [(u(e.x + e.width / 2), deep - u(e.height), u(e.width / 2), 1.0) for e in shelves]
    # After the colonies, so that no large one hides what a shelf is called.
    for shelf in shelves:
        y = deep - u(shelf.height)
        parts.append(f'<path class="p-shelf" d="M{u(shelf.x)} {y:.1f}h{u(shelf.width)}"/>')
        # What stands on the shelf itself is above its words.
        under = [*(each for each in rounds if each[1] > y + 1.0), *(edge for edge in edges if edge[1] > y + 1.0)]
        parts.append(named(shelf.name, shelf.words, (u(shelf.x) - 4, y - 2, u(shelf.width), _UNDER), taken, under))
    crests = [(each.number, u(each.x), deep - u(each.level), u(each.height)) for each in colonies]
    numbers, highest = _numbers(crests)
    parts += numbers
    tallest = max((u(c.level + c.height * may) for c in colonies for _, _, may in c.later), default=0.0)
    up = min(-22.0, deep - tallest, highest - 18.0)
    return svg(
        id, "floor", f'width="100%" viewBox="-2 {up:g} {WIDE + 4:g} {deep + 22 - up:.1f}"', told[0], parts, told[1]
    )


# The looks of a size that is likely then, and of the largest that is.
_THEN = ("p-will", "p-may")
# How much room the words of a shelf may take below it, in units.
_UNDER = 50.0


def _numbers(colonies: Sequence[tuple[str, float, float, float]]) -> tuple[list[str], float]:
    """The numbers of colonies by their middle, foot and height, in units; and how high the highest stands."""
    parts, placed = [], list[tuple[float, float, float]]()
    for number, x, foot, height in sorted(colonies, key=lambda colony: colony[3] - colony[2]):
        crest, half = foot - height, _FIGURE * len(number)
        # In a large colony, where nothing else is written; otherwise above it.
        y = crest + height / 2 + _FIGURE if height > 6 * _FIGURE else crest - 4
        # A number that would stand on another, in a telephone's large figures, is higher up on a stalk.
        while any(abs(x - other) < half + wide and abs(y - above) < _HIGH for other, above, wide in placed):
            y -= _FIGURE
        placed.append((x, y, half))
        if y < crest - 4:
            parts.append(f'<path class="p-lead" d="M{x} {crest:.1f}V{y + 2:.1f}"/>')
        parts.append(
            f'<text class="p-number p-beside" x="{x}" y="{y:.1f}" text-anchor="middle">{escape(number)}</text>'
        )
    return parts, min((y for _, y, _ in placed), default=0.0)
