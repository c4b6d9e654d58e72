"""The test log of one month on one sheet for the tank: readings, next tests, and room to write."""

from calendar import monthrange
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from generator.reckon.water.findings import WaterFindings
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import Paragraph, Table, section
from generator.render.base.context import PageContext, page_of_system
from generator.render.base.inline import Inline, Link, Phrase, Span, joined, small
from generator.render.base.numbers import NBSP, Moment
from generator.render.base.page import Page
from generator.render.pages.next_tests import by_day
from generator.render.pages.readings import band_end
from generator.units.kinds import WATER_KINDS

# In a month's last days the sheet is for the next month.
_LAST_DAYS = 3
# What was read within this time is read again, whether it has a band or not.
_IN_USE = timedelta(days=60)


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
        in_use = latest is not None and latest.reading.at > found.as_of - _IN_USE
        if banded or in_use:
            yield kind


def _band(ctx: PageContext, system: System, kind: str) -> str:
    low, high = band_end(ctx, system.low, kind), band_end(ctx, system.high, kind)
    if low and high:
        return ctx.words("log_sheet.between", low=low, high=high)
    if low:
        return ctx.words("log_sheet.from", low=low)
    return ctx.words("log_sheet.to", high=high) if high else ""


def _rows(
    ctx: PageContext, found: WaterFindings, days: Sequence[date], bands: dict[str, str]
) -> Iterator[tuple[Inline, ...]]:
    read: dict[tuple[date, str], list[str]] = {}
    for reading, canonical in found.readings:
        said = ctx.say.reading(reading, canonical)
        read.setdefault((reading.at.astimezone(ctx.display.zone).date(), reading.kind), []).append(said)
    planned = {(day, test.kind) for day, tests in by_day(ctx, list(found.next_tests.values())) for test in tests}
    due = Span(Span(ctx.words("log_sheet.planned"), look="unseen"), look="planned")
    for day in days:
        yield (
            joined(Moment(str(day.day), day.isoformat()), small(ctx.words(f"weekdays_short.{day.weekday()}"))),
            *(
                joined(
                    joined(*(_read(said, bool(band)) for said in read.get((day, kind), ())), by=", "),
                    due if (day, kind) in planned else "",
                )
                for kind, band in bands.items()
            ),
            "",
        )


def _read(said: str, banded: bool) -> Inline:
    """A reading; the narrow columns of paper leave out its unit where their head has it with the band."""
    figures, _, unit = said.rpartition(NBSP)
    return Phrase((figures, Span(NBSP + unit, look="unit"))) if banded else said
