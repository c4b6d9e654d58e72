"""Pages of the sample journal as bytes, and plain ways to look into them."""

from collections.abc import Iterator
from html.parser import HTMLParser

from generator.render.base.page import render_page
from generator.render.site.site_map import Site

_VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


class AnyAsset(dict[str, str]):
    """Every asset under its own name."""

    def __getitem__(self, name: str) -> str:
        return f"assets/{name}"


def drawn(site: Site) -> dict[str, str]:
    """Every page's HTML by its address."""
    return {page.url: render_page(page, AnyAsset()).decode() for page in site.pages}


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
