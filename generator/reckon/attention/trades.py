"""Trades that need the keeper: promises due soon or overdue, and checks of new corals that are not recorded."""

from collections.abc import Iterator

from generator.reckon.attention.alert import STAKES, Alert
from generator.reckon.survey import Findings
from generator.reckon.trade.accounts import Debt
from generator.records.journal import Journal

# Our own promise is listed this many days before it is due; a partner's once it is overdue.
SOON = 30
# Overdue promises weigh more than those due soon.
_OVERDUE = 1.0


def of_trades(journal: Journal, found: Findings) -> Iterator[Alert]:
    """The alerts of all trades. A promise belongs to no system, a check to the system of its coral."""
    today = found.as_of.astimezone(journal.settings.time_zone).date()
    for account in found.trade.accounts.values():
        for debt in account.owed:
            if debt.days_left is not None and (debt.overdue or (debt.by == "us" and debt.days_left <= SOON)):
                yield _owed(account.partner, debt, debt.days_left)
    for check in found.trade.checks:
        standing = journal.corals[check.coral].placement_on(today)
        system = standing.system if standing else ""
        numbers = {"came": journal.trades[check.trade].at.isoformat(), "due": check.due.isoformat()}
        yield Alert(
            id=f"state-check/{system}/{check.coral}/{check.days}",
            kind="state-check",
            system=system,
            quantity="",
            stake=STAKES["state-check"],
            size=None,
            numbers=(*numbers.items(), ("days", f"{check.days}"), ("trade", check.trade)),
            inputs=(check.source,),
            subject=(check.coral,),
        )


def _owed(partner: str, debt: Debt, days_left: int) -> Alert:
    assert debt.due is not None
    return Alert(
        id=f"owed//{debt.trade}/{debt.due}",
        kind="owed",
        system="",
        quantity="",
        stake=STAKES["owed"] + (_OVERDUE if debt.overdue else 0.0),
        size=None,
        numbers=(
            ("days", f"{days_left}"),
            ("due", debt.due.isoformat()),
            ("partner", partner),
            ("side", debt.by),
            ("trade", debt.trade),
            ("what", debt.what),
        ),
        inputs=(debt.source,),
        subject=(debt.trade,),
    )
