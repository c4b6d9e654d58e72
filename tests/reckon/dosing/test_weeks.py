"""Plans lived forward: the level must stay where the plan says it stays."""

import pytest

from tests.reckon.dosing.weeks import WAYS, held_in_band


@pytest.mark.long
@pytest.mark.parametrize("way", WAYS)
def test_in_twenty_weeks_by_plan_what_it_holds_stays_in_its_band_in_at_least_seventeen(way: str):
    # Of hundreds it is 95 in 100 at least (the accuracy command); of twenty such, 16 or fewer are 1 chance in 60.
    for kind, (held, weeks) in held_in_band(way, range(20)).items():
        assert weeks >= 10, kind
        assert held >= weeks - 3, kind
