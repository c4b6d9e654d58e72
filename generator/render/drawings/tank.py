"""One tank from above and from the front, to scale: places with their light, corals at their true size, now and later.

A thousand units are the width of the tank; from above the front is at the bottom. Later sizes are in groups that the
stylesheet shows on request, so that no script is needed.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape

from markupsafe import Markup

from generator.render.drawings.timeline import svg

_WIDE = 1000.0
# Smaller than so many units, a coral has its number beside it.
_LEAST_FOR_NUMBER = 17.0
# How wide a figure of a number is, in units.
_LETTER = 9.0
# Of a name inside a coral.
_NAME_LETTER = 6.6
_DIAMOND = "M0-9 9 0 0 9-9 0Z"
_FOOT = 46.0


@dataclass(frozen=True, slots=True)
class PlaceShape:
    """A place in cm from the front left corner; `shade` is its light from 0 to 1 (None: not measured)."""

    name: str
    words: str
    x: float
    y: float
    width: float
    depth: float
    shade: float | None


@dataclass(frozen=True, slots=True)
class CoralShape:
    """A coral as an ellipse in cm, with the number it has in the list, and its name."""

    number: str
    words: str
    href: str
    x: float
    y: float
    length: float
    width: float
    assumed: bool = False
    name: str = ""


@dataclass(frozen=True, slots=True)
class Gap:
    """The water between two neighbours, from edge to edge in cm; `near`: less than is safe."""

    start: tuple[float, float]
    end: tuple[float, float]
    words: str
    near: bool


@dataclass(frozen=True, slots=True)
class Outline:
    """A coral on a later day: its likely ellipse, and how much wider (cm) it may be."""

    x: float
    y: float
    length: float
    width: float
    more: float


@dataclass(frozen=True, slots=True)
class Stage:
    """A later day: so many months on, how the corals will stand, and where two will touch."""

    months: int
    outlines: tuple[Outline, ...]
    touches: Sequence[tuple[float, float, str]]


@dataclass(frozen=True, slots=True)
class FloorPlan:
    """The whole picture; `width` and `depth` in cm, `bar` the length of the scale's bar in cm and its words."""

    id: str
    title: str
    width: float
    depth: float
    places: tuple[PlaceShape, ...]
    corals: tuple[CoralShape, ...]
    stages: tuple[Stage, ...]
    front: str
    bar: tuple[float, str]
    gaps: tuple[Gap, ...] = ()
    said: str = ""


def draw_floor(plan: FloorPlan) -> Markup:
    """The plan as one SVG element."""
    deep = _u(plan, plan.depth)
    parts = [f'<rect class="p-glass" width="{_WIDE:g}" height="{deep}"/>']
    for place in plan.places:
        parts += _place(plan, place)
    parts += (_coral(plan, coral) for coral in plan.corals)
    # Above the corals, so that no large one hides what its place is called.
    parts += (_words(plan, place) for place in plan.places)
    gaps = (_gap(plan, gap, spot) for gap, spot in zip(plan.gaps, _label_spots(plan), strict=True))
    parts.append(f'<g class="p-now">{"".join(gaps)}</g>')
    parts += (_stage(plan, stage) for stage in plan.stages)
    parts += (_number(plan, coral) for coral in plan.corals)
    length = _u(plan, plan.bar[0])
    y = deep + 26
    parts.append(f'<path class="p-scale" d="M1 {y - 8}v12M1 {y - 2}h{length}m0-6v12"/>')
    parts.append(f'<text class="p-words" x="{length + 14}" y="{y + 4}">{escape(plan.bar[1])}</text>')
    parts.append(f'<text class="p-words" x="{_WIDE:g}" y="{y + 4}" text-anchor="end">{escape(plan.front)}</text>')
    size = f'width="100%" viewBox="-2 -2 {_WIDE + 4:g} {deep + _FOOT + 2:g}"'
    return svg(plan.id, "floor", size, plan.title, parts, plan.said, role="document")


def _place(plan: FloorPlan, place: PlaceShape) -> Iterator[str]:
    x, y = _at(plan, place.x, place.y + place.depth)
    width, depth = _u(plan, place.width), _u(plan, place.depth)
    yield f'<rect class="p-place" x="{x}" y="{y}" width="{width}" height="{depth}" rx="4"/>'
    if place.shade is not None:
        yield (
            f'<rect class="p-light" x="{x}" y="{y}" width="{width}" height="{depth}" rx="4"'
            f' fill-opacity="{_tint(place.shade)}"/>'
        )


def _tint(shade: float) -> str:
    return f"{0.08 + 0.5 * max(0.0, min(1.0, shade)):.2f}"


def _words(plan: FloorPlan, place: PlaceShape) -> str:
    x, y = _at(plan, place.x, place.y + place.depth)
    name = f'<tspan class="p-name">{escape(place.name)}</tspan>'
    light = f'<tspan class="p-say">{escape(place.words)}</tspan>'
    return f'<text class="p-words" x="{x + 8}" y="{round(y + 19, 1)}">{name} {light}</text>'


# Below and above the middle of a gap: how far its words may stand.
_AWAY = (18.0, -9.0, 30.0, -21.0, 42.0, -33.0, 54.0, -45.0, 66.0)


def _label_spots(plan: FloorPlan) -> Iterator[tuple[float, float]]:
    """Where the words of each gap stand: near its middle, on no name or number and no other words."""
    taken = [box for coral in plan.corals for box in _written(plan, coral)]
    for gap in plan.gaps:
        (x, y), (to_x, to_y) = (_at(plan, *end) for end in (gap.start, gap.end))
        half = 0.6 * _LETTER * len(gap.words)
        boxes = [((x + to_x) / 2, (y + to_y) / 2 + away - 5.0, half, 7.0) for away in _AWAY]
        box = next((each for each in boxes if not any(_meet(each, other) for other in taken)), boxes[0])
        taken.append(box)
        yield round(box[0], 1), round(box[1] + 5.0, 1)


def _written(plan: FloorPlan, coral: CoralShape) -> Iterator[tuple[float, float, float, float]]:
    """The middle, half the width and half the height of a coral's number, and of its name."""
    x, y = _at(plan, coral.x, coral.y)
    if not _numbered_inside(plan, coral):
        x, y = _free_spot(plan, coral)
    yield x, y, _LETTER * len(coral.number) / 2, 7.0
    if _named_inside(plan, coral):
        yield x, y + 15.0, _NAME_LETTER * len(coral.name) / 2, 6.0


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return abs(one[0] - other[0]) < one[2] + other[2] and abs(one[1] - other[1]) < one[3] + other[3]


def _gap(plan: FloorPlan, gap: Gap, spot: tuple[float, float]) -> str:
    (x, y), (to_x, to_y) = (_at(plan, *end) for end in (gap.start, gap.end))
    place = f'x="{spot[0]}" y="{spot[1]}" text-anchor="middle"'
    look = "p-gap p-near" if gap.near else "p-gap"
    line = f'<path class="{look}" d="M{x} {y}L{to_x} {to_y}"/>'
    return f'{line}<text class="p-words p-say p-beside" {place}>{escape(gap.words)}</text>'


def _coral(plan: FloorPlan, coral: CoralShape) -> str:
    x, y = _at(plan, coral.x, coral.y)
    rx, ry = _u(plan, coral.length / 2), _u(plan, coral.width / 2)
    look = "p-coral p-assumed" if coral.assumed else "p-coral"
    ellipse = (
        f'<ellipse class="{look}" cx="{x}" cy="{y}" rx="{rx}" ry="{ry}"><title>{escape(coral.words)}</title></ellipse>'
    )
    return f'<a href="{escape(coral.href)}">{ellipse}</a>' if coral.href else ellipse


def _numbered_inside(plan: FloorPlan, coral: CoralShape) -> bool:
    return _u(plan, min(coral.length, coral.width) / 2) >= _LEAST_FOR_NUMBER


def _named_inside(plan: FloorPlan, coral: CoralShape) -> bool:
    return _numbered_inside(plan, coral) and _NAME_LETTER * len(coral.name) < _u(plan, coral.length)


def _number(plan: FloorPlan, coral: CoralShape) -> str:
    x, y = _at(plan, coral.x, coral.y)
    if _numbered_inside(plan, coral):
        place = f'x="{x}" text-anchor="middle"'
        named = f'<text class="p-inside" y="{round(y + 19, 1)}" {place}>{escape(coral.name)}</text>'
        name = named if _named_inside(plan, coral) else ""
        return f'<text class="p-number" y="{round(y + 5, 1)}" {place}>{escape(coral.number)}</text>{name}'
    across, along = _free_spot(plan, coral)
    place = f'x="{round(across, 1)}" y="{round(along + 5, 1)}" text-anchor="middle"'
    return f'<text class="p-number p-beside" {place}>{escape(coral.number)}</text>'


# Where along a gap a number would be crossed by its line.
_ALONG = tuple(n / 16 for n in range(17))


def _free_spot(plan: FloorPlan, coral: CoralShape) -> tuple[float, float]:
    """The middle of a small coral's number: right, left, above or below it, where no coral stands and no line runs."""
    x, y = _at(plan, coral.x, coral.y)
    half, high = _LETTER * len(coral.number) / 2, _LETTER * 0.75
    aside, over = _u(plan, coral.length / 2) + half + 3, _u(plan, coral.width / 2) + high + 2
    spots = ((x + aside, y), (x - aside, y), (x, y - over), (x, y + over))
    others = [other for other in plan.corals if other is not coral]
    lines = [
        _at(plan, *(a + part * (b - a) for a, b in zip(gap.start, gap.end, strict=True)))
        for gap in plan.gaps
        for part in _ALONG
    ]
    taken = [spot for spot in spots if any(abs(spot[0] - x) < half and abs(spot[1] - y) < high for x, y in lines)]
    free = [spot for spot in spots if not any(_covers(plan, other, spot, half, high) for other in others)]
    return next((spot for spot in free if spot not in taken), (free or spots)[0])


def _covers(plan: FloorPlan, coral: CoralShape, spot: tuple[float, float], half: float, high: float) -> bool:
    x, y = _at(plan, coral.x, coral.y)
    return abs(spot[0] - x) < _u(plan, coral.length / 2) + half and abs(spot[1] - y) < _u(plan, coral.width / 2) + high


def _stage(plan: FloorPlan, stage: Stage) -> str:
    parts = []
    for outline in stage.outlines:
        x, y = _at(plan, outline.x, outline.y)
        for look, more in (("p-may", outline.more), ("p-will", 0.0)):
            rx, ry = (_u(plan, max(0.0, side / 2 + more)) for side in (outline.length, outline.width))
            parts.append(f'<ellipse class="{look}" cx="{x}" cy="{y}" rx="{rx}" ry="{ry}"/>')
    for across, along, words in stage.touches:
        x, y = _at(plan, across, along)
        parts.append(
            f'<g transform="translate({x} {y})"><path class="p-touch" d="{_DIAMOND}">'
            f"<title>{escape(words)}</title></path></g>"
        )
    return f'<g class="stage in-{stage.months}">{"".join(parts)}</g>'


def _u(plan: FloorPlan, cm: float) -> float:
    return round(_WIDE * cm / plan.width, 1)


def _at(plan: FloorPlan, x: float, y: float) -> tuple[float, float]:
    return _u(plan, x), _u(plan, plan.depth - y)


@dataclass(frozen=True, slots=True)
class Shelf:
    """A place in cm from the left and from the floor."""

    words: str
    x: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Lit:
    """Water in cm from the left and from the floor, and its light from 0 to 1."""

    x: float
    width: float
    low: float
    high: float
    shade: float


@dataclass(frozen=True, slots=True)
class Colony:
    """A colony that stands at a height, all in cm, with its number in the list."""

    number: str
    x: float
    level: float
    length: float
    height: float


def draw_front(
    id: str,
    told: tuple[str, str],
    width: float,
    high: float,
    shelves: Sequence[Shelf],
    colonies: Sequence[Colony],
    lit: Sequence[Lit] = (),
) -> Markup:
    """The view as one SVG element, its title and words `told`; what stands nearer to the surface is higher up."""

    def u(cm: float) -> float:
        return round(_WIDE * cm / width, 1)

    top = max(high, *(colony.level + colony.height for colony in colonies), 0.0)
    deep, parts = u(top), [f'<rect class="p-glass" width="{_WIDE:g}" height="{u(top)}"/>']
    parts.append(f'<path class="p-surface" d="M0 {deep - u(high):.1f}H{_WIDE:g}"/>')
    for each in lit:
        place = f'x="{u(each.x)}" y="{deep - u(each.high):.1f}" width="{u(each.width)}"'
        parts.append(
            f'<rect class="p-lit" {place} height="{u(each.high - each.low)}" fill-opacity="{_tint(each.shade)}"/>'
        )
    for colony in sorted(colonies, key=lambda colony: -colony.length):
        half, high_, x, y = u(colony.length / 2), u(colony.height), u(colony.x), deep - u(colony.level)
        dome = f"M{x - half:.1f} {y:.1f}A{half} {high_} 0 0 1 {x + half:.1f} {y:.1f}Z"
        parts.append(f'<path class="p-coral" d="{dome}"/>')
    # Before the colonies, so that no large one hides what a shelf is called.
    for shelf in shelves:
        y = deep - u(shelf.height)
        parts.append(f'<path class="p-shelf" d="M{u(shelf.x)} {y:.1f}h{u(shelf.width)}"/>')
        parts.append(
            f'<text class="p-words p-say" x="{u(shelf.x) + 4:.1f}" y="{y + 17:.1f}">{escape(shelf.words)}</text>'
        )
    placed: list[tuple[float, float, float]] = []
    for colony in sorted(colonies, key=lambda colony: colony.level + colony.height):
        x, crest, half = u(colony.x), deep - u(colony.level) - u(colony.height), _LETTER * len(colony.number)
        # In a large colony, where nothing else is written; otherwise above it.
        large = u(colony.height) > 6 * _LETTER
        y = crest + u(colony.height) / 2 + _LETTER if large else crest - 4
        # A number that would stand on another, in a telephone's large figures, is higher up on a stalk.
        while any(abs(x - other) < half + wide and abs(y - above) < 2.6 * _LETTER for other, above, wide in placed):
            y -= _LETTER
        placed.append((x, y, half))
        if y < crest - 4:
            parts.append(f'<path class="p-lead" d="M{x} {crest:.1f}V{y + 2:.1f}"/>')
        parts.append(
            f'<text class="p-number p-beside" x="{x}" y="{y:.1f}" text-anchor="middle">{escape(colony.number)}</text>'
        )
    up = min(-22.0, *(y - 18.0 for _, y, _ in placed))
    return svg(
        id, "floor", f'width="100%" viewBox="-2 {up:g} {_WIDE + 4:g} {deep + 22 - up:.1f}"', told[0], parts, told[1]
    )
