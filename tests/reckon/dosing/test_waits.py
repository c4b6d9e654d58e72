"""A level that is only perhaps outside its band changes no dose before it is read again. The band is 7.5 to 9.0 dKH."""

from dataclasses import replace
from datetime import timedelta

import pytest

from generator.reckon.attention.water import of_water
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.water.findings import WaterFindings
from generator.units.kinds import MEQ_PER_DKH
from tests.reckon.dosing.systems import AS_OF, TWO_PART, dosed, found, log

# What holds 0.9 dKH a day in 400 L: 113 mL of soda (60 g/L), as in `test_plan`.
HOLDS = {"soda": "113 mL/day", "chloride": "118 mL/day"}
# Kits of the journals err by 0.15 dKH: a 90 % interval reaches 0.25 to each side.
PERHAPS, SURELY = 0.15, 0.4


def read(level_dkh: float, uptake_dkh: float = 0.9) -> WaterFindings:
    """Findings in which the level was read just now, against its band."""
    water = found(uptake_dkh, level_dkh=level_dkh)
    low, high = 7.5 * MEQ_PER_DKH, 9.0 * MEQ_PER_DKH
    latest = water.latest["alkalinity"]
    standing = "low" if latest.value < low else "high" if latest.value > high else "within"
    return replace(water, latest=water.latest | {"alkalinity": replace(latest, low=low, high=high, standing=standing)})


def shown_before(level_dkh: float, before_dkh: float) -> WaterFindings:
    """The same after another reading the day before."""
    water = read(level_dkh)
    last = water.latest["alkalinity"]
    first = replace(last.reading, at=last.reading.at - timedelta(days=1))
    told = ((first, before_dkh * MEQ_PER_DKH), (last.reading, last.value))
    return replace(water, readings=told)


def plan(water: WaterFindings, pumps: dict[str, str] | None = None) -> Plan:
    answer = dosing_plan(dosed(TWO_PART), log(pumps or HOLDS), water, AS_OF)
    assert isinstance(answer, Plan)
    return answer


def set_to(answer: Plan, phase: int) -> dict[str, float]:
    return {dose.supply: round(1000.0 * dose.rate.estimate.value) for dose in answer.phases[phase].doses}


@pytest.mark.parametrize("level", [9.0 + PERHAPS, 7.5 - PERHAPS])
def test_a_level_perhaps_outside_its_band_leaves_the_doses_as_they_are_until_it_is_read_again(level: float) -> None:
    answer = plan(read(level))
    assert answer.waits
    assert set_to(answer, 0) == {"soda": 113, "chloride": 118}
    assert answer.holds_days <= 1.0
    assert "alkalinity" not in answer.held, "what waits promises nothing"
    confirmed = set_to(answer, 1)["soda"]
    assert confirmed < 60 if level > 9.0 else confirmed > 150


@pytest.mark.parametrize("level", [9.0 + SURELY, 7.5 - SURELY, 8.25])
def test_a_level_that_is_sure_does_not_wait(level: float) -> None:
    answer = plan(read(level))
    assert not answer.waits
    assert (set_to(answer, 0)["soda"] == 113) == (7.5 <= level <= 9.0)


@pytest.mark.parametrize(("level", "before"), [(9.0 + PERHAPS, 9.0 + PERHAPS), (7.5 - PERHAPS, 7.5 - SURELY)])
def test_what_two_readings_in_a_row_show_does_not_wait_again(level: float, before: float) -> None:
    assert not plan(shown_before(level, before)).waits


@pytest.mark.parametrize(("level", "before"), [(9.0 + PERHAPS, 8.5), (7.5 - PERHAPS, 9.0 + PERHAPS)])
def test_what_the_reading_before_did_not_show_waits(level: float, before: float) -> None:
    assert plan(shown_before(level, before)).waits


@pytest.mark.parametrize(("level", "soda"), [(9.0 + PERHAPS, "200 mL/day"), (7.5 - PERHAPS, "40 mL/day")])
def test_what_runs_further_out_of_the_band_does_not_wait(level: float, soda: str) -> None:
    assert not plan(read(level), {"soda": soda, "chloride": "118 mL/day"}).waits


def test_what_would_run_past_the_other_end_does_not_wait() -> None:
    # 2.5 dKH a day would be taken up with nothing given: from 9.15 to 6.65 before the next test.
    assert not plan(read(9.0 + PERHAPS, uptake_dkh=2.5), {"soda": "0 mL/day"}).waits


@pytest.mark.parametrize("level", [9.0 + PERHAPS, 9.0 + SURELY, 7.5 - PERHAPS, 7.5 - SURELY])
def test_the_plan_waits_where_the_card_says_to_test_again(level: float) -> None:
    water = read(level)
    (card,) = (each for each in of_water(dosed(TWO_PART), water, AS_OF, AS_OF.tzinfo) if each.kind == "out-of-band")
    assert card.unsure == bool(plan(water).waits)
