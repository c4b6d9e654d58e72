"""The doses that hold a level, by the keeper's own solutions."""

from datetime import timedelta
from pathlib import Path

import molmass
import pytest
from msgspec.structs import replace

from generator.read.load import load
from generator.reckon.arrivals.known import known_waters
from generator.reckon.dosing.outlook import Need, levels_to_hold, outlook
from generator.reckon.dosing.phases import DoseRate, Phase, phase
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.safe import safe_share
from generator.reckon.finding import CannotTell
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ
from generator.reckon.water.findings import NextTest
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate
from tests.commands import two_tanks
from tests.reckon.dosing.systems import (
    AS_OF,
    BICARB,
    CHLORIDE,
    LIME,
    SODA,
    TWO_PART,
    VOLUME,
    about,
    dosed,
    found,
    log,
    solution,
    to_test,
)
from tests.reckon.water.journals import levels, readings


def plan(system=None, its_log=None, water=None) -> Plan:
    answer = dosing_plan(system or dosed(TWO_PART), its_log or log(), water or found(), AS_OF)
    assert isinstance(answer, Plan), answer
    return answer


def litres(phase: Phase) -> dict[str, float]:
    return {dose.supply: dose.rate.estimate.value for dose in phase.doses}


def the(phase: Phase, supply: str) -> DoseRate:
    return next(dose for dose in phase.doses if dose.supply == supply)


def read_once(dkh: float):
    return readings("alkalinity", "dKH", [59.9], [dkh])


def test_two_part_meets_the_demand_of_alkalinity_and_calcium():
    # Molar masses by a reference library: 0.9 dKH a day in 400 L is 128.4 meq, a mole of Na2CO3 two of them;
    # with it goes half a mole of calcium for each equivalent.
    meq = 0.9 * 20.0 / molmass.Formula("CaO").mass * 400.0
    soda = meq / 2000.0 * molmass.Formula("Na2CO3").mass / 60.0
    chloride = meq / 2000.0 * molmass.Formula("CaCl2(H2O)2").mass / 80.0
    (hold,) = plan().phases
    assert litres(hold)["soda"] == pytest.approx(soda, rel=2e-4)
    assert litres(hold)["chloride"] == pytest.approx(chloride, rel=2e-4)
    assert hold.days is None
    assert not hold.unmet


@pytest.mark.parametrize(("compound", "grams"), [("NaHCO3", 2.9961), ("Na2CO3", 1.8900)])
def test_a_degree_a_day_in_100_l_takes_the_grams_of_the_table(compound, grams):
    # Standard atomic weights: +1 dKH in 100 L needs 2.9961 g of NaHCO3 or 1.8900 g of Na2CO3.
    system = dosed({"base": solution(compound, 50.0), "chloride": CHLORIDE})
    (hold,) = plan(system, water=found(uptake_dkh=1.0)).phases
    assert litres(hold)["base"] * 50.0 / 4.0 == pytest.approx(grams, abs=1e-4)


def test_the_dose_is_as_unsure_as_the_demand_and_says_which_lines_it_comes_from():
    running = log({"soda": "100 mL/day", "chloride": "100 mL/day"})
    dose = the(plan(its_log=running).phases[0], "soda").rate
    assert dose.estimate.low / dose.estimate.value == pytest.approx(0.85 / 0.9)
    assert dose.estimate.high / dose.estimate.value == pytest.approx(0.95 / 0.9)
    assert dose.inputs
    needs = {need.kind: need.method for need in plan().needs}
    assert needs == {"alkalinity": "uptake", "calcium": "calcification"}


def test_a_dose_by_a_pump_that_does_not_run_yet_is_as_unsure_as_its_strength_and_the_pump_too():
    # GUM 5.1: 3 % of strength and 5 % of the pump (common practice, no source) beside the demand's 0.05 in 0.9.
    dose = the(plan().phases[0], "soda").rate.estimate
    of_both = 1.645 * (0.03**2 + 0.05**2) ** 0.5
    assert dose.high / dose.value - 1.0 == pytest.approx(((0.05 / 0.9) ** 2 + of_both**2) ** 0.5, rel=1e-3)


def test_without_a_target_the_middle_of_the_band_is_held():
    # The band is 7.5 to 9.0 dKH and 400 to 460 mg/L.
    bare = replace(dosed(TWO_PART), target=None)
    assert levels_to_hold(bare) == pytest.approx({"alkalinity": 8.25 * MEQ_PER_DKH, "calcium": 430.0})
    aimed = replace(bare, target=levels(alkalinity="8.8 dKH", magnesium="1300 mg/L"))
    held = {"alkalinity": 8.8 * MEQ_PER_DKH, "calcium": 430.0, "magnesium": 1300.0}
    assert levels_to_hold(aimed) == pytest.approx(held)
    assert "alkalinity" not in levels_to_hold(replace(bare, low=levels(calcium="400 mg/L")))


def test_limewater_goes_first_as_far_as_evaporation_allows():
    # 3 L a day of saturated limewater (1.665 g/L of Ca(OH)2, two equivalents to 74.09 g) are 134.8 meq: more
    # than the 128.4 needed, so 2.86 L do; 2 L leave 38.5 meq to the two parts.
    system = dosed({"lime": LIME, **TWO_PART}, "3 L/day")
    (all_by_lime,) = plan(system).phases
    assert litres(all_by_lime) == pytest.approx({"lime": 2.857}, abs=0.003)
    (shared,) = plan(dosed({"lime": LIME, **TWO_PART}, "2 L/day")).phases
    assert litres(shared)["lime"] == pytest.approx(2.0)
    left = 128.4 - 2.0 * 2000.0 / 74.092 * 1.665
    assert litres(shared)["soda"] == pytest.approx(left / 2000.0 * 105.988 / 60.0, rel=2e-3)


def test_limewater_never_counts_for_more_than_dissolves():
    weak, thick = (dosed({"lime": solution("Ca(OH)2", grams)}, "3 L/day") for grams in (1.665, 20.0))
    assert litres(plan(weak).phases[0]) == pytest.approx(litres(plan(thick).phases[0]))


def test_limewater_s_strength_is_part_of_its_interval():
    dose = the(plan(dosed({"lime": LIME}, "9 L/day"), water=found(half_width_dkh=1e-6)).phases[0], "lime")
    # 1.60 to 1.73 g/L: evenly spread, 2.3 % of standard uncertainty.
    assert (dose.rate.estimate.high / dose.rate.estimate.value - 1.0) == pytest.approx(1.645 * 0.0225, rel=0.02)


def test_limewater_alone_that_evaporation_limits_leaves_a_need_and_says_so():
    answer = plan(dosed({"lime": LIME}, "1 L/day"))
    unmet = {each.kind: each.per_day.value for each in answer.phases[0].unmet}
    assert unmet["alkalinity"] == pytest.approx(128.4 - 44.94, abs=0.1)
    assert "needs-more-evaporation" in answer.notes


def test_a_plan_that_leaves_a_need_asks_for_a_test_before_the_level_has_fallen_that_far():
    # 1 L a day of limewater leaves 0.585 dKH a day, and 0.75 dKH lie between the level and the band's end.
    answer = plan(dosed({"lime": LIME}, "1 L/day"))
    assert "alkalinity" not in answer.held
    assert to_test(answer) <= 0.75 / 0.585
    enough, by_two_parts = plan(dosed({"lime": LIME}, "3 L/day")), plan()
    assert enough.held == ("alkalinity", "calcium")
    assert to_test(enough) == to_test(by_two_parts)


def test_calcium_that_no_solution_brings_is_not_said_to_be_held():
    # 6.4 mg/L a day are taken; from 430 mg/L the band's end at 400 is 4.7 days away, with the level's error 3.
    answer = plan(dosed({"soda": SODA}))
    assert to_test(answer) == pytest.approx(3.0)
    assert plan(dosed({"soda": SODA}), water=found(calcium=408.0)).held == ("alkalinity",)


def test_what_is_left_of_a_need_is_as_unsure_as_the_need():
    (unmet,) = plan(dosed({"soda": SODA})).phases[0].unmet
    assert unmet.per_day.low / unmet.per_day.value == pytest.approx(0.85 / 0.9)


def test_a_reactor_stays_as_it_runs_and_the_pumps_do_the_rest():
    # 4 L a day of effluent at 20 dKH into water held at 8.25 give 16.76 meq a day.
    answer = plan(its_log=log(effluent=("4 L/day", "20 dKH")))
    (hold,) = answer.phases
    assert litres(hold)["reactor"] == pytest.approx(4.0)
    given = 4.0 * (20.0 - 8.25) * MEQ_PER_DKH
    assert litres(hold)["soda"] == pytest.approx((0.9 * MEQ_PER_DKH * VOLUME - given) / 2000.0 * 105.988 / 60.0)


def test_calcium_too_high_in_its_band_is_let_down_by_the_pump_for_it_while_a_reactor_beside_it_runs_on():
    # Of 6.4 mg/L a day the reactor brings 0.8, the pump may leave out 5.6: 20 mg/L take four days.
    (let_down, hold) = plan(its_log=log(effluent=("4 L/day", "20 dKH")), water=found(calcium=450.0)).phases
    assert let_down.days == 4
    for each in (let_down, hold):
        assert litres(each)["reactor"] == pytest.approx(4.0)
        assert litres(each)["soda"] == pytest.approx(litres(hold)["soda"])
    assert litres(let_down)["chloride"] < 0.2 * litres(hold)["chloride"]


def test_a_reactor_alone_runs_as_far_as_the_demand_asks():
    (hold,) = plan(dosed({}), log(effluent=("30 L/day", "20 dKH"))).phases
    assert litres(hold)["reactor"] == pytest.approx(0.9 * VOLUME / (20.0 - 8.25))


def test_the_fewest_solutions_that_do_it_are_taken_and_of_those_what_runs():
    both = {"bicarb": BICARB, "soda": SODA, "chloride": CHLORIDE}
    running_soda = plan(dosed(both), log({"soda": "60 mL/day", "chloride": "60 mL/day"}))
    assert {d.supply for d in running_soda.phases[0].doses} == {"soda", "chloride"}
    running_bicarb = plan(dosed(both), log({"bicarb": "60 mL/day", "chloride": "60 mL/day"}))
    assert {d.supply for d in running_bicarb.phases[0].doses} == {"bicarb", "chloride"}


def test_what_runs_now_stands_beside_what_should():
    dose = the(plan(its_log=log({"soda": "60 mL/day"})).phases[0], "soda")
    assert dose.now == pytest.approx(0.060)


def test_without_calcium_in_any_solution_the_plan_says_what_it_leaves():
    (hold,) = plan(dosed({"soda": SODA})).phases
    unmet = {each.kind: each.per_day.value for each in hold.unmet}
    assert set(unmet) == {"calcium"}
    assert unmet["calcium"] == pytest.approx(20.039 * 128.4, rel=1e-3)


def test_calcium_is_to_be_tested_only_where_it_is_dosed_or_missing():
    unread = {"latest": {"alkalinity": found().latest["alkalinity"]}, "forecasts": {**found().forecasts}}
    unread["forecasts"]["calcium"] = unread["forecasts"]["magnesium"]

    def is_asked(solutions, uptake_dkh: float) -> bool:
        water = replace(found(uptake_dkh=uptake_dkh, half_width_dkh=0.05 * uptake_dkh), **unread)
        return "read-calcium" in plan(dosed(solutions), water=water).notes

    assert is_asked(TWO_PART, 0.05), "it is dosed"
    assert is_asked({"soda": SODA}, 0.9), "it is missing"
    assert not is_asked({"soda": SODA}, 0.05)


def test_a_low_level_is_brought_up_by_a_degree_a_day_at_most():
    # Common practice, no source: no more than about 1 dKH a day.
    answer = plan(water=found(level_dkh=6.0))
    (made,) = answer.corrections
    assert (made.kind, made.days) == ("alkalinity", 2)
    # Each day at the fastest: of the 2.25 dKH to target less than half a day's is left for the next plan.
    assert made.change.value == pytest.approx(2.0 * made.fastest)
    assert 0.0 < 2.25 * MEQ_PER_DKH - made.change.value < 0.5 * made.fastest
    correct, hold = answer.phases
    assert (correct.days, hold.days) == (2, None)
    extra = (litres(correct)["soda"] - litres(hold)["soda"]) * 60.0 * 2000.0 / 105.988 / VOLUME
    assert extra == pytest.approx(made.fastest)
    assert extra <= MEQ_PER_DKH
    assert not answer.out_of_reach
    assert litres(correct)["chloride"] == pytest.approx(litres(hold)["chloride"])


def test_a_correction_takes_as_long_as_evaporation_makes_it():
    # 3 L a day of limewater give 0.945 dKH a day, 0.045 more than is taken: 0.25 dKH take six days; 4 L give 0.36 more.
    low = found(level_dkh=8.0)
    assert [c.days for c in plan(dosed({"lime": LIME}, "3 L/day"), water=low).corrections] == [6]
    assert [c.days for c in plan(dosed({"lime": LIME}, "4 L/day"), water=low).corrections] == [1]
    with_bicarb = plan(dosed({"lime": LIME, "bicarb": BICARB}, "3 L/day"), water=low)
    assert [c.days for c in with_bicarb.corrections] == [1]


def test_a_correction_that_nothing_at_hand_can_give_is_not_planned_but_said():
    by_lime = plan(dosed({"lime": LIME}, "2.8 L/day"), water=found(level_dkh=8.0))
    assert not by_lime.corrections
    assert [(each.kind, each.days) for each in by_lime.out_of_reach] == [("alkalinity", 1)]


@pytest.mark.parametrize(("share", "part"), [(0.98, []), (0.95, [0.05 * 14.0])])
def test_a_rise_of_which_no_more_is_in_reach_than_the_level_is_unsure_by_is_not_asked_for(share, part):
    # Calcium is known to 2.4 mg/L. Only limewater raises it, in place of the bicarbonate for the alkalinity that
    # goes elsewhere, within 14 days.
    water = found(calcium=420.0)
    whole = water.calcification.grams_per_day
    less = replace(whole, estimate=whole.estimate.scaled(share, "g/day"))
    water = replace(water, calcification=replace(water.calcification, grams_per_day=less))
    answer = plan(
        dosed({"lime": LIME, "bicarb": BICARB}, "8 L/day"), log({"bicarb": "10 mL/day"}, ("1 L/day", "lime")), water
    )
    a_day = 0.9 * MEQ_PER_DKH * CALCIUM_PER_MEQ
    assert [each.change.value for each in answer.corrections] == pytest.approx([each * a_day for each in part])
    assert [each.kind for each in answer.out_of_reach] == ["calcium"]


def test_a_level_that_only_the_corals_can_lower_may_take_longer_than_a_slow_supply_is_given():
    # 0.55 dKH too much, of which 0.05 dKH a day are drawn: 11 days.
    answer = plan(water=found(level_dkh=8.8, uptake_dkh=0.05, half_width_dkh=0.001))
    assert [(c.kind, c.days) for c in answer.corrections] == [("alkalinity", 11)]
    assert answer.water_change is None, "it stands in its band"


def test_a_reactor_alone_brings_alkalinity_up_and_calcium_with_it():
    answer = plan(dosed({}), log(effluent=("40 L/day", "20 dKH")), found(level_dkh=8.0))
    correct, hold = answer.phases
    more = litres(correct)["reactor"] - litres(hold)["reactor"]
    assert more * (20.0 - 8.25) == pytest.approx(0.25 * VOLUME)


def test_a_high_level_falls_no_faster_than_the_corals_draw_it_down():
    # Nothing is given until it stands in its band by all that is believed: two days at half a degree.
    answer = plan(water=found(level_dkh=9.45, uptake_dkh=0.5))
    (let_down,) = answer.corrections
    assert (let_down.kind, let_down.days) == ("alkalinity", 2)
    assert let_down.change.value == pytest.approx(-1.0 * MEQ_PER_DKH)
    assert litres(answer.phases[0]).get("soda", 0.0) == 0.0


def test_a_level_just_under_its_top_is_let_down_today_as_far_as_tomorrow_asks():
    # From 8.9 dKH, up to 0.1 more and 0.5 a day to either side: tomorrow's upper end is to stay under 9.0.
    sure, unsure = (plan(water=found(level_dkh=8.9, spread_a_day=each)) for each in (0.02, 0.5))
    given = [litres(each.phases[0])["soda"] * 60.0 * 2000.0 / 105.988 / VOLUME / MEQ_PER_DKH for each in (sure, unsure)]
    assert given[0] == pytest.approx(0.9 - 0.65)
    assert given[1] <= 0.9 - (8.9 + 0.1 + 0.5 - 9.0) + 1e-6


def test_each_kind_is_corrected_over_its_own_days():
    answer = plan(water=found(level_dkh=7.6, calcium=380.0))
    assert {c.kind: c.days for c in answer.corrections} == {"alkalinity": 1, "calcium": 3}
    assert [phase.days for phase in answer.phases] == [1, 2, None]


def test_a_level_near_its_target_is_left_there():
    assert not plan(water=found(level_dkh=8.15)).corrections


def test_where_the_last_reading_is_doubtful_it_is_read_again_at_once_and_a_dose_stands_meanwhile():
    test = NextTest("alkalinity", AS_OF, "doubtful-reading")
    answer = plan(water=replace(found(doubtful=True), next_tests={"alkalinity": test}))
    assert answer.next_test == test
    assert answer.phases


def test_a_demand_that_may_be_half_or_half_as_much_again_is_given_only_as_far_as_is_safe():
    # 0.4 to 1.4 dKH a day, from 8.25 with the band's top at 9.0: over two days no more than the low end and 0.32 a day.
    answer = plan(water=found(half_width_dkh=0.5, spread_a_day=0.5))
    (hold,) = answer.phases
    given = litres(hold)["soda"] / litres(plan().phases[0])["soda"] * 0.9
    assert 0.4 <= given <= 0.4 + 0.75 / 2.0
    assert answer.basis == "cautious"
    assert answer.next_test.at <= AS_OF + timedelta(days=1)


@pytest.mark.parametrize(("unread", "given"), [(0.0, 1.5), (0.4, 1.5), (1.3, 1.2), (1.5, 1.0), (4.0, 1.0)])
def test_of_newcomers_not_read_yet_no_more_than_the_cap_is_given_and_for_the_others_what_they_take(unread, given):
    # 1.5 dKH a day with the newcomers. More can be foreseen of these than all are likely to take.
    believed = outlook(dosed(TWO_PART), found(uptake_dkh=1.5), "alkalinity")
    share = safe_share(believed, believed.level.value, unread=unread * MEQ_PER_DKH)
    assert share * 1.5 == pytest.approx(given)


def test_a_hopelessly_wide_demand_is_given_at_its_low_end():
    answer = plan(water=found(half_width_dkh=0.6, spread_a_day=3.0))
    (hold,) = answer.phases
    assert litres(hold)["soda"] == pytest.approx(litres(plan().phases[0])["soda"] * 0.3 / 0.9)


def test_by_nothing_that_is_believed_of_the_demand_does_a_level_rise_faster_than_the_cap():
    for half in (0.05, 0.3, 0.6, 0.9):
        answer = plan(water=found(level_dkh=6.0, half_width_dkh=half, spread_a_day=half))
        given = litres(answer.phases[0]).get("soda", 0.0) * 60.0 * 2000.0 / 105.988 / VOLUME / MEQ_PER_DKH
        assert given - (0.9 - half) <= 1.0 + 1e-6


def test_above_its_band_nothing_raises_a_level_by_anything_believed_of_the_demand():
    for half in (0.05, 0.3, 0.6, 0.9):
        for level in (9.05, 9.6, 11.0):
            answer = plan(water=found(level_dkh=level, half_width_dkh=half, spread_a_day=half))
            given = litres(answer.phases[0]).get("soda", 0.0) * 60.0 * 2000.0 / 105.988 / VOLUME / MEQ_PER_DKH
            assert given <= 0.9 - half + 1e-6
            assert "above-band" in answer.notes or answer.waits


def test_a_level_high_above_a_band_that_coral_does_not_draw_down_is_changed_down():
    # From 11 dKH with a mix of 8.0: no more than a quarter of the water nor, with what coral takes, 1 dKH a day.
    answer = plan(water=found(level_dkh=11.0, uptake_dkh=0.05, half_width_dkh=0.04))
    change = answer.water_change
    assert change.mix == "sea"
    # How far down they lead is told by the least that coral takes, how fast by the most.
    ends = {}
    for drawn in (0.01, 0.05, 0.09):
        level = 11.0 + drawn
        for _ in range(change.times):
            after = level - drawn + change.litres / VOLUME * (8.0 - (level - drawn))
            assert level - after <= 1.0 + 1e-6
            level = after
        ends[drawn] = level
    assert change.litres <= 0.25 * VOLUME + 1e-6
    assert ends[0.01] == pytest.approx(change.reaches / MEQ_PER_DKH)
    assert all(7.5 < end < 9.0 for end in ends.values())
    assert litres(answer.phases[0]).get("soda", 0.0) == pytest.approx(0.0, abs=1e-9)


def test_while_water_is_changed_to_let_a_level_down_no_alkalinity_is_dosed_and_calcium_goes_on():
    answer = plan(its_log=log({"soda": "40 mL/day"}), water=found(level_dkh=11.0, uptake_dkh=0.3))
    assert answer.water_change.times
    first = litres(answer.phases[0])
    (soda,) = (each.rate.estimate for each in answer.phases[0].doses if each.supply == "soda")
    assert (soda.value, soda.low, soda.high) == (0.0, 0.0, 0.0)
    assert first["chloride"] == pytest.approx(litres(answer.phases[-1])["chloride"])
    # The mix has 3 dKH less, and the corals take 0.3 dKH.
    assert answer.water_change.litres / VOLUME * 3.0 + 0.3 <= 1.0 + 1e-6


def test_water_is_changed_where_coral_would_let_a_level_down_only_if_it_took_all_that_is_likely():
    # From 9.5 to 9 dKH within two days takes 0.25 dKH a day: 0.3 is likely, and more than 0.2 is not sure.
    sure, unsure = (plan(water=found(level_dkh=9.5, uptake_dkh=0.3, half_width_dkh=half)) for half in (0.04, 0.1))
    assert sure.water_change is None
    assert unsure.water_change.times


def test_water_is_not_changed_by_drops_where_coral_may_take_nearly_all_that_a_level_may_fall():
    # From 10 to 9 dKH: what coral may take leaves 0.2 dKH a day to water changes, or next to nothing.
    some, drops = (plan(water=found(level_dkh=10.0, uptake_dkh=0.5, half_width_dkh=half)) for half in (0.3, 0.4999))
    assert some.water_change.times <= 5
    assert drops.water_change is None
    assert "above-band" in drops.notes


@pytest.mark.parametrize("level", [9.6, 12.0])
def test_coral_that_draws_fast_needs_no_water_change(level):
    assert plan(water=found(level_dkh=level, uptake_dkh=0.9)).water_change is None


@pytest.mark.parametrize("level", [8.9, 9.2, 9.6])
@pytest.mark.parametrize("uptake", [0.3, 0.6, 0.9])
def test_calcium_goes_on_while_alkalinity_is_let_down(level, uptake):
    answer = plan(water=found(level_dkh=level, uptake_dkh=uptake))
    lets_down = answer.phases[int(bool(answer.waits))]
    assert litres(lets_down)["chloride"] == pytest.approx(litres(answer.phases[-1])["chloride"])


def test_no_balanced_solution_brings_alkalinity_for_its_calcium_while_alkalinity_is_above_its_band():
    both = replace(BICARB, compound=None, strength=None, declared=levels(alkalinity="1000 dKH", calcium="9000 mg/L"))
    home = dosed({"all": both, "soda": SODA})
    answer = plan(home, log({"all": "100 mL/day"}), found(level_dkh=10.0))
    assert litres(answer.phases[0])["all"] == 0.0
    assert litres(answer.phases[-1])["all"] > 0.0


def test_no_water_is_changed_for_a_level_that_may_be_a_mistake_nor_by_a_mix_as_strong():
    unsure = found(level_dkh=9.3, uptake_dkh=0.05)
    forecast = unsure.forecasts["alkalinity"]
    start, level = forecast.track[0]
    wide = replace(level, low=level.value - 0.5, high=level.value + 0.5)
    doubtful = replace(forecast, track=((start, wide), *forecast.track[1:]))
    assert plan(water=replace(unsure, forecasts=unsure.forecasts | {"alkalinity": doubtful})).water_change is None
    strong = replace(dosed(TWO_PART), mixes={"salt": levels(alkalinity="10 dKH")})
    assert plan(strong, water=found(level_dkh=11.0, uptake_dkh=0.05)).water_change is None


def test_a_plan_says_for_how_long_it_can_be_trusted():
    calm, restless = (to_test(plan(water=found(spread_a_day=spread))) for spread in (0.02, 0.12))
    assert calm > 10.0
    assert 2.0 <= restless < 7.0


def test_where_the_demand_cannot_be_told_what_runs_stays_and_the_next_day_is_read():
    its_log = replace(log({"soda": "60 mL/day", "chloride": "60 mL/day"}), readings=tuple(read_once(8.3)))
    system = dosed(TWO_PART)
    answer = plan(system, its_log, analyse_water(system, its_log, (), AS_OF))
    assert answer.basis == "as-it-runs"
    assert litres(answer.phases[-1])["soda"] == pytest.approx(0.060)
    assert answer.next_test.at <= AS_OF + timedelta(days=1)


def test_only_a_water_never_read_has_no_plan():
    system = dosed(TWO_PART)
    answer = dosing_plan(system, log(), analyse_water(system, log(), (), AS_OF), AS_OF)
    assert isinstance(answer, CannotTell)
    assert answer.why == "no-readings"


def test_without_anything_that_gives_alkalinity_water_changes_do_as_far_as_they_can():
    # A mix of 8.0 dKH brings nothing to water held at 8.25; one of 11 brings 0.69 dKH a day by a quarter every day.
    bare = dosed({"chloride": CHLORIDE})
    assert plan(bare).water_change is None
    rich = replace(bare, mixes={"salt": levels(alkalinity="11 dKH", calcium="450 mg/L")})
    little, much = (plan(rich, water=found(uptake_dkh=each, half_width_dkh=0.01)) for each in (0.1, 0.9))
    fall = 0.1 * little.water_change.days
    lowest = 11.0 - fall / (little.water_change.litres / VOLUME)
    assert lowest == pytest.approx(8.25 - fall / 2.0), "the level swings about its target"
    assert not any(unmet.kind == "alkalinity" for unmet in little.phases[-1].unmet)
    assert much.water_change.days == 1
    short = {unmet.kind: unmet.per_day.value for unmet in much.phases[-1].unmet}
    assert short["alkalinity"] == pytest.approx((0.9 - 0.25 * (11.0 - 8.25)) * MEQ_PER_DKH * VOLUME)


def test_a_need_that_is_met_but_for_a_rounding_is_not_said_to_be_left():
    need = Need("alkalinity", Estimate(1e-13, 0.0, 5.0, "meq/day"), "uptake", ())
    assert phase((need,), {}, (), None, {}).unmet == ()


def test_alkalinity_that_goes_elsewhere_is_noted():
    assert "alkalinity-not-explained" in plan(water=found(unexplained=about(0.1, 0.03, "meq/L/day"))).notes
    assert "alkalinity-not-explained" not in plan(water=found(unexplained=about(0.1, 0.2, "meq/L/day"))).notes


def test_one_solution_that_holds_both_is_enough():
    balanced = replace(
        BICARB, compound=None, strength=None, declared=levels(alkalinity="1000 dKH", calcium="7147 mg/L")
    )
    (hold,) = plan(dosed({"balanced": balanced, **TWO_PART})).phases
    assert litres(hold) == pytest.approx({"balanced": 0.9 * VOLUME / 1000.0}, rel=1e-3)


@pytest.mark.parametrize(("plan", "left"), [("all-move", 0.0), ("stag-moves", 0.275)])
def test_where_the_demand_cannot_be_told_the_doses_follow_what_left(tmp_path: Path, plan: str, left: float):
    log = two_tanks.write(tmp_path, plan, arrived=True) / "logs/bay/2026-10.yaml"
    lines = log.read_text("utf-8")
    pumps, first = lines.index("- at", 1), lines.index("- at", lines.index("- at", 1) + 1)
    log.write_text(lines[:pumps] + lines[pumps:first], "utf-8")
    journal = load(tmp_path, two_tanks.AT).journal
    assert journal is not None
    known = known_waters(journal, two_tanks.AT, past=False)["bay"].water
    answer = dosing_plan(journal.systems["bay"], journal.logs["bay"], known, two_tanks.AT)
    assert isinstance(answer, Plan)
    assert answer.basis == "what-is-left"
    # Of what covered the ground, 24 x 20 of 24 x 20 and 14 x 13 cm, moved or all of it.
    soda = next(dose for dose in answer.phases[-1].doses if dose.supply == "soda")
    assert soda.rate.estimate.value == pytest.approx(left * soda.now, abs=1e-6, rel=0.01)
