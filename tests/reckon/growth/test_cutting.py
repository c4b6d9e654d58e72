from datetime import timedelta
from typing import get_args

import pytest

from generator.nature.constants import CALCIFICATION_SIZE_EXPONENT
from generator.nature.genera import GENERA, Caution, cautions, cautions_to_handle
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.growth.analysis import analyse_growth
from generator.reckon.growth.corals import CuttingPlan, cutting_plan, demand_after, demand_of_all_after, healing_time
from generator.reckon.growth.forecast import Spread, long_enough, spread_of
from generator.units.quantity import Estimate
from tests.reckon.growth.corals import coral, cut, day, sizes, weighing

DAYS = list(range(0, 400, 40))
TODAY = day(400)


def spreading(**more):
    """A colony whose radius grows evenly by 3 cm a year, 30 cm across on the last day it was measured."""
    lengths = [30.0 + 6.0 * (at - 360) / 365.25 for at in DAYS]
    return coral(form="tabling", sizes=sizes(DAYS, lengths), weighings=(weighing(360, "2000 g", "5 g"),), **more)


def spread_now(growing):
    found = spread_of(growing, analyse_growth(growing, {}, TODAY))
    assert isinstance(found, Spread)
    return found


def radius_now() -> float:
    return spread_now(spreading()).reach(TODAY)[0]


def plan(room: float, months: int = 12, piece: float = 5.0, **more):
    growing = spreading(**more)
    spread, mass = spread_now(growing), analyse_growth(growing, {}, TODAY).mass
    return cutting_plan(growing, spread, room, mass, piece, TODAY, TODAY + timedelta(days=round(30.4 * months)))


def test_after_the_cut_the_colony_stays_within_its_room_until_the_day():
    found = plan(room=14.0)
    assert isinstance(found, CuttingPlan)
    left = radius_now() * (1.0 - found.remove.value / 100.0) ** 0.5
    assert left + 3.0 * 365 / 365.25 <= 14.0 + 0.05
    assert left + 3.0 * 365 / 365.25 > 12.5  # and no more is cut than that takes
    assert not found.nothing


def test_the_mass_and_pieces_are_those_of_the_part_removed():
    found = plan(room=14.0)
    assert isinstance(found, CuttingPlan)
    assert isinstance(found.mass, Finding)
    assert found.mass.estimate.value == pytest.approx(2000.0 * found.remove.value / 100.0)
    area = radius_now() ** 2 * found.remove.value / 100.0
    assert found.pieces.value == round(area / 2.5**2 * 0.6)
    assert found.pieces.low <= found.pieces.value <= found.pieces.high <= area / 2.5**2 + 1


def test_more_months_ask_for_a_larger_cut():
    short, long = plan(room=16.0, months=6), plan(room=16.0, months=18)
    assert isinstance(short, CuttingPlan)
    assert isinstance(long, CuttingPlan)
    assert short.remove.value < long.remove.value
    assert short.pieces.value < long.pieces.value


def test_where_there_is_room_nothing_is_cut():
    found = plan(room=40.0)
    assert isinstance(found, CuttingPlan)
    assert found.nothing
    assert (found.remove.value, found.pieces.value, found.demand.value) == (0.0, 0.0, 0.0)


def test_where_no_cut_would_do_it_says_so():
    found = plan(room=4.0, months=18)
    assert isinstance(found, CannotTell)
    assert found.why == "outgrows-any-cut"


def test_demand_falls_a_little_less_than_the_colony():
    # Source: Carlot et al. 2022, exponent 0.8813: half the colony keeps 54 % of its calcification.
    found = demand_after(Estimate(0.5, 0.45, 0.55, "1"))
    assert found.value == pytest.approx((0.5**0.8813 - 1.0) * 100.0)
    assert found.value == pytest.approx(-45.7, abs=0.1)
    # The steeper end of the exponent goes with the larger cut, the flatter with the smaller.
    exponent = CALCIFICATION_SIZE_EXPONENT
    ends = (((1.0 - cut) ** end - 1.0) * 100.0 for cut, end in ((0.55, exponent.high), (0.45, exponent.low)))
    assert (found.low, found.high) == pytest.approx(tuple(ends))
    assert found.low < found.value < found.high < 0.0


def test_the_whole_demand_falls_by_the_corals_share_of_it():
    found = demand_of_all_after(Estimate(-40.0, -50.0, -30.0, "%"), Estimate(0.2, 0.1, 0.3, "share"))
    assert (found.low, found.value, found.high) == pytest.approx((-15.0, -8.0, -3.0))


def test_cuttings_heal_as_they_did_before():
    cutter = coral(cuttings=(cut(0, healed=14), cut(100, healed=121), cut(200, healed=216), cut(380, healed=420)))
    found = healing_time(cutter, TODAY)
    assert isinstance(found, Finding)
    assert (found.estimate.low, found.estimate.value, found.estimate.high) == (14.0, 16.0, 21.0)
    assert isinstance(healing_time(coral(cuttings=(cut(0),)), TODAY), CannotTell)


def test_eyes_and_skin_are_protected_whatever_is_cut():
    assert all(cautions(f"{name} sp.")[0] == "eyes-and-skin" for name in (*GENERA, "Nemo"))
    assert {each for name in GENERA for each in cautions(name)} == set(get_args(Caution))


def test_zoanthids_may_hold_palytoxin_and_stony_coral_is_sharp():
    # Source: Moore & Scheuer 1971, Science 172:495 (from memory).
    for name in ("Palythoa sp.", "Protopalythoa sp.", "Zoanthus sp."):
        assert "palytoxin" in cautions(name)
    assert "sharp-skeleton" in cautions("Acropora millepora")
    assert "palytoxin" not in cautions("Acropora millepora")
    assert "stinging-cells" in cautions("Fimbriaphyllia ancora")
    assert "palytoxin" in cautions("Nemo sp.")


def test_what_poisons_or_stings_is_minded_by_those_who_only_carry_it_too():
    assert cautions_to_handle("Palythoa grandis") == ("palytoxin",)
    assert cautions_to_handle("Nemo sp.") == ("palytoxin",)
    assert cautions_to_handle("Galaxea fascicularis") == ("stinging-cells",)
    assert cautions_to_handle("Acropora millepora") == ()


def test_a_colony_that_spreads_by_three_centimetres_a_year_at_both_ends_is_six_longer_in_a_year():
    growing = spreading()
    spread = spread_of(growing, analyse_growth(growing, {}, TODAY))
    assert isinstance(spread, Spread)
    found = long_enough(spread, 36.0, TODAY)
    assert found.likely is not None
    assert abs((found.likely - spread.at).days - 6.0 / (2.0 * spread.rate)) <= 1.0
    assert abs((found.likely - day(360 + 365)).days) <= 20
    assert found.earliest < found.likely < found.latest
    already = long_enough(spread, 30.0, TODAY)
    assert already.likely == TODAY
