"""Counts as pictures: who survived, how often predictions came about, and a year of a water week by week."""

from collections.abc import Iterator, Sequence
from html import escape
from typing import Literal

from markupsafe import Markup
from msgspec import Struct

from generator.render.base.scale import time_ticks
from generator.render.base.words import Words
from generator.render.drawings.timeline import stretching, stroke, svg, text_at

_LEFT, _SPAN = 9.0, 88.0
_HEIGHT, _TOP, _FOOT = 150, 12, 44


def draw_survival(
    id: str,
    title: str,
    said: str,
    last: float,
    until: float,
    steps: Sequence[tuple[float, float, float, float]],
    ticks: Sequence[tuple[float, str, str]],
) -> Markup:
    """How many are left after so many days: a stepped curve, its interval, and how many are still watched.

    `steps`: from each day on (the first is 0) the share left, low and high in per cent, `until` a day; the axis goes on
    to the `last` one. `ticks` are days with how many were still watched then, in words.
    """

    def x(at: float) -> float:
        return round(1000 * at / last, 1)

    ends = [*(step[0] for step in steps[1:]), until]
    line = f"M0 {_y(100)}" + "".join(f"V{_y(left)}H{x(end)}" for (_, left, _, _), end in zip(steps, ends, strict=True))
    there = "".join(
        f"L{x(at)} {_y(high)}L{x(end)} {_y(high)}" for (at, _, _, high), end in zip(steps, ends, strict=True)
    )
    back = "".join(
        f"L{x(end)} {_y(low)}L{x(at)} {_y(low)}"
        for (at, _, low, _), end in reversed(list(zip(steps, ends, strict=True)))
    )
    grid = "".join(f"M0 {_y(share)}H1000" for share in (0, 25, 50, 75, 100))
    parts = [
        stretching(_TOP, _HEIGHT, _LEFT, _SPAN),
        f'<path class="t-level" d="M{there[1:]}{back}Z"/>{stroke("grid", grid)}{stroke("level-line", line)}</svg>',
    ]
    for share in (0, 50, 100):
        parts.append(text_at(_LEFT - 0.9, _TOP + _y(share) + 4, "end", "tick", f"{share}\u00a0%"))
    bottom = _TOP + _HEIGHT
    for at, day, watched in ticks:
        place = _LEFT + _SPAN * at / last
        parts += [
            text_at(place, bottom + 20, "middle", "tick", day),
            text_at(place, bottom + 38, "middle", "tick", watched),
        ]
    size = f'width="100%" height="{bottom + _FOOT}"'
    return svg(id, "timeline", size, title, parts, said)


def _y(share: float) -> float:
    return round(_HEIGHT * (1 - share / 100), 1)


_SIDE, _EDGE, _SIZE, _BELOW, _RIGHT = 44, 12, 200, 40, 20


def draw_calibration(
    id: str,
    title: str,
    said: str,
    axis: str,
    points: Sequence[tuple[float, float]],
    luck: Sequence[tuple[float, float, float]],
) -> Markup:
    """For each stated chance the share found, both in per cent; ranges of the right width lie on the diagonal.

    `luck`: for each stated chance the low and high share that luck alone gives.
    """
    width, height = _SIDE + _SIZE + _RIGHT, _EDGE + _SIZE + _BELOW
    there = "L".join(f"{_stated(stated)} {_share(high)}" for stated, _, high in luck)
    back = "L".join(f"{_stated(stated)} {_share(low)}" for stated, low, _ in reversed(luck))
    line = "L".join(f"{_stated(stated)} {_share(found)}" for stated, found in points)
    grid = "".join(f"M{_stated(0)} {_share(share)}H{_stated(100)}" for share in (0, 50, 100))
    straight = f"M{_stated(0)} {_share(0)}L{_stated(100)} {_share(100)}"
    parts = [
        f'<path class="t-level" d="M{there}L{back}Z"/>',
        f'<path class="t-grid" fill="none" stroke="currentColor" d="{grid}"/>',
        f'<path class="t-ahead-line" fill="none" stroke="currentColor" d="{straight}"/>',
        f'<path class="t-level-line" fill="none" stroke="currentColor" d="M{line}"/>',
        *(
            f'<circle class="t-level-dot" cx="{_stated(stated)}" cy="{_share(found)}" r="4"/>'
            for stated, found in points
        ),
        *(_label(_SIDE - 6, _share(share) + 4, "end", f"{share}\u00a0%") for share in (0, 50, 100)),
        *(_label(_stated(share), _share(0) + 18, "middle", f"{share}\u00a0%") for share in (0, 50, 100)),
        _label(_stated(50), _share(0) + 35, "middle", axis),
    ]
    size = f'width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
    return svg(id, "timeline calibration", size, title, parts, said)


def _label(x: float, y: float, anchor: str, words: str) -> str:
    return f'<text class="t-tick" x="{x}" y="{y}" text-anchor="{anchor}">{escape(words)}</text>'


def _stated(share: float) -> float:
    return round(_SIDE + _SIZE * share / 100, 1)


def _share(share: float) -> float:
    return round(_EDGE + _SIZE * (1 - share / 100), 1)


_NAMES, _YEAR, _ROW, _ABOVE, _MONTHS = 24.0, 76.0, 20, 26, 22


class Band(Struct, frozen=True):
    """One quantity: its name, and of each week (from 0) in which it was tested where it stood, and the words."""

    name: str
    weeks: Sequence[tuple[int, str, str]]


class Weeks(Struct, frozen=True):
    """A system's name and its quantities."""

    name: str
    bands: Sequence[Band]


def draw_weeks(id: str, title: str, said: str, waters: Sequence[Weeks], months: Sequence[tuple[float, str]]) -> Markup:
    """A year as one SVG element; `months` are shares of the year with their names.

    What is below its band fills the lower half of its week, what is above the upper half: never colour alone.
    """
    wide, top, parts = _YEAR / 53, 0, list[str]()
    for water in waters:
        top += _ABOVE
        parts.append(f'<text class="w-water" x="0" y="{top - 8}">{escape(water.name)}</text>')
        for band in water.bands:
            parts.append(f'<text x="0" y="{top + 14}">{escape(band.name)}</text>')
            parts.append(f'<rect class="w-none" x="{_NAMES}%" y="{top + 2}" width="{_YEAR}%" height="{_ROW - 4}"/>')
            for week, standing, words in band.weeks:
                y = top + 2 + (8 if standing == "low" else 0)
                high = _ROW - 4 if standing == "within" else 8
                place = f'x="{_NAMES + week * wide:.2f}%" y="{y}" width="{wide:.2f}%" height="{high}"'
                parts.append(f'<rect class="w-{standing}" {place}><title>{escape(words)}</title></rect>')
            top += _ROW
    for share, name in months:
        parts.append(f'<text x="{_NAMES + share * _YEAR:.1f}%" y="{top + 15}">{escape(name)}</text>')
    return svg(id, "weeks", f'width="100%" height="{top + _MONTHS}"', title, parts, said)


Fate = Literal["living", "given", "lost", "merged"]

# Outlines about their middle, in px: a dot, an open arrow, a cross, a lozenge.
FATES: dict[Fate, str] = {
    "living": "M-4.5 0a4.5 4.5 0 1 0 9 0a4.5 4.5 0 1 0-9 0Z",
    "given": "M-4-5 5 0-4 5Z",
    "lost": "M-4.5-4.5 4.5 4.5M4.5-4.5-4.5 4.5",
    "merged": "M0-5.5 5.5 0 0 5.5-5.5 0Z",
}
_TREE_ROW, _HEAD, _TREE_FOOT, _GAP = 26, 26, 8, 8
_TREE_LEFT, _TREE_SPAN = 1.5, 96.0
# A long picture names its years again every so many px.
_SCREEN = 600
# A label begins with its bar, unless the bar begins so far right that the words would run out of the picture.
_ENOUGH_ROOM = 45.0
# A name has at most so many letters, and stands within a telephone of so many px.
_LONGEST = 24
_TELEPHONE = 340.0
# The px a letter of a name takes on average: it is bold.
_BOLD = 8.2


class Bar(Struct, frozen=True):
    """One piece: its days (ms of the wall clock), what became of it, the row it was cut from, pieces given of it.

    A rule stands above the `first` of a line.
    """

    name: str
    href: str
    words: str
    start: float
    end: float
    fate: Fate
    parent: int | None
    given: Sequence[tuple[float, str]] = ()
    first: bool = False


class Tree(Struct, frozen=True):
    """Whole trees, each piece below the one it was cut from."""

    id: str
    title: str
    start: float
    end: float
    bars: tuple[Bar, ...]
    said: str = ""


def draw_trees(tree: Tree, words: Words) -> Markup:
    """The trees as one SVG element."""
    ys: list[int] = []
    for bar in tree.bars:
        ys.append((ys[-1] + _TREE_ROW if ys else _HEAD + 22) + _GAP * (bar.first and bool(ys)))
    height = _HEAD + _TREE_FOOT + _TREE_ROW if not ys else ys[-1] + _TREE_FOOT + 8
    parts = [*_years(words, tree, height)]
    for y, bar in zip(ys, tree.bars, strict=True):
        parts += _cut_from(tree, ys, y, bar)
    for y, bar in zip(ys, tree.bars, strict=True):
        parts += _bar(tree, y, bar)
    return svg(tree.id, "tree", f'width="100%" height="{height}"', tree.title, parts, tree.said, role="document")


def _years(words: Words, tree: Tree, height: int) -> Iterator[str]:
    for tick in time_ticks(words, tree.start, tree.end, most=6):
        x = _x(tree, tick.at)
        yield f'<line class="f-grid" x1="{x}%" x2="{x}%" y1="{_HEAD - 6}" y2="{height}"/>'
        for y in range(13, height - _SCREEN // 2 if height > _SCREEN else 14, _SCREEN):
            yield f'<text class="f-tick" x="{x}%" y="{y}" text-anchor="{_anchor(x)}">{escape(tick.label)}</text>'


def _cut_from(tree: Tree, ys: Sequence[int], y: int, bar: Bar) -> Iterator[str]:
    if bar.first and y > ys[0]:
        yield f'<line class="f-grid" x1="0" x2="100%" y1="{y - _TREE_ROW}" y2="{y - _TREE_ROW}"/>'
    if bar.parent is not None:
        x = _x(tree, bar.start)
        yield f'<line class="f-cut" x1="{x}%" x2="{x}%" y1="{ys[bar.parent]}" y2="{y}"/>'


def _bar(tree: Tree, y: int, bar: Bar) -> Iterator[str]:
    left, right = _x(tree, bar.start), _x(tree, bar.end)
    yield f'<line class="f-bar f-{bar.fate}" x1="{left}%" x2="{right}%" y1="{y}" y2="{y}"/>'
    for at, words in bar.given:
        yield (
            f'<svg x="{_x(tree, at)}%" y="{y}" overflow="visible"><path class="f-gift" d="M-3.5-4 4 0-3.5 4Z">'
            f"<title>{escape(words)}</title></path></svg>"
        )
    yield (
        f'<svg x="{right}%" y="{y}" overflow="visible">'
        f'<path class="f-end f-{bar.fate}" d="{FATES[bar.fate]}"><title>{escape(bar.words)}</title></path></svg>'
    )
    name = bar.name if len(bar.name) <= _LONGEST else f"{bar.name[: _LONGEST - 1].rstrip()}…"
    beside = left < _ENOUGH_ROOM and _BOLD * len(name) <= _TELEPHONE * (_TREE_LEFT + _TREE_SPAN - left) / _TREE_SPAN
    x, anchor = (left, "start") if beside else (_TREE_LEFT + _TREE_SPAN, "end")
    way = f'a href="{escape(bar.href)}"' if bar.href else "tspan"
    label = f'<{way} class="f-name">{escape(name)}</{way.split()[0]}>'
    yield f'<text class="f-label" x="{x}%" y="{y - 8}" text-anchor="{anchor}">{label}</text>'


def _anchor(x: float) -> str:
    return "start" if x < _TREE_LEFT + 3 else "end" if x > _TREE_LEFT + _TREE_SPAN - 3 else "middle"


def _x(tree: Tree, at: float) -> float:
    return round(_TREE_LEFT + _TREE_SPAN * (at - tree.start) / (tree.end - tree.start), 2)
