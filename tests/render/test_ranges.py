"""Estimates side by side on one scale."""

import pytest

from generator.render.base.numbers import Shown
from generator.render.base.scale import Row, ranges
from generator.render.base.words import words_of
from generator.units.quantity import Estimate

T = words_of("en")


def row(value: float, low: float, high: float) -> Row:
    return Row("", Shown(""), Estimate(value, low, high, "g/day"))


def places(*rows: Row, reference: float | None = None) -> list[tuple[float, float, float]]:
    """Where each strip begins, has its mark and ends, in per cent."""
    found = ranges(T, "", "g", rows, reference).strips
    at = [tuple(float(text.rstrip("%")) for text in (strip.start, strip.value, strip.width)) for strip in found]
    return [(start, value, start + width) for start, value, width in at]


def test_the_scale_begins_at_nought_and_all_lies_on_it():
    [(start, value, end), (_, half, _)] = places(row(10.0, 8.0, 12.0), row(5.0, 4.0, 6.0))
    assert 0.0 < start < value < end <= 100.0
    assert half == pytest.approx(value / 2.0, rel=1e-3)


def test_an_interval_that_reaches_below_nought_is_shown_to_its_end():
    [(start, value, _)] = places(row(1.0, -0.5, 2.5))
    assert start > 0.0
    assert value == pytest.approx(50.0, abs=1.0)


def test_an_interval_too_long_for_the_others_runs_off_and_is_marked_so():
    found = ranges(T, "", "g", (row(10.0, 8.0, 12.0), row(11.0, 1.0, 400.0)))
    assert [strip.beyond for strip in found.strips] == [False, True]
    assert float(found.strips[0].value.rstrip("%")) > 30.0, "the other keeps its room"


def test_what_all_are_held_against_stands_in_the_middle():
    found = ranges(T, "", "%", (row(104.0, 100.0, 108.0), row(97.0, 95.0, 99.0)), reference=100.0)
    assert found.reference == "50%"
    high, low = (float(strip.value.rstrip("%")) for strip in found.strips)
    assert low < 50.0 < high


def test_nothing_at_all_is_no_reason_to_fail():
    assert ranges(T, "", "g", (row(0.0, 0.0, 0.0),)).strips[0].value == "0%"
