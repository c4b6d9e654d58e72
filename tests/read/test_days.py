"""The one day of a list that is out of order, and the day that its keeper meant."""

from datetime import date

import pytest

from generator.read.check_slips import _beside, _cure, _out_of_order, _swapped


def days(*texts: str) -> list[date]:
    return [date.fromisoformat(text) for text in texts]


@pytest.mark.parametrize(
    ("written", "index"),
    [
        (days("2026-01-01", "2026-01-08", "2026-01-15", "2026-01-22"), None),
        (days("2026-01-01", "2026-01-08", "2026-01-08", "2026-01-22"), None),
        (days("2026-01-01", "2025-01-08", "2026-01-15"), None),
        (days("2026-01-01", "2026-01-08", "2025-01-15", "2026-01-22"), 2),
        (days("2027-01-01", "2026-01-08", "2026-01-15", "2026-01-22"), 0),
        (days("2026-01-01", "2026-01-08", "2026-01-15", "2025-01-22"), 3),
        (days("2026-01-01", "2026-01-20", "2026-01-15", "2026-01-22"), None),
        (days("2026-03-01", "2026-05-03", "2026-04-03", "2026-06-07"), 1),
        (days("2026-03-01", "2026-04-28", "2026-04-03", "2026-06-07"), None),
        (days("2026-03-01", "2026-02-05", "2025-02-03", "2026-06-07"), None),
    ],
    ids=[
        "sorted",
        "twice",
        "three",
        "the third",
        "the first",
        "the last",
        "either",
        "explained",
        "unclear",
        "two wrong",
    ],
)
def test_the_day_without_which_the_others_are_in_order(written: list[date], index: int | None) -> None:
    assert _out_of_order(written) == index


def test_a_day_belongs_between_its_neighbours_and_at_an_end_within_a_year_of_its_only_one() -> None:
    written = days("2026-01-01", "2026-01-08", "2026-01-15", "2026-01-22")
    assert _beside(written, 1) == (date(2026, 1, 1), date(2026, 1, 15))
    assert _beside(written, 0) == (date(2025, 1, 7), date(2026, 1, 8))
    assert _beside(written, 3) == (date(2026, 1, 15), date(2027, 1, 16))


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("2026-04-03", "2026-03-04"),
        ("2025-03-03", "2026-03-03"),
        ("2027-03-31", "2026-03-31"),
        ("2016-03-15", "2026-03-15"),
        ("2036-03-01", "2026-03-01"),
        ("2024-03-15", None),
        ("2025-04-01", None),
    ],
)
def test_a_day_between_two_others_is_meant_where_one_slip_leads_there(written: str, meant: str | None) -> None:
    low, high = date(2026, 3, 1), date(2026, 3, 31)
    assert _cure(date.fromisoformat(written), low, high) == (f"did you mean {meant}?" if meant else "correct the date")


def test_a_leap_day_has_no_like_in_the_year_before() -> None:
    assert _cure(date(2028, 2, 29), date(2027, 2, 1), date(2027, 3, 1)) == "correct the date"


def test_day_and_month_are_swapped_only_where_that_gives_another_day() -> None:
    assert _swapped(date(2026, 4, 3)) == date(2026, 3, 4)
    assert _swapped(date(2026, 4, 13)) is None
    assert _swapped(date(2026, 4, 4)) is None
