"""A page before it is drawn: its frame, its head and its blocks."""

from dataclasses import dataclass, replace
from typing import TypedDict

from generator.render.base.blocks import Block, Drawn, Picture, Section, walk
from generator.render.base.chart import Chart
from generator.render.base.inline import Inline, Link, plain_text
from generator.render.base.numbers import Moment


@dataclass(frozen=True, slots=True)
class NavLink:
    """One link of the navigation on every page."""

    text: str
    href: str
    here: bool


@dataclass(frozen=True, slots=True)
class Frame:
    """The frame of every page.

    `root` is the relative link to the top of the site; `address` is the page's public address ("" for none).
    `predicted` says which changes the numbers of a system's page only predict.
    """

    address: str
    root: str
    language: str
    site_title: str
    keeper: str
    title: str
    description: str
    nav: tuple[NavLink, ...]
    crumbs: tuple[Link, ...]
    as_of: Moment
    data: str
    feeds: tuple[Link, ...]
    version: str
    predicted: tuple[str, ...] = ()


class Head(TypedDict, total=False):
    """What a page may have beside its blocks; see `Page`."""

    lead: Inline
    over: Inline
    heading: Inline
    look: str
    script: str
    titled: bool
    text: str
    margin: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """One page at its address `url`; `kind` names it to the stylesheet, `over` and `lead` stand around its title.

    `heading` replaces the title at the top of the page; if it is not `titled`, a block has the title. `look` is the
    class of a page that has rules of its own on paper; `script` is its own script, if it has one, or
    several with blanks between. The search finds
    it by the title and description of its frame, and by the words of `text`. `card` is the full address of its
    preview picture for shared links, `beside` that of the file with the data of its charts. On a wide screen
    `contents` and `margin` stand to the right of the text; on a narrow one the margin follows it.
    """

    url: str
    kind: str
    frame: Frame
    blocks: tuple[Block, ...]
    lead: Inline = ""
    over: Inline = ""
    heading: Inline = ""
    look: str = ""
    script: str = ""
    titled: bool = True
    text: str = ""
    card: str = ""
    beside: str = ""
    contents: tuple[Link, ...] = ()
    margin: tuple[Block, ...] = ()

    @property
    def in_columns(self) -> bool:
        """Whether something stands beside its text on a wide screen."""
        return bool(self.contents) or any(self.margin)

    @property
    def charts(self) -> tuple[Chart, ...]:
        """Its charts that can be live."""
        return tuple(block for block in walk(self.blocks) if isinstance(block, Chart))

    @property
    def styles(self) -> tuple[str, ...]:
        """The stylesheets of what it shows."""
        looks = {block.look for block in walk(self.blocks) if isinstance(block, Picture | Drawn)}
        chart = bool(self.charts) or "chart" in looks
        own = [f"{sheet}.css" for look, sheet in (("drawing", "drawings"), ("writing", "writing")) if look in looks]
        return (*(["charts.css"] if chart else []), *own)


def with_contents(page: Page) -> Page:
    """The page with the ways to its sections beside it, if there are several; those without an id get one."""
    blocks = tuple(
        replace(block, id=block.id or f"part-{number}") if isinstance(block, Section) and block else block
        for number, block in enumerate(page.blocks)
    )
    ways = tuple(Link(plain_text(each.title), f"#{each.id}") for each in blocks if isinstance(each, Section) and each)
    return replace(page, blocks=blocks, contents=ways) if len(ways) > 1 else page
