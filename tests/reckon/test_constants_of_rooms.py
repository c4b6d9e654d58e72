"""The numbers of coral and of solutions are listed whole, and say where each comes from."""

import pytest

from generator.reckon import constants_of_coral, constants_of_solutions
from generator.reckon.constants import Constant

EVERY = (*constants_of_coral.ALL, *constants_of_solutions.ALL)


def test_every_constant_of_coral_is_listed_once():
    named = [value for value in vars(constants_of_coral).values() if isinstance(value, Constant)]
    assert sorted(c.name for c in named) == sorted(c.name for c in constants_of_coral.ALL)


@pytest.mark.parametrize("constant", EVERY, ids=lambda constant: constant.name)
def test_a_constant_has_a_unit_a_source_and_lies_in_its_own_range(constant: Constant):
    assert constant.unit
    assert constant.source
    assert constant.low is None or constant.low <= constant.value
    assert constant.high is None or constant.value <= constant.high
