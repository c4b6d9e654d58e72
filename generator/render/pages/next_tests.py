"""When to test next, and why: for the day's page, a system's own, and its calendar."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import groupby

from generator.reckon.water.findings import NextTest
from generator.render.base import links
from generator.render.base.blocks import Facts, Items, Section, items, section
from generator.render.base.context import PageContext
from generator.render.base.inline import Inline, Link, Phrase, joined, small
from generator.render.base.listing import listed
from generator.render.base.numbers import Moment, hundredths

# Days ahead on the day's page; a system's own page has the rest.
DAYS_AHEAD = 7


def due(ctx: PageContext, system: str) -> Facts:
    """All readings ahead of a system."""
    return _by_day(ctx, tuple(ctx.findings[system].next_tests.values()))


def next_due(ctx: PageContext, system: str) -> Inline:
    """The first day on which a test is due, and of what; "" if none is."""
    for day, tests in by_day(ctx, tuple(ctx.findings[system].next_tests.values())):
        names = listed(ctx, [ctx.words(f"quantities_within.{test.kind}") for test in tests])
        return joined(Phrase((Moment(_said(ctx, day), day.isoformat()), ":")), Link(names, "#tests"))
    return ""


def due_soon(ctx: PageContext) -> tuple[Section, ...]:
    """The readings of the next days in every system that calls for tests."""
    called = {id: ctx.findings[id].next_tests.values() for id in ctx.view.systems if ctx.calls(id)}
    soon = {id: [test for test in tests if _ahead(ctx, test) <= DAYS_AHEAD] for id, tests in called.items()}
    return tuple(section(ctx.to_system(id), _by_day(ctx, tests)) for id, tests in soon.items() if tests)


def first_line(ctx: PageContext) -> str:
    """The very next test, in a sentence; "" if none is planned."""
    ahead = [
        (_day_of(ctx, test.at), id, test)
        for id in ctx.view.systems
        if ctx.calls(id)
        for test in ctx.findings[id].next_tests.values()
    ]
    if not ahead:
        return ""
    day, system, _ = min(ahead, key=lambda each: each[:2])
    kinds = [test.kind for on, id, test in ahead if (on, id) == (day, system)]
    names = [ctx.words(f"quantities_within.{kind}") for kind in kinds]
    return ctx.words(
        "next_tests.line", quantities=listed(ctx, names), system=ctx.view.systems[system].name, when=_when(ctx, day)
    )


def why_of(ctx: PageContext, test: NextTest) -> str:
    """Why a test is due, in words, and from which hour, if that matters."""
    why = ctx.words(f"next_tests.why.{test.why}", odds=hundredths(test.odds or 0.0))
    if not test.timed:
        return why
    return ctx.words("next_tests.from_hour", hour=f"{test.at.astimezone(ctx.display.zone):%H:%M}", why=why)


def by_day(ctx: PageContext, tests: Sequence[NextTest]) -> Iterator[tuple[date, list[NextTest]]]:
    """Readings by the keeper's day, in order."""
    for day, group in groupby(sorted(tests, key=lambda test: test.at), key=lambda test: _day_of(ctx, test.at)):
        yield day, list(group)


def calendar_link(ctx: PageContext, system: str | None = None) -> Link:
    """The calendar to subscribe to, of all systems or of one."""
    return ctx.link(links.calendar_of(system), ctx.words("next_tests.calendar"))


def _by_day(ctx: PageContext, tests: Sequence[NextTest]) -> Facts:
    """Readings by day, which is 'today', a weekday or a date; each day's by their reason."""
    rows: list[tuple[Inline, Items]] = []
    for day, group in by_day(ctx, tests):
        reasons: dict[str, list[str]] = {}
        for test in group:
            # The first word of the line has a capital letter.
            names = reasons.setdefault(why_of(ctx, test), [])
            names.append(ctx.words(f"quantities_within.{test.kind}" if names else f"quantities.{test.kind}"))
        said = (joined(f"{listed(ctx, names)}:", small(why)) for why, names in reasons.items())
        rows.append((Moment(_said(ctx, day), day.isoformat()), items(*said, look="plain")))
    return Facts(tuple(rows), "due")


def _ahead(ctx: PageContext, test: NextTest) -> int:
    return (_day_of(ctx, test.at) - ctx.today).days


def _day_of(ctx: PageContext, at: datetime) -> date:
    return max(at.astimezone(ctx.display.zone).date(), ctx.today)


def _said(ctx: PageContext, day: date) -> str:
    """A day in everyday words."""
    days = (day - ctx.today).days
    if days <= 1:
        return ctx.words("next_tests.tomorrow" if days == 1 else "next_tests.today")
    weekday = ctx.words(f"weekdays.{day.weekday()}")
    return ctx.words("next_tests.day", weekday=weekday, day=ctx.say.on(day))


def _when(ctx: PageContext, day: date) -> str:
    days = (day - ctx.today).days
    if days <= 1:
        return ctx.words("next_tests.line_tomorrow" if days == 1 else "next_tests.line_today")
    if days < DAYS_AHEAD:
        return ctx.words("next_tests.line_weekday", weekday=ctx.words(f"weekdays.{day.weekday()}"))
    return ctx.words("next_tests.line_day", day=ctx.say.on(day))
