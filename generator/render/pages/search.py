"""The page to search from, and what can be found: every page, and what has no page of its own."""

from collections.abc import Collection, Iterator
from textwrap import shorten

from generator.render.base import links
from generator.render.base.blocks import Drawn, row, section
from generator.render.base.context import PageContext, page
from generator.render.base.page import Page
from generator.render.base.search import Document
from generator.render.base.ties import log_notes

# A note has no title: its first words replace it.
_LONGEST_TITLE = 90
_RECORDS = ("system", "coral", "entry", "trade")
_KINDS = ("system", "coral", "line", "entry", "note", "trade", "partner", "page")


def search_page(ctx: PageContext, index: str) -> Page:
    """The search page over an index; `index` leads to the folder with its pieces."""
    words = ctx.words
    lists = (links.SYSTEMS, links.CORALS, links.LINES, links.JOURNAL, *([links.TRADES] if ctx.view.trades else []))
    names = words.each("systems.title", "corals.title", "lines.title", "journal.title", "trades.title")
    told = {
        "kinds": {kind: words(f"search.kinds.{kind}") for kind in _KINDS},
        "one": words("search.found", n=1),
        # The script fills these two blanks.
        "found": words("search.found", n="{n}"),
        "first": words("search.first", shown="{shown}"),
        "some": words("search.some"),
        "nothing": words("search.nothing"),
    }
    return page(
        ctx,
        "search",
        "search",
        Drawn("searching", (f"{ctx.way(index)}/", told)),
        section(words("search.lists"), row(*map(ctx.link, lists, names))),
        script="scripts/search.js",
    )


def document_of(page: Page, kind: str) -> Document | None:
    """What the search finds of a page, by its frame and text; nothing of the page for unknown addresses."""
    if page.url == links.NOT_FOUND:
        return None
    frame = page.frame
    note = frame.description if frame.description != frame.title else ""
    return Document(page.url, kind if kind in _RECORDS else "page", frame.title, note, page.text)


def documents_without_page(ctx: PageContext, taken: Collection[tuple[str, str]]) -> list[Document]:
    """Lines, partners and log notes, which have no page of their own, unless their kind and title are `taken`."""
    return [more for more in _without_page(ctx) if (more.kind, more.title) not in taken]


def _without_page(ctx: PageContext) -> Iterator[Document]:
    words = ctx.words
    living: dict[str, int] = {}
    for coral in ctx.view.corals.values():
        living[coral.line] = living.get(coral.line, 0) + coral.lives_on(ctx.today)
    for line in sorted(living):
        yield Document(
            f"{links.LINES}#{line}", "line", ctx.to_line(line).text, words("lines.living", n=living[line]), line
        )
    if ctx.view.trades:
        for name in sorted(ctx.view.partner_names.values()):
            yield Document(links.TRADES, "partner", name)
    for note in log_notes(ctx.view):
        on = note.at.astimezone(ctx.display.zone).date()
        where = f"{ctx.view.systems[note.system].name}, {ctx.say.on(on)}"
        address = f"{links.month_page(on)}#{note.anchor(ctx.display.zone)}"
        yield Document(address, "note", shorten(note.text, _LONGEST_TITLE, placeholder="…"), where, note.text)
