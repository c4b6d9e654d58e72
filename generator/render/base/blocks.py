"""Blocks: what pages are told in. A page function returns blocks; templates/blocks.html draws each kind once.

A block that holds nothing is false and is not drawn, so that a page lists what it may have without asking twice.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import repeat
from typing import Any

from markupsafe import Markup, escape
from msgspec import Struct

from generator.door.door import grouped
from generator.render.base.links import Cannot, Inline, Link, Span, plain_text
from generator.render.base.numbers import Shown

Columns = Mapping[str, Sequence[float | str | None]]


class Key(Struct, frozen=True):
    """One line of the legend: the class of its swatch, and its words."""

    look: str
    words: str


class Chart(Struct, frozen=True):
    """One chart of one page.

    `kind` names its specification (`specification` in `page.py`); `data` are that specification's data
    sets as columns of equal length; `svg` is the still picture of the same data; `columns` and `rows`
    are the numbers for those who cannot see it, and `rows_note` says which of them these are. `ranges` names the spans
    of time that the live chart can show, and says which of them the still picture shows.
    """

    id: str
    kind: str
    title: str
    description: str
    svg: Markup
    data: dict[str, Columns]
    keys: tuple[Key, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    rows_note: str
    ranges: tuple[tuple[str, bool], ...] = ()


class PhotoLink(Struct, frozen=True):
    """A photo's copies, its size, and its words; `day` is "" if nobody knows when it was taken."""

    src: str
    srcset: str
    width: int
    height: int
    alt: str
    caption: str
    day: str = ""


class Line(Struct, frozen=True):
    """One line of the keeper's files, and what it says."""

    source: str
    text: str


class FileLines(Struct, frozen=True):
    """More lines of one file: their numbers, in words."""

    file: str
    lines: str


class CauseSize(Struct, frozen=True):
    """One cause of the uncertainty, and its size alone."""

    cause: str
    size: str


class Why(Struct, frozen=True):
    """The evidence for a number, folded; `of` names the number where it does not stand right above.

    `same` is a link to where the same lines are already listed.
    """

    method: Link
    parts: tuple[CauseSize, ...]
    count: str
    newest: tuple[Line, ...]
    older: tuple[FileLines, ...]
    of: str = ""
    same: Link | None = None


class Figure(Struct, frozen=True):
    """A number with its interval and reasons, or 'cannot tell'.

    `id` names it on its page, so that other pages link straight to its evidence.
    """

    label: str
    shown: Shown | None
    why: Why | None
    cannot: Cannot | None
    note: str = ""
    id: str = ""


class CoralRow(Struct, frozen=True):
    """One coral in the gallery."""

    link: Link
    species: str
    line: Link
    form: str
    form_words: str
    state: str
    living: bool
    to_offer: bool
    photo: PhotoLink | None
    find: str
    more: tuple[Inline, ...] = ()


class ShareTold(Struct, frozen=True):
    """A coral's share of the uptake in its system's water, as its page tells it.

    `cut` is what its cutting plan does to that uptake. The share of each coral changes with every measured neighbour;
    what a page tells of it seldom does.
    """

    system: str
    figure: Figure
    cut: tuple[str, ...]


class Paragraph(Struct, frozen=True):
    """A paragraph; `look` is its class, such as `note`, `lead` or `caution`."""

    text: Inline
    look: str = ""

    def __bool__(self) -> bool:
        return bool(self.text)


class Facts(Struct, frozen=True):
    """Plain facts, each a term and what it is."""

    rows: tuple[tuple[Inline, "Inline | Items"], ...]
    look: str = ""

    def __bool__(self) -> bool:
        return bool(self.rows)


class Figures(Struct, frozen=True):
    """Numbers side by side. If several are missing for the same reason, the reason is given once."""

    figures: tuple[Figure, ...]
    look: str = "small"

    def __bool__(self) -> bool:
        return bool(self.figures)

    @property
    def alike(self) -> tuple[tuple[Figure, ...], ...]:
        """Those that are missing for one and the same reason, if several are, in the order of the reasons."""
        missing = grouped((each.cannot.reason, each) for each in self.figures if each.cannot and not each.shown)
        return tuple(missing[reason] for reason in sorted(missing, key=str.lower) if missing[reason][1:])

    @property
    def alone(self) -> tuple[Figure, ...]:
        """All others."""
        alike = [each for those in self.alike for each in those]
        return tuple(each for each in self.figures if each not in alike)


class Table(Struct, frozen=True):
    """A table whose rows begin with their name; a row with too few cells ends in a wide one.

    `label` names the table for those who hear it. Of a `tall` one each row is a list on a telephone; the cells
    of `figures` are numbers. `looks` are the classes of its rows, if any has one.
    """

    label: str
    heads: tuple[Inline, ...]
    rows: tuple[tuple[Inline, ...], ...]
    look: str = ""
    looks: tuple[str, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.rows)

    @property
    def body(self) -> Iterator[tuple[str, Inline, Iterable[tuple[str, Inline, int]]]]:
        """Each row's class and name, and its cells with their heads ("" if not tall) and widths in columns."""
        labels = tuple(map(plain_text, self.heads[1:])) if "tall" in self.look.split() else repeat("")
        for look, (name, *cells) in zip(self.looks or repeat(""), self.rows, strict=bool(self.looks)):
            yield look, name, zip(labels, cells, [*(1 for _ in cells[1:]), len(self.heads) - len(cells)], strict=False)


class Items(Struct, frozen=True):
    """A list; `look` is its class, such as `told`, `plain` or `row`. `label` names it for those who hear it."""

    items: tuple[Inline, ...]
    look: str = ""
    ordered: bool = False
    label: str = ""

    def __bool__(self) -> bool:
        return bool(self.items)

    def __html__(self) -> str:
        """The list; it may stand as the value of a fact too."""
        tag, look = "ol" if self.ordered else "ul", f' class="{self.look}"' if self.look else ""
        label = f' aria-label="{escape(self.label)}"' if self.label else ""
        return f"<{tag}{look}{label}>\n{''.join(map(_item, self.items))}</{tag}>\n"


class Picture(Struct, frozen=True):
    """A drawing with what explains it; `look` is that of a `chart` or of a `drawing`; a chart may have a legend."""

    svg: Markup
    note: Inline = ""
    look: str = "chart"
    keys: tuple[Key, ...] = ()


class Photos(Struct, frozen=True):
    """Photographs side by side."""

    photos: tuple[PhotoLink, ...]

    def __bool__(self) -> bool:
        return bool(self.photos)


class Drawn(Struct, frozen=True):
    """What only one or two pages have: drawn by the macro and the file templates/parts of the name `part`.

    `look` is that of a picture whose stylesheet it needs.
    """

    part: str
    model: Any
    look: str = ""

    def __bool__(self) -> bool:
        return bool(self.model)


class Group(Struct, frozen=True):
    """Blocks in one box; `look` is its class, such as `side-by-side`, `caution` or `prose`."""

    look: str
    blocks: tuple["Block", ...]
    id: str = ""

    def __bool__(self) -> bool:
        return any(self.blocks)


class Fold(Struct, frozen=True):
    """Blocks that unfold when asked for."""

    summary: Inline
    blocks: tuple["Block", ...]
    look: str = "why"

    def __bool__(self) -> bool:
        return any(self.blocks)


class Section(Struct, frozen=True):
    """Blocks under a heading, which can be linked to by `id`.

    `lead` and `method`, the way to how it is calculated, introduce the blocks and do not stand alone. What is `folded`
    unfolds when its heading is asked, and when a link leads to it.
    """

    title: Inline
    blocks: tuple["Block", ...]
    id: str = ""
    lead: Inline = ""
    method: Link | None = None
    look: str = ""
    folded: bool = False

    def __bool__(self) -> bool:
        return any(self.blocks)


Block = (
    Section | Fold | Group | Paragraph | Facts | Figures | Table | Items | Chart | Picture | Photos | Why | Cannot
    | Drawn | Markup | None
)  # fmt: skip


def _item(inside: Inline) -> str:
    own = isinstance(inside, Span) and inside.tag == "li"
    return f"{escape(inside)}\n" if own else f"<li>{escape(inside)}</li>\n"


def section(
    title: Inline, *blocks: Block, id: str = "", lead: Inline = "", method: Link | None = None, look: str = ""
) -> Section:
    """Blocks under a heading."""
    return Section(title, blocks, id, lead, method, look)


def folded(title: Inline, *blocks: Block, id: str = "", lead: Inline = "", method: Link | None = None) -> Section:
    """Blocks under a heading that unfolds them."""
    return Section(title, blocks, id, lead, method, folded=True)


def group(look: str, *blocks: Block, id: str = "") -> Group:
    """Blocks in one box."""
    return Group(look, blocks, id)


def items(*each: Inline, look: str = "told", ordered: bool = False, label: str = "") -> Items:
    """A list; items without text are left out."""
    return Items(tuple(item for item in each if item), look, ordered, label)


def row(*links: Link | None) -> Items:
    """Links side by side."""
    return Items(tuple(link for link in links if link), "row")


def facts(*rows: tuple[Inline, Inline | Items], look: str = "") -> Facts:
    """A list of facts; those without a value are left out."""
    return Facts(tuple(each for each in rows if each[1]), look)


def figures(*each: Figure | None, look: str = "small") -> Figures:
    """Several numbers side by side; None is left out."""
    return Figures(tuple(figure for figure in each if figure), look)


def walk(blocks: tuple[Block, ...]) -> Iterator[Block]:
    """Every block that is drawn, and those inside it."""
    for block in blocks:
        if block:
            yield block
            if isinstance(block, Section | Fold | Group):
                yield from walk(block.blocks)
