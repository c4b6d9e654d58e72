"""News of the journal for feed readers: Atom (RFC 4287), one feed of all entries and one for each system."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, time
from urllib.parse import urlsplit

from markupsafe import Markup

from generator.records.entry import Entry
from generator.records.problem import Problem
from generator.render.base import links
from generator.render.base.context import PageContext
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


def feeds(ctx: PageContext) -> dict[str, bytes]:
    """Every feed by its address; none if the site has no public address."""
    view = ctx.view
    made = {}
    if ctx.published and view.entries:
        made[links.FEED] = _drawn(_feed(ctx.at(links.FEED), view.settings.title, links.HOME, view.entries.values()))
    for id, system in view.systems.items():
        entries = ctx.ties.named_in.get(("system", id))
        if ctx.published and entries:
            here = ctx.at(links.feed_of(id))
            title = f"{system.name} · {view.settings.title}"
            made[here.url] = _drawn(_feed(here, title, links.page_of("system", id), entries))
    return made


def without_address(ctx: PageContext) -> Iterator[Problem]:
    """A warning for a public journal that has entries but no public address for its feed."""
    settings = ctx.view.settings
    if ctx.view.audience == "public" and ctx.view.entries and not ctx.published:
        yield Problem(
            settings.source,
            "no-address",
            "the site has no address, so it has no feed and no cards for shared links",
            "write where you will publish it, for example base_url: https://example.org/reef/",
            severity="warning",
        )


def _feed(ctx: PageContext, title: str, home: str, entries: Iterable[Entry]) -> Feed:
    newest = newest_first(entries)[:_MOST_ENTRIES]
    return Feed(
        ctx.words.language,
        _name(ctx, newest[-1], ctx.url),
        ctx.way(ctx.url),
        ctx.way(home),
        title,
        ctx.view.settings.keeper,
        _moment(ctx, newest[0]),
        tuple(_entry(ctx, entry) for entry in newest),
    )


def _entry(ctx: PageContext, entry: Entry) -> FeedEntry:
    page = links.page_of("entry", entry.id)
    body = ctx.prose(entry.body, entry.body_source)
    return FeedEntry(
        _name(ctx, entry, page), ctx.way(page), entry.title, _moment(ctx, entry), entry.summary or "", body.html
    )


def _name(ctx: PageContext, entry: Entry, address: str) -> str:
    """An id that stays the same when titles change. Source: RFC 4151, the tag: scheme."""
    parts = urlsplit(ctx.view.settings.base_url or "")
    day = entry.at.isoformat() if address != ctx.url else "2000"
    return f"tag:{parts.hostname},{day}:{parts.path.strip('/')}/{address}"


def _moment(ctx: PageContext, entry: Entry) -> str:
    return datetime.combine(entry.at, time(), ctx.display.zone).isoformat()


def _drawn(feed: Feed) -> bytes:
    return environment(feed.language).get_template("feed.xml").render(feed=feed).encode()
