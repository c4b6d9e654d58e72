"""Salts judged after their salinity is taken out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.reckon.estimate.uncertainty import Measured
from generator.reckon.finding import CannotTell, Finding, OutsideRange
from generator.reckon.water.seawater import REFERENCE, beside_the_sea, density, normalised, reference_concentration
from generator.records.source import Source


def _diluted(kind: str, salinity: float, temperature: float = 25.0) -> float:
    """What natural seawater of this salinity has in a litre."""
    return float(REFERENCE[kind].value * salinity / 35.0 * density(salinity, temperature))


@given(st.floats(1.0, 3000.0), st.floats(20.0, 42.0), st.floats(20.0, 30.0))
def test_normalising_twice_is_the_same_as_once(concentration: float, salinity: float, temperature: float):
    once = normalised(concentration, salinity, temperature)
    assert normalised(once, 35.0, temperature) == pytest.approx(once, rel=1e-12)


@given(st.sampled_from(sorted(REFERENCE)), st.floats(20.0, 42.0), st.floats(20.0, 30.0))
def test_the_sea_at_any_salinity_is_still_the_sea(kind: str, salinity: float, temperature: float):
    at_35 = normalised(_diluted(kind, salinity, temperature), salinity, temperature)
    assert at_35 == pytest.approx(reference_concentration(kind, temperature), rel=1e-12)


def test_low_salinity_makes_magnesium_look_low_until_it_is_normalised():
    read = _diluted("magnesium", 32.0)
    level, ratio = beside_the_sea("magnesium", Measured(read, 15.0), Measured(32.0, 0.3))
    of_sea = reference_concentration("magnesium")
    assert read < 0.92 * of_sea
    assert isinstance(ratio, Finding)
    assert ratio.estimate.value == pytest.approx(1.0, abs=1e-12)
    assert isinstance(level, Finding)
    assert level.estimate.low < of_sea < level.estimate.high


def test_the_uncertainty_of_the_salinity_reading_is_carried():
    sure, _ = beside_the_sea("calcium", Measured(420.0, 10.0), Measured(35.0, 0.0))
    unsure, _ = beside_the_sea("calcium", Measured(420.0, 10.0), Measured(35.0, 1.0))
    assert isinstance(sure, Finding)
    assert isinstance(unsure, Finding)
    assert {part.cause for part in sure.parts} == {"concentration"}
    parts = {part.cause: part.standard for part in unsure.parts}
    # One in 35 of salinity is 1/35 of the calcium, and a little for the weight of the salt itself.
    assert parts["salinity"] == pytest.approx(420.0 / 35.0, rel=0.03)
    assert parts["concentration"] == pytest.approx(10.0)
    assert unsure.estimate.high - unsure.estimate.low > sure.estimate.high - sure.estimate.low


def test_ratio_and_level_say_the_same():
    level, ratio = beside_the_sea("potassium", Measured(350.0, 8.0), Measured(34.0, 0.4))
    assert isinstance(ratio, Finding)
    assert isinstance(level, Finding)
    scaled = level.estimate.scaled(1.0 / reference_concentration("potassium"), "× sea")
    assert ratio.estimate.value == pytest.approx(scaled.value)
    assert ratio.estimate.low == pytest.approx(scaled.low)


def test_without_a_salinity_nothing_is_claimed():
    for salinity in (None, Measured(0.0, 0.3)):
        _, ratio = beside_the_sea("calcium", Measured(420.0, 10.0), salinity)
        assert isinstance(ratio, CannotTell)
        assert ratio.why == "no-salinity"


def test_a_ratio_names_the_lines_it_rests_on():
    lines = (Source("a.yaml", 3), Source("a.yaml", 9))
    _, ratio = beside_the_sea("calcium", Measured(420.0, 10.0), Measured(35.0), lines)
    assert isinstance(ratio, Finding)
    assert ratio.inputs == lines


def test_a_salinity_no_reef_has_leaves_nothing_to_compare():
    for salinity in (0.0, 4.9, 42.1, float("nan")):
        _, ratio = beside_the_sea("calcium", Measured(420.0, 10.0), Measured(salinity, 0.5))
        assert isinstance(ratio, CannotTell)
        with pytest.raises(OutsideRange, match="salinity of"):
            normalised(420.0, salinity)
    for salinity in (5.0, 42.0):
        # At an end the spread to the side that holds counts.
        _, ratio = beside_the_sea("calcium", Measured(420.0, 10.0), Measured(salinity, 0.5))
        assert isinstance(ratio, Finding)
        assert {part.cause for part in ratio.parts} == {"concentration", "salinity"}
