"""A system's latest readings against their bands, when to test next and why, and the sheet to write on at the tank."""

from calendar import monthrange
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from itertools import groupby, islice

from msgspec import Struct

from generator.door.door import grouped
from generator.reckon.water.canonical import canonical_value, kit_error
from generator.reckon.water.findings import Latest, NextTest, WaterFindings
from generator.reckon.water.when_to_test import is_old
from generator.records.system import Levels, System
from generator.render.base import links
from generator.render.base.blocks import Facts, Items, Paragraph, Section, Table, items, section
from generator.render.base.context import PageContext, page_of_system
from generator.render.base.links import Inline, Link, Phrase, Span, joined, small
from generator.render.base.numbers import NBSP, Moment, hundredths, listed, shortened
from generator.render.base.page import Page
from generator.render.base.scale import Gauge, gauge
from generator.render.charts.water_rows import WINDOW
from generator.render.pages.travel import tests_of_arrivals
from generator.units.kinds import WATER_KINDS
from generator.units.quantity import Canonical, coverage_factor


class ReadingCard(Struct, frozen=True):
    """The last reading of a quantity: value, band, in words whether it is in band, age, and its log line."""

    id: str
    quantity: Link
    value: str
    standing: str
    standing_words: str
    band: str
    low: str
    high: str
    gauge: Gauge | None
    gauge_words: str
    at: Moment
    age: str
    doubtful: str
    source: str


def reading_cards(
    ctx: PageContext, system: System, findings: WaterFindings, was: Mapping[str, Canonical] | None = None
) -> tuple[ReadingCard, ...]:
    """A card for every quantity that was ever tested, in the order of the table of quantities.

    If `was` has earlier values, for each of these, with where it was then.
    """
    kinds = [kind for kind in WATER_KINDS if kind in findings.latest and (was is None or kind in was)]
    return tuple(_card(ctx, system, findings, findings.latest[kind], (was or {}).get(kind)) for kind in kinds)


def _card(ctx: PageContext, system: System, findings: WaterFindings, latest: Latest, was: float | None) -> ReadingCard:
    words, kind = ctx.words, latest.reading.kind
    name = words(f"quantities.{kind}")
    value = ctx.say.reading(latest.reading, latest.value)
    low, high = band_end(ctx, system.low, kind), band_end(ctx, system.high, kind)
    error = kit_error(system, latest.reading, findings.learned_error(kind))
    of_old = is_old(latest)
    standing = "old" if of_old else "edge" if _unsure(latest, error) else latest.standing
    said = words(f"standing.{'perhaps.' if standing == 'edge' else 'was.' if of_old else ''}{latest.standing}")
    band = band_words(ctx, low, high)
    return ReadingCard(
        id=kind,
        quantity=ctx.link(
            f"{links.page_of('system', system.id)}#{'charts' if charted(findings, kind) else 'now'}", name
        ),
        value=value,
        standing=standing,
        standing_words=said,
        band=band,
        low=low,
        high=high,
        gauge=gauge(latest, error, was),
        gauge_words=words("system.gauge", quantity=name, value=value, standing=said, band=band),
        at=ctx.say.moment(latest.reading.at),
        age=ctx.say.age(latest.reading.at, ctx.as_of),
        doubtful=words("standing.doubtful") if latest.doubtful else "",
        source=str(latest.reading.source),
    )


def _unsure(latest: Latest, error: float | None) -> bool:
    """Whether a reading is out of its band by no more than its kit may err (90 %)."""
    end = {"low": latest.low, "high": latest.high}.get(latest.standing)
    return end is not None and abs(latest.value - end) <= (error or 0.0) * coverage_factor()


def band_end(ctx: PageContext, levels: Levels, kind: str) -> str:
    """One end of a quantity's band, as exact as it was written; "" if there is none."""
    end = levels.of(kind)
    return "" if end is None else ctx.say.canonical(kind, canonical_value(end), end)


def charted(findings: WaterFindings, kind: str) -> bool:
    """Whether a quantity was tested recently enough for a chart."""
    return kind in findings.latest and findings.latest[kind].reading.at >= findings.as_of - WINDOW


def band_words(ctx: PageContext, low: str, high: str) -> str:
    """A band by its ends; "" for an end that there is not."""
    if low and high:
        return ctx.words("band.between", low=without_unit_of(low, high), high=high)
    if low:
        return ctx.words("band.above", low=low)
    return ctx.words("band.below", high=high) if high else ctx.words("band.none")


def without_unit_of(low: str, high: str) -> str:
    """The lower end of a range without its unit, if the upper end has the same."""
    figures, _, unit = low.partition(NBSP)
    return figures if unit == high.partition(NBSP)[2] else low


# Days ahead on the day's page; a system's own page has the rest.
DAYS_AHEAD = 7
# So many days with tests are told in the first lines of a system's page.
_DAYS_IN_SHORT = 2


def due(ctx: PageContext, system: str) -> Facts:
    """All readings ahead of a system, with those that arrivals ask for; none where no coral is in it or will be."""
    tests = tuple(ctx.findings[system].next_tests.values()) if ctx.calls(system) else ()
    return _by_day(ctx, tests, tuple(tests_of_arrivals(ctx, system)))


def next_due(ctx: PageContext, system: str) -> Inline | Items:
    """The first days on which tests are due, and of what; that no coral is there to test for; "" if none is due."""
    if not ctx.calls(system):
        return ctx.words("system.answers.no_coral") if ctx.is_empty(system) else ""
    said: list[Inline] = []
    for day, tests in islice(tests_by_day(ctx, tuple(ctx.findings[system].next_tests.values())), _DAYS_IN_SHORT):
        names = shortened(ctx, [ctx.words(f"quantities_within.{test.kind}") for test in tests])
        told = joined(Phrase((Moment(_said(ctx, day), day.isoformat()), ":")), Link(names, "#tests"))
        said.append(told)
    return items(*said, look="plain") if said else ""


def due_soon(ctx: PageContext) -> tuple[Section, ...]:
    """The readings of the next days in every system that calls for tests."""
    called = {id: ctx.findings[id].next_tests.values() for id in ctx.view.systems if ctx.calls(id)}
    last = ctx.today + timedelta(days=DAYS_AHEAD)
    soon = {id: [test for test in tests if day_due(ctx, test.at) <= last] for id, tests in called.items()}
    coming = {id: [each for each in tests_of_arrivals(ctx, id) if each[0] <= last] for id in called}
    told = ((id, _by_day(ctx, soon[id], coming[id])) for id in called)
    return tuple(section(ctx.to_system(id), facts) for id, facts in told if facts.rows)


def nothing_due_words(ctx: PageContext) -> str:
    """That nothing needs the keeper, or nothing but the tests that are due today."""
    return ctx.words("today.tests" if any(is_due(ctx, id) for id in ctx.view.systems) else "today.nothing")


def is_due(ctx: PageContext, system: str, kind: str = "") -> bool:
    """Whether a test, of a quantity or of any, is due today in a system that calls for tests."""
    ahead = ctx.findings[system].next_tests.values() if ctx.calls(system) else ()
    return any(day_due(ctx, test.at) == ctx.today for test in ahead if kind in ("", test.kind))


def first_line(ctx: PageContext) -> str:
    """The very next test, in a sentence; "" if none is planned."""
    ahead = [
        (day_due(ctx, test.at), id, test)
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
        "next_tests.line", quantities=listed(ctx, names), system=ctx.view.systems[system].name, when=say_when(ctx, day)
    )


def why_due(ctx: PageContext, test: NextTest) -> str:
    """Why a test is due, in words, and from which hour, if that matters."""
    why = ctx.words(f"next_tests.why.{test.why}", odds=hundredths(test.odds or 0.0), n=round(test.days))
    if not test.timed:
        return why
    return ctx.words("next_tests.from_hour", hour=f"{test.at.astimezone(ctx.display.zone):%H:%M}", why=why)


def tests_by_day(ctx: PageContext, tests: Sequence[NextTest]) -> Iterator[tuple[date, list[NextTest]]]:
    """Readings by the keeper's day, in order."""
    for day, group in groupby(sorted(tests, key=lambda test: test.at), key=lambda test: day_due(ctx, test.at)):
        yield day, list(group)


def calendar_link(ctx: PageContext, system: str | None = None) -> Link:
    """The calendar to subscribe to, of all systems or of one."""
    return ctx.link(links.calendar_of(system), ctx.words("next_tests.calendar"))


def _by_day(ctx: PageContext, tests: Sequence[NextTest], coming: Sequence[tuple[date, Inline]] = ()) -> Facts:
    """Readings by day, which is 'today', a weekday or a date; each day's by their reason, then those of arrivals."""
    rows: list[tuple[Inline, Items]] = []
    by_day, arrivals = dict(tests_by_day(ctx, tests)), grouped(coming)
    for day in sorted({*by_day, *arrivals}):
        reasons: dict[str, list[str]] = {}
        for test in by_day.get(day, ()):
            # The first word of the line has a capital letter.
            names = reasons.setdefault(why_due(ctx, test), [])
            names.append(ctx.words(f"quantities_within.{test.kind}" if names else f"quantities.{test.kind}"))
        said = (joined(f"{listed(ctx, names)}:", small(why)) for why, names in reasons.items())
        rows.append((Moment(_said(ctx, day), day.isoformat()), items(*said, *arrivals.get(day, ()), look="plain")))
    return Facts(tuple(rows), "due")


def day_due(ctx: PageContext, at: datetime) -> date:
    """The keeper's day of a test; one that was due before is due today."""
    return max(at.astimezone(ctx.display.zone).date(), ctx.today)


def _said(ctx: PageContext, day: date) -> str:
    """A day in everyday words."""
    days = (day - ctx.today).days
    if days <= 1:
        return ctx.words("next_tests.tomorrow" if days == 1 else "next_tests.today")
    weekday = ctx.words(f"weekdays.{day.weekday()}")
    return ctx.words("next_tests.day", weekday=weekday, day=ctx.say.on(day))


def say_when(ctx: PageContext, day: date) -> str:
    """A day from today on, in a sentence."""
    days = (day - ctx.today).days
    if days <= 1:
        return ctx.words("next_tests.line_tomorrow" if days == 1 else "next_tests.line_today")
    if days < DAYS_AHEAD:
        return ctx.words("next_tests.line_weekday", weekday=ctx.words(f"weekdays.{day.weekday()}"))
    return ctx.words("next_tests.line_day", day=ctx.say.on(day))


# In a month's last days the sheet is for the next month.
_LAST_DAYS = 3
# What was read within this time is read again, whether it has a band or not.
IN_USE = timedelta(days=60)


def log_sheet_page(ctx: PageContext, system: System, found: WaterFindings) -> Page:
    """The sheets of the current month and of the next: a column for each quantity with its band, a row for each day."""
    words, first = ctx.words, _month_of(ctx.today)
    title = words("log_sheet.title", system=system.name)
    sheet, following = (_sheet(ctx, system, found, day) for day in (first, (first + timedelta(days=31)).replace(day=1)))
    month = sheet.label
    key = Paragraph(joined(Span("", look="planned"), words("log_sheet.key")), "note")
    return page_of_system(
        ctx,
        system.id,
        "log_sheet",
        title,
        words("log_sheet.description", system=system.name, month=month),
        sheet,
        key,
        section(joined(Link(title), small(following.label)), following, key, look="next-month"),
        over=ctx.to_system(system.id),
        heading=joined(Link(title), small(month)),
        look="log-sheet",
    )


def _sheet(ctx: PageContext, system: System, found: WaterFindings, first: date) -> Table:
    """The sheet of the month that begins on a day."""
    words = ctx.words
    month = words("journal.month", month=words(f"months.{first.month}"), year=first.year)
    bands = {kind: _band(ctx, system, kind) for kind in _kinds(system, found)}
    days = [first.replace(day=1 + number) for number in range(monthrange(first.year, first.month)[1])]
    columns: Iterator[Inline] = (
        joined(words(f"quantities.{kind}"), small(band) if band else "") for kind, band in bands.items()
    )
    heads: tuple[Inline, ...] = (words("log_sheet.day"), *columns, words("log_sheet.room"))
    looks = tuple("week-ends" if day.weekday() == 6 else "" for day in days)
    return Table(month, heads, tuple(_rows(ctx, found, days, bands)), looks=looks)


def sheet_link(ctx: PageContext, system: str) -> Link:
    """The way to a system's sheet."""
    return ctx.link(links.log_sheet_of(system), ctx.words("log_sheet.link"))


def _month_of(day: date) -> date:
    """The first day of the month the sheet is for."""
    return (day + timedelta(days=_LAST_DAYS)).replace(day=1)


def _kinds(system: System, found: WaterFindings) -> Iterator[str]:
    for kind in WATER_KINDS:
        banded = system.low.of(kind) or system.high.of(kind)
        latest = found.latest.get(kind)
        in_use = latest is not None and latest.reading.at > found.as_of - IN_USE
        if banded or in_use:
            yield kind


def _band(ctx: PageContext, system: System, kind: str) -> str:
    low, high = band_end(ctx, system.low, kind), band_end(ctx, system.high, kind)
    if low and high:
        return ctx.words("log_sheet.between", low=without_unit_of(low, high), high=high)
    if low:
        return ctx.words("log_sheet.from", low=low)
    return ctx.words("log_sheet.to", high=high) if high else ""


def _rows(
    ctx: PageContext, found: WaterFindings, days: Sequence[date], bands: dict[str, str]
) -> Iterator[tuple[Inline, ...]]:
    read = grouped(
        ((reading.at.astimezone(ctx.display.zone).date(), reading.kind), ctx.say.reading(reading, canonical))
        for reading, canonical in found.readings
    )
    called = list(found.next_tests.values()) if ctx.calls(found.system) else []
    planned = {(day, test.kind) for day, tests in tests_by_day(ctx, called) for test in tests}
    mark = Span(Span(ctx.words("log_sheet.planned"), look="unseen"), look="planned")
    done = _done(ctx, found.system)
    for day in days:
        yield (
            joined(Moment(str(day.day), day.isoformat()), small(ctx.words(f"weekdays_short.{day.weekday()}"))),
            *(
                joined(
                    joined(*(_read(said, bool(band)) for said in read.get((day, kind), ())), by=", "),
                    mark if (day, kind) in planned else "",
                )
                for kind, band in bands.items()
            ),
            ", ".join(done.get(day, ())),
        )


def _done(ctx: PageContext, system: str) -> dict[date, tuple[str, ...]]:
    """The doses by hand and the water changes of each day."""
    log, words = ctx.view.log_of(system), ctx.words
    told = [(dose.at, f"{dose.solution} {ctx.say.written(dose.amount)}") for dose in log.doses]
    told += [(each.at, words("log_sheet.changed", volume=ctx.say.written(each.volume))) for each in log.water_changes]
    return grouped((at.astimezone(ctx.display.zone).date(), said) for at, said in sorted(told))


def _read(said: str, banded: bool) -> Inline:
    """A reading; the narrow columns of paper leave out its unit where their head has it with the band."""
    figures, _, unit = said.partition(NBSP)
    return Phrase((figures, Span(NBSP + unit, look="unit"))) if banded else said
