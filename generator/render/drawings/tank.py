"""One tank from above and from the front, to scale: places with their light, corals at their true size, now and later.

A thousand units are the width of the tank; from above the front is at the bottom. Later sizes are in groups that the
stylesheet shows on request, so that no script is needed.
"""

from collections.abc import Iterator, Sequence
from html import escape
from math import hypot

from markupsafe import Markup
from msgspec import Struct

from generator.render.drawings.timeline import svg

WIDE = 1000.0
# Smaller than so many units, a coral has its number beside it.
_LEAST_FOR_NUMBER = 17.0
# How wide a figure of a number is, in units.
_LETTER = 9.0
# Of a name inside a coral; of words where letters are largest for their picture, on paper; of a place's name there and
# on a telephone.
_NAME_LETTER = 6.6
_WORD, _NAME = 10.3, 19.0
_DIAMOND = "M0-9 9 0 0 9-9 0Z"
_FOOT = 46.0


class PlaceShape(Struct, frozen=True):
    """A place in cm from the front left corner; `shade` is its light from 0 to 1 (None: not measured)."""

    name: str
    words: str
    x: float
    y: float
    width: float
    depth: float
    shade: float | None


class CoralShape(Struct, frozen=True):
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


class Clearance(Struct, frozen=True):
    """The water between two neighbours, from edge to edge in cm; `near`: less than is safe."""

    start: tuple[float, float]
    end: tuple[float, float]
    words: str
    near: bool


class Outline(Struct, frozen=True):
    """A coral on a later day: its likely ellipse, and how much wider (cm) it may be."""

    x: float
    y: float
    length: float
    width: float
    more: float


class Stage(Struct, frozen=True):
    """A later day: so many months on, how the corals will stand, and where two will touch."""

    months: int
    outlines: tuple[Outline, ...]
    touches: Sequence[tuple[float, float, str]]


class FloorPlan(Struct, frozen=True):
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
    gaps: tuple[Clearance, ...] = ()
    said: str = ""


def draw_floor(plan: FloorPlan) -> Markup:
    """The plan as one SVG element."""
    deep = _u(plan, plan.depth)
    parts = [f'<rect class="p-glass" width="{WIDE:g}" height="{deep}"/>']
    for place in plan.places:
        parts += _place(plan, place)
    parts += (_coral(plan, coral) for coral in plan.corals)
    # Above the corals, so that no large one hides what its place is called.
    rounds = [_round(plan, coral) for coral in plan.corals]
    taken = [box for coral in plan.corals if _numbered_inside(plan, coral) for box in _written(plan, coral)]
    lines = [box for gap in plan.gaps for box in _crossed(plan, gap)]
    numbers = [_number(plan, coral, taken, [*rounds, *lines]) for coral in plan.corals]
    gaps = [_gap(plan, gap, taken, [*rounds, *lines]) for gap in plan.gaps]
    for place in plan.places:
        corner = (*_at(plan, place.x, place.y + place.depth), _u(plan, place.width), _u(plan, place.depth))
        parts.append(named(place.name, place.words, corner, taken, rounds))
    parts.append(f'<g class="p-now">{"".join(gaps)}</g>')
    parts += (_stage(plan, stage) for stage in plan.stages)
    parts += numbers
    length = _u(plan, plan.bar[0])
    y = deep + 26
    parts.append(f'<path class="p-scale" d="M1 {y - 8}v12M1 {y - 2}h{length}m0-6v12"/>')
    parts.append(f'<text class="p-words" x="{length + 14}" y="{y + 4}">{escape(plan.bar[1])}</text>')
    parts.append(f'<text class="p-words" x="{WIDE:g}" y="{y + 4}" text-anchor="end">{escape(plan.front)}</text>')
    size = f'width="100%" viewBox="-2 -2 {WIDE + 4:g} {deep + _FOOT + 2:g}"'
    return svg(plan.id, "floor", size, plan.title, parts, plan.said, role="document")


def _place(plan: FloorPlan, place: PlaceShape) -> Iterator[str]:
    x, y = _at(plan, place.x, place.y + place.depth)
    width, depth = _u(plan, place.width), _u(plan, place.depth)
    yield f'<rect class="p-place" x="{x}" y="{y}" width="{width}" height="{depth}" rx="4"/>'
    if place.shade is not None:
        yield (
            f'<rect class="p-light" x="{x}" y="{y}" width="{width}" height="{depth}" rx="4"'
            f' fill-opacity="{tint(place.shade)}"/>'
        )


def tint(shade: float) -> str:
    """How strong light from 0 to 1 is painted."""
    return f"{0.08 + 0.5 * max(0.0, min(1.0, shade)):.2f}"


# A box, or a round one, by its middle and half its width and height, in units.
Box = tuple[float, float, float, float]


def named(name: str, words: str, corner: Box, taken: list[Box], rounds: Sequence[Box]) -> str:
    """What a place is called and says of itself, within it where it hides least; `corner` has its corner and sides.

    Where it stands is `taken` from then on.
    """
    x, y, width, deep = corner
    ways: dict[Box, tuple[list[tuple[str, str]], str]] = {}
    for rows in _rows(name, words, width - 16):
        # The name alone only where its words would hide others.
        if rows[-1][1] or not ways or hidden(free(list(ways), taken, rounds), taken, rounds) > 2:
            half = max(len(f"{called} {said}") * _WORD for called, said in rows) / 2
            high = 10.0 * len(rows) + 1
            for step in (4, deep - 2 * high - 4, *range(7, int(deep - 2 * high), 3)):
                for across, anchor in ((x + 8 + half, "start"), (x + width - 8 - half, "end")):
                    ways.setdefault((across, y + step + high, half, high), (rows, anchor))
    box = free(list(ways), taken, rounds)
    taken.append(box)
    rows, anchor = ways[box]
    side, top = round(box[0] + (box[2] if anchor == "end" else -box[2]), 1), round(box[1] - box[3], 1)
    spans = []
    for number, row in enumerate(rows):
        new = f' x="{side}" dy="{1.15 if number else 0.9}em"'
        for look, said in zip(("p-name", "p-say"), row, strict=True):
            if said:
                spans.append(f'<tspan class="{look}"{new}>{escape(said)}</tspan>')
                new = ""
    return f'<text class="p-words" x="{side}" y="{top}" text-anchor="{anchor}">{" ".join(spans)}</text>'


def _rows(name: str, words: str, width: float) -> Iterator[list[tuple[str, str]]]:
    """Rows of a place's name and words, each with what it has of both: one row if they fit; several; the name alone."""
    if max(len(name) * _NAME, len(f"{name} {words}") * _WORD) <= width:
        yield [(name, words)]
    names = [(line, "") for line in _folded(name, width, _NAME)]
    for most in (width, width / 2):
        yield [*names, *(("", line) for line in _folded(words, most, _WORD))]
    yield names


def _folded(words: str, width: float, letter: float) -> list[str]:
    """Words in lines no wider than `width`; a word that is wider alone is cut short."""
    most, lines = max(2, int(width / letter)), [""]
    for piece in words.replace("-", "-\0").replace(" ", " \0").split("\0"):
        if lines[-1] and len(lines[-1] + piece.rstrip()) > most:
            lines.append("")
        lines[-1] += piece if len(piece.rstrip()) <= most else f"{piece[: most - 1]}…"
    return [line.strip() for line in lines]


def free(spots: Sequence[Box], taken: Sequence[Box], rounds: Sequence[Box]) -> Box:
    """The first spot where least is hidden."""
    return min(spots, key=lambda spot: hidden(spot, taken, rounds))


def hidden(spot: Box, taken: Sequence[Box], rounds: Sequence[Box]) -> int:
    """How much words there would hide: of other words, which count most, and of what is round."""
    return 3 * sum(_meet(spot, other) for other in taken) + sum(_covers(spot, other) for other in rounds)


def _meet(one: Box, other: Box) -> bool:
    return abs(one[0] - other[0]) < one[2] + other[2] and abs(one[1] - other[1]) < one[3] + other[3]


def _covers(box: Box, other: Box) -> bool:
    away = (max(abs(box[n] - other[n]) - box[n + 2], 0.0) / (other[n + 2] or 1.0) for n in (0, 1))
    return hypot(*away) < 1.0


def _round(plan: FloorPlan, coral: CoralShape) -> Box:
    return (*_at(plan, coral.x, coral.y), _u(plan, coral.length / 2), _u(plan, coral.width / 2))


def _written(plan: FloorPlan, coral: CoralShape) -> Iterator[Box]:
    """Where a coral's number stands in it, and its name."""
    x, y = _at(plan, coral.x, coral.y)
    yield x, y, _LETTER * len(coral.number) / 2, 7.0
    if _named_inside(plan, coral):
        yield x, y + 15.0, _NAME_LETTER * len(coral.name) / 2, 6.0


def _crossed(plan: FloorPlan, gap: Clearance) -> Iterator[Box]:
    """Where the line of a gap runs."""
    for part in range(17):
        along = (a + part / 16 * (b - a) for a, b in zip(gap.start, gap.end, strict=True))
        yield (*_at(plan, *along), 1.0, 1.0)


# Below and above, or beside, a gap: how far its words may stand, and at which part of it.
_AWAY, _PARTS = tuple(14.0 + 6.0 * step for step in range(16)), (0.5, 0.3, 0.7)


def _gap(plan: FloorPlan, gap: Clearance, taken: list[Box], rounds: Sequence[Box]) -> str:
    """A gap and its words, near to it, on no coral and on no other words."""
    (x, y), (to_x, to_y) = (_at(plan, *end) for end in (gap.start, gap.end))
    half, high = _WORD * len(gap.words) / 2 + 4, 9.0
    ways = ((0.0, 1.0), (0.0, -1.0)) if abs(to_x - x) > abs(to_y - y) else ((1.0, 0.0), (-1.0, 0.0))
    spots = {
        (x + (to_x - x) * part + way * (away + half), y + (to_y - y) * part + up * away, half, high): part
        for away in _AWAY
        for part in _PARTS
        for way, up in ways
    }
    across, along, *_ = box = free(list(spots), taken, rounds)
    taken.append(box)
    look = "p-gap p-near" if gap.near else "p-gap"
    line = f'<path class="{look}" d="M{x} {y}L{to_x} {to_y}"/>'
    middle = y + (to_y - y) * spots[box]
    if abs(along - middle) > 20.0:
        near = high if along < middle else -high
        line += f'<path class="p-lead p-say" d="M{across:.1f} {middle:.1f}V{along + near:.1f}"/>'
    place = f'x="{across:.1f}" y="{along + 5.0:.1f}" text-anchor="middle"'
    return f'{line}<text class="p-words p-say p-beside" {place}>{escape(gap.words)}</text>'


def _coral(plan: FloorPlan, coral: CoralShape) -> str:
    x, y, rx, ry = _round(plan, coral)
    look = "p-coral p-assumed" if coral.assumed else "p-coral"
    ellipse = (
        f'<ellipse class="{look}" cx="{x}" cy="{y}" rx="{rx}" ry="{ry}"><title>{escape(coral.words)}</title></ellipse>'
    )
    return f'<a href="{escape(coral.href)}">{ellipse}</a>' if coral.href else ellipse


def _numbered_inside(plan: FloorPlan, coral: CoralShape) -> bool:
    return _u(plan, min(coral.length, coral.width) / 2) >= _LEAST_FOR_NUMBER


def _named_inside(plan: FloorPlan, coral: CoralShape) -> bool:
    return _numbered_inside(plan, coral) and _NAME_LETTER * len(coral.name) < _u(plan, coral.length)


def _number(plan: FloorPlan, coral: CoralShape, taken: list[Box], rounds: Sequence[Box]) -> str:
    """A coral's number: in it, or beside a small one, in its place and on nothing else."""
    x, y, rx, ry = _round(plan, coral)
    if _numbered_inside(plan, coral):
        place = f'x="{x}" text-anchor="middle"'
        inside = f'<text class="p-inside" y="{round(y + 19, 1)}" {place}>{escape(coral.name)}</text>'
        name = inside if _named_inside(plan, coral) else ""
        return f'<text class="p-number" y="{round(y + 5, 1)}" {place}>{escape(coral.number)}</text>{name}'
    # As large as it is on a telephone.
    half, high = _LETTER * len(coral.number), 12.0
    aside, over = rx + half + 1, ry + high + 1
    spots = [(x, y - over, half, high), *((each, y, half, high) for each in (x + aside, x - aside))]
    spots.append((x, y + over, half, high))
    homes = [_home(plan, place) for place in plan.places]
    home = next((each for each in homes if _meet(each, (x, y, 0.0, 0.0))), None)
    within = [
        each for each in spots if home and all(abs(each[n] - home[n]) < home[n + 2] - each[n + 2] for n in (0, 1))
    ]
    box = free(within or spots, taken, rounds)
    taken.append(box)
    place = f'x="{box[0]:.1f}" y="{box[1] + 5:.1f}" text-anchor="middle"'
    return f'<text class="p-number p-beside" {place}>{escape(coral.number)}</text>'


def _home(plan: FloorPlan, place: PlaceShape) -> Box:
    middle = _at(plan, place.x + place.width / 2, place.y + place.depth / 2)
    return (*middle, _u(plan, place.width / 2), _u(plan, place.depth / 2))


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
    return round(WIDE * cm / plan.width, 1)


def _at(plan: FloorPlan, x: float, y: float) -> tuple[float, float]:
    return _u(plan, x), _u(plan, plan.depth - y)
