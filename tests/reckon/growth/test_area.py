"""The area a colony covers."""

from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.reckon.growth.measurements import Body

lengths = st.floats(1.0, 150.0)


def test_a_colony_as_long_as_wide_covers_a_circle():
    assert Body(20.0).footprint == pytest.approx(pi * 10.0**2)


@given(lengths, lengths)
def test_a_footprint_does_not_care_which_side_is_called_the_length(a: float, b: float):
    assert Body(a, b).footprint == pytest.approx(Body(b, a).footprint)
    assert Body(a, b).footprint <= a * b
