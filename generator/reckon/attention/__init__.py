"""What needs the keeper today, and why.

In: a journal and its findings at a moment. Out: alerts, most important first.
Must not know words, pages, or how a number was calculated.
"""

from datetime import date, timedelta

from generator.reckon.analysis.findings import Findings
from generator.reckon.attention.alert import Alert as Alert
from generator.reckon.attention.health import of_health
from generator.reckon.attention.trades import PREDICTED, of_corals, of_plans, of_predicted, of_trades
from generator.reckon.attention.water import of_water
from generator.reckon.finding import CannotTell
from generator.records.journal import Journal


def alerts(journal: Journal, found: Findings) -> tuple[Alert, ...]:
    """What needs the keeper, most important first, without what a system's log dismisses.

    An alert that belongs to no system, such as a promise, can be dismissed in any log.
    """
    zone = journal.settings.time_zone
    every = [*of_corals(journal, found), *of_trades(journal, found), *of_plans(found), *of_predicted(found)]
    for id, water in sorted(found.water.items()):
        every += [*of_water(journal.systems[id], water, found.as_of, zone), *of_health(water)]
    # That the uptake changed is for readings to tell. Until then it is predicted, and an alert of its own says so.
    every = [alert for alert in every if not (alert.kind == "uptake-changed" and _is_predicted(alert, found))]
    every = [alert for alert in every if not (alert.kind == "leaving-band" and _is_planned(alert, found))]
    dismissals = {id: log.until(found.as_of).dismissals for id, log in journal.logs.items()}
    anywhere = tuple(each for those in dismissals.values() for each in those)
    left = [
        alert
        for alert in every
        if not any(map(alert.is_hidden_by, dismissals.get(alert.system, ()) if alert.system else anywhere))
    ]
    return tuple(sorted(left, key=lambda alert: (-alert.stake, alert.id)))


def _is_predicted(alert: Alert, found: Findings) -> bool:
    return alert.quantity in PREDICTED and bool(found.predicted.get(alert.system))


def _is_planned(alert: Alert, found: Findings) -> bool:
    """Whether a level is on its way to its target by the dosing plan, and there before it can be out of its band."""
    plan = found.dosing[alert.system].plan if alert.system in found.dosing else None
    earliest, rises = alert.facts["earliest"], alert.facts["side"] == "high"
    if plan is None or isinstance(plan, CannotTell) or not isinstance(earliest, date):
        return False
    return any(
        each.kind == alert.quantity
        and (each.change.value > 0.0) == rises
        and (found.as_of + timedelta(days=each.days)).date() <= earliest
        for each in plan.corrections
    )
