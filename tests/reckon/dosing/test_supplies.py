"""What a system can be fed with, and what a litre of it gives."""

from datetime import timedelta

import pytest
from msgspec.structs import replace

from generator.reckon.dosing.plan import dosing_plan
from generator.reckon.dosing.supplies import REACTOR_MOST_ALONE, Supply, supplies
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ
from generator.records.log import Dose, Event, MeasuredRate, Reading
from generator.units.compounds import COMPOUNDS
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.dosing.systems import AS_OF, LIME, SODA, TWO_PART, alkalinity, dosed, log
from tests.reckon.dosing.systems import found as water_of
from tests.reckon.water.journals import here

LEVELS = {"alkalinity": 8.0 * MEQ_PER_DKH, "calcium": 430.0, "magnesium": 1300.0}


def reactor(alkalinity: str, calcium: str | None = None, flow: str = "20 L/day", solutions=None):
    its_log = log(effluent=(flow, alkalinity))
    (effluent,) = its_log.effluents
    written = replace(effluent, calcium=parse_quantity(calcium, "calcium") if calcium else None)
    found = supplies(dosed(solutions or {}), replace(its_log, effluents=(written,)), LEVELS, AS_OF)
    return next((supply for supply in found if supply.how == "reactor"), None)


def test_an_effluent_gives_by_how_much_stronger_it_is_than_the_water():
    gives = reactor("28 dKH", "530 mg/L").gives
    assert gives == pytest.approx({"alkalinity": 20.0 * MEQ_PER_DKH, "calcium": 100.0})
    assert "magnesium" not in gives, "nobody read any in it"


def test_calcium_that_is_not_written_follows_the_alkalinity():
    gives = reactor("28 dKH").gives
    assert gives["calcium"] == pytest.approx(20.0 * MEQ_PER_DKH * CALCIUM_PER_MEQ)


def test_what_an_effluent_has_no_more_of_than_the_water_it_does_not_give():
    assert set(reactor("28 dKH", "430 mg/L").gives) == {"alkalinity"}
    assert set(reactor("28 dKH", "400 mg/L").gives) == {"alkalinity"}
    assert reactor("7 dKH").gives == {}


def test_a_reactor_that_stands_still_feeds_nothing():
    assert reactor("28 dKH", flow="0 L/day") is None


def test_beside_pumps_a_reactor_stays_as_it_runs_and_alone_it_can_be_turned_up_a_little():
    assert reactor("28 dKH", solutions=TWO_PART).most == pytest.approx(20.0)
    assert reactor("28 dKH").most == pytest.approx(20.0 * REACTOR_MOST_ALONE)


@pytest.mark.parametrize("evaporation", ["3 L/day", None])
def test_limewater_by_a_pump_of_its_own_runs_as_that_pump_does(evaporation):
    (lime,) = supplies(dosed({"lime": LIME}, evaporation), log({"lime": "2 L/day"}), LEVELS, AS_OF)
    assert (lime.how, lime.now) == ("top-off", pytest.approx(2.0))
    assert lime.most == pytest.approx(3.0 if evaporation else 2.0)


@pytest.mark.parametrize(("measured", "share"), [("75 mL/day", 0.75), ("120 mL/day", 1.2), ("49 mL/day", 1.0)])
def test_a_litre_gives_what_its_pump_was_measured_to_give_and_of_one_to_mend_what_it_gives_then(measured, share):
    def of(id: str, rate: str, **rates) -> Supply:
        found = MeasuredRate(source=here(), at=AS_OF, solution=id, rate=parse_quantity(rate, "rate"))
        its_log = replace(log({id: "100 mL/day"}, **rates), measured_rates=(found,))
        return next(
            s for s in supplies(dosed({"soda": SODA, "lime": LIME}, "3 L/day"), its_log, LEVELS, AS_OF) if s.id == id
        )

    whole = 60.0 * COMPOUNDS["Na2CO3"].per_gram("alkalinity")
    assert of("soda", measured).gives["alkalinity"] == pytest.approx(share * whole)
    as_set, by_pump = of("lime", "100 mL/day"), of("lime", measured)
    assert by_pump.gives["calcium"] == pytest.approx(share * as_set.gives["calcium"])
    assert by_pump.most == pytest.approx(3.0 / share)


def turned(flow: str, days_ago: float, *read: tuple[float, float], solutions=None, pumps=None):
    """The reactor of a system whose effluent ran at 32 L a day until it was turned to another flow.

    `read` is how many days ago alkalinity was read, and its dKH; 8 is its target.
    """
    first = log(pumps, effluent=("32 L/day", "20 dKH"))
    (effluent,) = first.effluents
    then = replace(effluent, at=AS_OF - timedelta(days=days_ago), flow=parse_quantity(flow, "rate"))
    readings = tuple(alkalinity(ago, dkh) for ago, dkh in read)
    its_log = replace(first, effluents=(effluent, then), readings=readings)
    found = supplies(dosed(solutions or {}), its_log, LEVELS, AS_OF)
    return next((supply for supply in found if supply.how == "reactor"), None)


@pytest.mark.parametrize("flow", [8.0, 0.0])
def test_a_reactor_turned_down_or_off_while_the_level_was_above_its_target_may_run_as_high_again(flow):
    lately = turned(f"{flow} L/day", 1.0, (1.0, 9.3))
    assert (lately.now, lately.most) == (flow, REACTOR_MOST_ALONE * 32.0)
    assert lately.gives["alkalinity"] == pytest.approx(12.0 * MEQ_PER_DKH)


@pytest.mark.parametrize("read", [(), ((1.0, 8.0),), ((1.0, 7.2),), ((5.0, 9.3), (2.0, 7.9)), ((2.0, 7.2), (0.5, 9.3))])
def test_a_flow_of_0_ends_a_reactor_that_was_not_above_its_target(read):
    assert turned("0 L/day", 1.0, *read) is None


def test_a_reactor_that_was_taken_away_is_gone_at_any_level_if_its_flow_of_0_comes_with_a_change_of_equipment():
    its_log = log(effluent=("32 L/day", "20 dKH"))
    (ran,) = its_log.effluents
    off = replace(ran, at=AS_OF - timedelta(days=1.0), flow=parse_quantity("0 L/day", "rate"))
    sold, light = (
        Event(source=here(), at=AS_OF - timedelta(days=ago), what="equipment", coral=None, text="changed")
        for ago in (1.0, 0.5)
    )
    for event, kept in ((sold, 0), (light, 1)):
        then = replace(its_log, effluents=(ran, off), readings=(alkalinity(1.0, 9.3),), events=(event,))
        assert len(supplies(dosed({}), then, LEVELS, AS_OF)) == kept


@pytest.mark.parametrize(("dkh", "least"), [(7.2, 0.05 * 32.0), (8.0, 0.05 * 32.0), (9.3, 0.0)])
def test_a_reactor_is_turned_off_only_to_let_a_level_down_that_it_alone_holds_up(dkh, least):
    assert turned("8 L/day", 1.0, (1.0, dkh)).least == pytest.approx(least)
    assert turned("8 L/day", 1.0, (1.0, dkh), solutions=TWO_PART).least == pytest.approx(0.05 * 32.0)


@pytest.mark.parametrize(
    ("soda", "dkh", "most"), [("0 mL/day", 8.0, 32.0), ("9 mL/day", 8.0, 8.0), ("9 mL/day", 9.3, 32.0)]
)
def test_beside_pumps_a_reactor_turned_down_runs_as_high_again_unless_its_keeper_has_pumps_do_its_work(soda, dkh, most):
    assert turned("8 L/day", 1.0, (1.0, dkh), solutions=TWO_PART, pumps={"soda": soda}).most == pytest.approx(most)
    assert turned("8 L/day", 31.0, (31.0, 8.0), solutions=TWO_PART, pumps={"soda": soda}).most == pytest.approx(8.0)


@pytest.mark.parametrize(("mg", "limited_by"), [(455.0, {"alkalinity"}), (465.0, {"alkalinity", "calcium"})])
def test_beside_pumps_a_reactor_is_not_turned_down_for_calcium_that_is_in_its_band(mg, limited_by):
    read = Reading(source=here(), at=AS_OF, kind="calcium", value=parse_quantity(f"{mg} mg/L", "calcium"), kit="drops")
    its_log = replace(log(effluent=("20 L/day", "28 dKH")), readings=(read,))
    beside, alone = (supplies(dosed(each), its_log, LEVELS, AS_OF)[0] for each in (TWO_PART, {}))
    assert set(beside.limited_by) == limited_by
    assert set(alone.limited_by) == {"alkalinity", "calcium"}


@pytest.mark.parametrize("dkh", [7.2, 8.0])
def test_a_reactor_turned_down_at_its_target_out_of_caution_may_run_as_high_again_for_30_days(dkh):
    assert turned("8 L/day", 29.0, (29.0, dkh)).most == REACTOR_MOST_ALONE * 32.0
    assert turned("8 L/day", 31.0, (31.0, dkh)).most == REACTOR_MOST_ALONE * 8.0


def test_a_reactor_that_is_off_is_kept_for_as_long_as_the_level_still_comes_down_and_30_days_from_then():
    assert turned("0 L/day", 61.0, (62.0, 12.0), (30.0, 10.0), (1.0, 8.4)).most == REACTOR_MOST_ALONE * 32.0
    assert turned("0 L/day", 61.0, (62.0, 12.0), (29.0, 8.0), (1.0, 7.4)).most == REACTOR_MOST_ALONE * 32.0
    assert turned("0 L/day", 61.0, (62.0, 12.0), (31.0, 8.0), (1.0, 8.4)) is None


def test_a_reactor_turned_on_again_at_a_lower_flow_is_taken_to_run_as_high_as_before_for_30_days():
    its_log = log(effluent=("32 L/day", "20 dKH"))
    (ran,) = its_log.effluents
    for ago, most in ((20.0, 32.0), (40.0, 10.0)):
        off = replace(ran, at=AS_OF - timedelta(days=ago + 2.0), flow=parse_quantity("0 L/day", "rate"))
        on = replace(ran, at=AS_OF - timedelta(days=ago), flow=parse_quantity("10 L/day", "rate"))
        readings = (alkalinity(ago + 2.0, 9.3), alkalinity(ago, 8.0))
        (found,) = supplies(dosed({}), replace(its_log, effluents=(ran, off, on), readings=readings), LEVELS, AS_OF)
        assert (found.now, found.most) == (10.0, REACTOR_MOST_ALONE * most)


def test_beside_pumps_a_reactor_that_was_turned_off_stays_off():
    assert turned("0 L/day", 1.0, (1.0, 9.3), solutions=TWO_PART) is None


def top_offs(*rates: tuple[float, float]):
    """The limewater of a system where nothing says what evaporates; days ago, and L a day from then on."""
    ran = log(top_off=("3 L/day", "lime"))
    (first,) = ran.top_offs
    later = (
        replace(first, at=AS_OF - timedelta(days=ago), rate=parse_quantity(f"{rate} L/day", "rate"))
        for ago, rate in rates
    )
    return [
        (each.now, each.most)
        for each in supplies(dosed({"lime": LIME}), replace(ran, top_offs=(first, *later)), LEVELS, AS_OF)
    ]


def test_limewater_turned_off_lately_may_run_as_high_again_where_nothing_says_what_evaporates():
    assert top_offs((1.0, 0.0)) == [(0.0, 3.0)]
    assert top_offs((40.0, 0.0)) == []


def test_limewater_that_never_went_in_is_left_out_where_something_else_brings_alkalinity():
    both = dosed({"lime": LIME, "soda": SODA}, "3 L/day")
    begins, by_pump = log(), log({"soda": "60 mL/day"})
    topped = log({"soda": "60 mL/day"}, top_off=("2 L/day", "lime"))
    found = [{each.id for each in supplies(both, its_log, LEVELS, AS_OF)} for its_log in (begins, by_pump, topped)]
    assert found == [{"lime", "soda"}, {"soda"}, {"lime", "soda"}]
    told = [dosing_plan(both, its_log, water_of(), AS_OF) for its_log in (begins, by_pump, topped)]
    assert ["limewater-unused" in each.notes for each in told] == [False, True, False]
    tomorrow = replace(topped, top_offs=(replace(topped.top_offs[0], at=AS_OF + timedelta(days=1)),))
    assert "limewater-unused" in dosing_plan(both, tomorrow, water_of(), AS_OF).notes


def test_where_less_is_topped_off_no_more_limewater_goes_in_than_that():
    assert top_offs((1.0, 2.0)) == [(2.0, 2.0)]


def test_an_effluent_gives_however_little_stronger_it_is_and_nothing_where_it_is_no_stronger():
    assert reactor("8.5 dKH").gives["alkalinity"] == pytest.approx(0.5 * MEQ_PER_DKH)
    assert not reactor("8.0 dKH", "430 mg/L").gives
    assert not reactor("7.5 dKH", "420 mg/L").gives
    assert reactor("20 dKH", flow="0 L/day") is None


def test_what_a_pump_gives_is_not_asked_for_by_hand_too_when_a_keeper_also_pours_it():
    amount = parse_quantity("10 mL", "volume")
    poured = tuple(
        Dose(source=here(), at=AS_OF - timedelta(days=ago), solution="soda", amount=amount) for ago in range(30, 0, -3)
    )
    for rate, how in (("100 mL/day", "pump"), ("0 mL/day", "hand")):
        soda, _ = supplies(dosed(TWO_PART), replace(log({"soda": rate}), doses=poured), LEVELS, AS_OF)
        assert (soda.id, soda.how) == ("soda", how)
