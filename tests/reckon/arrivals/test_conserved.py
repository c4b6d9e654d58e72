"""What a coral takes in grams a day follows it into another water, and goes with it when it is taken out."""

from datetime import timedelta
from math import log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from generator.reckon.arrivals.analysis import Demand, Moved, OtherWater, WhatIf, if_cut, what_if
from generator.reckon.arrivals.expected import SystemFactor, times_there
from generator.reckon.arrivals.known import KnownWater, Waters
from generator.reckon.arrivals.shares import Shares, present_factor, shares
from generator.reckon.finding import CannotTell, Finding
from generator.records.coral import Cutting, End
from generator.units.quantity import parse_quantity
from tests.reckon.arrivals.colonies import DAY, coral, here, measured, water
from tests.reckon.arrivals.waters import DAYS, LAST, arrived, happened, moved, waters
from tests.reckon.water.journals import STRENGTH, grams_per_day, readings

pytestmark = pytest.mark.usefixtures("courses_kept")

HERE = (
    coral("stag", (30.0, 25.0, 20.0), "Acropora muricata", "branching"),
    coral("boulder", (14.0, 14.0, 7.0), "Porites lutea", "massive"),
    coral("torch", (12.0, 10.0, 9.0), "Euphyllia glabrescens", "branching"),
)
THERE = (
    coral("dish", (24.0, 20.0, 6.0), "Turbinaria reniformis", "plating", "raceway"),
    coral("twin", (14.0, 14.0, 7.0), "Porites lutea", "massive", "raceway"),
)
litres = st.floats(20.0, 3000.0)
grams = st.floats(0.5, 60.0)
relative = st.floats(0.02, 0.5)


def if_it_moved(
    of_here: float, of_there: float, error: float, volumes: tuple[float, float], name: str = "torch"
) -> tuple[Moved, SystemFactor, SystemFactor]:
    one, other = water(volumes[0]), water(volumes[1])
    found = shares("lagoon", one, HERE, measured(of_here, of_here * error), DAY)
    there = present_factor(THERE, "raceway", DAY, measured(of_there, of_there * error))
    assert isinstance(found, Shares)
    ((_, told),) = what_if(found, name, 0.5, one, {"raceway": OtherWater(there, other)}).moved
    assert isinstance(told, Moved)
    return told, found.factor, there


def if_it_went(of_here: float, error: float, volume: float) -> Demand:
    found = shares("lagoon", water(volume), HERE, measured(of_here, of_here * error), DAY)
    assert isinstance(found, Shares)
    gone = if_cut(found, "torch", 1.0, water(volume))
    assert isinstance(gone, Demand)
    return gone


@given(grams, grams, relative, litres, litres)
def test_what_one_water_loses_the_other_gets_times_the_factor_that_is_stated(of_here, of_there, error, one, other):
    told, _, _ = if_it_moved(of_here, of_there, error, (one, other))
    gone = if_it_went(of_here, error, one)
    lost = gone.alkalinity_before.value - gone.alkalinity_after.value
    got = told.arriving.alkalinity_after.value - told.arriving.alkalinity_before.value
    # dKH a day in each water, but the grams are lost and got: their ratio is that of the volumes, times the factor.
    assert got * other == pytest.approx(lost * one * told.times.value, rel=1e-6)
    assert told.there.value == pytest.approx(told.here.value * told.times.value)
    assert told.times.low < told.times.value < told.times.high


@given(grams, grams, relative, litres, litres)
def test_no_volume_changes_what_it_takes_in_grams(of_here, of_there, error, one, other):
    told, same = (if_it_moved(of_here, of_there, error, volumes)[0] for volumes in ((one, other), (400.0, 400.0)))
    assert told.here.value == pytest.approx(same.here.value)
    assert told.there.value == pytest.approx(same.there.value)


@given(grams, relative, litres, litres)
def test_between_waters_that_do_alike_not_a_gram_is_lost(of_here, error, one, other):
    _, here, there = if_it_moved(of_here, of_here, error, (one, other))
    alike = of_here * here.ratio.median / there.ratio.median
    told, here, there = if_it_moved(of_here, alike, error, (one, other))
    assert here.ratio.median == pytest.approx(there.ratio.median)
    assert told.times.value == pytest.approx(1.0)
    assert told.there.value == pytest.approx(told.here.value)


@given(grams, grams, relative)
def test_the_factor_lies_between_alike_and_as_measured_and_its_range_holds_either(of_here, of_there, error):
    told, here, there = if_it_moved(of_here, of_there, error, (400.0, 400.0))
    as_measured = there.ratio.median / here.ratio.median
    assert log(told.times.value) * log(as_measured) >= 0.0
    assert abs(log(told.times.value)) <= abs(log(as_measured)) + 1e-12


@given(grams, relative)
def test_to_move_there_and_back_changes_nothing(of_here, error):
    _, here, there = if_it_moved(of_here, 5.0, error, (400.0, 400.0))
    assert times_there(here, there).median * times_there(there, here).median == pytest.approx(1.0)


def test_a_water_that_nobody_read_is_taken_to_do_alike_within_a_range():
    unread = replace(if_it_moved(10.0, 5.0, 0.1, (400.0, 400.0))[2], known="assumed")
    times = times_there(if_it_moved(10.0, 5.0, 0.1, (400.0, 400.0))[1], unread).estimate("times")
    assert times.value == 1.0
    assert times.low < 0.7
    assert times.high > 1.4


HOUR = timedelta(hours=1)
FRAGS = tuple(coral(f"frag-{number}", (5.0, 4.0, 3.0)) for number in range(30))
AT = LAST + timedelta(hours=12)
NEW = replace(coral("new", (18.0, 16.0, 9.0), "Pocillopora damicornis", "branching"))
few = settings(max_examples=3)
uptakes = st.floats(0.3, 2.0)
volumes = st.floats(150.0, 1500.0)


def taken(known: KnownWater) -> float:
    answer = known.water.calcification.grams_per_day
    assert isinstance(answer, Finding)
    return answer.estimate.value


def share(known: KnownWater, name: str) -> float:
    assert isinstance(known.shares, Shares)
    found = known.shares.corals.get(name)
    assert found is not None
    return found.grams_per_day.value


def without(known: KnownWater, name: str, told: Waters, system: str) -> float:
    assert isinstance(known.shares, Shares)
    found = if_cut(known.shares, name, 1.0, told.systems[system].water)
    assert isinstance(found, Demand)
    return found.after.value


def ifs(told: Waters, name: str, home: str, other: str) -> WhatIf:
    there, here = told.known(other, AT - HOUR), told.known(home, AT - HOUR)
    assert isinstance(here.shares, Shares)
    others = {other: OtherWater(there.factor, told.systems[other].water)}
    return what_if(here.shares, name, 0.5, told.systems[home].water, others)


@few
@given(volumes, uptakes)
def test_taking_out_what_came_gives_the_uptake_of_before(volume, uptake):
    before = waters({"lagoon": (volume, uptake)}, HERE, {})
    after = waters(
        {"lagoon": (volume, uptake)}, (*HERE, arrived(NEW, AT)), {"lagoon": [happened("arrival", "new", AT)]}
    )
    then = after.known("lagoon", AT + HOUR)
    assert without(then, "new", after, "lagoon") == pytest.approx(taken(before.known("lagoon", AT + HOUR)), rel=0.02)


def test_a_newcomer_takes_nothing_that_was_taken_up_before_any_recorded_coral_came():
    comes = {"lagoon": [happened("arrival", "new", AT)]}
    for uptake, told in ((1.0, False), (0.02, True)):
        known = waters({"lagoon": (400.0, uptake)}, (arrived(NEW, AT),), comes).known("lagoon", AT + HOUR)
        assert isinstance(known.shares, Shares) is told
        assert told or known.shares == CannotTell("unrecorded-corals", "record-the-corals", inputs=known.shares.inputs)


def test_a_cut_takes_from_the_coral_that_was_cut_and_from_no_other():
    cut = replace(HERE[0], cuttings=(Cutting(source=here(), at=AT.date(), frags=4),))
    before = waters({"lagoon": (400.0, 1.0)}, HERE, {}).known("lagoon", AT - HOUR)
    told = waters({"lagoon": (400.0, 1.0)}, (cut, *HERE[1:]), {"lagoon": [happened("cutting", "stag", AT)]})
    after = told.known("lagoon", AT + HOUR)
    for name in ("boulder", "torch"):
        assert share(after, name) == pytest.approx(share(before, name), rel=0.02)
    # Half of it to the power 0.8813 (Carlot et al. 2022) leaves 0.543.
    assert share(after, "stag") == pytest.approx(0.543 * share(before, "stag"), rel=0.02)


@few
@given(volumes, volumes, uptakes, uptakes)
def test_what_if_says_before_a_move_what_both_waters_say_after_it(one, other, of_here, of_there):
    systems = {"lagoon": (one, of_here), "raceway": (other, of_there)}
    still = waters(systems, (*HERE, *THERE), {})
    if_so = ifs(still, "stag", "lagoon", "raceway")
    ((_, told),) = if_so.moved
    assert isinstance(if_so.gone, Demand)
    assert isinstance(told, Moved)
    corals = (moved(HERE[0], "raceway", AT), *HERE[1:], *THERE)
    events = {"lagoon": [happened("loss", "stag", AT)], "raceway": [happened("arrival", "stag", AT)]}
    after = waters(systems, corals, events)
    home, away = after.known("lagoon", AT + HOUR), after.known("raceway", AT + HOUR)
    assert taken(home) == pytest.approx(if_so.gone.after.value, rel=0.03)
    assert taken(away) == pytest.approx(told.arriving.after.value, rel=0.03)
    assert share(away, "stag") == pytest.approx(told.there.value, rel=0.03)
    assert without(away, "stag", after, "raceway") == pytest.approx(told.arriving.before.value, rel=0.03)


@few
@given(volumes, volumes, uptakes)
def test_a_whole_tank_that_moves_takes_in_the_new_one_what_it_took(one, other, uptake):
    corals = [moved(each, "raceway", AT) for each in HERE]
    events = {
        "lagoon": [happened("loss", each.id, AT) for each in HERE],
        "raceway": [happened("arrival", each.id, AT) for each in HERE],
    }
    told = waters({"lagoon": (one, uptake), "raceway": (other, 0.0)}, corals, events)
    took = taken(told.known("lagoon", AT - HOUR))
    away = told.known("raceway", AT + HOUR)
    assert taken(away) == pytest.approx(took, rel=0.05)
    assert sum(share(away, each.id) for each in HERE) == pytest.approx(taken(away))
    assert taken(told.known("lagoon", AT + HOUR)) == pytest.approx(0.0, abs=0.05 * took)


def test_thirty_small_corals_that_move_together_count_for_what_they_are_in_all():
    corals = [*(moved(each, "raceway", AT) for each in FRAGS), *THERE]
    events = {
        "lagoon": [happened("loss", each.id, AT) for each in FRAGS],
        "raceway": [happened("arrival", each.id, AT) for each in FRAGS],
    }
    told = waters({"lagoon": (200.0, 0.6), "raceway": (200.0, 0.6)}, corals, events)
    took, there = (taken(told.known(id, AT - HOUR)) for id in ("lagoon", "raceway"))
    away = told.known("raceway", AT + HOUR)
    assert taken(told.known("lagoon", AT + HOUR)) < 0.1 * took
    assert taken(away) > there + 0.4 * took
    assert sum(share(away, each.id) for each in FRAGS) == pytest.approx(taken(away) - there, rel=0.05)


def test_a_coral_that_nobody_measured_takes_its_share_with_it_when_it_goes():
    frag = coral("frag", None)
    before = waters({"lagoon": (400.0, 1.0)}, (*HERE, frag), {}).known("lagoon", AT - HOUR)
    gone = replace(frag, end=End(source=here(), at=AT.date(), how="given"))
    told = waters({"lagoon": (400.0, 1.0)}, (*HERE, gone), {"lagoon": [happened("loss", "frag", AT)]})
    after = told.known("lagoon", AT + HOUR)
    assert share(before, "frag") > 0.0
    assert taken(before) - taken(after) == pytest.approx(share(before, "frag"), rel=0.02)
    assert after.events[-1].step is not None


def test_a_frag_that_is_cut_and_stays_in_its_water_leaves_the_uptake_as_it_was():
    cut = replace(HERE[0], cuttings=(Cutting(source=here(), at=AT.date(), frags=1),))
    frag = arrived(replace(coral("stag-2", (5.0, 4.0, 3.0)), parent="stag"), AT)
    frag = replace(frag, arrival=replace(frag.arrival, how="cutting"))
    before = waters({"lagoon": (400.0, 1.0)}, HERE, {}).known("lagoon", AT - HOUR)
    told = waters({"lagoon": (400.0, 1.0)}, (cut, *HERE[1:], frag), {"lagoon": [happened("cutting", "stag", AT)]})
    after = told.known("lagoon", AT + HOUR)
    assert taken(after) == pytest.approx(taken(before), rel=0.01)
    assert share(after, "stag") < share(before, "stag")
    assert not any(
        each.event.coral == "stag-2" or (each.event.what == "cutting" and each.large) for each in after.events
    )


def test_what_readings_show_beyond_the_prediction_is_the_newcomers_and_all_shares_still_add_up():
    told = waters({"lagoon": (400.0, 1.0)}, (*HERE, arrived(NEW, AT)), {"lagoon": [happened("arrival", "new", AT)]})
    before, log = told.known("lagoon", AT - HOUR), told.logs["lagoon"]
    predicted = share(told.known("lagoon", AT + HOUR), "new")
    # It takes twice what was predicted: the pump was set to just that, and every reading is the same.
    rises = 2.0 * predicted / grams_per_day(1.0)
    more = replace(log.pumps[0], at=AT, rate=parse_quantity(f"{(1.0 + rises) * 400.0 / STRENGTH:.9f} L/day", "rate"))
    days = [float(DAYS + 1 + day) for day in range(0, 21, 2)]
    since = [*readings("alkalinity", "dKH", days, [8.2] * 11), *readings("calcium", "mg/L", days, [430.0] * 11, 1000)]
    read = tuple(sorted((*log.readings, *since), key=lambda each: each.at))
    later = replace(told, logs={"lagoon": replace(log, readings=read, pumps=(*log.pumps, more))})
    after = later.known("lagoon", AT + timedelta(days=21))
    whole, own = taken(after), share(after, "new")
    assert isinstance(after.shares, Shares)
    assert sum(each.grams_per_day.value for each in after.shares.corals.values()) == pytest.approx(whole)
    # Nearly all of it: the rest may be the drift of the others, who keep about what they took.
    assert 1.8 * predicted < own < 2.1 * predicted
    assert whole - own == pytest.approx(taken(before), rel=0.2)


def test_of_two_newcomers_ten_days_apart_each_has_what_readings_between_and_after_show_of_it():
    second = AT + timedelta(days=10)
    corals = (*HERE, arrived(NEW, AT), arrived(replace(NEW, id="next"), second))
    events = [
        happened("arrival", "new", AT),
        happened("feeding", "", AT + timedelta(days=3)),
        happened("arrival", "next", second),
    ]
    told = waters({"lagoon": (400.0, 1.0)}, corals, {"lagoon": events})
    log, predicted = told.logs["lagoon"], share(told.known("lagoon", AT + HOUR), "new")
    # The first takes twice what was predicted, the second just that.
    uptakes = [(AT, 1.0 + 2.0 * predicted / grams_per_day(1.0)), (second, 1.0 + 3.0 * predicted / grams_per_day(1.0))]
    more = [
        replace(log.pumps[0], at=at, rate=parse_quantity(f"{dkh * 400.0 / STRENGTH:.9f} L/day", "rate"))
        for at, dkh in uptakes
    ]
    days = [float(DAYS + 1 + day) for day in range(31)]
    since = [*readings("alkalinity", "dKH", days, [8.2] * 31), *readings("calcium", "mg/L", days, [430.0] * 31, 1000)]
    read = tuple(sorted((*log.readings, *since), key=lambda each: each.at))
    later = replace(told, logs={"lagoon": replace(log, readings=read, pumps=(*log.pumps, *more))})
    after = later.known("lagoon", AT + timedelta(days=31))
    assert isinstance(after.shares, Shares)
    assert sum(each.grams_per_day.value for each in after.shares.corals.values()) == pytest.approx(taken(after))
    for name, takes in (("new", 2.0 * predicted), ("next", predicted)):
        assert share(after, name) == pytest.approx(takes, rel=0.2)
        now, alone = after.shares.corals.get(name), told.known("lagoon", AT + HOUR).shares
        assert now is not None
        assert now.grams_per_day.low < takes < now.grams_per_day.high
        assert isinstance(alone, Shares)
        predicted_share = alone.corals.get("new")
        assert predicted_share is not None
        width, before = (each.share.high / each.share.low for each in (now, predicted_share))
        assert width < before, "readings tell it better than rates"
