"""Whatever is in a sheet: it is never an error, and what is taken of it is possible, dated and of a system we know."""

import contextlib
from datetime import datetime

from hypothesis import given
from hypothesis import strategies as st

from generator.gather.headings import days_in, number_in
from generator.gather.opening import CannotOpen, Sheet, sheets_of
from generator.gather.understanding import gathered
from generator.read.plausible import implausible
from generator.units.quantity import Quantity
from tests.gather.test_shapes import KNOWN

HEADS = (
    "", "Date", "Datum", "Time", "KH", "Ca (mg/L)", "SG", "NO3-N", "Element", "Unit", "Value", "Comment", "Mood",
    "soda (ml)", "Water change", "Fore Reef", "Name", "Species", "Form", "Arrived", "Length (cm)", "Fe", "2026-03-01",
)  # fmt: skip
CELLS = (
    "", "-", "Fore Reef", "Frag Tank", "the pond", "2026-03-01", "2026-03-02 08:40", "1.3.2026", "13/14/2026", "3/4/26",
    "8:40", "25:61", "8.1", "8,1", "1,290", "1.290.5", "<0.01", ">5", "~8", "8.1 dKH", "420 ppm", "9" * 30, "46082",
    "Acropora millepora", "tabling", "Dawn Bell", "Si", "Ca", "µg/L", "mg/L", "NaN", "=1+1", "\u202e8.1", "1e400", "🪸",
    "sun 2026-02-29", "2026-03-29 02:30",
)  # fmt: skip
ROWS = st.lists(st.lists(st.sampled_from(CELLS), max_size=6), max_size=6)
GRIDS = st.builds(
    lambda above, heads, rows: [*above, heads, *rows],
    st.lists(st.lists(st.sampled_from(HEADS + CELLS), max_size=6), max_size=2),
    st.lists(st.sampled_from(HEADS), min_size=2, max_size=6),
    ROWS,
)


@given(GRIDS, st.booleans())
def test_any_grid_of_cells_is_read_without_an_error(grid: list[list[str]], answered: bool) -> None:
    answers = {"system": "reef", "dates": "day-month-year", "decimal": ".", "day": "2026-03-02"} if answered else {}
    found = gathered((Sheet("a", tuple(map(tuple, grid))),), KNOWN, answers)
    for fact in found.facts:
        assert fact.system in ("reef", "frags")
        moment = datetime.combine(fact.change.at.day, fact.change.at.clock, KNOWN.now.tzinfo)  # type: ignore[arg-type]
        assert moment <= KNOWN.now
        for value in fact.change.values.values():
            assert not isinstance(value, Quantity) or fact.change.into != "readings" or implausible(value) is None


@given(st.binary(max_size=300))
def test_any_bytes_are_sheets_or_a_message(content: bytes) -> None:
    with contextlib.suppress(CannotOpen):
        assert sheets_of("notes.csv", content)


@given(st.text(max_size=20))
def test_any_cell_is_read_without_an_error(cell: str) -> None:
    number_in(cell)
    days_in(cell)


@given(st.integers(-(10**6), 10**6), st.integers(0, 4), st.sampled_from(".,"))
def test_a_number_keeps_its_value_and_its_digits(whole: int, digits: int, sign: str) -> None:
    said = f"{whole / 10**digits:.{digits}f}"
    found = number_in(said.replace(".", sign), decimal=sign)
    assert found is not None
    assert (float(found.digits), found.below) == (float(said), False)


@given(st.dates(min_value=datetime(1990, 1, 1).date(), max_value=datetime(2090, 1, 1).date()))
def test_a_day_is_read_back_in_every_form_it_is_written_in(day: object) -> None:
    for form, order in (
        ("%Y-%m-%d", "year-month-day"), ("%d.%m.%Y", "day-month-year"), ("%m/%d/%Y", "month-day-year"),
        ("%d %b %Y", "year-month-day"), ("%B %d, %Y", "year-month-day"), ("%a %d.%m.%Y", "day-month-year"),
    ):  # fmt: skip
        assert days_in(f"{day:{form}}").get(order) == day, form  # type: ignore[call-overload]
