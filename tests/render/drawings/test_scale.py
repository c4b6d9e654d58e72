"""Axes are marked at round numbers and at days a reader knows."""

from datetime import UTC, datetime, timedelta

import pytest

from generator.render.base.scale import number_ticks, time_ticks
from generator.render.base.words import words_of


def ms(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000


@pytest.mark.parametrize(
    ("low", "high", "labels"),
    [
        (7.4, 8.9, ["7.5", "8.0", "8.5"]),
        (0.0, 1.9, ["0.0", "0.5", "1.0", "1.5"]),
        (1180.0, 1420.0, ["1200", "1250", "1300", "1350", "1400"]),
        (0.0, 0.09, ["0.00", "0.02", "0.04", "0.06", "0.08"]),
        (-0.4, 0.4, ["−0.4", "−0.2", "0.0", "0.2", "0.4"]),
    ],
)
def test_values_are_marked_at_round_numbers_with_the_decimals_their_step_needs(
    low: float, high: float, labels: list[str]
) -> None:
    assert [tick.label for tick in number_ticks(words_of("en"), low, high)] == labels


@pytest.mark.parametrize(
    ("start", "end", "labels"),
    [
        ("2026-06-10", "2026-12-02", ["Jul 2026", "Aug", "Sep", "Oct", "Nov", "Dec"]),
        ("2026-11-20", "2027-03-02", ["Dec 2026", "Jan 2027", "Feb", "Mar"]),
        ("2026-03-01", "2026-03-06", ["1 Mar", "2 Mar", "3 Mar", "4 Mar", "5 Mar", "6 Mar"]),
        # 2, 9, 16, 23 and 30 March 2026 are Mondays.
        ("2026-03-01", "2026-04-01", ["2 Mar", "9 Mar", "16 Mar", "23 Mar", "30 Mar"]),
    ],
)
def test_times_are_marked_at_days_mondays_and_months(start: str, end: str, labels: list[str]) -> None:
    assert [tick.label for tick in time_ticks(words_of("en"), ms(start), ms(end))] == labels


@pytest.mark.parametrize("days", [0.1, 1, 3, 10, 20, 45, 80, 180, 400, 1000, 4000, 20000])
def test_no_axis_is_crowded(days: float) -> None:
    start = datetime(2020, 5, 17, 9, 30, tzinfo=UTC)
    marks = time_ticks(words_of("en"), start.timestamp() * 1000, (start + timedelta(days=days)).timestamp() * 1000)
    assert len(marks) <= 8
    assert all(start.timestamp() * 1000 <= mark.at for mark in marks)


def test_no_month_stands_twice_on_an_axis() -> None:
    start = datetime(2024, 6, 20, tzinfo=UTC).timestamp() * 1000
    for days in (20, 200, 400, 800, 1500, 4000):
        labels = [tick.label for tick in time_ticks(words_of("en"), start, start + days * 86_400_000)]
        assert len(labels) == len(set(labels)), labels
