"""The line to add to the keeper's files once a matter is done, ready to copy; `…` stands for what was measured."""

from datetime import datetime

from generator.reckon.attention import Alert
from generator.reckon.attention.alert import Named
from generator.records.log import ALERTS_ABOUT, AlertKind
from generator.render.base.context import PageContext
from generator.units.quantity import Quantity

_UNDER: dict[AlertKind, str] = {"owed": "owed", "state-check": "checks", "line-at-risk": "cuttings"}
_SIZE = "  - {{at: {day}, length: … cm, width: … cm, height: … cm}}"


def ready_line(ctx: PageContext, alert: Alert) -> tuple[str, str]:
    """Where to add it (a file, and the list in it), and the line."""
    now = ctx.as_of.astimezone(ctx.display.zone)
    if ALERTS_ABOUT[alert.kind] == "quantity" or alert.kind in ("light-step-up", "predicted"):
        said = _logged(ctx, alert)
        return f"logs/{alert.system}/{now:%Y-%m}.yaml", f"- at: {now:%Y-%m-%d %H:%M}\n  {said}"
    file, key = _file(alert), _UNDER.get(alert.kind, "" if alert.kind == "planned" else "sizes")
    where = ctx.words("alerts.under", key=key, file=file) if key else file
    return where, _recorded(alert, now)


def _logged(ctx: PageContext, alert: Alert) -> str:
    amount, solution, par = (alert.facts.get(name) for name in ("amount", "solution", "par"))
    if isinstance(amount, Quantity):
        return f"doses: {{{solution}: {_written(amount)}}}"
    if alert.kind == "pump-gives-less":
        return f"measured_rate: {{{solution}: … mL/day}}"
    if isinstance(par, Quantity):
        return f"event: {{what: light, coral: {alert.subject[0]}, text: {par.value:.0f} {par.unit}}}"
    kind = alert.quantity or "alkalinity"
    return f"readings: {{{kind}: … {ctx.display.unit(kind)}}}"


def _written(quantity: Quantity) -> str:
    return f"{quantity.value:g} {quantity.unit}"


def _file(alert: Alert) -> str:
    trade = alert.facts.get("trade")
    if isinstance(trade, Named):
        return f"trades/{trade.id}.yaml"
    return f"plans/{alert.subject[0]}.yaml" if alert.kind == "planned" else alert.inputs[0].file


def _recorded(alert: Alert, now: datetime) -> str:
    day = f"{now:%Y-%m-%d}"
    match alert.kind:
        case "owed":
            return f"settled: {day}"
        case "planned":
            return f"arrived: {now:%Y-%m-%d %H:%M}"
        case "state-check":
            return f"  - {{coral: {alert.subject[0]}, days: {alert.facts['days']}, condition: …}}"
        case "line-at-risk":
            return f"  - {{at: {day}, frags: 1}}"
    return _SIZE.format(day=day)
