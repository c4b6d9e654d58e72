"""The numbers of travel are listed whole, and say where each comes from."""

import pytest

from generator.reckon import constants_of_travel
from generator.reckon.constants import Constant


def test_every_constant_of_travel_is_listed_once():
    named = [value for value in vars(constants_of_travel).values() if isinstance(value, Constant)]
    assert sorted(each.name for each in named) == sorted(each.name for each in constants_of_travel.ALL)


@pytest.mark.parametrize("constant", constants_of_travel.ALL, ids=lambda constant: constant.name)
def test_a_constant_lies_in_its_own_range_and_has_a_source(constant: Constant):
    assert constant.unit
    assert constant.source
    assert constant.low is None or constant.low <= constant.value
    assert constant.high is None or constant.value <= constant.high
