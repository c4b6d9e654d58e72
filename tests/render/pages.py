"""Sites of which only what is asked for is made, their pages as bytes, and plain ways to look into them."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from functools import cached_property
from html.parser import HTMLParser

from generator.door.door import Door
from generator.reckon.analysis.journal import Findings
from generator.reckon.attention.alert import Alert
from generator.records.source import Problem
from generator.render.audience import NO_PAPERS, Papers, View
from generator.render.base.page import Page, render_page
from generator.render.base.prose import PhotoCopies
from generator.render.site.site_map import SiteSteps, steps_of_site

_VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


class AnyAsset(dict[str, str]):
    """Every asset under its own name."""

    def __getitem__(self, name: str) -> str:
        return f"assets/{name}"


class Files(Mapping[str, bytes]):
    """The files of a site beside its pages, by address."""

    def __init__(self, steps: SiteSteps) -> None:
        self._steps = steps

    @cached_property
    def _beside(self) -> dict[str, bytes]:
        return dict(each for each in self._steps.beside.values() if each)

    def __getitem__(self, address: str) -> bytes:
        return next((part[address] for part in self._steps.files if address in part), None) or self._beside[address]

    def __iter__(self) -> Iterator[str]:
        yield from dict.fromkeys(address for part in (self._beside, *self._steps.files) for address in part)

    def __len__(self) -> int:
        return sum(1 for _ in self)


class Site:
    """The site of one audience at a moment: pages before they are drawn, files and cards by address, problems."""

    def __init__(self, steps: SiteSteps) -> None:
        self.by_address: Mapping[str, Page] = steps.pages
        self.files, self.cards = Files(steps), steps.cards
        self._problems = steps.problems

    @property
    def pages(self) -> tuple[Page, ...]:
        return tuple(self.by_address.values())

    @property
    def problems(self) -> tuple[Problem, ...]:
        return self._problems()


def site(
    view: View,
    found: Findings,
    alerts: Sequence[Alert],
    as_of: datetime,
    pictures: Mapping[str, PhotoCopies],
    papers: Papers = NO_PAPERS,
) -> Site:
    return Site(steps_of_site(Door(), view, found, lambda: alerts, lambda: as_of, pictures, papers))


class Drawn(Mapping[str, str]):
    """Every page's HTML by its address; a page is drawn when it is asked for, and once."""

    def __init__(self, site: Site) -> None:
        self._pages = site.by_address

    def __getitem__(self, url: str) -> str:
        page = self._pages[url]
        if id(page) not in _DRAWN:
            _DRAWN[id(page)] = page, render_page(page, AnyAsset()).decode()
        return _DRAWN[id(page)][1]

    def __iter__(self) -> Iterator[str]:
        return iter(self._pages)

    def __len__(self) -> int:
        return len(self._pages)


# With the page itself, so that no other one takes its place in memory.
_DRAWN: dict[int, tuple[Page, str]] = {}
drawn = Drawn


class _Walk(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[tuple[str, dict[str, str]]] = []
        self.elements: list[tuple[str, dict[str, str]]] = []
        self.texts: list[tuple[tuple[str, ...], str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = (tag, {name: value or "" for name, value in attrs})
        self.elements.append(element)
        if tag not in _VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open, f"</{tag}> closes nothing"
        assert self.open[-1][0] == tag, f"</{tag}> closes <{self.open[-1][0]}>"
        self.open.pop()

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.texts.append((tuple(tag for tag, _ in self.open), data))


def _walked(html: str) -> _Walk:
    walk = _Walk()
    walk.feed(html)
    assert not walk.open, f"never closed: {walk.open}"
    return walk


def elements(html: str) -> list[tuple[str, dict[str, str]]]:
    """Every element with its attributes; fails on one that is not closed in its place."""
    return _walked(html).elements


def texts(html: str) -> list[tuple[tuple[str, ...], str]]:
    """Every text with the elements it stands in."""
    return _walked(html).texts


def links(html: str) -> Iterator[str]:
    """Every address a page points to or shows."""
    for _, attributes in elements(html):
        for name in ("href", "src"):
            if name in attributes:
                yield attributes[name]
