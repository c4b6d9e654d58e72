"""What needs the keeper, in words: what, why, how large, the evidence; and the line to copy once it is done."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date, datetime
from itertools import islice

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import grouped
from generator.reckon.attention import Alert
from generator.reckon.attention.alert import TRAITS, Named
from generator.reckon.attention.trades import PREDICTED
from generator.reckon.attention.water import DOSED_FOR
from generator.reckon.dosing.phases import DoseRate
from generator.reckon.dosing.plan import Plan
from generator.records.log import ABOUT_PAIRS, ALERTS_ABOUT, AlertKind
from generator.render.base import links
from generator.render.base.blocks import Line
from generator.render.base.context import PageContext
from generator.render.base.links import Link
from generator.render.base.numbers import Shown, listed, shortened
from generator.render.base.why import evidence, to_method
from generator.render.base.words import Words, ended
from generator.render.pages.alert_words import blanks_of, form_by_day, size_of, water_to_change
from generator.render.pages.doses import (
    belongs_to_card,
    first_change,
    has_dosing,
    plan_waits,
    poured_today,
    set_at_once,
    written_change,
    written_poured,
    written_rate,
)
from generator.render.pages.next_tests import day_due
from generator.units.quantity import Quantity

_LINES = 3
_READINGS = re.compile(r"(- at: .+\n  readings: \{)(.+)\}")
# Which part of a coral's page shows the evidence.
_PART: dict[AlertKind, str] = {
    "ailing": "health",
    "growth-fell": "growth",
    "light-step-up": "light",
    "outgrows-place": "room",
}

# So many of one kind unfold on a card, the most important first.
_MOST = 12


class Matter(Struct, frozen=True):
    """One matter for the day's page. `urgency` is a word for its look: ``act``, ``check`` or ``know``.

    `several` are those that it stands for, and `left` says how many more there are.
    """

    urgency: str
    urgency_words: str
    title: str
    reason: str
    how: str
    size_label: str
    size: Shown | None
    system: Link
    evidence: Link
    method: Link
    lines: tuple[Line, ...]
    dismiss: str
    dismiss_line: str
    add: str
    add_line: str
    several: tuple["Matter", ...] = ()
    left: str = ""


def matters(ctx: PageContext, system: str | None = None) -> tuple[Matter, ...]:
    """The matters of every system of the view, or of one, most important first; corals in one matter together."""
    mine = ctx.alerts if system is None else ctx.alerts_in(system)
    of_kind = grouped((each.kind if ctx.words.has(f"alerts.{each.kind}.several") else each.id, each) for each in mine)
    return tuple(_together(ctx, alerts, system is None) for alerts in of_kind.values())


def _together(ctx: PageContext, alerts: Sequence[Alert], everywhere: bool) -> Matter:
    """One matter, or several of one kind as one that names them all, and `everywhere` their systems."""
    # All quantities of a water are one entry of its log. Of what is done one by one, hundreds help nobody.
    least = alerts if alerts[0].quantity else alerts[:_MOST]
    first, *others = each = tuple(_matter(ctx, alert) for alert in least)
    if not others:
        return first
    kind, names = alerts[0].kind, [_named(ctx, alert, everywhere) for alert in alerts]
    told = shortened if kind in ABOUT_PAIRS or alerts[0].quantity else listed
    return replace(
        first,
        title=ctx.words(f"alerts.{kind}.several", n=len(alerts)),
        reason=ended(told(ctx, [names[0][:1].upper() + names[0][1:], *names[1:]])),
        how=first.how if all(matter.how == first.how for matter in others) else "",
        size=None,
        system=first.system if len({alert.system for alert in alerts}) == 1 else Link(""),
        several=tuple(_in_one_entry(each)),
        left=ctx.words("alerts.left", n=len(alerts) - len(each)) if len(alerts) > len(each) else "",
    )


def _in_one_entry(each: Sequence[Matter]) -> Iterator[Matter]:
    """The same; readings to write into one file are one entry, which the first of them gives to copy."""
    read = [_READINGS.fullmatch(matter.add_line) for matter in each]
    keys = [(matter.add, found[1] if found else matter.add_line) for matter, found in zip(each, read, strict=True)]
    parts = grouped((key, found[2] if found else "") for key, found in zip(keys, read, strict=True))
    for matter, key, found in zip(each, keys, read, strict=True):
        if said := parts.pop(key, ()):
            yield replace(matter, add_line=f"{key[1]}{', '.join(said)}}}") if found else matter
        else:
            yield replace(matter, add="", add_line="")


def _named(ctx: PageContext, alert: Alert, everywhere: bool) -> str:
    """What an alert is about."""
    if alert.quantity:
        within = blanks_of(ctx, alert)
        return ctx.words("alerts.quantity_in", **within) if everywhere else within["quantity_within"]
    if ALERTS_ABOUT[alert.kind] == "line":
        line = ctx.to_line(alert.subject[0]).text
        return ctx.words("alerts.line-at-risk.once", name=line) if alert.facts["side"] == "bleached" else line
    pair = " – ".join(ctx.ties.coral_names[id] for id in alert.subject)
    return f"{pair} ({blanks_of(ctx, alert)['gap']})" if alert.kind == "too-close" else pair


def links_to_lines_at_risk(ctx: PageContext) -> tuple[Link, ...]:
    """The lines that one loss would end and that are not dismissed, the hardest to replace first."""
    found = [alert.subject[0] for alert in ctx.alerts if alert.kind == "line-at-risk"]
    return tuple(ctx.to_line(line) for line in found)


def titles_about(ctx: PageContext, coral: str) -> tuple[str, ...]:
    """What there is to do about one coral, in a few words each."""
    return tuple(_matter(ctx, each).title for each in ctx.alerts_about.get(coral, ()))


def _matter(ctx: PageContext, alert: Alert) -> Matter:
    words, traits = ctx.words, TRAITS[alert.kind]
    blanks = blanks_of(ctx, alert)
    aside = "dismiss" if alert.system else "dismiss_anywhere"
    side = form_by_day(alert) or ("unsure" if alert.unsure else blanks.get("side", ""))
    add, line = ready_line(ctx, alert)
    return Matter(
        urgency=alert.urgency,
        urgency_words=words(f"alerts.urgency.{alert.urgency}"),
        title=_said(words, alert, "title", side, blanks),
        reason=_said(words, alert, "reason", side, blanks),
        how=_said(words, alert, "how", blanks.get("how") or side, blanks),
        size_label=_said(words, alert, "size", _of_size(ctx, alert, side, blanks), blanks),
        size=size_of(ctx, alert),
        system=ctx.to_system(alert.system) if alert.system else Link(""),
        evidence=_evidence(ctx, alert, blanks),
        method=to_method(ctx, traits.method),
        lines=_lines(ctx, alert),
        dismiss=words(f"alerts.{aside}", system=alert.system),
        dismiss_line=_dismissal(ctx, alert),
        add=words("alerts.add", file=add) if add else "",
        add_line=line,
    )


def _dismissal(ctx: PageContext, alert: Alert) -> str:
    """The log entry that dismisses an alert, to copy as it is."""
    reason = ctx.words("alerts.own_reason")
    at = ctx.as_of.astimezone(ctx.display.zone)
    return f"- at: {at:%Y-%m-%d %H:%M}\n  dismiss: {{alert: {alert.id}, reason: {reason}}}"


def _said(words: Words, alert: Alert, part: str, side: str, blanks: Mapping[str, str]) -> str:
    """A part of a card, in the words of its side where the sides differ; only `how` can be empty."""
    key = f"alerts.{alert.kind}.{part}"
    if part == "how" and not words.has(key):
        return ""
    sided = f"{key}.{side}"
    return words(sided if side and words.has(sided) else key, **blanks)


def _of_size(ctx: PageContext, alert: Alert, side: str, blanks: Mapping[str, str]) -> str:
    """Which words fit the number of an alert."""
    if alert.unsure:
        return f"unsure_{blanks['side']}"
    return "predicted" if _is_predicted(ctx, alert) else side


def _is_predicted(ctx: PageContext, alert: Alert) -> bool:
    """Whether the uptake that a level leaves its band by was not measured since something came, went or was cut."""
    return alert.kind == "leaving-band" and alert.quantity in PREDICTED and bool(ctx.found.predicted.get(alert.system))


def _evidence(ctx: PageContext, alert: Alert, blanks: Mapping[str, str]) -> Link:
    """The link to the evidence: a quantity of a system, a coral's page, a line, a trade, or a sheet."""
    words = ctx.words
    match ALERTS_ABOUT[alert.kind]:
        case "quantity" if alert.kind == "leaving-band" and blanks["how"] == "dose":
            return ctx.link(links.dosing_of(alert.system), words("alerts.predicted.way", **blanks))
        case "quantity":
            return ctx.link(
                f"{links.page_of('system', alert.system)}#now-{alert.quantity}", words("alerts.evidence", **blanks)
            )
        case "line":
            return replace(ctx.to_line(alert.subject[0]), text=words("alerts.to_line", **blanks))
        case "plan":
            return ctx.link(links.page_of("plan", alert.subject[0]), words("alerts.planned.way"))
    if isinstance(trade := alert.facts.get("trade"), Named):
        return ctx.link(links.page_of("trade", trade.id), words(f"alerts.{alert.kind}.way", **blanks))
    if alert.kind in ABOUT_PAIRS:
        return ctx.link(links.plan_of(alert.system), words("alerts.to_plan", **blanks))
    if part := _PART.get(alert.kind):
        return ctx.link(f"{links.page_of('coral', alert.subject[0])}#{part}", words("alerts.to_coral", **blanks))
    if has_dosing(ctx, alert.system):
        return ctx.link(links.dosing_of(alert.system), words("alerts.predicted.way", **blanks))
    return ctx.to_system(alert.system)


def _lines(ctx: PageContext, alert: Alert) -> tuple[Line, ...]:
    """The newest lines behind it: those of a log in words."""
    if alert.quantity:
        return evidence(ctx, alert.system).lines(alert.inputs)[0][:_LINES]
    told = filter(ctx.view.tells, sorted({*alert.inputs}, reverse=True))
    return tuple(Line(str(source), "") for source in islice(told, _LINES))


_UNDER: dict[AlertKind, str] = {"owed": "owed", "state-check": "checks", "line-at-risk": "cuttings", "ailing": "health"}
_SIZE = "  - {{at: {day}, length: … cm, width: … cm, height: … cm}}"


def ready_line(ctx: PageContext, alert: Alert) -> tuple[str, str]:
    """Where to add it (a file, and the list in it), and the line; "" where another matter has it, or no cut is due."""
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
    return ("", "") if alert.facts.get("side") == "bleached" else (where, _recorded(alert, now))


def in_log(system: str, entries: Sequence[tuple[date, str]]) -> tuple[str, str]:
    """The file of a log, and entries for it: those of the first one's month, for a file takes no other."""
    month = f"{entries[0][0]:%Y-%m}"
    lines = (f"- at: {day} …\n  {said}" for day, said in entries if f"{day:%Y-%m}" == month)
    return f"logs/{system}/{month}.yaml", "\n".join(lines)


def _given(ctx: PageContext, alert: Alert) -> Iterator[tuple[date, str]]:
    """What a card says to dose and to set today, and the first of the water changes it tells of, as a log has them."""
    if not _says_doses(ctx, alert):
        return
    system, quantity = alert.system, alert.quantity

    def is_here(supply: str) -> bool:
        return _is_first(ctx, alert, lambda card: belongs_to_card(ctx, system, supply, card.quantity))

    poured = [each for each in poured_today(ctx, system) if is_here(each.solution)]
    doses = ", ".join(f"{each.solution}: {written_poured(each.litres)}" for each in poured)
    plan = ctx.found.dosing[system].plan
    at_once = set_at_once(ctx, plan, quantity) if isinstance(plan, Plan) else ()
    rates = [(dose, written_rate(dose.rate.estimate)) for dose in at_once if is_here(dose.supply)]
    pumps = ", ".join(f"{dose.supply}: {rate}" for dose, rate in rates if dose.how == "pump")
    lines = [f"{key}: {{{said}}}" for key, said in (("doses", doses), ("pumps", pumps)) if said]
    lines += (f"top_off: {{rate: {rate}, solution: {dose.supply}}}" for dose, rate in rates if dose.how == "top-off")
    lines += (
        f"reactor: {{flow: {rate}, {_effluent(ctx, system, dose)}}}" for dose, rate in rates if dose.how == "reactor"
    )
    if lines:
        yield ctx.today, "\n  ".join(lines)
    change = water_to_change(ctx, alert)
    if change and _is_first(ctx, alert, lambda card: water_to_change(ctx, card) is not None):
        yield first_change(ctx, change, ctx.as_of), written_change(change)


def _says_doses(ctx: PageContext, alert: Alert) -> bool:
    """Whether a card says what to give: if it may be nothing, only alkalinity's does, unless its plan waits."""
    if alert.kind not in ("leaving-band", "out-of-band") or alert.quantity not in DOSED_FOR:
        return False
    sure = not alert.unsure or (alert.quantity == "alkalinity" and not plan_waits(ctx, alert.system))
    return sure and has_dosing(ctx, alert.system)


def _is_first(ctx: PageContext, alert: Alert, has: Callable[[Alert], bool]) -> bool:
    """Whether a card is the first of its water, alkalinity's before all, that has something, which is logged once."""
    cards = [each for each in ctx.alerts_in(alert.system) if _says_doses(ctx, each) and has(each)]
    return min(cards, key=lambda each: DOSED_FOR.index(each.quantity), default=None) == alert


def _effluent(ctx: PageContext, system: str, dose: DoseRate) -> str:
    """Blanks for all that was last read of an effluent: what it is at another flow only a test can tell.

    Of one that is turned off there is nothing to test: it stays as it was read.
    """
    last = ctx.view.log_of(system).until(ctx.as_of).effluents[-1]
    read = {"alkalinity": last.alkalinity, "calcium": last.calcium, "magnesium": last.magnesium}
    runs = dose.rate.estimate.value > 0.0
    told = ((kind, f"… {ctx.display.unit(kind)}" if runs else str(value)) for kind, value in read.items() if value)
    return ", ".join(f"{kind}: {value}" for kind, value in told)


def _logged(ctx: PageContext, alert: Alert) -> str:
    amount, solution, par = (alert.facts.get(name) for name in ("amount", "solution", "par"))
    if isinstance(amount, Quantity):
        today = [each.litres for each in poured_today(ctx, alert.system) if each.solution == solution]
        written = written_poured(sum(today)) if today else f"{amount.value:g} {amount.unit}"
        return f"doses: {{{solution}: {written}}}"
    if alert.kind in ("pump-gives-less", "pump-to-mend"):
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
    if isinstance(trade := alert.facts.get("trade"), Named):
        return f"trades/{trade.id}.yaml"
    return f"plans/{alert.subject[0]}.yaml" if alert.kind == "planned" else alert.inputs[0].file


def _recorded(alert: Alert, now: datetime) -> str:
    day = f"{now:%Y-%m-%d}"
    match alert.kind:
        case "owed":
            return f"settled: {day}"
        case "planned":
            return f"arrived: {now:%Y-%m-%d %H:%M}"
        case "ailing":
            return f"  - {{at: {day}, what: recovery}}"
        case "state-check":
            return f"  - {{coral: {alert.subject[0]}, days: {alert.facts['days']}, condition: …}}"
        case "line-at-risk":
            return f"  - {{at: {day}, frags: 1}}"
    return _SIZE.format(day=day)
