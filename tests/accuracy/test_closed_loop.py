"""A life by the plan for each thing that can happen; several hundred are in the accuracy command."""

import pytest

from tests.accuracy.closed_loop import LIVES, live

pytestmark = pytest.mark.long

# The least share of days in band of a single life; that of many is in `LIVES`.
LEAST = {"plain": 0.97, "a newcomer, logged": 0.93, "a newcomer, not logged": 0.7, "a stop, not logged": 0.58}


@pytest.mark.parametrize("name", LEAST)
def test_a_life_by_the_plan_is_never_refused_one_and_comes_back_into_its_band(name: str) -> None:
    lived = live(7, LIVES[name])
    assert lived.refused == 0
    assert lived.inside >= LEAST[name]
