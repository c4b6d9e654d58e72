"""What calls for a person, and what does not."""

from dataclasses import replace
from datetime import UTC
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from generator.reckon.attention import Item, items
from generator.reckon.water.survey import survey_water
from generator.records.journal import Journal
from generator.records.log import Dismissal, SystemLog
from generator.records.settings import Settings
from tests.reckon.water.journals import here, log_of, moment, readings, system
from tests.simulator.water import simulate_water

SETTINGS = Settings(source=here(), title="Reef", keeper="Keeper", time_zone=ZoneInfo("UTC"))


def of(log: SystemLog, days: float, kit: str = "0.15 dKH") -> tuple[Item, ...]:
    lagoon = system(kit=kit)
    journal = Journal(settings=SETTINGS, systems={"lagoon": lagoon}, logs={"lagoon": log})
    as_of = moment(days).astimezone(UTC)
    return items(journal, {"lagoon": survey_water(lagoon, log, [], as_of)}, as_of)


def kinds(found: tuple[Item, ...]) -> list[str]:
    return [item.kind for item in found]


def steady(values, every: float = 1.0) -> SystemLog:
    times = np.arange(len(values)) * every
    return SystemLog(system="lagoon", readings=tuple(readings("alkalinity", "dKH", times, values)))


def test_water_held_in_its_band_needs_nobody():
    rng = np.random.default_rng(1)
    assert of(steady(8.2 + rng.normal(0, 0.03, 40)), 39.2, kit="0.05 dKH") == ()


def test_a_reading_outside_its_band_comes_first():
    found = of(steady(np.linspace(8.2, 7.2, 30)), 29.1)
    assert found[0].kind == "out-of-band"
    assert dict(found[0].numbers)["side"] == "low"


def test_water_on_its_way_out_of_the_band_is_said_before_it_is_out():
    found = of(steady(np.linspace(8.6, 7.7, 30)), 29.1)
    assert "leaving-band" in kinds(found)
    assert "out-of-band" not in kinds(found)


def test_a_wild_last_reading_asks_to_be_read_again_rather_than_to_be_acted_on():
    values = np.full(30, 8.2) + np.random.default_rng(2).normal(0, 0.05, 30)
    values[-1] = 9.6
    found = kinds(of(steady(values), 29.1, kit="0.08 dKH"))
    assert "doubtful-reading" in found
    assert "out-of-band" not in found


def test_a_quantity_not_read_for_long_is_named_with_its_usual_gap():
    found = [item for item in of(steady(np.full(20, 8.2)), 31.0) if item.kind == "no-reading"]
    assert [dict(item.numbers)["usual"] for item in found] == ["1"]


def test_an_unlogged_dose_is_named_for_a_month_and_no_longer():
    run = simulate_water(np.random.default_rng(3), 60.0, tests_every=(1.0, 2.0), drift=0.015, unlogged=((20.2, 1.2),))
    assert "unexplained-shift" in kinds(of(log_of(run), 40.0))
    assert "unexplained-shift" not in kinds(of(log_of(run), 59.0))


@pytest.mark.parametrize("when", [28.0, 29.05])
def test_what_the_keeper_dismissed_stays_away(when):
    log = steady(np.linspace(8.2, 7.2, 30))
    item = next(i for i in of(log, 29.1) if i.kind == "out-of-band")
    told = Dismissal(source=here(), at=moment(when), item=item.id, reason="kit swapped, see note")
    found = of(replace(log, dismissals=(told,)), 29.1)
    assert item.id not in [i.id for i in found]


def test_an_item_carries_the_lines_it_rests_on():
    for item in of(steady(np.linspace(8.2, 7.2, 30)), 29.1):
        assert item.inputs
