"""Promises, checks of new corals, what is planned, and what has just come and was not read yet."""

from collections.abc import Iterator, Sequence

from generator.reckon.analysis.findings import Findings
from generator.reckon.arrivals.at_once import at_once
from generator.reckon.arrivals.informed import Informed
from generator.reckon.attention.alert import Alert, Named
from generator.reckon.trade.accounts import Debt
from generator.records.journal import Journal
from generator.units.quantity import Estimate

# Our own promise is listed this many days before it is due; a partner's once it is overdue.
SOON = 30
# Overdue promises weigh more than those due soon.
_OVERDUE = 1.0
# Until alkalinity is read again, what is taken up of these is what is predicted.
PREDICTED = ("alkalinity", "calcium")
# The nearer the day, the more a plan weighs: so many days are left at most, and so much is added. Our choice.
_NEARER = ((0, 4.0), (3, 3.0), (7, 2.0), (30, 0.5))


def of_trades(journal: Journal, found: Findings) -> Iterator[Alert]:
    """The alerts of all trades. A promise belongs to no system, a check to the system of its coral."""
    today = found.as_of.astimezone(journal.settings.time_zone).date()
    for account in found.trade.accounts.values():
        for debt in account.owed:
            if debt.days_left is not None and (debt.overdue or (debt.by == "us" and debt.days_left <= SOON)):
                yield _owed(account.partner, debt, debt.days_left)
    for check in found.trade.checks:
        standing = journal.corals[check.coral].placement_on(today)
        yield Alert(
            kind="state-check",
            system=standing.system if standing else "",
            subject=(check.coral,),
            mark=f"{check.days}",
            facts={
                "came": journal.trades[check.trade].at,
                "due": check.due,
                "days": check.days,
                "trade": Named("trade", check.trade),
            },
            inputs=(check.source,),
        )


def _owed(partner: str, debt: Debt, days_left: int) -> Alert:
    return Alert(
        kind="owed",
        subject=(debt.trade,),
        mark=f"{debt.due}",
        facts={
            "days": days_left,
            "due": debt.due,
            "partner": Named("partner", partner),
            "side": debt.by,
            "trade": Named("trade", debt.trade),
            "what": debt.what,
        },
        inputs=(debt.source,),
        weight=_OVERDUE if debt.overdue else 0.0,
    )


def of_plans(found: Findings) -> Iterator[Alert]:
    """Every plan that is agreed, from the day it is until it has arrived."""
    for each in found.plans:
        plan, days = each.plan, each.days
        if days is not None and plan.date is not None:
            yield Alert(
                kind="planned",
                subject=(plan.id,),
                mark=f"{plan.date.day}",
                facts={"days": days, "plan": plan.id, "side": plan.ways[0] if len(plan.ways) == 1 else "mixed"},
                inputs=(plan.source,),
                weight=next((more for most, more in _NEARER if days <= most), 0.0),
            )


def of_predicted(found: Findings) -> Iterator[Alert]:
    """What came, went or was cut at one time since alkalinity was last read, with what is predicted of all of it."""
    for system, events in found.predicted.items():
        for together, step in at_once(events):
            if any(each.large for each in together):
                yield _predicted(system, together, step, found)


def _predicted(system: str, told: Sequence[Informed], step: Estimate, found: Findings) -> Alert:
    event, water = told[0].event, found.water[system]
    corals = tuple(str(each.event.coral) for each in told)
    tells = [plan.readings[0].at for plan in water.plans if plan.coral in corals and plan.readings]
    if tells and (asked := water.next_tests.get("alkalinity")):
        tells.append(asked.at)
    return Alert(
        kind="predicted",
        system=system,
        subject=corals,
        mark=f"{event.what}-{event.day}",
        size=step if step.value >= 0.0 else step.scaled(-1.0, step.unit),
        facts={
            "at": event.at,
            "side": event.what if len(corals) == 1 else f"several.{event.what}",
            "tells": min(tells, default=None),
        },
        inputs=(event.source,),
        magnitude=abs(step.value),
    )
