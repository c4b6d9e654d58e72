"""The next useful tests as a calendar to subscribe to: iCalendar, RFC 5545, with a name by RFC 7986."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import groupby
from urllib.parse import urlsplit

from generator import __version__
from generator.reckon.water.findings import NextTest
from generator.render.base import links
from generator.render.base.context import PageContext
from generator.render.base.listing import listed
from generator.render.pages.next_tests import by_day, why_of

# Minutes that an event lasts. Our choice.
READING_TAKES = 15
# Octets a line may have without its break (RFC 5545, 3.1).
_LINE = 75


@dataclass(frozen=True, slots=True)
class Event:
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


def calendar(name: str, events: Sequence[Event], stamp: datetime) -> bytes:
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


def _events(ctx: PageContext, system: str) -> Iterator[Event]:
    name, base = ctx.view.systems[system].name, ctx.view.settings.base_url
    page = links.page_of("system", system)
    host = urlsplit(base).hostname if base else None
    for day, at, tests in _together(ctx, _ahead(ctx, system)):
        moment = day.isoformat() if at is None else f"{at.astimezone(UTC):%Y%m%dT%H%M}Z"
        names = [ctx.words(f"quantities_within.{test.kind}") for test in tests]
        why = [f"{ctx.words(f'quantities.{test.kind}')}: {why_of(ctx, test)}" for test in tests]
        yield Event(
            f"tests-{system}-{moment}@{host or 'corallite.invalid'}",
            day,
            ctx.words("next_tests.event", quantities=listed(ctx, names), system=name),
            "\n".join(why),
            f"{base.rstrip('/')}/{page}" if base else "",
            at,
        )


def _together(ctx: PageContext, tests: Sequence[NextTest]) -> Iterator[tuple[date, datetime | None, list[NextTest]]]:
    """The tests of a day that any hour will do for; and each that has its own hour, with it."""
    for day, of_day in by_day(ctx, tests):
        if any_hour := [test for test in of_day if not test.timed]:
            yield day, None, any_hour
        for at, together in groupby((test for test in of_day if test.timed), key=lambda test: test.at):
            yield day, at, list(together)


def _ahead(ctx: PageContext, system: str) -> list[NextTest]:
    """The next reading of every quantity, and the later ones of the plans that follow on a change."""
    found = ctx.findings[system]
    tests = list(found.next_tests.values())
    for plan in found.plans:
        for reading in plan.readings:
            first = found.next_tests.get(plan.kind)
            if first is not None and reading.at > max(first.at, ctx.as_of):
                tests.append(NextTest(plan.kind, reading.at, "tells-a-change", reading.odds, plan.timed))
    days = {(test.kind, test.at.astimezone(ctx.display.zone).date()): test for test in reversed(tests)}
    return list(days.values())


def _event(event: Event, stamp: datetime) -> Iterator[str]:
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
