"""What pages are made from, and the parts that every page has."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cached_property
from typing import TYPE_CHECKING, Generic, TypeVar, Unpack

from msgspec import Struct
from msgspec.structs import replace

from generator import __version__
from generator.records.coral import Coral, Photo
from generator.records.source import Source
from generator.render.audience import NO_PAPERS, Papers, View
from generator.render.base import links
from generator.render.base.blocks import Block, CoralRow, Paragraph, PhotoLink, ShareTold
from generator.render.base.numbers import Display, Say, shortened
from generator.render.base.page import Frame, Head, NavLink, Page, with_contents
from generator.render.base.prose import Dead, Hidden, PhotoCopies, Prose, Surroundings, to_html
from generator.render.base.texts import Targets, resolve
from generator.render.base.ties import Ties
from generator.render.base.words import Words

if TYPE_CHECKING:
    from generator.reckon.analysis.journal import Findings
    from generator.reckon.attention import Alert
    from generator.reckon.growth.room import RoomFindings
    from generator.reckon.planned.analysis import PlanFindings
    from generator.reckon.water.findings import WaterFindings

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Shared:
    """Everything that pages are made from.

    What the audience may see and what was found, what needs the keeper (all of it, and by what it is about), the moment
    of the build, words, units, small copies of photos by path, how records are related, records of origin. Then what
    takes long to tell: each coral's share of the uptake, its row in the gallery, all shares, how predicted sizes held.
    """

    view: View
    found: "Findings"
    alerts: "Sequence[Alert]"
    alerts_about: "Mapping[str, tuple[Alert, ...]]"
    as_of: datetime
    words: Words
    display: Display
    pictures: Mapping[str, PhotoCopies]
    ties: Ties
    papers: Papers = NO_PAPERS
    shares_told: Mapping[str, ShareTold | None] = field(default_factory=dict)
    rows: Mapping[str, CoralRow] = field(default_factory=dict)
    shares_listed: Mapping[str, tuple[Block, ...]] = field(default_factory=dict)
    sizes_told: tuple[tuple[links.Inline, ...], ...] = ()


class _Part(Generic[T]):
    """A part of what all pages are made from, read when a page first asks for it."""

    def __init__(self, read: Callable[[Shared], T]) -> None:
        self.read = read

    def __set_name__(self, _: type, name: str) -> None:
        self.name = name

    def __get__(self, ctx: "PageContext", _: object) -> T:
        kept: T = ctx.__dict__.setdefault(self.name, self.read(ctx.shared))
        return kept


class PageContext(Struct, frozen=True, dict=True):
    """What the page at `url` is made from. It keeps what it has read, so that each step has one of its own.

    `day_none` stands for a day to come that nobody knows yet: from it the days of `then` are counted.
    """

    shared: Shared
    url: str = links.HOME
    day_none: date | None = None
    counts: bool = False

    view = _Part(lambda shared: shared.view)
    found = _Part(lambda shared: shared.found)
    alerts = _Part(lambda shared: shared.alerts)
    alerts_about = _Part(lambda shared: shared.alerts_about)
    as_of = _Part(lambda shared: shared.as_of)
    words = _Part(lambda shared: shared.words)
    pictures = _Part(lambda shared: shared.pictures)
    ties = _Part(lambda shared: shared.ties)
    papers = _Part(lambda shared: shared.papers)

    @property
    def plans(self) -> "Sequence[PlanFindings]":
        """What was found of the plans, the soonest first."""
        return self.found.plans

    @cached_property
    def display(self) -> Display:
        """The units, digits and zone of numbers and moments."""
        display = self.shared.display
        return replace(display, day_none=self.day_none) if self.counts else display

    @property
    def then(self) -> "PageContext":
        """The same for what is to be done on a day to come."""
        return replace(self, counts=self.day_none is not None)

    @property
    def findings(self) -> "Mapping[str, WaterFindings]":
        """What was found about each system's water, by the lines that still count."""
        return self.found.water

    @property
    def whole_waters(self) -> "Mapping[str, WaterFindings]":
        """The same with all that was told of the years before."""
        return self.found.whole_water

    def alerts_in(self, system: str) -> "Sequence[Alert]":
        """What needs the keeper in a system, most important first."""
        return self.alerts_about.get(f"/{system}", ())

    def share_of(self, coral: str) -> ShareTold | None:
        """A coral's share of the uptake in its water; None if it has no place or does not calcify."""
        return self.shared.shares_told.get(coral)

    def room_of(self, coral: str) -> "RoomFindings | None":
        """What was found about a coral's room."""
        return self.found.room_of.get(coral)

    @cached_property
    def say(self) -> Say:
        """Numbers, days and moments in the journal's units and language."""
        return Say(self.display, self.words)

    @cached_property
    def today(self) -> date:
        """The keeper's day at the moment of the build."""
        return self.as_of.astimezone(self.display.zone).date()

    def absolute(self, address: str) -> str:
        """The full public address of a page of the site."""
        return f"{(self.view.settings.base_url or '').rstrip('/')}/{address}"

    def way(self, address: str) -> str:
        """The link from this page to an address of the site.

        It is relative, except in feeds, which are read elsewhere, and on the page for unknown addresses, which
        hosts serve at any depth.
        """
        if self.url.endswith(".xml") or (self.url == links.NOT_FOUND and self.view.published):
            return self.absolute(address)
        return links.relative(self.url, address)

    def link(self, address: str, text: str) -> links.Link:
        """A link from this page to an address of the site."""
        return links.Link(text, self.way(address))

    def to_system(self, id: str) -> links.Link:
        """A link to a system, by its name."""
        return self.link(links.page_of("system", id), self.view.systems[id].name)

    def to_coral(self, id: str) -> links.Link:
        """A link to a coral by its name; plain text if this audience may not see it."""
        name = self.ties.coral_names.get(id)
        return self.link(links.page_of("coral", id), name) if name else links.Link(id)

    def to_line(self, id: str) -> links.Link:
        """A link to a line, by its name."""
        return self.link(f"{links.LINES}#{id}", self.ties.lines.get(id, id))

    def partner(self, id: str | None) -> str:
        """A partner's name as this audience may see it."""
        return self.view.partner_names.get(id or "", self.words("partner.unnamed"))

    def photo(self, photo: Photo, of: str) -> PhotoLink | None:
        """A photo as this page shows it; None if there is no picture to copy.

        `of` is the name of what it shows. With the day it replaces a missing description.
        """
        picture = self.pictures.get(links.photo_path(photo.file))
        if picture is None:
            return None
        day = self.say.on(photo.at) if photo.at else ""
        caption = " · ".join(
            part for part in (day, self.words("photo.credit", credit=photo.credit) if photo.credit else "") if part
        )
        way = [(self.way(copy.address), copy) for copy in picture.copies]
        return PhotoLink(
            way[-1][0],
            ", ".join(f"{href} {copy.width}w" for href, copy in way),
            picture.largest.width,
            picture.largest.height,
            photo.alt or self.words("photo.not_described", of=", ".join(filter(None, (of, day)))),
            caption,
            day,
        )

    def photos(self, photos: Sequence[Photo], of: str) -> tuple[PhotoLink, ...]:
        """The photos of something, by its name, that have a picture: in order of days, after those without one."""
        dated = sorted(photos, key=lambda photo: photo.at or date.min)
        return tuple(shown for photo in dated if (shown := self.photo(photo, of)))

    def corals_of(self, system: str) -> tuple[Coral, ...]:
        """The corals in a system today."""
        return tuple(self.view.corals[id] for id in self.ids_in(system))

    def ids_in(self, system: str) -> tuple[str, ...]:
        """Their ids: to count them asks for none of them."""
        return tuple(each.id for each in self.ties.corals if each.system_on(self.today) == system)

    def calls(self, system: str) -> bool:
        """Whether a system needs tests: it has corals, or it is tested and never had any, as during cycling."""
        if system not in self.findings:
            return False
        if self.ids_in(system):
            return True
        held = any(place == system for coral in self.ties.corals for _, place in coral.places)
        return not held and bool(self.findings[system].latest)

    def is_empty(self, system: str) -> bool:
        """Whether to say that no coral is in a system: only its keeper's own site shows them all."""
        return self.view.shows_tasks and not self.calls(system)

    def prose(self, markdown: str, source: Source) -> Prose:
        """A keeper's Markdown as this page shows it, with its problems."""
        around = Surroundings(self._resolve, self.pictures, self.ties.names, self.way, self.words)
        return to_html(markdown, source, around)

    def _resolve(self, kind: str, id: str) -> str | Dead | Hidden:
        view = self.view
        known: Targets = {"coral": view.corals, "system": view.systems, "entry": view.entries, "trade": view.trades}
        return resolve(kind, id, known, view.withheld, self.way)


_NAV = (
    ("today", links.HOME),
    ("front", links.HOME),
    ("systems", links.SYSTEMS),
    ("corals", links.CORALS),
    ("journal", links.JOURNAL),
    ("trades", links.TRADES),
    ("methods", links.METHODS),
    ("write", links.WRITE),
    ("search", links.SEARCH),
)


def frame(ctx: PageContext, title: str, description: str, section: str, *crumbs: links.Link) -> Frame:
    """The frame of this page; `section` is its part of the site."""
    settings = ctx.view.settings
    nav = tuple(
        NavLink(ctx.words(f"nav.{name}"), ctx.way(address), name == section)
        for name, address in _NAV
        if _stands(ctx, name)
    )
    return Frame(
        address=ctx.absolute(ctx.url) if ctx.view.published and ctx.url != links.NOT_FOUND else "",
        root=ctx.way(links.HOME).removesuffix(links.HOME),
        language=ctx.words.language,
        site_title=settings.title,
        keeper=settings.keeper,
        title=title,
        description=description,
        nav=nav,
        crumbs=crumbs,
        as_of=ctx.say.day(ctx.today),
        data=ctx.way(links.DATA),
        feeds=tuple(_feeds(ctx)),
        version=__version__,
    )


def page(
    ctx: PageContext,
    kind: str,
    part: str,
    *blocks: Block,
    title: str = "",
    description: str = "",
    crumbs: tuple[links.Link, ...] = (),
    contents: bool = False,
    **head: Unpack[Head],
) -> Page:
    """A page of this `kind` in a `part` of the site, with its `contents` beside it if wanted.

    Its title and description are those of its kind unless given.
    """
    title = title or ctx.words(f"{kind}.title")
    description = description or ctx.words(f"{kind}.description")
    made = Page(ctx.url, kind, frame(ctx, title, description, part, *crumbs), blocks, **head)
    return with_contents(made) if contents else made


def onward(ctx: PageContext, address: str, key: str) -> Paragraph:
    """A way on, at the end of a section; `key` names its words."""
    return Paragraph(ctx.link(address, ctx.words(key)), "onward")


def as_file(ctx: PageContext, address: str, table: str) -> Paragraph:
    """A way to the numbers of a page as a file."""
    return Paragraph(ctx.link(address, ctx.words("data.file", name=ctx.words(f"data.tables.{table}.name"))), "onward")


def _stands(ctx: PageContext, section: str) -> bool:
    """Whether the site has a section: the keeper's own opens with what needs them, any other with the journal."""
    if section in ("today", "front", "write"):
        return (section != "front") == ctx.view.writes
    return section != "trades" or bool(ctx.view.trades) or ctx.view.shows_offers


def _feeds(ctx: PageContext) -> Iterator[links.Link]:
    """The feeds a page links to: the journal's, and its own system's."""
    if ctx.view.published and ctx.view.entries:
        yield ctx.link(links.FEED, ctx.view.settings.title)
    for id in ctx.view.systems if ctx.view.published else ():
        if ctx.url == links.page_of("system", id) and f"system/{id}" in ctx.ties.named_in:
            yield ctx.link(links.feed_of(id), ctx.view.systems[id].name)


def section_crumb(ctx: PageContext, section: str) -> links.Link:
    """The breadcrumb of a part of the site."""
    return ctx.link(dict(_NAV)[section], ctx.words(f"nav.{section}"))


def predicted(ctx: PageContext, system: str) -> tuple[str, ...]:
    """A line for every change since the last test of alkalinity that is only predicted; of several, how many first."""
    from generator.reckon.arrivals.observed import events_at_once

    told, known = [], ctx.ties.coral_names
    for together, step in events_at_once([e for e in ctx.found.predicted.get(system, ()) if e.event.coral]):
        names, event = [known[str(each.event.coral)] for each in together], together[0].event
        said = ctx.say.per_day("alkalinity", step.size)
        key = event.what if len(names) == 1 else f"several.{event.what}"
        at = ctx.say.moment(event.at).text if event.timed else ctx.say.on(event.day)
        told.append(ctx.words(f"predicted.{key}", **said.blanks("step"), name=shortened(ctx, names), at=at))
    if len(told) == 1:
        return (f"{told[0]} {ctx.words('predicted.untested')}",)
    return (ctx.words("predicted.several_untested", n=len(told)), *told) if told else ()


def page_of_system(
    ctx: PageContext, system: str, kind: str, title: str, description: str, *blocks: Block, **head: Unpack[Head]
) -> Page:
    """A page below a system's own."""
    crumbs = section_crumb(ctx, "systems"), ctx.to_system(system)
    framed = replace(frame(ctx, title, description, "systems", *crumbs), predicted=predicted(ctx, system))
    return Page(ctx.url, kind, framed, blocks, **head)
