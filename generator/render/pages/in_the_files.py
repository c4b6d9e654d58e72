"""What pages say of the files: a line to add once a matter is done, and when a record was written and changed."""

from dataclasses import replace
from datetime import datetime

from generator.reckon.attention import Alert
from generator.reckon.attention.alert import Named
from generator.records.history import Commit
from generator.records.log import ALERTS_ABOUT, AlertKind
from generator.render.base.blocks import Paragraph
from generator.render.base.context import PageContext
from generator.render.base.page import Page
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


# The kinds of page that show one record.
_RECORDS = ("coral", "system", "entry", "trade", "sheet")


def with_history(ctx: PageContext, page: Page, file: str) -> Page:
    """A page with its record's history below, if this audience may see it; `file` is the record's."""
    if ctx.view.history is None or page.kind not in _RECORDS:
        return page
    return replace(page, blocks=(*page.blocks, Paragraph(_told(ctx, file), "note written")))


def _told(ctx: PageContext, file: str) -> str:
    words, history = ctx.words, ctx.view.history
    assert history is not None
    if history.unknown:
        return words("history.cannot", why=words(f"history.unknown.{history.unknown}"))
    files = [path for path in history.commits if _belongs(path, file)]
    made: list[Commit] = [each for path in files for each in history.commits[path] if each.at <= ctx.as_of]
    made.sort(key=lambda commit: commit.at)
    cut_off = any(path in history.cut_off for path in files)
    changed = any(path in history.uncommitted for path in files)
    if not files:
        return words("history.new")
    if not made and not cut_off:
        return ""
    names = ", ".join(dict.fromkeys(each.by for each in made if each.by))
    days = [ctx.say.date(each.at) for each in made]
    said = [
        words("history.cut_off") if cut_off else words("history.written", day=days[0]),
        words("history.changed", day=days[-1]) if days[-1:] != ([] if cut_off else days[:1]) else "",
        words("history.by", names=names) if names else "",
        words("history.uncommitted") if changed else "",
    ]
    return f"{', '.join(filter(None, said))}."


def _belongs(path: str, file: str) -> bool:
    """Whether a file is a record's own: its file, its story, or one of its system's logs."""
    stem = file.rpartition(".")[0]
    logs = f"logs/{stem.removeprefix('systems/')}/" if stem.startswith("systems/") else "\0"
    return path in (file, f"{stem}.md") or path.startswith(logs)
