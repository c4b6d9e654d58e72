"""What in trades calls for a person."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from msgspec.structs import replace

from generator.reckon.analysis.journal import Findings
from generator.reckon.attention import Alert, alerts
from generator.reckon.trade.analysis import analyse_trades
from generator.records.coral import Placement
from generator.records.journal import Journal
from generator.records.log import Dismissal, SystemLog
from generator.records.settings import Settings
from tests.reckon.trade.deals import AT, coral, got, owed, trade

TODAY = date(2026, 6, 1)


def found(*trades, corals=(), logs=None) -> tuple[Alert, ...]:
    settings = Settings(source=AT, title="t", keeper="k", time_zone=ZoneInfo("UTC"))
    journal = Journal(
        settings=settings,
        corals={each.id: each for each in corals},
        trades={each.id: each for each in trades},
        logs=logs or {},
    )
    told = analyse_trades(journal.trades, journal.corals, {}, TODAY)
    return alerts(journal, Findings(datetime(2026, 6, 1, 12, tzinfo=UTC), trade=told))


@pytest.mark.parametrize(
    ("by", "due", "told"),
    [
        ("us", "2026-05-01", True),
        ("us", "2026-07-01", True),
        ("us", "2026-07-02", False),
        ("them", "2026-05-31", True),
        ("them", "2026-06-01", False),
        ("us", None, False),
    ],
)
def test_our_promises_are_told_a_month_ahead_and_theirs_when_overdue(by: str, due: str | None, told: bool):
    of = found(trade("2026-03-01", owed=(owed(by, "a cutting", due),)))
    assert [alert.kind for alert in of] == ["owed"] * told


def test_a_kept_promise_is_not_told():
    assert found(trade("2026-03-01", owed=(owed("us", "a cutting", "2026-05-01", settled="2026-04-30"),))) == ()


def test_what_is_overdue_comes_before_what_is_soon_due():
    of = found(trade("2026-03-01", owed=(owed("us", "soon", "2026-06-20"), owed("us", "late", "2026-05-20"))))
    assert [alert.facts["what"] for alert in of] == ["late", "soon"]
    assert [alert.facts["days"] for alert in of] == [-12, 19]


def test_a_look_that_was_not_taken_is_told_where_the_coral_stands():
    newcomer = coral("lantern", came="2026-05-10", placements=(Placement(source=AT, since=TODAY, system="reef"),))
    (alert,) = found(trade("2026-05-10", received=(got("lantern"),)), corals=(newcomer,))
    assert (alert.kind, alert.system, alert.subject) == ("state-check", "reef", ("lantern",))
    assert alert.id == "state-check/reef/lantern/14"


def test_a_promise_belongs_to_no_system_and_can_be_put_aside_in_the_log_of_any():
    late = trade("2026-03-01", owed=(owed("us", "a cutting", "2026-05-20"),))
    (promise,) = found(late)
    told = Dismissal(source=AT, at=datetime(2026, 5, 25, tzinfo=UTC), alert=promise.id, reason="They moved away.")
    assert promise.system == ""
    assert found(late, logs={"lagoon": SystemLog(system="lagoon", dismissals=(told,))}) == ()
    other = replace(told, alert="owed//2026-03-02/2026-05-20")
    assert found(late, logs={"lagoon": SystemLog(system="lagoon", dismissals=(other,))}) == (promise,)
