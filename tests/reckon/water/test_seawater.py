"""Seawater behaves as seawater does."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.reckon.finding import OutsideRange
from generator.reckon.water.seawater import (
    REFERENCE_PAIRS,
    conductivity,
    density,
    practical_salinity,
    salinity_from_conductivity,
    salinity_from_unit,
    salinity_in_unit,
    salinity_uncertainty,
    specific_gravity,
)
from generator.units.kinds import KINDS
from generator.units.quantity import BY_UNIT, parse_quantity

SALINITIES = st.floats(5.0, 41.9)
UNITS = st.sampled_from([unit.symbol for unit in KINDS["salinity"].units])


@given(SALINITIES, st.floats(0.1, 3.0), st.floats(20.0, 30.0))
def test_saltier_water_is_heavier(salinity: float, more: float, temperature: float):
    assert density(min(salinity + more, 42.0), temperature) > density(salinity, temperature)


@given(SALINITIES, st.floats(20.0, 29.0), st.floats(0.1, 1.0))
def test_warmer_water_is_lighter(salinity: float, temperature: float, warmer: float):
    assert density(salinity, temperature + warmer) < density(salinity, temperature)


@given(SALINITIES, UNITS)
def test_salinity_survives_any_unit_and_back(salinity: float, unit: str):
    assert salinity_from_unit(salinity_in_unit(salinity, unit), unit) == pytest.approx(salinity, abs=1e-7)


def test_every_unit_of_salinity_that_is_no_factor_has_a_conversion():
    for unit in KINDS["salinity"].units:
        if unit.form:
            assert unit.symbol in REFERENCE_PAIRS or unit.symbol == "mS/cm"


def test_the_reference_pair_decides_over_two_units_of_salinity():
    # Source: TEOS-10 by gsw: 1.0264 is 35.0 by 25/25 and 37.1 by 20/4.
    by_25_25, by_20_4 = (
        practical_salinity(parse_quantity(f"1.0264 {pair}", "salinity")) for pair in ("sg 25/25", "sg 20/4")
    )
    assert by_20_4 - by_25_25 > 2.0


def test_fresh_water_has_no_salinity_by_any_instrument():
    for text in ("1.000 sg 25/25", "0.997 sg 25/25", "1.0000 sg 60F/60F", "0.0 mS/cm", "0 psu"):
        assert practical_salinity(parse_quantity(text, "salinity")) == pytest.approx(0.0, abs=1e-9)


def test_many_readings_at_once_are_the_same_as_one_by_one():
    values = np.array([1.0, 1.020, 1.0264, 1.030])
    for pair in REFERENCE_PAIRS:
        one_by_one = [salinity_from_unit(float(value), pair) for value in values]
        np.testing.assert_array_equal(salinity_from_unit(values, pair), one_by_one)
        np.testing.assert_allclose(specific_gravity(np.array(one_by_one), pair)[1:], values[1:], atol=1e-12)


@pytest.mark.parametrize("unit", [unit.symbol for unit in KINDS["salinity"].units])
def test_a_small_step_of_any_scale_is_what_the_scale_moves_by(unit: str):
    at = salinity_in_unit(35.0, unit)
    step = 1e-4 * at
    moved = salinity_from_unit(at + step / 2, unit) - salinity_from_unit(at - step / 2, unit)
    precision = parse_quantity(f"{step:.10f} {unit}", "salinity")
    assert salinity_uncertainty(precision) == pytest.approx(moved, rel=1e-3)


NAN, INFINITE = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("formula", "inside", "outside"),
    [
        (lambda s: density(s, 25.0), (0.0, 42.0), (-1e-9, 42.0001)),
        (lambda t: density(35.0, t), (-6.0, 40.0), (-6.001, 40.001)),
        (conductivity, (0.0, 42.0), (-0.001, 42.001)),
        (salinity_from_conductivity, (0.0, 62.35), (-0.001, 62.4)),
        (lambda sg: salinity_from_unit(sg, "sg 25/25"), (0.99, 1.0316), (0.9899, 1.0318)),
        (lambda sg: salinity_from_unit(sg, "sg 20/4"), (0.99, 1.0301), (0.9899, 1.0303)),
        (lambda s: specific_gravity(s, "sg 20/20"), (0.0, 42.0), (-0.001, 42.001)),
    ],
)
def test_seawater_is_known_up_to_both_ends_of_its_range_and_not_beyond(formula, inside, outside):
    for value in inside:
        assert np.isfinite(formula(value))
    for value in (*outside, NAN, INFINITE, -INFINITE):
        with pytest.raises(OutsideRange, match=r"lies outside .* where .* holds"):
            formula(value)


def test_one_value_outside_among_many_is_named():
    with pytest.raises(OutsideRange, match="salinity of 99 psu lies outside 0 to 42 psu"):
        density(np.array([35.0, 99.0]), 25.0)


def test_what_a_reading_may_be_is_within_what_the_formulas_hold_for():
    for unit in KINDS["salinity"].units:
        if unit.form:
            low, high = BY_UNIT[unit.symbol]
            assert 4.9 < salinity_from_unit(low, unit.symbol) < 5.2
            assert 41.7 < salinity_from_unit(high, unit.symbol) <= 42.0
    assert KINDS["salinity"].plausible == (5.0, 42.0)
    # Beside a bound the local slope of a scale is still told.
    assert salinity_uncertainty(parse_quantity("0.001 sg 25/25", "salinity"), 42.0) > 1.0
