"""Trips that promises foretell, and looks at what came that are due."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from generator.reckon.finding import CannotTell
from generator.reckon.trade.coming import Coming, coming
from generator.reckon.trade.journey import Journey
from generator.reckon.trade.state_checks import FORGOTTEN_AFTER, StateCheck, state_checks
from generator.reckon.trade.survey import survey_trades
from generator.records.coral import End, Placement
from generator.records.settings import Container
from generator.records.trade import Travel
from tests.reckon.trade.deals import AT, coral, got, on_the_way, owed, q, state, trade, travel

TODAY = date(2026, 6, 1)
CRATE = Container(source=AT, length=q("66 cm", "length"), width=q("54 cm", "length"), height=q("41 cm", "length"))
LANTERN = coral("lantern", placements=(Placement(source=AT, since=date(2025, 1, 1), system="reef"),))
PLAN = travel("3 h", container="crate", temperatures=(on_the_way("0 min", "24 °C", "10 °C"),))


def promised(planned: Travel | None, due: str | None = "2026-07-01", settled: str | None = None):
    promise = replace(owed("us", "a cutting", due, settled), coral="lantern", travel=planned)
    return trade("2026-03-01", owed=(owed("them", "a crate back"), promise))


def trips(*trades, water: float | None = None) -> tuple[Coming, ...]:
    by_id = {each.id: each for each in trades}
    return coming(by_id, {"lantern": LANTERN}, {"crate": CRATE}, {"reef": water} if water else {}, TODAY)


def test_a_promise_that_says_how_it_will_travel_is_a_trip_to_come():
    (trip,) = trips(promised(PLAN))
    assert (trip.trade, trip.number, trip.coral) == ("2026-03-01-marta", 2, "lantern")
    assert isinstance(trip.judged, Journey)
    assert trip.judged.plan.hours == 3
    assert (trip.judged.plan.start, trip.judged.plan.air[0]) == (24, 10)
    assert trip.judged.fit.fits


@pytest.mark.parametrize("given", [promised(None), promised(PLAN, settled="2026-05-01")])
def test_a_kept_promise_or_one_without_a_plan_is_none(given):
    assert trips(given) == ()


def test_what_was_not_foreseen_is_taken_from_its_water_and_common_practice():
    bare = travel("3 h", container="crate")
    (told,) = trips(promised(bare), water=26.5)
    (untold,) = trips(promised(bare))
    assert told.judged.plan.start == 26.5
    assert untold.judged.plan.start == 25.0
    assert told.judged.plan.air[1] > trips(promised(PLAN))[0].judged.plan.air[1]


@pytest.mark.parametrize(
    ("planned", "size", "why"),
    [
        (travel("3 h"), "8 cm", "no-container"),
        (PLAN, None, "never-measured"),
        (replace(PLAN, temperatures=(on_the_way("0 min", "41 °C", "10 °C"),)), "8 cm", "outside-oxygen"),
    ],
)
def test_without_container_or_measures_nothing_is_pretended(planned: Travel, size: str | None, why: str):
    given = promised(planned)
    (trip,) = coming({given.id: given}, {"lantern": coral("lantern", length=size)}, {"crate": CRATE}, {}, TODAY)
    assert isinstance(trip.judged, CannotTell)
    assert trip.judged.why == why


def test_the_soonest_trip_is_the_first_and_one_without_a_date_the_last():
    later, none = (replace(promised(PLAN, due), id=f"t-{due or 'none'}") for due in ("2026-09-01", None))
    assert [trip.owed.due for trip in trips(later, none, promised(PLAN))] == [
        date(2026, 7, 1),
        date(2026, 9, 1),
        None,
    ]


def test_a_container_is_told_with_what_its_own_trips_held():
    steps = tuple(on_the_way(f"{h} h", f"{5 + 20 * 0.9**h:.1f} °C", "5 °C") for h in (0, 2, 4))
    logged = trade("2026-05-01", travel=travel("4 h", container="crate", water=q("60 L", "volume"), temperatures=steps))
    with_trips = survey_trades({"a": logged}, {}, {"crate": CRATE}, {}, TODAY).containers[0]
    without = survey_trades({}, {}, {"crate": CRATE}, {}, TODAY).containers[0]
    assert (with_trips.litres, with_trips.legs) == (60, 2)
    # 0.9 an hour is a time constant of -1 / ln 0.9 = 9.49 h.
    assert with_trips.time_constant.estimate.value == pytest.approx(9.49, rel=0.1)
    assert without.legs == 0
    width = [f.time_constant.estimate.high / f.time_constant.estimate.low for f in (with_trips, without)]
    assert width[0] < width[1] / 2


def checks(*states, came: str, today: date = TODAY, **more) -> list[StateCheck]:
    here = coral("lantern", came=came, **more)
    given = trade(came, received=(got("lantern"),), checks=states)
    return list(state_checks([given], {"lantern": here}, today))


@pytest.mark.parametrize(("days", "look"), [(1, 1), (5, 1), (13, 1), (14, 14), (59, 14), (60, 60)])
def test_the_latest_look_that_is_due_is_asked_for(days: int, look: int):
    (due,) = checks(state(0, "good"), came=str(TODAY - timedelta(days=days)))
    assert (due.days, due.due) == (look, TODAY - timedelta(days=days - look))


@pytest.mark.parametrize(
    ("states", "days"),
    [((state(0, "good"),), 0), ((state(1, "fair"),), 5), ((state(20, "good"),), 40), ((state(60, "good"),), 70)],
)
def test_a_look_that_was_written_or_overtaken_is_not(states, days: int):
    assert checks(*states, came=str(TODAY - timedelta(days=days))) == []


def test_a_look_long_past_is_let_go_and_so_is_one_at_what_is_gone():
    long_ago = TODAY - timedelta(days=60) - FORGOTTEN_AFTER
    assert len(checks(came=str(long_ago))) == 1
    assert checks(came=str(long_ago - timedelta(days=1))) == []
    gone = End(source=AT, at=TODAY, how="died")
    assert checks(came="2026-05-20", end=gone) == []


def test_a_state_of_another_coral_of_the_trade_is_no_look_at_this_one():
    assert len(checks(state(14, "good", coral="sister"), came="2026-05-10")) == 1
