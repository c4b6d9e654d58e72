"""The line to copy into the files once what a card asks for is done."""

from collections.abc import Iterator, Sequence
from datetime import date, datetime

from generator.reckon.attention import Alert
from generator.reckon.attention.alert import Named
from generator.reckon.attention.water import DOSED_FOR
from generator.reckon.dosing.plan import Plan
from generator.records.log import ALERTS_ABOUT, AlertKind
from generator.render.base.context import PageContext
from generator.render.pages.alert_words import water_to_change
from generator.render.pages.by_hand import first_change, written_change
from generator.render.pages.doses import belongs_to_card, has_dosing, poured_today, to_set, written_rate
from generator.render.pages.next_tests import day_due
from generator.units.quantity import Quantity

_UNDER: dict[AlertKind, str] = {"owed": "owed", "state-check": "checks", "line-at-risk": "cuttings"}
_SIZE = "  - {{at: {day}, length: … cm, width: … cm, height: … cm}}"


def ready_line(ctx: PageContext, alert: Alert) -> tuple[str, str]:
    """Where to add it (a file, and the list in it), and the line; "" where the line of another matter has it."""
    if ALERTS_ABOUT[alert.kind] == "quantity" or alert.kind in ("light-step-up", "predicted"):
        said = _logged(ctx, alert)
        test = ctx.findings[alert.system].next_tests.get(alert.quantity) if said.startswith("readings") else None
        day = day_due(ctx, test.at) if test else ctx.today
        # Water is changed after the test of its day.
        entries = sorted((*_given(ctx, alert), (day, said)), key=lambda each: (each[0], "water_change:" in each[1]))
        return in_log(alert.system, entries) if said else ("", "")
    if alert.kind == "too-close":
        coral = ctx.view.corals[alert.subject[0]]
        there = f"system: {alert.system}, place: {coral.placements[-1].place}"
        placed = f"  - {{since: {ctx.today}, {there}, x: … cm, y: … cm}}"
        return ctx.words("alerts.under", key="placements", file=coral.source.file), placed
    now = ctx.as_of.astimezone(ctx.display.zone)
    file, key = _file(alert), _UNDER.get(alert.kind, "" if alert.kind == "planned" else "sizes")
    where = ctx.words("alerts.under", key=key, file=file) if key else file
    return where, _recorded(alert, now)


def in_log(system: str, entries: Sequence[tuple[date, str]]) -> tuple[str, str]:
    """The file of a log, and entries for it: those of the first one's month, for a file takes no other."""
    month = f"{entries[0][0]:%Y-%m}"
    lines = (f"- at: {day} …\n  {said}" for day, said in entries if f"{day:%Y-%m}" == month)
    return f"logs/{system}/{month}.yaml", "\n".join(lines)


def _given(ctx: PageContext, alert: Alert) -> Iterator[tuple[date, str]]:
    """What a card says to dose and to set today, and the first of the water changes it tells of, as a log has them."""
    if alert.kind not in ("leaving-band", "out-of-band") or alert.unsure or not has_dosing(ctx, alert.system):
        return
    if alert.quantity not in DOSED_FOR:
        return
    system, quantity = alert.system, alert.quantity
    poured = [each for each in poured_today(ctx, system) if belongs_to_card(ctx, system, each.solution, quantity)]
    doses = ", ".join(f"{each.solution}: {1000.0 * each.litres:.0f} mL" for each in poured)
    plan = ctx.found.dosing[system].plan
    set_to = to_set(ctx, plan, quantity) if isinstance(plan, Plan) else ()
    rates = [(dose, written_rate(dose.rate.estimate)) for dose, _ in set_to]
    pumps = ", ".join(f"{dose.supply}: {rate}" for dose, rate in rates if dose.how == "pump")
    lines = [f"{key}: {{{said}}}" for key, said in (("doses", doses), ("pumps", pumps)) if said]
    lines += (f"top_off: {{rate: {rate}, solution: {dose.supply}}}" for dose, rate in rates if dose.how == "top-off")
    lines += (f"reactor: {{flow: {rate}, {_effluent(ctx, system)}}}" for dose, rate in rates if dose.how == "reactor")
    if lines:
        yield ctx.today, "\n  ".join(lines)
    if change := water_to_change(ctx, alert):
        yield first_change(ctx, change, ctx.as_of), written_change(change)


def _effluent(ctx: PageContext, system: str) -> str:
    """Blanks for all that was last read of an effluent: what it is at another flow only a test can tell."""
    last = ctx.view.log_of(system).until(ctx.as_of).effluents[-1]
    read = {"alkalinity": last.alkalinity, "calcium": last.calcium, "magnesium": last.magnesium}
    return ", ".join(f"{kind}: … {ctx.display.unit(kind)}" for kind, value in read.items() if value)


def _logged(ctx: PageContext, alert: Alert) -> str:
    amount, solution, par = (alert.facts.get(name) for name in ("amount", "solution", "par"))
    if isinstance(amount, Quantity):
        today = [each.litres for each in poured_today(ctx, alert.system) if each.solution == solution]
        written = f"{1000.0 * sum(today):.0f} mL" if today else f"{amount.value:g} {amount.unit}"
        return f"doses: {{{solution}: {written}}}"
    if alert.kind == "pump-gives-less":
        return f"measured_rate: {{{solution}: … mL/day}}"
    if isinstance(par, Quantity):
        return f"event: {{what: light, coral: {alert.subject[0]}, text: {par.value:.0f} {par.unit}}}"
    # All of a water that was tested too long ago is one line, under the first of it.
    old = [each.quantity for each in ctx.alerts_in(alert.system) if each.kind == "no-reading"]
    kinds = old if alert.kind == "no-reading" else [alert.quantity or "alkalinity"]
    if alert.quantity not in ("", kinds[0]):
        return ""
    return f"readings: {{{', '.join(f'{kind}: … {ctx.display.unit(kind)}' for kind in kinds)}}}"


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
