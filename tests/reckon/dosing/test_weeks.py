"""Plans lived forward: the level must stay where the plan says it stays."""

from itertools import islice

import pytest

from tests.reckon.dosing.weeks import BANDS, WAYS, week_by_plan


@pytest.mark.parametrize("way", WAYS)
def test_in_a_hundred_weeks_by_plan_what_it_holds_stays_in_its_band_in_at_least_ninety_five(way: str):
    weeks = list(islice((week for seed in range(115) if (week := week_by_plan(seed, way)).plans), 100))
    assert len(weeks) == 100
    for kind, (low, high) in BANDS.items():
        lived = [week.levels[kind] for week in weeks if week.levels[kind]]
        assert len(lived) >= 70
        assert sum(all(low <= level <= high for level in levels) for levels in lived) >= 0.95 * len(lived), kind
