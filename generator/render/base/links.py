"""The address of every page; what stands within a line: links, text, moments, numbers; and a site's dead links.

What stands within a line puts itself into HTML, escaped, so that templates and tables hold it where they hold text.
"""

import posixpath
import re
from collections.abc import Container, Iterable, Iterator, Mapping
from datetime import date
from functools import lru_cache
from html import unescape
from typing import Literal, NamedTuple
from urllib.parse import unquote, urlsplit

from markupsafe import Markup, escape
from msgspec import Struct

from generator.render.base.numbers import Moment, Shown

HOME = "index.html"
SYSTEMS = "systems/index.html"
CORALS = "corals/index.html"
LINES = "corals/lines.html"
SURVIVAL = "corals/survival.html"
PLANNED = "coming/index.html"
SINCE = "since.html"
GUIDES = "guides.html"
TRACK_RECORD = "track-record.html"
JOURNAL = "journal/index.html"
TRADES = "trades/index.html"
OFFERS = "offers.html"
TRAVEL = "travel/index.html"
ORIGIN = "origin/index.html"
METHODS = "methods.html"
DATA = "data/index.html"
SEARCH = "search.html"
WRITE = "write.html"
PHOTO_SIZE = "photo-size.html"
FEED = "feed.xml"
NOT_FOUND = "404.html"

_FOLDERS = {"system": "systems", "coral": "corals", "entry": "journal", "trade": "trades", "plan": "coming"}
# What a keeper's own words can lead to.
KINDS = ("system", "coral", "entry", "trade")


# Pages of the site's own, whose names a record may have too.
_TAKEN = ("index", "lines", "survival")


def _name(id: str) -> str:
    """The name of a record's page. No id ends with a hyphen, so no two have the same."""
    return f"{id}-" if id in _TAKEN else id


def page_of(kind: str, id: str) -> str:
    """The address of the page of a system, coral, entry or trade, or the sheet of a plan."""
    return f"{_FOLDERS[kind]}/{_name(id)}.html"


def plan_of(system: str) -> str:
    """The address of the plan of a system's places."""
    return f"plans/{system}.html"


def feed_of(system: str) -> str:
    """The address of the feed of a system."""
    return f"systems/{system}.xml"


def dosing_of(system: str) -> str:
    """The address of a system's dosing plan."""
    return f"systems/{system}/dosing.html"


def log_sheet_of(system: str) -> str:
    """The address of a system's test log of the month, to print."""
    return f"systems/{system}/log-sheet.html"


def shares_of(system: str) -> str:
    """The address of every coral's share of a system's demand."""
    return f"systems/{system}/shares.html"


def change_of(system: str, day: date, coral: str, what: str) -> str:
    """The address of the report of a coral that came, was cut or left."""
    return f"systems/{system}/changes/{day.isoformat()}-{coral}-{what}.html"


def calendar_of(system: str | None = None) -> str:
    """The address of the calendar of next tests, of one system or of all."""
    return f"data/systems/{system}/tests.ics" if system else "data/tests.ics"


def journal_of_month(on: date) -> str:
    """The address of what happened in a day's month."""
    return f"journal/{on:%Y-%m}.html"


def journal_of_year(year: int) -> str:
    """The address of what happened in a year."""
    return f"journal/{year:04}.html"


def paper_of(coral: str) -> str:
    """The address of a coral's record of origin on paper."""
    return f"origin/{_name(coral)}.html"


def trade_paper_of(trade: str, ending: str = "html") -> str:
    """The address of the record of origin of a trade, as a sheet to print or as the record itself (json)."""
    return f"origin/trades/{trade}.{ending}"


def relative(here: str, there: str) -> str:
    """The relative link from one page of the site to another, with its fragment."""
    target, hash, fragment = there.partition("#")
    if not target or target == here:
        return f"#{fragment}" if fragment else posixpath.basename(here)
    folder, up = here[: here.rfind("/") + 1], 0
    while not target.startswith(folder):
        folder, up = folder[: folder.rfind("/", 0, -1) + 1], up + 1
    return "../" * up + target[len(folder) :] + hash + fragment


def photo_path(file: str) -> str:
    """A photo as records and texts name it, as a path below the journal."""
    return f"photos/{file.removeprefix('../').removeprefix('photos/')}"


BREAK = Markup("<br>")
_TAG = re.compile("<[^>]*>")
Tag = Literal["span", "b", "i", "small", "code", "li", "bdi"]


class Link(Struct, frozen=True):
    """A link; without `href` it is plain text."""

    text: str
    href: str = ""

    def __html__(self) -> str:
        """A name may be in another script than the page, so its direction is its own."""
        said = f"<bdi>{escape(self.text)}</bdi>"
        return f'<a href="{escape(self.href)}">{said}</a>' if self.href else said


class Cannot(Struct, frozen=True):
    """Why there is no figure, and what would give one; `label` says that the data cannot tell."""

    reason: str
    remedy: str
    label: str

    def __html__(self) -> str:
        """The three, the label strong."""
        return f"<strong>{escape(self.label)}</strong> {escape(self.reason)} {escape(self.remedy)}"


class Span(Struct, frozen=True):
    """Something in an element of its own, with its class, id and language. A `li` is an item of a list as it is."""

    inside: "Inline"
    tag: Tag = "span"
    look: str = ""
    id: str = ""
    lang: str = ""

    def __html__(self) -> str:
        """The element."""
        given = {"class": self.look, "id": self.id, "lang": self.lang}
        attributes = "".join(f' {name}="{escape(value)}"' for name, value in given.items() if value)
        return f"<{self.tag}{attributes}>{escape(self.inside)}</{self.tag}>"


class Phrase(tuple["Inline", ...]):
    """Several of them one after another."""

    __slots__ = ()

    def __html__(self) -> str:
        """All of them, with nothing between."""
        return "".join(map(escape, self))


Inline = str | Link | Moment | Shown | Cannot | Span | Phrase


def joined(*parts: Inline, by: str = " ") -> Phrase:
    """The parts with `by` between them; empty parts are left out."""
    said = [part for part in parts if part]
    return Phrase(each for number, part in enumerate(said) for each in ((by, part) if number else (part,)))


def bold(inside: Inline) -> Span:
    """Strong text."""
    return Span(inside, "b")


def small(inside: Inline) -> Span:
    """Text beside what matters more."""
    return Span(inside, "small")


def code(inside: object) -> Span:
    """A name or a line of the keeper's files."""
    return Span(str(inside), "code")


def plain_text(inside: object) -> str:
    """The text alone."""
    return inside if type(inside) is str else unescape(_TAG.sub("", escape(inside)))


# Our own templates write the pages: attributes are double-quoted, and a quotation mark in a text is escaped, so what
# looks like an attribute is one. A whole HTML parser would find the same links and take far longer.
_ATTRIBUTE = re.compile(r' (href|src|srcset|id|data-library|data-beside)="([^"]*)"')
_OUTSIDE = ("https", "mailto")


class Links(NamedTuple):
    """The anchors of a page, its links, and the anchors that it has twice."""

    anchors: tuple[str, ...]
    links: tuple[str, ...]
    twice: tuple[str, ...]


def dead_links(files: Mapping[str, bytes]) -> list[str]:
    """One sentence for each link, image, script or anchor of a page that is not in the site; sorted."""
    pages = {address: links_in(content) for address, content in files.items() if address.endswith(".html")}
    anchors = {address: page.anchors for address, page in pages.items()}
    return sorted({wrong for page, here in pages.items() for wrong in dead_links_of(page, here, anchors, files)})


def links_in(page: bytes) -> Links:
    """Where a page's bytes lead, and what leads into it."""
    told = list(_attributes(page.decode("utf-8")))
    anchors = [value for attribute, value in told if attribute == "id"]
    links = dict.fromkeys(value for attribute, value in told if attribute != "id")
    there = dict.fromkeys(anchors)
    twice = dict.fromkeys(each for each in there if anchors.count(each) > 1) if len(there) < len(anchors) else ()
    return Links(tuple(there), tuple(links), tuple(twice))


def dead_links_of(
    page: str, here: Links, anchors: Mapping[str, Container[str]], files: Container[str]
) -> tuple[str, ...]:
    """One sentence for each dead link and double anchor of a page.

    `here` is where it leads, `anchors` are those of all pages, `files` the addresses of the site.
    """
    wrong = [f"two elements have the id '{anchor}'" for anchor in here.twice]
    wrong += [dead for link in here.links if (dead := _wrong_link(page, link, files, anchors))]
    return tuple(f"{page}: {each}" for each in wrong)


def _attributes(html: str) -> Iterator[tuple[str, str]]:
    for name, value in _ATTRIBUTE.findall(html):
        if name == "srcset":
            yield from (("src", unescape(part.split()[0])) for part in value.split(",") if part.strip())
        else:
            yield name, unescape(value)


def _wrong_link(page: str, link: str, files: Container[str], anchors: Mapping[str, Container[str]]) -> str | None:
    wrong, target, fragment = _way(page.rpartition("/")[0], link)
    if wrong or not (target or fragment):
        return wrong
    if target and target not in files:
        return f"'{link}' leads to {target}, which is not in the site"
    if fragment and (not target or target in anchors) and fragment not in anchors[target or page]:
        return f"'{link}' leads to an anchor that {target or page} does not have"
    return None


@lru_cache(maxsize=4096)
def _way(folder: str, link: str) -> tuple[str | None, str, str]:
    """What is wrong with a link on a page in a folder, if anything; the address it leads to, and the anchor."""
    parts, wrong = urlsplit(link), None
    if parts.scheme in _OUTSIDE:
        return None, "", ""
    if parts.scheme or parts.netloc:
        wrong = f"'{link}' leaves the site, but not by https: or mailto:"
    elif parts.path.startswith("/"):
        wrong = f"'{link}' starts with /, but a site in a folder has no root"
    target = posixpath.normpath(posixpath.join(folder, unquote(parts.path))) if parts.path else ""
    return wrong, target, unquote(parts.fragment)


# An empty part of an address, or a hidden one.
_NO_ADDRESS = re.compile(r"(?:^|/)(?:[./]|$)")


def wrong_addresses(files: Iterable[str]) -> list[str]:
    """One sentence for each address that no page can have, and for two that are one on some computers."""
    wrong: list[str] = []
    folded: dict[str, str] = {}
    for address in files:
        if _NO_ADDRESS.search(address):
            wrong.append(f"'{address}' cannot be a page's address")
        twin = folded.setdefault(address.casefold(), address)
        if twin != address:
            wrong.append(f"'{address}' and '{twin}' are the same file on some computers")
    return wrong
