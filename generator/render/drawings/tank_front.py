"""One tank from the front, to scale: its places at their heights, light as it falls, corals now and later."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from markupsafe import Markup

from generator.render.drawings.tank import WIDE, Box, named, tint
from generator.render.drawings.timeline import svg

# How wide a figure of a colony's number is, in units, and how high it is on a telephone.
_FIGURE, _HIGH = 9.0, 23.0


@dataclass(frozen=True, slots=True)
class Shelf:
    """A place in cm from the left and from the floor, its name, and what it says of itself."""

    name: str
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
    colonies: Sequence[Colony],
    lit: Sequence[Lit] = (),
) -> Markup:
    """The view as one SVG element, its title and words `told`; what stands nearer to the surface is higher up."""

    def u(cm: float) -> float:
        return round(WIDE * cm / width, 1)

    def dome(look: str, colony: Colony, times: float = 1.0) -> str:
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
    # After the colonies, so that no large one hides what a shelf is called.
    for shelf in shelves:
        y = deep - u(shelf.height)
        parts.append(f'<path class="p-shelf" d="M{u(shelf.x)} {y:.1f}h{u(shelf.width)}"/>')
        # What stands on the shelf itself is above its words.
        under = [each for each in rounds if each[1] > y + 1.0]
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
