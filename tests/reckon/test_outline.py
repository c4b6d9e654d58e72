"""The area a colony covers."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.reckon.outline import footprint_area

lengths = st.floats(1.0, 150.0)


def test_a_colony_as_long_as_wide_covers_a_circle():
    assert footprint_area(20.0, 20.0) == pytest.approx(pi * 10.0**2)


@given(lengths, lengths)
def test_a_footprint_does_not_care_which_side_is_called_the_length(a: float, b: float):
    assert footprint_area(a, b) == pytest.approx(footprint_area(b, a))
    assert footprint_area(a, b) <= a * b
