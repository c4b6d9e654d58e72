"""Trends of what is only read."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.canonical import canonical_values
from generator.reckon.water.findings import Trend
from generator.reckon.water.forecast import DAYS, trends
from generator.records.log import Reading
from generator.records.source import Source
from generator.units.quantity import parse_quantity

NOW = datetime(2026, 6, 1, 8, tzinfo=UTC)


def _reading(days_ago: float, text: str, kind: str = "nitrate", line: int = 1) -> Reading:
    return Reading(
        source=Source("logs/lagoon/2026.yaml", line),
        at=NOW - timedelta(days=days_ago),
        kind=kind,
        value=parse_quantity(text, kind),
    )


def _trend(readings: list[Reading], kind: str = "nitrate") -> Trend:
    return trends(readings, canonical_values(readings), NOW)[kind]


def _finding(readings: list[Reading], kind: str = "nitrate") -> Finding:
    answer = _trend(readings, kind).per_day
    assert isinstance(answer, Finding)
    return answer


def test_a_steady_rise_is_found_with_its_unit_and_lines():
    readings = [_reading(70 - 7 * i, f"{2 + 0.7 * i:.1f} mg/L", line=i) for i in range(11)]
    found = _finding(readings)
    assert found.estimate.value == pytest.approx(0.1)
    assert found.estimate.unit == "mg/L/day"
    assert found.estimate.low < 0.1 < found.estimate.high
    assert found.inputs == tuple(reading.source for reading in readings)


def test_the_interval_holds_the_true_trend_at_least_nine_times_in_ten():
    rng, held = np.random.default_rng(7), 0
    for _ in range(200):
        readings = [_reading(90 - 6 * i, f"{8 - 0.03 * 6 * i + rng.normal(0, 0.4):.2f} mg/L") for i in range(16)]
        found = _finding(readings).estimate
        held += found.low <= -0.03 <= found.high
    assert held >= 165  # four standard deviations below 180


def test_readings_that_all_agree_leave_room_for_what_rounding_hides():
    found = _finding([_reading(60 - 10 * i, "5 mg/L") for i in range(7)])
    assert found.estimate.value == 0.0
    # Over 60 days a rise of a whole mg/L can hide behind values written to the mg/L.
    assert found.estimate.low == pytest.approx(-1 / 60)
    assert found.estimate.high == pytest.approx(1 / 60)


def test_finer_writing_leaves_less_room():
    coarse = _finding([_reading(60 - 10 * i, "5 mg/L") for i in range(7)])
    fine = _finding([_reading(60 - 10 * i, "5.00 mg/L") for i in range(7)])
    assert fine.estimate.high == pytest.approx(coarse.estimate.high / 100)


def test_readings_all_below_what_the_kit_sees_can_hide_the_whole_bound():
    found = _finding([_reading(60 - 10 * i, "<0.02 mg/L", "phosphate") for i in range(7)], "phosphate")
    assert found.estimate.value == 0.0
    assert found.estimate.high == pytest.approx(0.02 / 60)


@pytest.mark.parametrize(
    ("days_ago", "why"),
    [
        ([200.0, 150.0, 100.0], "no-recent-readings"),
        ([20.0], "one-time"),
        ([20.0, 20.0, 20.0, 20.0, 20.0], "one-time"),
        ([2.0, 1.5, 1.0, 0.5, 0.0], "span-too-short"),
        ([40.0, 20.0], "too-few-readings"),
        ([40.0, 30.0, 20.0], "too-few-readings"),
    ],
)
def test_too_little_to_tell_from_is_said(days_ago: list[float], why: str):
    trend = _trend([_reading(days, f"{5 + days / 10:.2f} mg/L") for days in days_ago])
    assert isinstance(trend.per_day, CannotTell)
    assert trend.per_day.why == why


def test_a_quantity_never_read_has_no_entry():
    assert trends([], [], NOW) == {}


def test_what_is_older_than_the_window_or_later_than_the_moment_does_not_count():
    recent = [_reading(80 - 10 * i, f"{5 + i % 2} mg/L") for i in range(8)]
    others = [_reading(DAYS + 1, "50 mg/L"), _reading(-1, "50 mg/L")]
    assert _trend(recent + others) == _trend(recent)
    assert _trend(recent).readings == 8


def test_each_quantity_has_its_own_trend_in_its_own_unit():
    readings = [_reading(60 - 10 * i, f"{77 + i % 2} °F", "temperature") for i in range(7)]
    readings += [_reading(60 - 10 * i, "1.0264 sg 25/25", "salinity") for i in range(7)]
    found = trends(readings, canonical_values(readings), NOW)
    assert set(found) == {"temperature", "salinity"}
    assert _finding(readings, "temperature").estimate.unit == "°C/day"
    # A step of 0.0001 is 0.13 of salinity.
    assert _finding(readings, "salinity").estimate.high == pytest.approx(0.13 / 60, rel=0.03)
