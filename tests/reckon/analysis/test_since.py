"""What changed from one moment to a later one."""

import math
from datetime import UTC, datetime, time

import pytest
from msgspec import Struct, field
from msgspec.structs import replace

from generator.reckon.analysis.since import Grown, JournalState, _between, changes, is_told
from generator.reckon.growth.analysis import analyse_growth
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.findings import TrackPoint
from generator.records.coral import Coral, End
from generator.records.log import SystemLog
from generator.records.trade import Owed, Trade
from generator.units.quantity import Estimate
from tests.reckon.growth.corals import coral, cut, day, here, noted, sizes
from tests.reckon.water.journals import moment
from tests.reckon.water.waters import log, read
from tests.reckon.water.waters import reef as reef_of


class Kept(Struct, dict=True):
    corals: dict[str, Coral]
    trades: dict[str, Trade] = field(default_factory=dict)
    systems: dict = field(default_factory=dict)

    def log_of(self, system: str) -> SystemLog:
        return SystemLog(system=system)


def state(on: int, *corals: Coral, trades: tuple[Trade, ...] = ()) -> JournalState:
    kept = Kept({each.id: each for each in corals}, {each.id: each for each in trades})
    growth = {each.id: analyse_growth(each, {}, day(on)) for each in corals}
    return JournalState(datetime.combine(day(on), time(12), UTC), kept, {}, growth)


def grown(*cuttings) -> Grown:
    spread = coral(sizes=sizes([0, 100], [10.0, 14.0]), cuttings=cuttings)
    (found,) = changes(state(50, spread), state(100, spread)).grown
    return found


def test_a_coral_that_was_measured_again_grew_by_the_difference_of_both_as_unsure_as_the_two_together():
    found = grown()
    assert (found.what, found.before, found.after[0]) == ("diameter", (day(0), 10.0), day(100))
    assert found.by is not None
    assert found.by.value == pytest.approx(4.0)
    # Tape errs by about a share of what it measures: 10 cm to 14 cm as their lengths.
    later = found.after[1].standard
    assert found.by.standard == pytest.approx(math.hypot(later, later * 10.0 / 14.0), rel=0.01)


@pytest.mark.parametrize(("on", "comparable"), [(0, True), (50, False), (100, False), (101, True)])
def test_what_was_cut_in_between_did_not_grow_by_the_difference(on: int, comparable: bool):
    assert (grown(cut(on)).by is not None) is comparable


def test_what_broke_off_in_between_did_not_grow_by_the_difference():
    broken = coral(sizes=sizes([0, 100], [10.0, 8.0]), health=(noted(50, "breakage"),))
    (found,) = changes(state(50, broken), state(100, broken)).grown
    assert found.by is None


def test_a_measurement_of_the_day_itself_is_known_then_and_not_new():
    spread = coral(sizes=sizes([0, 100], [10.0, 14.0]))
    assert changes(state(100, spread), state(120, spread)).grown == ()
    assert len(changes(state(99, spread), state(100, spread)).grown) == 1


def test_a_coral_is_lost_from_the_day_of_its_end_and_its_line_with_the_last_one():
    gone = coral("gone", end=End(source=here(), at=day(60), how="died"))
    found = changes(state(59, gone), state(60, gone))
    assert (found.lost, found.ended, found.gained) == ((gone,), ("gone",), ())
    assert changes(state(60, gone), state(61, gone)).lost == ()


def test_a_promise_is_overdue_from_the_day_after_its_last_and_kept_on_the_day_it_was():
    def owed(**more) -> Owed:
        return Owed(source=here(), by="us", what="A frag", **more)

    trade = Trade(source=here(), id="swap", at=day(10), partner="lowell", owed=(owed(due=day(50)), owed()))
    kept = replace(trade, owed=(*trade.owed[:1], owed(settled=day(60))))
    one = coral()

    def between(then: int, now: int, later: Trade = trade):
        return changes(state(then, one, trades=(trade,)), state(now, one, trades=(later,)))

    assert [len(between(*days).overdue) for days in ((40, 50), (50, 51), (51, 52))] == [0, 1, 0]
    assert [each.number for each in between(40, 60, kept).kept] == [2]
    assert between(40, 59, kept).kept == ()
    assert [len(between(*days).made) for days in ((9, 10), (10, 11))] == [2, 0]


def test_two_kits_read_apart_by_more_than_either_strays():
    def by(kit: str) -> Estimate:
        reef = replace(reef_of(), kits=dict.fromkeys(("bench", "drops"), reef_of().kits["bench"]))
        first, last = read(10.0, alkalinity="8.0 dKH"), read(20.0, alkalinity="8.3 dKH")
        its_log = log(first, [replace(each, kit=kit) for each in last])
        kept = Kept({}, systems={"lagoon": reef})
        then, now = (
            JournalState(moment(at), kept, {"lagoon": analyse_water(reef, its_log, (), moment(at))}, {})
            for at in (15.0, 25.0)
        )
        (level,) = changes(then, now).water["lagoon"].levels
        assert level.by is not None
        return level.by

    same, other = by("bench"), by("drops")
    assert same.value == other.value
    assert other.standard == pytest.approx(math.hypot(same.standard, 0.107))


def test_a_change_is_told_where_its_range_leaves_out_that_there_is_none():
    assert is_told(Estimate(1.0, 0.1, 2.0, "cm"))
    assert is_told(Estimate(-1.0, -2.0, -0.1, "cm"))
    assert not is_told(Estimate(1.0, 0.0, 2.0, "cm"))
    assert not is_told(Estimate(-1.0, -2.0, 0.0, "cm"))
    assert not is_told(None)


def test_uptake_between_two_points_is_straight_and_leaps_where_a_coral_came():
    def at(days: float, value: float) -> TrackPoint:
        uptake = Estimate(value, value - 1.0, value + 1.0, "meq/L/day")
        return TrackPoint(moment(days), Estimate(3.0, 2.9, 3.1, "meq/L"), uptake)

    track = [at(0, 1.0), at(10, 3.0)]

    def found(days: float, *jumps: float):
        between = _between(track, moment(days), [moment(jump) for jump in jumps])
        return between and (between.low, between.value, between.high)

    assert found(2.5) == pytest.approx((0.5, 1.5, 2.5))
    assert found(0) == pytest.approx((0.0, 1.0, 2.0))
    assert found(-0.1) is None
    assert found(10) is None, "the last point has none after it"
    assert found(4.9, 5) == pytest.approx((0.0, 1.0, 2.0))
    assert found(5, 5) == pytest.approx((2.0, 3.0, 4.0))
    assert found(5, 5, 6) is None
    assert found(6, 5, 6) == pytest.approx((2.0, 3.0, 4.0))
    assert found(5, 0) == pytest.approx((1.0, 2.0, 3.0)), "the first point has it already"
    assert found(5, 10) == pytest.approx((0.0, 1.0, 2.0)), "the second point is after it"
