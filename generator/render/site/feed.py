"""News of the journal for feed readers: Atom (RFC 4287), one feed of all entries and one for each system."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, time
from urllib.parse import urlsplit

from markupsafe import Markup

from generator.records.entry import Entry
from generator.records.problem import Problem
from generator.render.base import links
from generator.render.base.context import Desk
from generator.render.base.environment import environment
from generator.render.pages.journal import newest_first

# Feed readers ask often and want only the newest entries.
_MOST_ENTRIES = 20


@dataclass(frozen=True, slots=True)
class FeedEntry:
    """One entry: its lasting name, address, words."""

    id: str
    url: str
    title: str
    updated: str
    summary: str
    html: Markup


@dataclass(frozen=True, slots=True)
class Feed:
    """One feed, as its template sees it."""

    language: str
    id: str
    url: str
    home: str
    title: str
    keeper: str
    updated: str
    entries: tuple[FeedEntry, ...]


def feeds(desk: Desk) -> dict[str, bytes]:
    """Every feed by its address; none if the site has no public address."""
    view = desk.view
    made = {}
    if desk.published and view.entries:
        made[links.FEED] = _drawn(_feed(desk.at(links.FEED), view.settings.title, links.HOME, view.entries.values()))
    for id, system in view.systems.items():
        entries = desk.ties.named_in.get(("system", id))
        if desk.published and entries:
            here = desk.at(links.feed_of(id))
            title = f"{system.name} · {view.settings.title}"
            made[here.url] = _drawn(_feed(here, title, links.page_of("system", id), entries))
    return made


def without_address(desk: Desk) -> Iterator[Problem]:
    """A warning for a public journal that has entries but no public address for its feed."""
    settings = desk.view.settings
    if desk.view.audience == "public" and desk.view.entries and not desk.published:
        yield Problem(
            settings.source,
            "no-address",
            "the site has no address, so it has no feed and no cards for shared links",
            "write where you will publish it, for example base_url: https://example.org/reef/",
            severity="warning",
        )


def _feed(desk: Desk, title: str, home: str, entries: Iterable[Entry]) -> Feed:
    newest = newest_first(entries)[:_MOST_ENTRIES]
    return Feed(
        desk.words.language,
        _name(desk, newest[-1], desk.url),
        desk.way(desk.url),
        desk.way(home),
        title,
        desk.view.settings.keeper,
        _moment(desk, newest[0]),
        tuple(_entry(desk, entry) for entry in newest),
    )


def _entry(desk: Desk, entry: Entry) -> FeedEntry:
    page = links.page_of("entry", entry.id)
    body = desk.prose(entry.body, entry.body_source)
    return FeedEntry(
        _name(desk, entry, page), desk.way(page), entry.title, _moment(desk, entry), entry.summary or "", body.html
    )


def _name(desk: Desk, entry: Entry, address: str) -> str:
    """An id that stays the same when titles change. Source: RFC 4151, the tag: scheme."""
    parts = urlsplit(desk.view.settings.base_url or "")
    day = entry.at.isoformat() if address != desk.url else "2000"
    return f"tag:{parts.hostname},{day}:{parts.path.strip('/')}/{address}"


def _moment(desk: Desk, entry: Entry) -> str:
    return datetime.combine(entry.at, time(), desk.display.zone).isoformat()


def _drawn(feed: Feed) -> bytes:
    return environment(feed.language).get_template("feed.xml").render(feed=feed).encode()
