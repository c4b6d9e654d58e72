"""The test log of one month on one sheet for the tank: readings, next tests, and room to write."""

from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from generator.reckon.water.findings import WaterFindings
from generator.records.system import System
from generator.render import links
from generator.render.inline import Link
from generator.render.numbers import NBSP, Moment, say_reading
from generator.render.page import Frame
from generator.render.pages.desk import Desk
from generator.render.pages.next_tests import by_day
from generator.render.pages.predicted import system_frame
from generator.render.pages.readings import band_end
from generator.units.kinds import WATER_KINDS

# In a month's last days the sheet is for the next month.
_LAST_DAYS = 3
# What was read within this time is read again, whether it has a band or not.
_IN_USE = timedelta(days=60)


@dataclass(frozen=True, slots=True)
class Column:
    """A quantity of the sheet, and its band in words ("" where it has none)."""

    quantity: str
    band: str


@dataclass(frozen=True, slots=True)
class Cell:
    """The reading of a quantity on a day ("" for none), and whether a test is due.

    `figures` is the same without the unit, for the narrow columns of paper whose head gives the band with its unit.
    """

    read: str
    figures: str
    planned: bool


@dataclass(frozen=True, slots=True)
class DayRow:
    """A day of the month, with a cell for each column."""

    day: Moment
    weekday: str
    week_ends: bool
    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class LogSheetPage:
    """The sheet: a column for each quantity, a row for each day."""

    frame: Frame
    title: str
    month: str
    system: Link
    columns: tuple[Column, ...]
    rows: tuple[DayRow, ...]


def log_sheet_page(desk: Desk, system: System, found: WaterFindings) -> LogSheetPage:
    """The sheet of the current month."""
    words, first = desk.words, _month_of(desk.today)
    month = words("journal.month", month=words(f"months.{first.month}"), year=first.year)
    bands = {kind: _band(desk, system, kind) for kind in _kinds(system, found)}
    title = words("log_sheet.title", system=system.name)
    return LogSheetPage(
        system_frame(desk, system.id, title, words("log_sheet.description", system=system.name, month=month)),
        title,
        month,
        desk.to_system(system.id),
        tuple(Column(words(f"quantities.{kind}"), band) for kind, band in bands.items()),
        tuple(_rows(desk, found, first, bands)),
    )


def sheet_link(desk: Desk, system: str) -> Link:
    """The way to a system's sheet."""
    return desk.link(links.log_sheet_of(system), desk.words("log_sheet.link"))


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


def _band(desk: Desk, system: System, kind: str) -> str:
    low, high = band_end(desk, system.low, kind), band_end(desk, system.high, kind)
    if low and high:
        return desk.words("log_sheet.between", low=low, high=high)
    if low:
        return desk.words("log_sheet.from", low=low)
    return desk.words("log_sheet.to", high=high) if high else ""


def _rows(desk: Desk, found: WaterFindings, first: date, bands: dict[str, str]) -> Iterator[DayRow]:
    read: dict[tuple[date, str], list[str]] = {}
    for reading, canonical in found.readings:
        said = say_reading(desk.display, desk.words, reading, canonical)
        read.setdefault((reading.at.astimezone(desk.display.zone).date(), reading.kind), []).append(said)
    planned = {(day, test.kind) for day, tests in by_day(desk, list(found.next_tests.values())) for test in tests}
    for number in range(1, monthrange(first.year, first.month)[1] + 1):
        day = first.replace(day=number)
        yield DayRow(
            Moment(str(number), day.isoformat()),
            desk.words(f"weekdays_short.{day.weekday()}"),
            day.weekday() == 6,
            tuple(_cell(read.get((day, kind), []), bool(band), (day, kind) in planned) for kind, band in bands.items()),
        )


def _cell(read: list[str], banded: bool, planned: bool) -> Cell:
    figures = ", ".join(said.rpartition(NBSP)[0] for said in read) if banded else ""
    return Cell(", ".join(read), figures, planned)
