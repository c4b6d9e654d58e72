"""The trees of all lines over the same years: each coral is a bar from its first day on, cut from the bar above.

The drawing fills the page's width and its letters keep their size, so that it can be read on a phone and with
hundreds of corals. Days and shapes are placed in per cent. The shape at the end of a bar shows what became
of a coral, never colour alone; where the pieces stand is told beside the picture.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Literal

from markupsafe import Markup

from generator.render.base.scale import time_ticks
from generator.render.base.words import Words
from generator.render.drawings.timeline import svg

Fate = Literal["living", "given", "lost", "merged"]

# Outlines about their middle, in px: a dot, an open arrow, a cross, a lozenge.
FATES: dict[Fate, str] = {
    "living": "M-4.5 0a4.5 4.5 0 1 0 9 0a4.5 4.5 0 1 0-9 0Z",
    "given": "M-4-5 5 0-4 5Z",
    "lost": "M-4.5-4.5 4.5 4.5M4.5-4.5-4.5 4.5",
    "merged": "M0-5.5 5.5 0 0 5.5-5.5 0Z",
}
_ROW, _HEAD, _FOOT, _GAP = 26, 26, 8, 8
_LEFT, _SPAN = 1.5, 96.0
# A long picture names its years again every so many px.
_SCREEN = 600
# A label begins with its bar, unless the bar begins so far right that the words would run out of the picture.
_ENOUGH_ROOM = 45.0
# A name has at most so many letters, and stands within a telephone of so many px.
_LONGEST = 24
_TELEPHONE = 340.0
# The px a letter of a name takes on average: it is bold.
_BOLD = 8.2


@dataclass(frozen=True, slots=True)
class Bar:
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


@dataclass(frozen=True, slots=True)
class Tree:
    """Whole trees, each piece below the one it was cut from."""

    id: str
    title: str
    start: float
    end: float
    bars: tuple[Bar, ...]
    said: str = ""


def draw(tree: Tree, words: Words) -> Markup:
    """The trees as one SVG element."""
    ys: list[int] = []
    for bar in tree.bars:
        ys.append((ys[-1] + _ROW if ys else _HEAD + 22) + _GAP * (bar.first and bool(ys)))
    height = _HEAD + _FOOT + _ROW if not ys else ys[-1] + _FOOT + 8
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
        yield f'<line class="f-grid" x1="0" x2="100%" y1="{y - _ROW}" y2="{y - _ROW}"/>'
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
    beside = left < _ENOUGH_ROOM and _BOLD * len(name) <= _TELEPHONE * (_LEFT + _SPAN - left) / _SPAN
    x, anchor = (left, "start") if beside else (_LEFT + _SPAN, "end")
    way = f'a href="{escape(bar.href)}"' if bar.href else "tspan"
    label = f'<{way} class="f-name">{escape(name)}</{way.split()[0]}>'
    yield f'<text class="f-label" x="{x}%" y="{y - 8}" text-anchor="{anchor}">{label}</text>'


def _anchor(x: float) -> str:
    return "start" if x < _LEFT + 3 else "end" if x > _LEFT + _SPAN - 3 else "middle"


def _x(tree: Tree, at: float) -> float:
    return round(_LEFT + _SPAN * (at - tree.start) / (tree.end - tree.start), 2)
