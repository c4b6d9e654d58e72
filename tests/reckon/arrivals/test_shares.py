"""Every coral's share of the demand, and the demand without a part of one."""

from datetime import UTC, datetime, timedelta
from math import fsum, hypot

import pytest
from msgspec.structs import replace

from generator.reckon.arrivals.analysis import Demand, OtherWater, if_cut, if_moved, what_ifs, without
from generator.reckon.arrivals.expected import factor_of_system
from generator.reckon.arrivals.informed import Informed, told_within
from generator.reckon.arrivals.shares import CoralShare, PartOfWhole, Shares, part_of_whole, present_factor, shares
from generator.reckon.finding import CannotTell, one_cause
from generator.reckon.water.demand_events import DemandEvent
from generator.units.quantity import Estimate, coverage_factor
from tests.reckon.arrivals.colonies import DAY, coral, measured, water

CORALS = (
    coral("stag", (30.0, 25.0, 20.0), "Acropora muricata", "branching"),
    coral("boulder", (14.0, 14.0, 7.0), "Porites lutea", "massive"),
    coral("torch", (12.0, 10.0, 9.0), "Euphyllia glabrescens", "branching"),
    coral("unmeasured", None, "Montipora capricornis", "plating"),
    coral("mat", (30.0, 30.0, 2.0), "Zoanthus sociatus", "encrusting"),
    coral("elsewhere", (30.0, 25.0, 20.0), system="raceway"),
)


def shared(grams: float = 10.0, half_width: float = 1.0) -> Shares:
    found = shares("lagoon", water(400.0), CORALS, measured(grams, half_width), DAY)
    assert isinstance(found, Shares)
    return found


def first(found: Shares) -> CoralShare:
    return next(iter(found.corals.values()))


def test_how_well_an_arrival_was_told_counts_for_less_the_longer_ago_it_is_and_for_nothing_after_a_year():
    """An assumption of ours; the numbers by hand: 0.2, 0.2 / 0.8 and 0.2 / 0.2 after none, a fifth, four fifths."""
    came = DemandEvent(datetime(2026, 9, 18, 9, tzinfo=UTC), 0.3, "arrival", "stag", CORALS[0].source, DAY)
    told = [Informed(came, own=1.2, within=0.2)]
    for days, within in ((0, 0.2), (73, 0.25), (292, 1.0)):
        assert told_within({"stag": CORALS[0]}, told, DAY + timedelta(days=days)) == pytest.approx({"stag": within})
    assert told_within({"stag": CORALS[0]}, told, DAY + timedelta(days=500))["stag"] > 100.0


def test_where_a_water_cannot_tell_its_uptake_no_coral_of_it_can_tell_its_part():
    unknown = CannotTell("no-readings", "read-twice", inputs=(CORALS[0].source,))
    part = part_of_whole(CORALS[0].id, "lagoon", {"lagoon": unknown})
    assert part == PartOfWhole("lagoon", CannotTell("no-readings", "read-twice"))
    assert part_of_whole(CORALS[0].id, "lagoon", {"raceway": unknown}) is None


def test_the_shares_add_up_to_the_measured_whole():
    found = shared()
    assert fsum(each.share.value for each in found.corals.values()) == pytest.approx(1.0, abs=1e-12)
    assert fsum(each.grams_per_day.value for each in found.corals.values()) == pytest.approx(10.0, abs=1e-12)
    # 10 g of CaCO3 a day in 400 L take 0.4996 meq/L (50.043 mg a meq).
    assert fsum(each.alkalinity.value for each in found.corals.values()) == pytest.approx(
        10.0 / 0.050043 / 400.0, rel=1e-5
    )


def test_only_stony_corals_that_stand_there_have_a_share_largest_first():
    found = shared()
    assert set(found.corals) == {"stag", "boulder", "torch", "unmeasured"}
    assert next(iter(found.corals)) == "stag"
    values = [each.share.value for each in found.corals.values()]
    assert values == sorted(values, reverse=True)


def test_each_share_has_an_interval_within_nothing_and_all():
    for each in shared().corals.values():
        assert 0.0 < each.share.low < each.share.value < each.share.high < 1.0
        assert each.grams_per_day.low < each.grams_per_day.value < each.grams_per_day.high


def test_a_coral_nobody_measured_is_marked_and_less_sure():
    found = shared().corals
    assert found["unmeasured"].assumed
    assert not found["torch"].assumed
    wide, narrow = (found[name].share for name in ("unmeasured", "torch"))
    assert wide.high / wide.low > narrow.high / narrow.low


def test_two_corals_alike_take_half_each():
    pair = (coral("one"), coral("other"))
    found = shares("lagoon", water(), pair, measured(8.0, 1.0), DAY)
    assert isinstance(found, Shares)
    assert [each.share.value for each in found.corals.values()] == pytest.approx([0.5, 0.5])


def test_the_only_coral_takes_all():
    found = shares("lagoon", water(), (coral("one"),), measured(8.0, 1.0), DAY)
    assert isinstance(found, Shares)
    assert first(found).share.value == first(found).share.low == 1.0
    assert first(found).grams_per_day.high == pytest.approx(9.1, abs=0.1)


def test_without_a_measured_demand_or_a_measured_coral_nothing_is_shared_out():
    unknown = CannotTell("no-readings", "read-twice")
    assert shares("lagoon", water(), CORALS, unknown, DAY) is unknown
    alone = shares("lagoon", water(), (coral("one", None),), measured(8.0, 1.0), DAY)
    assert isinstance(alone, CannotTell)


def test_a_demand_that_may_be_nothing_is_shared_out_all_the_same():
    found = shared(0.5, 0.8)
    assert fsum(each.grams_per_day.value for each in found.corals.values()) == pytest.approx(0.5, abs=1e-12)
    assert first(found).grams_per_day.low < 0.0
    assert found.factor.known == "assumed"


def test_cutting_a_third_takes_a_little_less_than_a_third_of_its_share_from_the_demand():
    found = shared()
    stag = found.corals.get("stag")
    assert stag is not None
    after = if_cut(found, "stag", 1.0 / 3.0, water(400.0))
    assert isinstance(after, Demand)
    # Carlot et al. 2022: what stays calcifies by its size to the power 0.8813.
    assert after.after.value == pytest.approx(10.0 - stag.grams_per_day.value * (1.0 - (2.0 / 3.0) ** 0.8813))
    assert 10.0 - stag.grams_per_day.value / 3.0 < after.after.value < 10.0
    assert after.alkalinity_after.value == pytest.approx(after.after.value / 0.050043 / 400.0, rel=1e-5)
    assert after.after.low < after.after.value < after.after.high


def test_a_coral_that_moves_leaves_one_demand_for_the_other():
    found = shared()
    there = present_factor(CORALS, "raceway", DAY, measured(3.0, 0.4))
    both = if_moved(found, "torch", "raceway", OtherWater(there, water(200.0)))
    assert not isinstance(both, CannotTell)
    gone, arriving = if_cut(found, "torch", 1.0, water(400.0)), both.arriving
    torch = found.corals.get("torch")
    assert torch is not None
    assert isinstance(gone, Demand)
    assert gone.after.value == pytest.approx(10.0 - torch.grams_per_day.value)
    assert arriving.system == "raceway"
    # It takes there what it takes here, times how the two waters compare.
    assert both.here == torch.grams_per_day
    assert arriving.after.value - arriving.before.value == pytest.approx(both.here.value * both.times.value)
    assert both.times.low < both.times.value < both.times.high
    assert arriving.after.low < arriving.after.value < arriving.after.high


@pytest.mark.parametrize("coral", ["stag", "torch"])
def test_the_parts_of_a_demand_that_would_be_add_in_squares_to_about_its_interval(coral):
    here, elsewhere = (
        replace(whole, parts=one_cause("readings-and-drift", whole.estimate))
        for whole in (measured(10.0, 1.0), measured(3.0, 0.4))
    )
    found = replace(shared(), whole=here)
    there = present_factor(CORALS, "raceway", DAY, elsewhere)
    both = if_moved(found, coral, "raceway", OtherWater(there, water(200.0)))
    assert not isinstance(both, CannotTell)
    cut, gone = (if_cut(found, coral, part, water(400.0)) for part in (1.0 / 3.0, 1.0))
    for demand in (cut, gone, both.arriving):
        assert isinstance(demand, Demand)
        after = demand.alkalinity_after
        half = (after.high - after.low) / 2.0
        # To first order, on a curved scale: within about a factor of one and a half.
        assert 0.6 < coverage_factor(after.level) * hypot(*(part.standard for part in demand.parts)) / half < 1.6
        assert demand.inputs


def test_a_coral_of_another_system_cannot_be_cut_here():
    assert isinstance(if_cut(shared(), "elsewhere", 0.5, water()), CannotTell)


def test_the_newcomer_is_left_out_of_what_teaches_the_factor():
    fewer = present_factor([each for each in CORALS if each.id != "stag"], "lagoon", DAY, measured(10.0, 1.0))
    others = dict(shared().known)
    others.pop("stag")
    assert fewer.present is not None
    assert fewer.present.sum.median < sum(each.median for each in dict(shared().known).values())
    assert fewer.known == factor_of_system(others, measured(10.0, 1.0)).known


def test_taking_out_the_only_coral_leaves_no_demand():
    alone = shares("lagoon", water(), (coral("one"),), measured(8.0, 1.0), DAY)
    assert isinstance(alone, Shares)
    after = if_cut(alone, "one", 1.0, water())
    assert isinstance(after, Demand)
    assert after.after.value == after.after.low == after.after.high == 0.0


def test_without_a_newcomer_that_is_only_predicted_the_uptake_is_not_below_nothing():
    gone = if_cut(shared(), "stag", 1.0, water(400.0))
    assert isinstance(gone, Demand)
    least = gone.after.value
    told = without(
        gone, measured(least, 0.6 * least), [Estimate(3.0 * least, least, 5.0 * least, "g/day")], water(400.0)
    )
    assert told.after.low == told.alkalinity_after.low == 0.0
    assert told.after.high == pytest.approx(least + hypot(0.6, 2.0) * least)


def test_the_only_system_of_a_keeper_tells_what_is_left_without_a_coral():
    found = shared()
    stag = next(each for each in what_ifs(found, water(400.0), {}, {}) if each.coral == "stag")
    share = found.corals.get("stag")
    assert share is not None
    assert isinstance(stag.gone, Demand)
    assert stag.gone.after.value == pytest.approx(10.0 - share.grams_per_day.value)
    assert stag.moved == ()
