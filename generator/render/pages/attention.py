"""What needs the keeper, in words: what, why, how large, how certain, and the link to the evidence."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from generator.door.door import grouped
from generator.reckon.attention import Alert
from generator.reckon.attention.alert import TRAITS, Named
from generator.reckon.attention.trades import PREDICTED
from generator.records.log import ABOUT_PAIRS, ALERTS_ABOUT, AlertKind
from generator.render.base import links
from generator.render.base.blocks import Line
from generator.render.base.context import PageContext
from generator.render.base.links import Link
from generator.render.base.numbers import Shown, listed, shortened
from generator.render.base.why import evidence, to_method
from generator.render.base.words import Words, ended
from generator.render.pages.alert_words import blanks_of, form_by_day, size_of
from generator.render.pages.doses import has_dosing
from generator.render.pages.ready_lines import ready_line

_LINES = 3
_READINGS = re.compile(r"(- at: .+\n  readings: \{)(.+)\}")
# Which part of a coral's page shows the evidence.
_PART: dict[AlertKind, str] = {"growth-fell": "growth", "light-step-up": "light", "outgrows-place": "room"}


@dataclass(frozen=True, slots=True)
class Matter:
    """One matter for the day's page. `urgency` is a word for its look: ``act``, ``check`` or ``know``."""

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


def matters(ctx: PageContext, system: str | None = None) -> tuple[Matter, ...]:
    """The matters of every system of the view, or of one, most important first; corals in one matter together."""
    mine = ctx.alerts if system is None else ctx.alerts_in(system)
    of_kind = grouped((each.kind if ctx.words.has(f"alerts.{each.kind}.several") else each.id, each) for each in mine)
    return tuple(_together(ctx, alerts, system is None) for alerts in of_kind.values())


def _together(ctx: PageContext, alerts: Sequence[Alert], everywhere: bool) -> Matter:
    """One matter, or several of one kind as one that names them all, and `everywhere` their systems."""
    first, *others = each = tuple(_matter(ctx, alert) for alert in alerts)
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
        return ctx.to_line(alert.subject[0]).text
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
