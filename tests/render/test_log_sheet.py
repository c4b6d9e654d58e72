"""The month's test log: every day once, what was read on it, what is worth reading, and one sheet of paper."""

import dataclasses
import re
from calendar import monthrange
from datetime import UTC, date, datetime, timedelta

import pytest
from markupsafe import escape
from msgspec.structs import replace

from generator.reckon.analysis.journal import analyse
from generator.reckon.water.findings import NextTest
from generator.render.base.blocks import Table, walk
from generator.render.base.context import PageContext, Shared
from generator.render.base.links import plain_text
from generator.render.base.numbers import Display
from generator.render.base.page import Page
from generator.render.base.ties import ties
from generator.render.base.words import words_of
from generator.render.pages.next_tests import log_sheet_page
from generator.units.kinds import WATER_KINDS
from tests.render import sample

SHEET = "systems/lagoon/log-sheet.html"


def table(page: Page) -> Table:
    return next(block for block in walk(page.blocks) if isinstance(block, Table))


def sheet() -> Table:
    pages = sample.built(sample.seen("own")).pages
    return next(table(page) for page in pages if page.url == SHEET)


def days(sheet: Table) -> list[str]:
    found = [re.search(r'datetime="([^"]+)"', escape(row[0])) for row in sheet.rows]
    return [each[1] for each in found if each]


def column(sheet: Table, name: str) -> int:
    return next(at for at, head in enumerate(sheet.heads) if plain_text(head).startswith(name))


def test_the_sheet_has_a_row_for_every_day_of_the_month():
    found = days(sheet())
    year, month = int(found[0][:4]), int(found[0][5:7])
    assert found == [f"{year}-{month:02}-{day:02}" for day in range(1, monthrange(year, month)[1] + 1)]


def test_the_next_month_is_there_too():
    page = next(page for page in sample.built(sample.seen("own")).pages if page.url == SHEET)
    now, following = (days(each) for each in walk(page.blocks) if isinstance(each, Table))
    first = date.fromisoformat(now[-1]) + timedelta(days=1)
    assert following[0] == first.isoformat()
    assert len(following) == monthrange(first.year, first.month)[1]


def test_a_week_ends_on_sunday():
    # Source: ISO 8601, the week begins on Monday.
    there = sheet()
    ends = {plain_text(row[0]).split()[1] for row, look in zip(there.rows, there.looks, strict=True) if look}
    assert ends == {"Sun"}


def test_what_was_read_stands_on_its_day_with_its_unit():
    found, there = sample.findings(), sheet()
    rows = dict(zip(days(there), there.rows, strict=True))
    alkalinity = [r for r, _ in found.readings if r.kind == "alkalinity" and r.at.date().isoformat() in rows]
    assert alkalinity
    for reading in alkalinity:
        cell = plain_text(rows[reading.at.date().isoformat()][column(there, "Alkalinity")])
        assert f"{reading.value.value:.{reading.value.digits}f}\u00a0dKH" in cell


def test_each_quantity_with_a_band_has_its_column_and_shows_the_band():
    system = sample.system()
    banded = [kind for kind in WATER_KINDS if system.low.of(kind) or system.high.of(kind)]
    with_band = [head for head in sheet().heads if "<small>" in escape(head)]
    assert len(with_band) == len(banded)
    assert all(re.search(r"\d", plain_text(head)) for head in with_band)


def with_tests_ahead(*days: float) -> PageContext:
    view = sample.seen("own")
    kinds = ("alkalinity", "calcium", "nitrate")
    ahead = {
        kind: NextTest(kind, sample.ago(-in_days), "usual-interval") for kind, in_days in zip(kinds, days, strict=False)
    }
    told = dataclasses.replace(
        analyse(sample.journal(), sample.AS_OF), water={"lagoon": replace(sample.findings(), next_tests=ahead)}
    )
    display = Display(view.settings.time_zone, view.settings.units)
    return PageContext(
        Shared(view, told, (), {}, sample.AS_OF, words_of("en"), display, sample.PICTURES, ties(view), SHEET)
    )


def test_a_test_worth_making_is_marked_on_its_day_and_one_that_is_overdue_on_this_day():
    ctx = with_tests_ahead(-2, 3)
    there = table(log_sheet_page(ctx, sample.system(), ctx.findings["lagoon"]))
    marked = [
        (day, column)
        for day, row in zip(days(there), there.rows, strict=True)
        for column, cell in enumerate(row)
        if "planned" in escape(cell)
    ]
    today, later = ctx.today.isoformat(), (ctx.today + timedelta(days=3)).isoformat()
    assert marked == [(today, column(there, "Alkalinity")), (later, column(there, "Calcium"))]


@pytest.mark.parametrize(("day", "month"), [(26, "Feb 2028"), (27, "Mar 2028"), (29, "Mar 2028")])
def test_in_the_last_days_of_a_month_the_sheet_is_the_next_months(day, month):
    # 2028 is a leap year: three days after the 26th of February is the 29th, after the 27th the 1st of March.
    ctx = PageContext(dataclasses.replace(with_tests_ahead().shared, as_of=datetime(2028, 2, day, 12, tzinfo=UTC)))
    assert month in table(log_sheet_page(ctx, sample.system(), ctx.findings["lagoon"])).label.replace("\u00a0", " ")


def test_what_was_dosed_by_hand_and_changed_stands_in_the_room_of_its_day():
    log, there = sample.log(), sheet()
    said = dict(zip(days(there), (plain_text(row[-1]) for row in there.rows), strict=True))
    dosed = [dose for dose in log.doses if dose.at.date().isoformat() in said]
    assert dosed
    for dose in dosed:
        assert f"{dose.solution} {dose.amount.value:g}\u00a0{dose.amount.unit}" in said[dose.at.date().isoformat()]
