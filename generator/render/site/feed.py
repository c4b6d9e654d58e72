"""News for feed readers (Atom, RFC 4287), and the next useful tests as a calendar (iCalendar, RFC 5545, RFC 7986)."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from itertools import groupby
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from markupsafe import Markup
from msgspec import Struct

from generator import __version__
from generator.door.door import later
from generator.records.journal import Entry
from generator.records.source import Problem
from generator.render.base import links
from generator.render.base.context import PageContext
from generator.render.base.numbers import listed
from generator.render.base.page import environment

if TYPE_CHECKING:
    from generator.reckon.water.findings import NextTest

with later():
    from generator.reckon.water import findings as _findings
    from generator.render import found as _found
    from generator.render.pages import journal as _journal
    from generator.render.pages import next_tests as _next_tests
    from generator.render.pages import since as _since

# Feed readers ask often and want only the newest entries.
_MOST_ENTRIES = 20


class FeedEntry(Struct, frozen=True):
    """One entry: its lasting name, address, words."""

    id: str
    url: str
    title: str
    updated: str
    summary: str
    html: Markup


class Feed(Struct, frozen=True):
    """One feed, as its template sees it."""

    language: str
    id: str
    url: str
    home: str
    title: str
    keeper: str
    updated: str
    entries: tuple[FeedEntry, ...]


def feeds(ctx: PageContext, week: Callable[[], Sequence[FeedEntry]]) -> dict[str, str]:
    """The system of every feed by its address, "" for that of all; none if the site has no public address."""
    view = ctx.view
    if not view.published:
        return {}
    made = {links.FEED: ""} if view.entries or week() else {}
    return made | {links.feed_of(id): id for id in view.systems if ctx.ties.named_in.get(f"system/{id}")}


def feed(ctx: PageContext, system: str, week: Callable[[], Sequence[FeedEntry]]) -> bytes:
    """The feed of a system; of all, with what changed in the last `week`, if it is ""."""
    view, title = ctx.view, ctx.view.settings.title
    if not system:
        return _drawn(_feed(ctx, title, links.HOME, view.entries.values(), week()))
    entries = ctx.ties.named_in[f"system/{system}"]
    return _drawn(_feed(ctx, f"{view.systems[system].name} · {title}", links.page_of("system", system), entries))


def without_address(ctx: PageContext) -> Iterator[Problem]:
    """A warning for a public journal that has entries but no public address for its feed."""
    settings = ctx.view.settings
    if ctx.view.lacks_address and ctx.view.entries:
        yield Problem(
            settings.source,
            "no-address",
            "the site has no address, so it has no feed and no cards for shared links",
            "write where you will publish it, for example base_url: https://example.org/reef/",
            severity="warning",
        )


def _feed(ctx: PageContext, title: str, home: str, entries: Iterable[Entry], week: Sequence[FeedEntry] = ()) -> Feed:
    newest = (ctx.view.entries[entry.id] for entry in _journal.newest_first(entries)[:_MOST_ENTRIES])
    told = [*week, *map(partial(_entry, ctx), newest)]
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


def week(ctx: PageContext) -> Iterator[FeedEntry]:
    """What changed in the last whole week, from Monday on; nothing if nothing did, or it is not shown."""
    if not (ctx.view.published and ctx.view.shows_weeks):
        return
    monday = ctx.today - timedelta(days=ctx.today.weekday())
    until = datetime.combine(monday, time(), ctx.display.zone)
    # The moment before belongs to Sunday, so that what came on Monday is next week's.
    end = until - timedelta(seconds=1)
    blocks = _since.since_blocks(ctx, _found.changes_for(ctx.view, ctx.found, end - _since.WEEK, end), calm=False)
    if blocks:
        words, begun = ctx.words, monday - _since.WEEK
        title = words("since.week", since=ctx.say.on(begun), until=ctx.say.on(monday - timedelta(days=1)))
        draw: Any = environment(words.language).globals["draw"]
        html = Markup(draw(blocks, 2))
        name = _name(ctx, monday.isoformat(), links.SINCE)
        yield FeedEntry(name, ctx.way(links.SINCE), title, until.isoformat(), "", html)


def _entry(ctx: PageContext, entry: Entry) -> FeedEntry:
    page = links.page_of("entry", entry.id)
    body = ctx.prose(entry.body, entry.body_source)
    return FeedEntry(
        _name(ctx, entry.at.isoformat(), page),
        ctx.way(page),
        entry.title,
        datetime.combine(entry.at, time(), ctx.display.zone).isoformat(),
        entry.summary or "",
        body.html,
    )


def _name(ctx: PageContext, day: str, address: str) -> str:
    """An id that stays the same when titles change. Source: RFC 4151, the tag: scheme."""
    parts = urlsplit(ctx.view.settings.base_url or "")
    return f"tag:{parts.hostname},{day}:{parts.path.strip('/')}/{address}"


def _drawn(feed: Feed) -> bytes:
    return environment(feed.language).get_template("feed.xml").render(feed=feed).encode()


# Minutes that an event lasts. Our choice.
READING_TAKES = 15
# Octets a line may have without its break (RFC 5545, 3.1).
_LINE = 75


class CalendarEvent(Struct, frozen=True):
    """Something of a whole day, or from a moment on where `at` is one.

    `uid` stays the same for the same event, so that a later build moves or corrects it.
    """

    uid: str
    day: date
    summary: str
    description: str
    url: str
    at: datetime | None = None


def calendars(ctx: PageContext) -> dict[str, bytes]:
    """The calendar of every system and that of all together, by address."""
    of_systems = {id: tuple(_events(ctx, id)) for id in ctx.view.systems if id in ctx.findings}
    title = ctx.view.settings.title
    files = {
        links.calendar_of(id): calendar(
            ctx.words("next_tests.calendar_name", title=ctx.view.systems[id].name), events, ctx.as_of
        )
        for id, events in of_systems.items()
    }
    # A system without corals needs no tests.
    calling = [event for id, events in of_systems.items() if ctx.calls(id) for event in events]
    files[links.calendar_of()] = calendar(ctx.words("next_tests.calendar_name", title=title), calling, ctx.as_of)
    return files


def calendar(name: str, events: Sequence[CalendarEvent], stamp: datetime) -> bytes:
    """An iCalendar object of events, made at `stamp`."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//Corallite//Corallite {__version__}//EN",
        "CALSCALE:GREGORIAN",
        f"NAME:{_text(name)}",
        "REFRESH-INTERVAL;VALUE=DURATION:P1D",
    ]
    for event in sorted(events, key=lambda event: (event.day, event.at is not None, event.uid)):
        lines += _event(event, stamp)
    return "".join(_folded(line) + "\r\n" for line in [*lines, "END:VCALENDAR"]).encode()


def _events(ctx: PageContext, system: str) -> Iterator[CalendarEvent]:
    name, base = ctx.view.systems[system].name, ctx.view.settings.base_url
    page = links.page_of("system", system)
    host = urlsplit(base).hostname if base else None
    for day, at, tests in _together(ctx, _ahead(ctx, system)):
        moment = day.isoformat() if at is None else f"{at.astimezone(UTC):%Y%m%dT%H%M}Z"
        names = [ctx.words(f"quantities_within.{test.kind}") for test in tests]
        why = [f"{ctx.words(f'quantities.{test.kind}')}: {_next_tests.why_due(ctx, test)}" for test in tests]
        yield CalendarEvent(
            f"tests-{system}-{moment}@{host or 'corallite.invalid'}",
            day,
            ctx.words("next_tests.event", quantities=listed(ctx, names), system=name),
            "\n".join(why),
            f"{base.rstrip('/')}/{page}" if base else "",
            at,
        )


def _together(
    ctx: PageContext, tests: "Sequence[NextTest]"
) -> "Iterator[tuple[date, datetime | None, list[NextTest]]]":
    """The tests of a day that any hour will do for; and each that has its own hour, with it."""
    for day, of_day in _next_tests.tests_by_day(ctx, tests):
        if any_hour := [test for test in of_day if not test.timed]:
            yield day, None, any_hour
        for at, together in groupby((test for test in of_day if test.timed), key=lambda test: test.at):
            yield day, at, list(together)


def _ahead(ctx: PageContext, system: str) -> "list[NextTest]":
    """The next reading of every quantity, and the later ones of the plans that follow on a change."""
    found = ctx.findings[system]
    tests = list(found.next_tests.values())
    for plan in found.plans:
        for reading in plan.readings:
            first = found.next_tests.get(plan.kind)
            if first is not None and reading.at > max(first.at, ctx.as_of):
                tests.append(_findings.NextTest(plan.kind, reading.at, "tells-a-change", reading.odds, plan.timed))
    days = {(test.kind, test.at.astimezone(ctx.display.zone).date()): test for test in reversed(tests)}
    return list(days.values())


def _event(event: CalendarEvent, stamp: datetime) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{_text(event.uid)}"
    yield f"DTSTAMP:{stamp.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    if event.at is None:
        yield f"DTSTART;VALUE=DATE:{event.day:%Y%m%d}"
        yield f"DTEND;VALUE=DATE:{event.day + timedelta(days=1):%Y%m%d}"
    else:
        # In UTC (RFC 5545, 3.3.5, form 2), which any calendar shows on the clock of whoever looks at it.
        yield f"DTSTART:{event.at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
        yield f"DURATION:PT{READING_TAKES}M"
    yield f"SUMMARY:{_text(event.summary)}"
    yield f"DESCRIPTION:{_text(event.description)}"
    if event.url:
        yield f"URL:{event.url}"
    # The event does not mark the keeper as busy.
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _text(words: str) -> str:
    """Words as a TEXT value: what would end it is escaped, and no control character gets in (RFC 5545, 3.3.11)."""
    escaped = words.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")
    return "".join(sign for sign in escaped if sign >= " " and sign != "\x7f").replace("\u00a0", " ")


def _folded(line: str) -> str:
    """A content line in pieces of at most 75 octets, none of them parting a character (RFC 5545, 3.1)."""
    pieces, piece = [], b""
    for sign in line:
        octets = sign.encode()
        # Each piece but the first begins with a space, which counts.
        if len(piece) + len(octets) > _LINE:
            pieces.append(piece)
            piece = b" "
        piece += octets
    return b"\r\n".join([*pieces, piece]).decode()
