"""What is only perhaps so, or only foreseen, changes no dose before the next test. The band is 7.5 to 9.0 dKH."""

from datetime import datetime, timedelta

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.attention.water import of_water
from generator.reckon.dosing.outlook import outlook
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.findings import LedgerLine, NextTest, WaterFindings
from generator.records.log import SystemLog
from generator.units.kinds import MEQ_PER_DKH
from tests.reckon.dosing.systems import AS_OF, TWO_PART, dosed, found, log, to_test
from tests.reckon.water.journals import levels, moment, readings

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
    assert to_test(answer) <= 1.0
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


def newly_begun(seed: int) -> SystemLog:
    """Two weeks of a keeper who declares no kit: alkalinity every other day, calcium every sixth, two pumps."""
    rng, times = np.random.default_rng(seed), np.arange(46.0, 60.0, 2.0)
    read = readings("alkalinity", "dKH", times, 8.1 + 0.15 * rng.standard_normal(len(times)))
    read += readings("calcium", "mg/L", times[::3], 415.0 + 8.0 * rng.standard_normal(3), 1000)
    pumps = log({"soda": "90 mL/day", "chloride": "55 mL/day"})
    return replace(pumps, readings=tuple(sorted((replace(each, kit=None) for each in read), key=lambda each: each.at)))


def asked(its_log: SystemLog, at: datetime) -> Plan:
    home = replace(dosed(TWO_PART), kits={})
    answer = dosing_plan(home, its_log, analyse_water(home, its_log, (), at, past=False), at)
    assert isinstance(answer, Plan)
    return answer


def gives(answer: Plan, supply: str) -> float:
    return next(dose.rate.estimate.value for dose in answer.phases[0].doses if dose.supply == supply)


@pytest.mark.parametrize("seed", range(4))
def test_with_nothing_new_in_the_log_a_plan_asks_for_the_same_calcium_until_its_test_is_due_and_then_for_the_test(seed):
    its_log = newly_begun(seed)
    last = its_log.readings[-1].at
    days = [asked(its_log, last + timedelta(days=day)) for day in (0.1, 0.6, 1.1, 2.1, 3.1, 5.1, 8.1)]
    due = [answer.next_test.at <= answer.as_of for answer in days]
    assert due == sorted(due), "once it is due it stays so"
    assert due[-1]
    first = gives(days[0], "chloride")
    for answer, is_due in zip(days, due, strict=True):
        if is_due:
            assert answer.waits == "test-is-old"
            assert (gives(answer, "soda"), gives(answer, "chloride")) == (0.09, 0.055)
            assert answer.water_change is None
        else:
            assert gives(answer, "chloride") == pytest.approx(first, rel=0.03)


def test_a_level_surely_outside_its_band_is_not_left_there_because_the_test_after_it_was_not_made():
    for level, waits in ((8.3, "test-is-old"), (10.2, None), (6.2, None)):
        water = read(level)
        latest = water.latest["alkalinity"]
        before = replace(latest.reading, at=latest.reading.at - timedelta(days=5))
        old = replace(latest, reading=before, age_days=5.0)
        due = NextTest("alkalinity", AS_OF, "usual-interval")
        given = LedgerLine(before.at, AS_OF, "alkalinity", 5.0 * 0.9 * MEQ_PER_DKH, "meq/L", "pump", before.source)
        answer = plan(
            replace(water, latest=water.latest | {"alkalinity": old}, next_tests={"alkalinity": due}, ledger=(given,))
        )
        assert answer.next_test.at <= answer.as_of
        assert answer.waits == waits
        assert (gives(answer, "soda") == 0.113) == (waits is not None)


@pytest.mark.parametrize(("read_mg", "corrected"), [(426.0, False), (400.0, True)])
def test_calcium_is_corrected_by_what_was_read_and_not_by_what_is_foreseen_since(read_mg: float, corrected: bool):
    # The pump for calcium gives nothing: the level falls by 6 mg/L a day, from 430 mg/L or so.
    its_log = replace(
        log({"soda": "113 mL/day"}),
        readings=tuple(
            sorted(
                [
                    *readings("alkalinity", "dKH", np.arange(40.0, 60.0, 1.0), np.full(20, 8.25)),
                    *readings("calcium", "mg/L", [57.0, 57.1], [read_mg, read_mg], 1000),
                ],
                key=lambda each: each.at,
            )
        ),
    )
    home = dosed(TWO_PART)
    plans = []
    for day in (57.5, 59.1, 59.9):
        at = moment(day)
        answer = dosing_plan(home, its_log, analyse_water(home, its_log, (), at, past=False), at)
        assert isinstance(answer, Plan)
        plans.append(answer)
    assert [any(each.kind == "calcium" for each in answer.corrections) for answer in plans] == 3 * [corrected]


def test_a_level_just_outside_when_it_was_read_is_not_surely_so_however_unsure_the_demand_is():
    water = found(1.0, 1.0, 9.05)
    latest = water.latest["alkalinity"]
    before = replace(latest.reading, at=latest.reading.at - timedelta(days=5))
    given = LedgerLine(before.at, AS_OF, "alkalinity", 5.0 * MEQ_PER_DKH, "meq/L", "pump", before.source)
    old = replace(
        water, ledger=(given,), latest={**water.latest, "alkalinity": replace(latest, reading=before, age_days=5.0)}
    )
    believed = outlook(dosed(TWO_PART), old, "alkalinity")
    assert believed is not None
    assert believed.when_read.value == pytest.approx(9.05 * MEQ_PER_DKH)
    assert not believed.was_surely_outside


@pytest.mark.parametrize("low_dkh", [7.0, 6.6, 6.2])
def test_with_nothing_new_in_the_log_a_level_surely_too_low_is_raised_by_the_same_dose_from_day_to_day(low_dkh: float):
    # The pumps give less than the corals take up: in two weeks alkalinity fell to what was read last.
    times = np.arange(46.0, 60.0, 2.0)
    falls = low_dkh + 0.12 * (times[-1] - times)
    pumps = log({"soda": "90 mL/day", "chloride": "90 mL/day"})
    its_log = replace(pumps, readings=readings("alkalinity", "dKH", times, falls))
    days = [asked(its_log, its_log.readings[-1].at + timedelta(days=day)) for day in (0.1, 1.1, 2.1, 3.1, 4.1)]
    assert not any(answer.waits for answer in days)
    first = gives(days[0], "soda")
    assert first > 0.13
    assert [gives(answer, "soda") for answer in days] == pytest.approx(len(days) * [first], rel=0.01)
    later = asked(its_log, its_log.readings[-1].at + timedelta(days=9.0))
    assert sum(each.days for each in later.corrections) > sum(each.days for each in days[0].corrections), (
        "what fell by so much more is brought back too"
    )


@pytest.mark.parametrize("uptake_dkh", [0.1, 0.2, 0.3])
def test_with_nothing_new_in_the_log_as_much_water_is_changed_as_often_from_day_to_day(uptake_dkh: float):
    # Two readings tell next to nothing of the uptake, and less from day to day.
    its_log = replace(log(), readings=readings("alkalinity", "dKH", [58.0, 60.0], [8.6, 8.6 - 2.0 * uptake_dkh]))
    home = replace(dosed({}), mixes={"salt": levels(alkalinity="12 dKH")})
    found = []
    for day in (0.1, 1.1, 2.1, 3.1):
        at = its_log.readings[-1].at + timedelta(days=day)
        answer = dosing_plan(home, its_log, analyse_water(home, its_log, (), at, past=False), at)
        assert isinstance(answer, Plan)
        assert answer.water_change is not None
        found.append(answer.water_change)
    assert {each.days for each in found} == {found[0].days}
    assert [each.litres for each in found] == pytest.approx(4 * [found[0].litres], rel=0.01)
    assert [each.first for each in found] == sorted((each.first for each in found), reverse=True)
