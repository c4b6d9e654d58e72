"""Plans lived forward: the level must stay where the plan says it stays."""

import pytest

from tests.reckon.dosing.weeks import WAYS, week_by_plan

LOW, HIGH = 7.5, 9.0


@pytest.mark.parametrize("way", WAYS)
def test_in_a_hundred_weeks_by_plan_the_level_stays_in_its_band_in_at_least_ninety_five(way: str):
    weeks = [week for seed in range(110) if (week := week_by_plan(seed, way)).plans][:100]
    assert len(weeks) == 100
    assert sum(all(LOW <= level <= HIGH for level in week.levels) for week in weeks) >= 95
