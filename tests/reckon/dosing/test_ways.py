"""Every way of supply has its plan: by hand, by reactor, by limewater; and what falls short is said, with its cure."""

from datetime import timedelta

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.attention.water import of_pumps
from generator.reckon.dosing.analysis import DosingFindings, analyse_dosing
from generator.reckon.dosing.outlook import MOST_A_DAY, outlook
from generator.reckon.dosing.pouring import rises, until_mended
from generator.reckon.water.deliveries import changes_by_habit, per_litre
from generator.reckon.water.findings import WornPump
from generator.records.log import Dose, MeasuredRate, SystemLog, WaterChange
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.dosing.systems import AS_OF, BICARB, LIME, TWO_PART, VOLUME, alkalinity, dosed, found, log, to_test
from tests.reckon.water.journals import here, levels


def by_hand(every: float, solutions=TWO_PART):
    times = [AS_OF - timedelta(days=every * n + 0.2) for n in range(12, -1, -1)]
    amount = parse_quantity("60 mL", "volume")
    return tuple(Dose(source=here(), at=at, solution=id, amount=amount) for at in times for id in solutions)


def analyse(system, its_log, water=None) -> DosingFindings:
    return analyse_dosing(system, its_log, water or found(), AS_OF)


def test_doses_by_hand_keep_their_rhythm_and_add_up_to_the_demand():
    asked = analyse(dosed(TWO_PART), log()).plan.phases[-1]
    told = analyse(dosed(TWO_PART), replace(log(), doses=by_hand(1.0)))
    assert {dose.how for dose in told.plan.phases[-1].doses} == {"hand"}
    pouring = next(each for each in told.pourings if each.solution == "soda")
    soda = next(dose.rate.estimate.value for dose in asked.doses if dose.supply == "soda")
    assert pouring.days == 1
    assert pouring.litres == pytest.approx(soda)
    assert np.diff([at.timestamp() for at in pouring.at]) == pytest.approx(86400.0)


@pytest.mark.parametrize(("gave", "mends"), [("24 mL/day", True), ("0 mL/day", True), ("90 mL/day", False)])
def test_a_pump_that_gives_less_than_half_is_to_be_mended_and_not_set_to_twice_its_rate(gave, mends):
    rate = MeasuredRate(source=here(9), at=AS_OF, solution="soda", rate=parse_quantity(gave, "rate"))
    runs = log({"soda": "120 mL/day", "chloride": "118 mL/day"})
    told, whole = (analyse(dosed(TWO_PART), each) for each in (replace(runs, measured_rates=(rate,)), runs))
    soda, of_a_good_pump = (
        next(dose.rate.estimate.value for dose in each.plan.phases[-1].doses if dose.supply == "soda")
        for each in (told, whole)
    )
    assert [each.solution for each in told.plan.to_mend] == (["soda"] if mends else [])
    assert soda == pytest.approx(of_a_good_pump * (1.0 if mends else 120.0 / 90.0))
    assert ("alkalinity" in told.plan.held) != mends, "nothing is promised of what it gives"
    if mends:
        # 113 mL a day hold the water; what the pump gives of that, set to 120 mL as it is, is what it gave.
        poured = until_mended(dosed(TWO_PART), told.plan.phases[0], told.plan.to_mend[0])
        assert poured.litres == pytest.approx(soda - rate.rate.canonical())
        assert poured.portions == (3 if gave == "0 mL/day" else 2)
    (card,) = of_pumps(dosed(TWO_PART), found(), told.plan) if mends else (None,)
    assert card is None or (card.kind, card.inputs) == ("pump-to-mend", (here(9),))


@pytest.mark.parametrize(("lacks", "times", "held"), [(0.1, 1.0 / 0.9, True), (0.5, 1.0 / 0.75, False)])
def test_a_pump_that_only_readings_tell_of_is_measured_before_more_than_a_quarter_is_made_up_for(lacks, times, held):
    water = found()
    worn = WornPump("soda", "alkalinity", 0.9, Estimate(lacks, lacks - 0.05, lacks + 0.05, "1"), ())
    of_readings = replace(water, calcification=replace(water.calcification, pumps=(worn,)))
    runs = log({"soda": "113 mL/day", "chloride": "118 mL/day"})
    told, whole = (analyse(dosed(TWO_PART), runs, each).plan for each in (of_readings, water))
    soda, of_a_good_pump = (
        next(dose.rate.estimate.value for dose in each.phases[-1].doses if dose.supply == "soda")
        for each in (told, whole)
    )
    assert soda == pytest.approx(of_a_good_pump * times)
    assert ("alkalinity" in told.held) == held, "nothing is promised of it before"
    assert ("pump-lacks" if held else "measure-pump") in told.notes
    assert not told.to_mend, "nobody measured it"


def test_no_pouring_raises_a_level_by_more_than_the_cap():
    for uptake in (0.2, 0.6, 0.9, 2.5):
        for every in (1.0, 3.0, 7.0):
            system = dosed(TWO_PART)
            told = analyse(system, replace(log(), doses=by_hand(every)), found(uptake_dkh=uptake))
            for pouring in told.pourings:
                rise = pouring.litres * per_litre(system.solutions[pouring.solution], "alkalinity") / VOLUME
                assert pouring.days == 1 or rise <= MOST_A_DAY["alkalinity"] * (1.0 + 1e-9)


def test_a_pump_that_ran_once_makes_no_hand_of_a_solution_never_poured():
    told = analyse(dosed(TWO_PART), log({"soda": "60 mL/day"}))
    assert {dose.how for dose in told.plan.phases[-1].doses} == {"pump"}
    assert not told.pourings


def test_a_reactor_alone_is_told_its_flow_and_what_its_effluent_should_read():
    # 0.9 dKH a day in 400 L by effluent of 20 dKH over water held at 8.25: 30.64 L a day, instead of 25.
    told = analyse(dosed({}), log(effluent=("25 L/day", "20 dKH"))).reactor
    assert told.flow == pytest.approx(0.9 * VOLUME / (20.0 - 8.25))
    limited = 8.25 + (20.0 - 8.25) * 25.0 / told.flow
    assert (told.expected.low, told.expected.high) == pytest.approx((limited * MEQ_PER_DKH, 20.0 * MEQ_PER_DKH))
    for effluent, flow in told.settings:
        assert flow * (effluent - 8.25 * MEQ_PER_DKH) == pytest.approx(0.9 * VOLUME * MEQ_PER_DKH)


def test_a_reactor_alone_is_turned_up_once_to_bring_a_level_up_and_not_day_after_day():
    flows, runs = [32.0], log(effluent=("32 L/day", "20 dKH"))
    for _ in range(4):
        plan = analyse(dosed({}), runs, found(level_dkh=6.5)).plan
        flows.append(plan.phases[0].doses[0].rate.estimate.value)
        set_anew = replace(runs.effluents[0], flow=parse_quantity(f"{flows[-1]} L/day", "rate"))
        runs = replace(runs, effluents=(*runs.effluents, set_anew))
    assert flows[0] < flows[1] <= 1.25 * flows[0]
    assert flows[1:] == pytest.approx(4 * [flows[1]])
    # What coral takes up is followed as far as before.
    more = analyse(dosed({}), log(effluent=("32 L/day", "20 dKH")), found(uptake_dkh=1.8)).plan
    assert more.phases[-1].doses[0].rate.estimate.value == pytest.approx(1.25 * 32.0)


def test_a_reactor_that_cannot_hold_the_demand_says_by_how_much_and_what_its_effluent_would_have_to_be():
    told = analyse(dosed({}), log(effluent=("20 L/day", "20 dKH")))
    (short,) = [each for each in told.shortfalls if each.unmet.kind == "alkalinity"]
    most = 25.0 * (20.0 - 8.25)
    assert short.unmet.per_day.value == pytest.approx((0.9 * VOLUME - most) * MEQ_PER_DKH)
    (stronger,) = [each for each in short.remedies if each.how == "effluent"]
    assert 25.0 * (stronger.amount / MEQ_PER_DKH - 8.25) == pytest.approx(0.9 * VOLUME)


def test_limewater_that_evaporation_limits_says_how_much_more_would_have_to_evaporate():
    told = analyse(dosed({"lime": LIME}, "1 L/day"), log())
    (short,) = [each for each in told.shortfalls if each.unmet.kind == "alkalinity"]
    (more,) = [each for each in short.remedies if each.how == "evaporation"]
    # A litre of saturated limewater is 44.94 meq; 128.4 are needed.
    assert more.amount == pytest.approx(128.4 / 44.94 - 1.0, rel=2e-3)


def off_for(days: float) -> SystemLog:
    """A log in which a reactor ran at 25 L a day and 20 dKH until it was turned off at 9.5 dKH."""
    ran = log(effluent=("25 L/day", "20 dKH"))
    (effluent,) = ran.effluents
    off = replace(effluent, at=AS_OF - timedelta(days=days), flow=parse_quantity("0 L/day", "rate"))
    return replace(ran, effluents=(effluent, off), readings=(alkalinity(days, 9.5),))


@pytest.mark.parametrize("level", [8.25, 9.3])
def test_a_reactor_turned_off_while_the_level_came_down_is_turned_on_again_and_no_rich_water_replaces_it(level: float):
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="11 dKH")})
    told = analyse(rich, off_for(0.5), found(level_dkh=level))
    assert told.plan.water_change is None
    flows = [{dose.supply: dose.rate.estimate.value for dose in phase.doses} for phase in told.plan.phases]
    assert flows[-1]["reactor"] == pytest.approx(0.9 * VOLUME / (20.0 - 8.25))
    assert (flows[0].get("reactor", 0.0) == 0.0) == (level > 9.0), "it stays off while the level is above its band"


def test_a_reactor_taken_away_at_its_target_leaves_rich_water_as_the_supply():
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="11 dKH")})
    told = analyse(rich, replace(off_for(0.5), readings=(alkalinity(0.5, 8.2),)))
    assert told.plan.water_change.mix == "salt"
    assert told.reactor is None


def test_a_plan_that_trusts_no_uptake_leaves_a_reactor_a_drip_at_its_target_and_so_does_not_forget_it():
    # An uptake of 0 to 2 dKH a day, and a level that may be anywhere in two days.
    unsure = found(uptake_dkh=1.0, half_width_dkh=1.0, spread_a_day=1.5)
    ran = replace(log(effluent=("25 L/day", "20 dKH")), readings=(alkalinity(0.0, 8.2),))
    told = analyse(dosed({}), ran, unsure)
    assert told.plan.basis == "cautious"
    (dose,) = told.plan.phases[-1].doses
    assert dose.rate.estimate.value == pytest.approx(0.05 * 25.0)
    (effluent,) = ran.effluents
    set_so = replace(effluent, at=AS_OF, flow=parse_quantity("1.25 L/day", "rate"))
    (kept,) = analyse(dosed({}), replace(ran, effluents=(effluent, set_so)), found()).plan.phases[-1].doses
    assert kept.rate.estimate.value == pytest.approx(0.9 * VOLUME / (20.0 - 8.25))


def test_a_reactor_turned_down_is_told_an_effluent_of_up_to_twice_as_much_over_the_water():
    told = analyse(dosed({}), log(effluent=("25 L/day", "20 dKH")), found(uptake_dkh=0.1)).reactor
    assert told.flow == pytest.approx(0.1 * VOLUME / 11.75)
    assert told.expected.high / MEQ_PER_DKH == pytest.approx(8.25 + 2.0 * 11.75)


def test_a_reactor_in_water_without_a_target_goes_on_as_strong_as_its_effluent_is_above_the_water():
    none = replace(dosed({}), target=None, low=levels(), high=levels())
    ran = replace(log(effluent=("25 L/day", "20 dKH")), readings=(alkalinity(3.0, 9.5), alkalinity(0.0, 8.25)))
    (dose,) = analyse(none, ran).plan.phases[-1].doses
    assert dose.rate.estimate.value == pytest.approx(0.9 * VOLUME / (20.0 - 8.25))


def test_a_reactor_brings_the_calcium_of_its_alkalinity_though_calcium_has_neither_a_target_nor_a_band():
    alkalinity_alone = replace(
        dosed({}),
        target=levels(alkalinity="8.25 dKH"),
        low=levels(alkalinity="7.5 dKH"),
        high=levels(alkalinity="9 dKH"),
    )
    told = analyse(alkalinity_alone, log(effluent=("25 L/day", "20 dKH")))
    assert not told.plan.phases[-1].unmet
    assert not told.shortfalls


def test_an_effluent_no_stronger_than_the_water_is_told_no_setting():
    told = analyse(dosed({}), replace(log(effluent=("25 L/day", "7 dKH")), readings=(alkalinity(0.0, 8.2),)))
    assert told.reactor is None
    assert any(each.kind == "alkalinity" and each.per_day.value > 0.0 for each in told.plan.phases[-1].unmet)


def test_calcium_that_comes_with_alkalinity_beyond_what_is_taken_is_no_shortfall_and_has_no_cure():
    rich = replace(BICARB, compound=None, strength=None, declared=levels(alkalinity="1000 dKH", calcium="14000 mg/L"))
    told = analyse(dosed({"all": rich}), log({"all": "100 mL/day"}))
    assert [(each.kind, each.per_day.value < 0.0) for each in told.plan.phases[-1].to_tell] == [("calcium", True)]
    assert not told.shortfalls


def test_two_solutions_poured_on_one_day_raise_a_level_together_by_no_more_than_the_daily_cap():
    both = replace(BICARB, compound=None, strength=None, declared=levels(alkalinity="1000 dKH", calcium="14000 mg/L"))
    poured = SystemLog(
        system="lagoon",
        doses=tuple(
            Dose(source=here(), at=AS_OF - timedelta(days=ago), solution=id, amount=parse_quantity("200 mL", "volume"))
            for ago in range(20, 0, -4)
            for id in ("all", "bicarb")
        ),
    )
    home = dosed({"all": both, "bicarb": BICARB})
    told = analyse(home, poured, found(uptake_dkh=0.3))
    assert {each.solution for each in told.pourings} == {"all", "bicarb"}
    at_once = sum(rises(home, each.solution, each.litres)["alkalinity"] for each in told.pourings)
    assert at_once <= MEQ_PER_DKH * (1.0 + 1e-9)


def test_a_reactor_that_is_off_is_told_the_flow_and_effluent_of_when_it_ran():
    off, on = (analyse(dosed({}), each).reactor for each in (off_for(0.5), log(effluent=("25 L/day", "20 dKH"))))
    assert (off.flow_now, on.flow_now) == (0.0, 25.0)
    assert off.flow == pytest.approx(on.flow)
    assert (off.expected.low, off.expected.high) == pytest.approx((on.expected.low, on.expected.high))
    np.testing.assert_allclose(off.settings, on.settings)


def test_a_reactor_set_again_to_the_flow_it_was_measured_at_is_told_a_range_for_its_effluent():
    # 25 L a day of 20 dKH over 8.25 hold 0.734 dKH a day in 400 L; a strength is known to 3 %.
    told = analyse(dosed({}), off_for(0.5), found(uptake_dkh=25.0 * 11.75 / VOLUME)).reactor
    assert told.flow == pytest.approx(25.0)
    ends = (20.0 * (1.0 - 1.645 * 0.03), 20.0 * (1.0 + 1.645 * 0.03))
    assert [end / MEQ_PER_DKH for end in (told.expected.low, told.expected.high)] == pytest.approx(ends, rel=1e-3)


def test_a_rise_that_a_reactor_can_give_only_in_part_is_given_in_part_and_the_rest_is_told_in_grams():
    # From 6.25 to 8.25 dKH; at 1.25 times 26 L a day the effluent brings 0.955 dKH a day, 0.055 more than is taken.
    told = analyse(dosed({}), log(effluent=("26 L/day", "20 dKH")), found(level_dkh=6.25))
    (part,) = told.plan.corrections
    assert part.change.value / MEQ_PER_DKH == pytest.approx(14 * (1.25 * 26.0 * (20.0 - 8.25) / VOLUME - 0.9))
    (rest,) = told.out_of_reach
    assert rest.grams == pytest.approx(2.0 * 4.0 * 2.9961, abs=1e-3)


def test_with_nothing_at_hand_the_page_says_how_many_grams_would_do():
    told = analyse(replace(dosed({}), mixes={}), log())
    (short,) = [each for each in told.shortfalls if each.unmet.kind == "alkalinity"]
    # Standard atomic weights: +1 dKH in 100 L needs 2.9961 g of NaHCO3.
    grams = next(each.amount for each in short.remedies if each.what == "NaHCO3")
    assert grams == pytest.approx(0.9 * 4.0 * 2.9961, abs=1e-3)


def test_a_rich_mix_that_would_cover_what_reactor_or_limewater_leave_is_named():
    rich = replace(dosed({"lime": LIME}, "2.5 L/day"), mixes={"salt": levels(alkalinity="12 dKH")})
    (short,) = [each for each in analyse(rich, log()).shortfalls if each.unmet.kind == "alkalinity"]
    assert short.by_water.mix == "salt"
    assert short.by_water.gives["alkalinity"] == pytest.approx(short.unmet.per_day.value / VOLUME)


def test_water_changed_by_habit_counts_beside_a_pump_and_its_swing_is_in_the_range():
    # A tenth of the water at 11 dKH every 2 days on 8.25: 0.1375 dKH a day less for the pump to give.
    changes = tuple(
        WaterChange(source=here(), at=AS_OF - timedelta(days=day), volume=parse_quantity("40 L", "volume"), mix="salt")
        for day in range(21, 0, -2)
    )
    home = replace(dosed(TWO_PART), mixes={"salt": levels(alkalinity="11 dKH", calcium="430 mg/L")})
    water = replace(found(), changing=changes_by_habit(SystemLog(system="lagoon", water_changes=changes), AS_OF))
    with_it, without = analyse(home, log(), water), analyse(home, log())
    soda = [
        next(d.rate.estimate.value for d in each.plan.phases[-1].doses if d.supply == "soda")
        for each in (with_it, without)
    ]
    assert soda[0] / soda[1] == pytest.approx(1.0 - 0.1375 / 0.9)
    (counted,) = with_it.plan.changing
    assert counted.per_day.value / MEQ_PER_DKH == pytest.approx(0.1375)
    likely, plain = outlook(home, water, "alkalinity"), outlook(home, found(), "alkalinity")
    # A change of 0.275 dKH is due in a day; as nobody is a clock, half of it is there by then.
    beyond = [(one[2] - other[2]) / MEQ_PER_DKH for one, other in zip(likely.strays, plain.strays, strict=True)]
    assert min(beyond) == pytest.approx(-0.07, abs=0.01)
    assert max(beyond) == pytest.approx(0.07, abs=0.01)


def test_no_portion_by_hand_raises_a_level_by_more_than_a_quarter_of_its_band():
    told = analyse(dosed(TWO_PART), replace(log(), doses=by_hand(1.0)))
    (soda,) = [each for each in told.pourings if each.solution == "soda"]
    # 0.9 dKH a day in a band of 1.5 dKH: 3 portions of 0.3 dKH.
    assert (soda.days, soda.portions) == (1, 3)


@pytest.mark.parametrize(("level", "rises"), [(6.5, True), (7.3, False), (8.0, False)])
def test_a_level_surely_below_its_band_is_brought_up_by_daily_water_changes_where_nothing_is_dosed(level, rises):
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="11 dKH", calcium="440 mg/L")})
    told = analyse(rich, log(), found(uptake_dkh=0.1, level_dkh=level))
    change = told.plan.water_change
    assert change.rise == rises
    assert not (rises and "alkalinity" in told.plan.held), "it stands outside its band meanwhile"
    assert bool(change.times) == rises
    if rises:
        share = change.litres / VOLUME
        assert share * (11.0 - level) <= 1.0 + 1e-6, "by no more than the cap a day"
        for _ in range(change.times):
            level += share * (11.0 - level) - 0.1
        assert level == pytest.approx(change.reaches / MEQ_PER_DKH, abs=0.15)
        assert 7.5 < level < 8.25
        assert "alkalinity" not in {each.correction.kind for each in told.out_of_reach}, "water raises it"
    assert analyse(rich, log({"soda": "9 mL/day"}), found(level_dkh=6.5)).plan.water_change.rise
    with_soda = replace(rich, solutions=TWO_PART)
    assert analyse(with_soda, log(), found(level_dkh=6.5)).plan.water_change is None


def test_water_changes_in_place_of_doses_go_on_while_a_level_is_only_perhaps_below_its_band():
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="11 dKH", calcium="440 mg/L")})
    perhaps = found(uptake_dkh=0.1, level_dkh=7.45)
    told = analyse(rich, log(), perhaps).plan
    assert not told.waits
    assert told.water_change.first == 0.0
    pumped = analyse(dosed(TWO_PART), log({"soda": "13 mL/day", "chloride": "13 mL/day"}), perhaps).plan
    assert pumped.waits == "perhaps-outside"


@pytest.mark.parametrize("uptake", [0.02, 0.05, 0.1, 0.15, 0.2, 0.3])
def test_water_is_changed_at_a_rhythm_that_people_keep(uptake: float):
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="11 dKH", calcium="440 mg/L")})
    change = analyse(rich, log(), found(uptake_dkh=uptake)).plan.water_change
    assert change.days in {1, 2, 3, 4, 7, 14}
    if change.meets:
        assert change.litres / VOLUME * (11.0 - 8.25 + uptake * change.days / 2.0) == pytest.approx(
            uptake * change.days
        )


@pytest.mark.parametrize(("uptake", "told"), [(0.02, False), (0.9, True)])
def test_calcium_that_nothing_brings_is_spoken_of_only_where_its_level_would_miss_it(uptake: float, told: bool):
    short = analyse(dosed({"bicarb": BICARB}), log(), found(uptake_dkh=uptake, half_width_dkh=uptake / 10.0)).shortfalls
    assert bool(short) == told


def test_water_changes_alone_begin_when_the_level_is_down_to_their_lowest():
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="12 dKH", calcium="480 mg/L")})
    change = analyse(rich, log(), found(uptake_dkh=0.2)).plan.water_change
    # In 400 L that are kept at 430 mg/L.
    assert change.gives["calcium"] == pytest.approx(change.litres / 400.0 / change.days * (480.0 - 430.0))
    assert change.first * 0.2 == pytest.approx(8.25 - change.reaches / MEQ_PER_DKH)
    before, after = change.beyond(np.array([0.0, change.first, change.first + change.days]))
    assert before[1:] == pytest.approx(2 * [-0.2 * MEQ_PER_DKH * change.first], rel=1e-6)
    assert after - before == pytest.approx([0.0, 1.0, 1.0] * np.array(0.2 * MEQ_PER_DKH * change.days))


def test_water_changes_that_fall_short_begin_when_the_level_is_down_to_its_target():
    # A mix of 11 dKH brings less than the 0.9 dKH a day that is taken up, and 9.15 falls to 8.25 in a day.
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="11 dKH")})
    above, below = (analyse(rich, log(), found(level_dkh=each)).plan.water_change for each in (9.15, 8.0))
    assert not above.meets
    assert (above.first, below.first) == (pytest.approx(1.0), 0.0)


def test_water_that_stands_at_the_top_of_its_band_and_that_nothing_brings_down_is_read_once_a_day():
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="12 dKH")})
    told = analyse(rich, log(), found(uptake_dkh=0.03, half_width_dkh=0.03, level_dkh=9.07)).plan
    assert told.water_change.first > 14.0, "a change would bring it up"
    assert to_test(told) == 1.0


@pytest.mark.parametrize("mix", [11.0, 14.0, 20.0])
def test_no_water_change_raises_a_level_by_more_than_half_its_band_or_the_cap(mix: float):
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity=f"{mix} dKH")})
    change = analyse(rich, log(), found(uptake_dkh=2.0)).plan.water_change
    assert change.litres / VOLUME * (mix - 8.25) <= min(0.5 * (9.0 - 7.5), 1.0) + 1e-9
    assert change.litres <= 0.25 * VOLUME + 1e-9
    assert 7.5 <= change.reaches / MEQ_PER_DKH <= 8.25, "below its band nobody knows how far a level falls"


def changed(litres: float, days_ago: float) -> SystemLog:
    """A log in which so much water was changed once."""
    at, volume = AS_OF - timedelta(days=days_ago), parse_quantity(f"{litres} L", "volume")
    return replace(log(), water_changes=(WaterChange(source=here(), at=at, volume=volume, mix="salt"),))


def test_no_more_than_one_water_change_a_day_is_asked_for_however_often_the_plan_is_made():
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="11 dKH"), "sea": levels(alkalinity="8 dKH")})
    for water in (found(level_dkh=7.6), found(level_dkh=7.4, uptake_dkh=0.2), found(level_dkh=11.0, uptake_dkh=0.05)):
        assert analyse(rich, log(), water).plan.water_change.first == 0.0
        assert analyse(rich, changed(100.0, 0.4), water).plan.water_change.first == pytest.approx(0.6)


def test_a_change_of_tomorrow_raises_by_no_more_than_the_cap_what_has_fallen_until_then():
    rich = replace(dosed({}), mixes={"salt": levels(alkalinity="14 dKH", calcium="440 mg/L")})
    change = analyse(rich, changed(100.0, 0.1), found(uptake_dkh=0.5, level_dkh=6.0)).plan.water_change
    assert change.rise
    assert change.first == pytest.approx(0.9)
    assert change.litres / VOLUME * (14.0 - (6.0 - 0.9 * 0.5)) <= 1.0


@pytest.mark.parametrize("level", [7.7, 7.9, 7.95, 8.0, 8.2])
def test_water_that_is_changed_in_its_rhythm_is_not_changed_again_within_a_day(level: float):
    rich, water = (
        replace(dosed({}), mixes={"salt": levels(alkalinity="14 dKH")}),
        found(level_dkh=level, uptake_dkh=0.2),
    )
    first, after = (analyse(rich, each, water).plan.water_change.first for each in (log(), changed(100.0, 0.1)))
    assert after == pytest.approx(max(first, 0.9))


@pytest.mark.parametrize(("litres", "waits"), [(1.0, 0.0), (19.0, 0.0), (21.0, 0.6)])
def test_less_than_a_twentieth_of_the_water_postpones_no_change(litres: float, waits: float):
    weak = replace(dosed({}), mixes={"salt": levels(alkalinity="7 dKH")})
    down = analyse(weak, changed(litres, 0.4), found(level_dkh=12.0, uptake_dkh=0.02)).plan.water_change
    assert down.first == pytest.approx(waits)


def test_however_little_is_short_is_said():
    told = analyse(replace(dosed({}), mixes={}), log(), found(uptake_dkh=0.006))
    (short,) = [each for each in told.shortfalls if each.unmet.kind == "alkalinity"]
    assert short.unmet.per_day.value == pytest.approx(0.006 * VOLUME * MEQ_PER_DKH)


@pytest.mark.parametrize(("mg_a_dkh", "short"), [(7.0, False), (6.5, False), (5.0, True)])
def test_calcium_that_falls_short_is_told_where_it_would_leave_its_band_within_a_month(mg_a_dkh: float, short: bool):
    # 0.9 dKH a day take 6.43 mg/L of calcium. From 430 mg/L to either end of its band are 30 mg/L: 1 mg/L a day.
    label = levels(alkalinity="1000 dKH", calcium=f"{1000.0 * mg_a_dkh:.0f} mg/L")
    given_alone = replace(BICARB, compound=None, strength=None, declared=label)
    told = analyse(dosed({"all": given_alone}), log({"all": "100 mL/day"}))
    assert [each.unmet.kind for each in told.shortfalls] == ["calcium"] * short


def test_no_pump_is_set_to_a_millilitre_that_no_level_would_miss():
    # 0.005 dKH a day in 400 L are 0.6 mL of soda, and 0.15 dKH a month; the band is 1.5 dKH wide.
    assert {
        dose.supply for dose in analyse(dosed(TWO_PART), log(), found(uptake_dkh=0.005)).plan.phases[-1].doses
    } == set()
    set_to_one = analyse(dosed(TWO_PART), log({"soda": "1 mL/day", "chloride": "40 mL/day"}), found(uptake_dkh=0.005))
    assert {dose.rate.estimate.value for dose in set_to_one.plan.phases[-1].doses} == {0.0}
    nano = replace(dosed(TWO_PART), water=replace(dosed({}).water, volume=parse_quantity("8 L", "volume")))
    # In 8 L the same amount is 0.25 dKH a day.
    water = found(uptake_dkh=0.005)
    assert min(dose.rate.estimate.value for dose in analyse(nano, log(), water).plan.phases[-1].doses) > 0.0


@pytest.mark.parametrize("weak", ["7 dKH", "8.2 dKH"])
def test_a_reactor_whose_effluent_is_no_stronger_than_the_water_runs_on_and_is_said_to_be_too_weak(weak: str):
    ran = replace(log(effluent=("25 L/day", weak)), readings=(alkalinity(0.0, 8.2),))
    for home in (dosed({}), dosed(TWO_PART)):
        plan = analyse(home, ran).plan
        assert "weak-effluent" in plan.notes
        assert [d.rate.estimate.value for d in plan.phases[-1].doses if d.supply == "reactor"] == [pytest.approx(25.0)]
    strong = replace(ran, effluents=log(effluent=("25 L/day", "20 dKH")).effluents)
    assert "weak-effluent" not in analyse(dosed({}), strong).plan.notes


def test_a_stock_too_strong_for_the_water_is_to_be_diluted():
    nano = replace(dosed(TWO_PART), water=replace(dosed({}).water, volume=parse_quantity("8 L", "volume")))
    # Findings are of 400 L: what is 0.006 dKH a day there is 0.3 in 8 L.
    assert "dilute" in analyse(nano, log(), found(uptake_dkh=0.006)).plan.notes
    assert "dilute" not in analyse(dosed(TWO_PART), log()).plan.notes
