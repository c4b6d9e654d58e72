"""A site from a journal's folder, step by step behind one door: read, calculate, make pages, draw them."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import datetime
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct
from msgspec.structs import replace

from generator.commands.check import cannot_leave, unfit
from generator.door.door import dealt, later, parts_of

if TYPE_CHECKING:
    from generator.door.door import Door
    from generator.publish.assets import Album
    from generator.read.load import Loaded
    from generator.records.coral import Audience
    from generator.records.journal import Journal
    from generator.records.source import Problem
    from generator.render.audience import View
    from generator.render.site.site_map import SiteSteps

with later():  # loaded when they are needed
    from generator.publish import assets as _assets
    from generator.render.base import links as _links
    from generator.render.base import page as _page


# The steps of one page, which share what it is made from.
_OF_A_PAGE = ("wrong on page", "document", "beside page", "drawn", "links")


class Wanted(NamedTuple):
    """What site is wanted: for whom, at which address, with records of origin signed by which key."""

    audience: "Audience"
    partner: str | None = None
    base_url: str | None = None
    key: Path | None = None
    # Gets the name of a part that takes long before it is made, and "" when it is done.
    tell: Callable[[str], object] = str


class Made(Struct, frozen=True):
    """A site in steps: its files and its pages by address, and what is wrong in the journal and in links.

    `page` gives a page with the data of its charts, by their addresses.
    """

    files: "SiteFiles"
    pages: Callable[[], tuple[str, ...]]
    problems: Callable[[], tuple["Problem", ...]]
    dead_links: Callable[[], list[str]]
    page: Callable[[str], dict[str, bytes]]


def site_in_steps(door: "Door", loaded: "Loaded", content: Path, cache: Path, as_of: datetime, wanted: Wanted) -> Made:
    """The site that is wanted of a journal without mistakes, at a moment. Raises `Refused` if the key cannot sign."""
    from generator.commands.papers import papers
    from generator.publish.assets import assets_in
    from generator.reckon.analysis.journal import analyse
    from generator.reckon.attention import alerts_in_steps
    from generator.records.journal import as_it_stood
    from generator.records.source import in_order
    from generator.render.base.words import digest_of_templates, template_files
    from generator.render.site.site_map import steps_of_site

    assert loaded.journal is not None
    journal = _addressed(door, as_it_stood(loaded.journal, as_of, door), wanted.base_url)
    found = analyse(journal, as_of, door)
    seen = _view(door, journal, content, wanted)
    day = door.one("day of papers", lambda: found.as_of.astimezone(journal.settings.time_zone).date())
    shown = papers(journal, seen, content, day, wanted.key, door, loaded.marked)
    pictures = _Pictures(door, seen, content, cache, loaded.marked, wanted.tell)
    needs = alerts_in_steps(journal, found, door)
    templates = partial(door.given("templates", {"": digest_of_templates()}), "")
    steps = steps_of_site(door, seen, found, needs, lambda: found.as_of, pictures.by_photo, shown, templates)
    door.all_given()
    _in_rounds(door, journal, seen, pictures)

    def drawn_page(url: str) -> bytes:
        templates()
        return _page.render_page(steps.pages[url], assets.addresses)

    assets = assets_in(template_files() / "assets")
    drawn = door.each("drawn", lambda: steps.pages, drawn_page, keep=False)
    cards = door.each("card", lambda: steps.cards, lambda address: _assets.png(steps.cards[address]), keep=False)
    # Every page leads to assets: they come first, so that no step is asked whether they are there.
    files = SiteFiles((assets.files, drawn, _beside(door, steps), *steps.files, pictures.files, cards))

    no_record = cannot_leave(loaded, door)

    def problems_of_site() -> tuple["Problem", ...]:
        return (*steps.problems(), *unfit(pictures.refused()), *no_record())

    dead = _dead_links(door, drawn, files)
    told = door.one("problems of site", problems_of_site)
    # The page of the search asks for all others.
    door.on_all_cores(
        lambda: (
            [[("data file", at), ("rows in SQLite", at)] for at in steps.files[0] if at.endswith(".csv")]
            + [[(name, url) for name in _OF_A_PAGE] for url in steps.pages if url != _links.SEARCH]
        ),
        again=True,
    )
    return Made(
        files,
        door.one("addresses", lambda: tuple(steps.pages)),
        # What reading found does not come out of a step, so that no step may rest on it.
        lambda: tuple(in_order([*loaded.problems, *told()])),
        door.one("dead links", lambda: sorted({wrong for url in dead for wrong in dead[url]})),
        lambda url: {url: drawn[url], **dict(filter(None, [steps.beside[url]]))} if url in drawn else {},
    )


def _beside(door: "Door", steps: "SiteSteps") -> Mapping[str, bytes]:
    """The files with the data of charts, by address."""

    def of_some(urls: Iterable[str]) -> list[tuple[str, str]]:
        return [(each[0], url) for url in urls if (each := steps.beside[url])]

    some = door.in_parts("some beside", lambda: steps.pages, of_some)
    pages = door.by_id("page with data", lambda: dict(chain(*some())))
    return door.each(
        "file beside", lambda: pages, lambda at: dict(filter(None, [steps.beside[pages[at]]]))[at], keep=False
    )


def _dead_links(door: "Door", drawn: Mapping[str, bytes], files: "SiteFiles") -> Mapping[str, tuple[str, ...]]:
    """What is wrong with the links of each page. Where a page leads changes more often than what leads into it."""
    links = door.each("links", lambda: drawn, lambda url: _links.links_in(drawn[url]))
    anchors = door.each("anchors", lambda: drawn, lambda url: links[url].anchors, keep=False)
    return door.each("dead links of", lambda: drawn, lambda url: _links.dead_links_of(url, links[url], anchors, files))


class SiteFiles(Mapping[str, bytes]):
    """Files from several steps, by address."""

    def __init__(self, parts: tuple[Mapping[str, bytes], ...]) -> None:
        self.parts = parts

    def __getitem__(self, address: str) -> bytes:
        for part in self.parts:
            if address in part:
                return part[address]
        raise KeyError(address)

    def __contains__(self, address: object) -> bool:
        return any(address in part for part in self.parts)

    def __iter__(self) -> Iterator[str]:
        return chain.from_iterable(self.parts)

    def __len__(self) -> int:
        return sum(map(len, self.parts))

    def differing(self) -> frozenset[str]:
        """The addresses of files that are not known to be as in the build before. Assets go with the program."""
        from generator.door.door import Each

        return frozenset().union(*(part.differing() for part in self.parts if isinstance(part, Each)))


def _in_rounds(door: "Door", journal: "Journal", seen: "View", pictures: "_Pictures") -> None:
    """Each round makes what the steps after it have in common, or else each core would make all of it."""
    door.on_all_cores(list, "events")
    door.on_all_cores(
        lambda: (
            [(("water", id), ("dosing", id)) for id in journal.systems]
            + [(("growth", id), ("size held", id), ("paper of coral", id)) for id in journal.corals]
        ),
        "past stretch",
    )
    door.on_all_cores(
        lambda: (
            [[("copies", name)] for name in pictures.shown()]
            + [[("leads to", id) for id in part] for part in dealt(seen.entries).values()]
        ),
        *("volume", "taken", "room", "rows of corals: part"),
    )


def _addressed(door: "Door", journal: "Journal", base_url: str | None) -> "Journal":
    """The journal with another public address, if there is one."""
    if base_url is None:
        return journal
    given = door.given("base url", {"": base_url})
    settings = door.one("settings with address", lambda: replace(journal.settings, base_url=given("")))
    return door.view(type(journal), **{**parts_of(journal), "settings": settings})


def _view(door: "Door", journal: "Journal", content: Path, wanted: Wanted) -> "View":
    """What the audience may see, with the history of the files where it may see that."""
    from generator.render.audience import history_for, view

    seen = view(journal, wanted.audience, wanted.partner, door)
    if not seen.shows_history:
        return seen
    from generator.read.git import history_of

    given = door.given("history", {"": history_of(content)})
    return door.view(
        type(seen), **{**parts_of(seen), "history": door.one("history as seen", lambda: history_for(seen, given("")))}
    )


class _Pictures:
    """The small copies of the photos that a site shows."""

    def __init__(
        self,
        door: "Door",
        seen: "View",
        content: Path,
        cache: Path,
        marked: Callable[[str], object],
        tell: Callable[[str], object],
    ) -> None:
        from generator.publish.assets import small_copies
        from generator.render.base.texts import all_shown, photos_shown

        def copied(name: str) -> "Album":
            marked(name)
            tell(f"copying {name}")
            album = small_copies(content, [name], cache)
            tell("")
            return album

        def files() -> dict[str, str]:
            return {address: name for name in shown() for address in copies(name).files}

        copies = door.step("copies", copied, keep=False)
        every = all_shown(door, seen.corals, seen.entries, "seen ")
        self.shown = shown = door.one("photos shown", lambda: photos_shown(every()))
        named = door.one("files of photos", files)
        sound = door.step("is a picture", lambda name: bool(copies(name).pictures))
        self.by_photo = door.each("picture", lambda: filter(sound, shown()), lambda name: copies(name).pictures[name])
        self.files = door.each("photo file", named, lambda address: copies(named()[address]).files[address], keep=False)
        self.refused = door.one(
            "refused photos", lambda: {name: why for id in shown() for name, why in copies(id).refused.items()}
        )
