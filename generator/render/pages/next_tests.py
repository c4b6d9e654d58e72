"""When to test next, and why: for the day's page, a system's own, and its calendar."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime
from itertools import groupby

from generator.reckon.water.findings import NextTest
from generator.render.base import links
from generator.render.base.blocks import Facts, Items, Section, items, section
from generator.render.base.context import Desk
from generator.render.base.inline import Inline, Link, joined, small
from generator.render.base.numbers import Moment, hundredths

# Days ahead on the day's page; a system's own page has the rest.
DAYS_AHEAD = 7


def due(desk: Desk, system: str) -> Facts:
    """All readings ahead of a system."""
    return _by_day(desk, tuple(desk.findings[system].next_tests.values()))


def due_soon(desk: Desk) -> tuple[Section, ...]:
    """The readings of the next days in every system that calls for tests."""
    called = {id: desk.findings[id].next_tests.values() for id in desk.view.systems if desk.calls(id)}
    soon = {id: [test for test in tests if _ahead(desk, test) <= DAYS_AHEAD] for id, tests in called.items()}
    return tuple(section(desk.to_system(id), _by_day(desk, tests)) for id, tests in soon.items() if tests)


def first_line(desk: Desk) -> str:
    """The very next test, in a sentence; "" if none is planned."""
    ahead = [
        (_day_of(desk, test.at), id, test)
        for id in desk.view.systems
        if desk.calls(id)
        for test in desk.findings[id].next_tests.values()
    ]
    if not ahead:
        return ""
    day, system, _ = min(ahead, key=lambda each: each[:2])
    kinds = [test.kind for on, id, test in ahead if (on, id) == (day, system)]
    names = [desk.words(f"quantities_within.{kind}") for kind in kinds]
    return desk.words(
        "next_tests.line", quantities=listed(desk, names), system=desk.view.systems[system].name, when=_when(desk, day)
    )


def listed(desk: Desk, names: Sequence[str]) -> str:
    """Names in a sentence: a, b and c."""
    if len(names) < 2:
        return "".join(names)
    return desk.words("next_tests.and", first=", ".join(names[:-1]), last=names[-1])


def why_of(desk: Desk, test: NextTest) -> str:
    """Why a test is due, in words, and from which hour, if that matters."""
    why = desk.words(f"next_tests.why.{test.why}", odds=hundredths(test.odds or 0.0))
    if not test.timed:
        return why
    return desk.words("next_tests.from_hour", hour=f"{test.at.astimezone(desk.display.zone):%H:%M}", why=why)


def by_day(desk: Desk, tests: Sequence[NextTest]) -> Iterator[tuple[date, list[NextTest]]]:
    """Readings by the keeper's day, in order."""
    for day, group in groupby(sorted(tests, key=lambda test: test.at), key=lambda test: _day_of(desk, test.at)):
        yield day, list(group)


def calendar_link(desk: Desk, system: str | None = None) -> Link:
    """The calendar to subscribe to, of all systems or of one."""
    return desk.link(links.calendar_of(system), desk.words("next_tests.calendar"))


def _by_day(desk: Desk, tests: Sequence[NextTest]) -> Facts:
    """Readings by day, which is 'today', a weekday or a date; each day's by their reason."""
    rows: list[tuple[Inline, Items]] = []
    for day, group in by_day(desk, tests):
        reasons: dict[str, list[str]] = {}
        for test in group:
            # The first word of the line has a capital letter.
            names = reasons.setdefault(why_of(desk, test), [])
            names.append(desk.words(f"quantities_within.{test.kind}" if names else f"quantities.{test.kind}"))
        said = (joined(f"{listed(desk, names)}:", small(why)) for why, names in reasons.items())
        rows.append((Moment(_said(desk, day), day.isoformat()), items(*said, look="plain")))
    return Facts(tuple(rows), "due")


def _ahead(desk: Desk, test: NextTest) -> int:
    return (_day_of(desk, test.at) - desk.today).days


def _day_of(desk: Desk, at: datetime) -> date:
    return max(at.astimezone(desk.display.zone).date(), desk.today)


def _said(desk: Desk, day: date) -> str:
    """A day in everyday words."""
    days = (day - desk.today).days
    if days <= 1:
        return desk.words("next_tests.tomorrow" if days == 1 else "next_tests.today")
    weekday = desk.words(f"weekdays.{day.weekday()}")
    return desk.words("next_tests.day", weekday=weekday, day=desk.say.on(day))


def _when(desk: Desk, day: date) -> str:
    days = (day - desk.today).days
    if days <= 1:
        return desk.words("next_tests.line_tomorrow" if days == 1 else "next_tests.line_today")
    if days < DAYS_AHEAD:
        return desk.words("next_tests.line_weekday", weekday=desk.words(f"weekdays.{day.weekday()}"))
    return desk.words("next_tests.line_day", day=desk.say.on(day))
