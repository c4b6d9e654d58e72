"""News of the journal for feed readers: Atom (RFC 4287), one feed of all entries and one for each system."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Any
from urllib.parse import urlsplit

from markupsafe import Markup

from generator.records.entry import Entry
from generator.records.source import Problem
from generator.render.base import links
from generator.render.base.context import PageContext
from generator.render.base.environment import environment
from generator.render.pages.journal import newest_first
from generator.render.pages.since import WEEK, between, since_blocks

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
    here = ctx.at(links.FEED)
    week = tuple(_week(here)) if ctx.published and ctx.view.shows_weeks else ()
    if ctx.published and (view.entries or week):
        made[links.FEED] = _drawn(_feed(here, view.settings.title, links.HOME, view.entries.values(), week))
    for id, system in view.systems.items():
        entries = ctx.ties.named_in.get(f"system/{id}")
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


def _feed(ctx: PageContext, title: str, home: str, entries: Iterable[Entry], week: tuple[FeedEntry, ...] = ()) -> Feed:
    told = [*week, *(_entry(ctx, entry) for entry in newest_first(entries)[:_MOST_ENTRIES])]
    told.sort(key=lambda each: each.updated[:10], reverse=True)
    return Feed(
        ctx.words.language,
        _name(ctx, "2000", ctx.url),
        ctx.way(ctx.url),
        ctx.way(home),
        title,
        ctx.view.settings.keeper,
        told[0].updated,
        tuple(told),
    )


def _week(ctx: PageContext) -> Iterator[FeedEntry]:
    """What changed in the last whole week, from Monday on; nothing if nothing did."""
    monday = ctx.today - timedelta(days=ctx.today.weekday())
    until = datetime.combine(monday, time(), ctx.display.zone)
    # The moment before belongs to Sunday, so that what came on Monday is next week's.
    end = until - timedelta(seconds=1)
    blocks = since_blocks(ctx, between(ctx, end - WEEK, end), calm=False)
    if blocks:
        words, begun = ctx.words, monday - WEEK
        title = words("since.week", since=ctx.say.on(begun), until=ctx.say.on(monday - timedelta(days=1)))
        macros: Any = environment(words.language).get_template("blocks.html").module
        html = Markup(macros.all(blocks, 2))
        name = _name(ctx, monday.isoformat(), links.SINCE)
        yield FeedEntry(name, ctx.way(links.SINCE), title, until.isoformat(), "", html)


def _entry(ctx: PageContext, entry: Entry) -> FeedEntry:
    page = links.page_of("entry", entry.id)
    body = ctx.prose(entry.body, entry.body_source)
    return FeedEntry(
        _name(ctx, entry.at.isoformat(), page),
        ctx.way(page),
        entry.title,
        _moment(ctx, entry),
        entry.summary or "",
        body.html,
    )


def _name(ctx: PageContext, day: str, address: str) -> str:
    """An id that stays the same when titles change. Source: RFC 4151, the tag: scheme."""
    parts = urlsplit(ctx.view.settings.base_url or "")
    return f"tag:{parts.hostname},{day}:{parts.path.strip('/')}/{address}"


def _moment(ctx: PageContext, entry: Entry) -> str:
    return datetime.combine(entry.at, time(), ctx.display.zone).isoformat()


def _drawn(feed: Feed) -> bytes:
    return environment(feed.language).get_template("feed.xml").render(feed=feed).encode()
