"""Looks at what came that are due."""

from datetime import date, timedelta

import pytest

from generator.reckon.trade.analysis import FORGOTTEN_AFTER, StateCheck, analyse_trades, state_checks
from generator.records.coral import End
from generator.records.settings import Container
from tests.reckon.trade.deals import AT, coral, got, on_the_way, q, state, trade, travel

TODAY = date(2026, 6, 1)
TOTE = Container(source=AT, length=q("70 cm", "length"), width=q("52 cm", "length"), height=q("44 cm", "length"))


def test_a_container_is_told_with_what_its_own_trips_held():
    steps = tuple(on_the_way(f"{h} h", f"{5 + 20 * 0.9**h:.1f} °C", "5 °C") for h in (0, 2, 4))
    logged = trade("2026-05-01", travel=travel("4 h", container="tote", water=q("60 L", "volume"), temperatures=steps))
    with_trips = analyse_trades({"a": logged}, {}, {"tote": TOTE}, TODAY).containers[0]
    without = analyse_trades({}, {}, {"tote": TOTE}, TODAY).containers[0]
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
