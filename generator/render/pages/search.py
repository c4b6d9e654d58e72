"""The page to search from, what can be found, and the index: every page, and what has no page of its own.

The page's script (templates/assets/scripts/search.js) loads `words.js`, every word there is; then, of the
hits and the documents, only the pieces an answer needs. Each piece is a classic script that hands its data
to a function of the page, so that it loads from a folder too, where nothing may be fetched.
"""

import json
import re
import unicodedata
from collections.abc import Collection, Iterator, Mapping, Sequence
from hashlib import sha256
from textwrap import shorten

from msgspec import Struct
from msgspec.structs import replace

from generator.render.base import links
from generator.render.base.blocks import Drawn, row, section
from generator.render.base.context import PageContext, page
from generator.render.base.page import Page

# Words in a title count more than words in the text.
_TITLE, _NOTE, _TEXT = 3, 2, 1
# Pieces of about 30 KB: one hit list and one list of titles load in no time from any disk or network.
_HITS_A_PIECE = 6000
DOCUMENTS_A_PIECE = 200
_WORD = re.compile(r"[^\W_]+")
_BEYOND_ASCII = re.compile(r"[^\x00-\x7f]+")


class Indexed(Struct, frozen=True):
    """Something to find: `kind` is a key of the catalogue's `search.kinds`, `text` its other words."""

    url: str
    kind: str
    title: str
    note: str = ""
    text: str = ""


def words_in(text: str) -> list[str]:
    """The words of a text without accents and capitals. The script treats the question in the same way."""
    plain = text if text.isascii() else _BEYOND_ASCII.sub(_without_marks, unicodedata.normalize("NFKD", text))
    return _WORD.findall(plain.lower())


def _without_marks(signs: re.Match[str]) -> str:
    return "".join(sign for sign in signs.group() if unicodedata.category(sign)[0] != "M")


class Findable(Struct, frozen=True):
    """A document without its text, and the best place of each of its words."""

    document: Indexed
    words: Mapping[str, int]


def findable(document: Indexed) -> Findable:
    """A document by its words."""
    told = (_TEXT, document.text), (_NOTE, document.note), (_TITLE, document.title)
    return Findable(replace(document, text=""), {word: place for place, text in told for word in words_in(text)})


def index(found: Sequence[Findable]) -> tuple[str, dict[str, bytes]]:
    """The folder of the index in the site, and its files by address; its name changes with what is in it."""
    # Of each word its documents, as steps from one to the next, times four, plus the place: short numbers, short files.
    hits: dict[str, list[int]] = {}
    last: dict[str, int] = {}
    for number, each in enumerate(found):
        here = 4 * number
        for word, place in each.words.items():
            if word in hits:
                hits[word].append(here - last[word] + place)
            else:
                hits[word] = [here + place]
            last[word] = here
    documents = [each.document for each in found]
    pieces: dict[str, object] = {}
    starts: list[int] = []
    words = sorted(hits)
    for number, group in enumerate(_grouped(words, hits)):
        starts.append(group[0])
        pieces[f"hits-{number}"] = [hits[word] for word in words[group[0] : group[1]]]
    for number, start in enumerate(range(0, len(documents), DOCUMENTS_A_PIECE)):
        piece = documents[start : start + DOCUMENTS_A_PIECE]
        pieces[f"documents-{number}"] = [[each.kind, each.title, each.url, each.note] for each in piece]
    pieces["words"] = {
        "documents": len(documents),
        "aPiece": DOCUMENTS_A_PIECE,
        "starts": starts,
        "words": " ".join(words),
    }
    scripts = {name: _script(name, data) for name, data in pieces.items()}
    digest = sha256(b"".join(scripts[name] for name in sorted(scripts))).hexdigest()[:10]
    return f"search/{digest}/", {f"search/{digest}/{name}.js": script for name, script in scripts.items()}


def _grouped(words: Sequence[str], hits: Mapping[str, Sequence[int]]) -> Iterator[tuple[int, int]]:
    """From and until which word each piece goes."""
    start, size = 0, 0
    for number, word in enumerate(words):
        size += len(hits[word])
        if size >= _HITS_A_PIECE:
            yield start, number + 1
            start, size = number + 1, 0
    if start < len(words):
        yield start, len(words)


def _script(name: str, data: object) -> bytes:
    return f"searchPiece({json.dumps(name)},{json.dumps(data, ensure_ascii=False, separators=(',', ':'))})\n".encode()


# A note has no title: its first words replace it.
_LONGEST_TITLE = 90
_RECORDS = ("system", "coral", "entry", "trade")
# In the order in which those that answer alike are shown.
KINDS = ("system", "coral", "line", "entry", "note", "trade", "partner", "page")


def search_page(ctx: PageContext, index: str) -> Page:
    """The search page over an index; `index` leads to the folder with its pieces."""
    words = ctx.words
    lists = (links.SYSTEMS, links.CORALS, links.LINES, links.JOURNAL, *([links.TRADES] if ctx.view.trades else []))
    names = words.each("systems.title", "corals.title", "lines.title", "journal.title", "trades.title")
    told = {
        "kinds": {kind: words(f"search.kinds.{kind}") for kind in KINDS},
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
        Drawn("searching", (ctx.way(index), told)),
        script="scripts/search.js",
        margin=(section(words("search.lists"), row(*map(ctx.link, lists, names))),),
    )


def searchable(page: Page, kind: str) -> Indexed | None:
    """What the search finds of a page, by its frame and text; nothing of the page for unknown addresses."""
    if page.url == links.NOT_FOUND:
        return None
    frame = page.frame
    note = frame.description if frame.description != frame.title else ""
    return Indexed(page.url, kind if kind in _RECORDS else "page", frame.title, note, page.text)


def documents_without_page(ctx: PageContext, taken: Collection[tuple[str, str]]) -> list[Indexed]:
    """Lines, partners and log notes, which have no page of their own, unless their kind and title are `taken`."""
    return [more for more in _without_page(ctx) if (more.kind, more.title) not in taken]


def _without_page(ctx: PageContext) -> Iterator[Indexed]:
    words = ctx.words
    living: dict[str, int] = {}
    for coral in ctx.ties.corals:
        living[coral.line] = living.get(coral.line, 0) + coral.lives_on(ctx.today)
    for line in sorted(living):
        yield Indexed(
            f"{links.LINES}#{line}", "line", ctx.to_line(line).text, words("lines.living", n=living[line]), line
        )
    if ctx.view.trades:
        for name in sorted(ctx.view.partner_names.values()):
            yield Indexed(links.TRADES, "partner", name)
    for note in ctx.ties.notes:
        on = note.at.astimezone(ctx.display.zone).date()
        where = f"{ctx.view.systems[note.system].name}, {ctx.say.on(on)}"
        address = f"{links.journal_of_month(on)}#{note.anchor(ctx.display.zone)}"
        yield Indexed(address, "note", shorten(note.text, _LONGEST_TITLE, placeholder="…"), where, note.text)
