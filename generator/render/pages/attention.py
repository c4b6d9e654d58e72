"""What needs the keeper, in words: what, why, how large, how certain, and the link to the evidence."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from generator.reckon.attention import Alert
from generator.reckon.attention.alert import TRAITS, Fact, Named
from generator.reckon.attention.trades import PREDICTED
from generator.reckon.lineage.family import Holder
from generator.records.log import ABOUT_PAIRS, ALERTS_ABOUT, AlertKind
from generator.render.base import links
from generator.render.base.blocks import Line
from generator.render.base.context import PageContext
from generator.render.base.inline import Link
from generator.render.base.numbers import Shown, in_words
from generator.render.base.sentences import listed, shortened
from generator.render.base.why import evidence, to_method
from generator.render.base.words import Words, ended
from generator.render.pages.behind import ready_line
from generator.render.pages.doses import has_dosing
from generator.render.pages.next_tests import band_end
from generator.render.pages.room import of_safe
from generator.render.pages.travel import left_words, names_of
from generator.render.pages.uptake import explained, which_test
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, Quantity

_LINES = 4
# Which part of a coral's page shows the evidence.
_PART: dict[AlertKind, str] = {"growth-fell": "growth", "light-step-up": "light", "outgrows-place": "room"}
_OF_ROOM = ("neighbours-touch", "outgrows-place")


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
    mine = [alert for alert in ctx.alerts if system in (None, alert.system) and _seen(ctx, alert)]
    of_kind: dict[object, list[Alert]] = {}
    for alert in mine:
        of_kind.setdefault(alert.kind if ctx.words.has(f"alerts.{alert.kind}.several") else alert.id, []).append(alert)
    return tuple(_together(ctx, alerts) for alerts in of_kind.values())


def _together(ctx: PageContext, alerts: Sequence[Alert]) -> Matter:
    """One matter, or several of one kind as one that names them all."""
    first, *others = each = tuple(_matter(ctx, alert) for alert in alerts)
    if not others:
        return first
    kind, names = alerts[0].kind, [_named(ctx, alert) for alert in alerts]
    told = shortened if kind in ABOUT_PAIRS else listed
    return replace(
        first,
        title=ctx.words(f"alerts.{kind}.several", n=len(alerts)),
        reason=ended(told(ctx, names)),
        how="",
        size=None,
        system=first.system if len({alert.system for alert in alerts}) == 1 else Link(""),
        several=each,
    )


def _named(ctx: PageContext, alert: Alert) -> str:
    """What an alert about corals or a line is about."""
    if ALERTS_ABOUT[alert.kind] == "line":
        return ctx.to_line(alert.subject[0]).text
    pair = " – ".join(ctx.view.corals[id].name for id in alert.subject)
    return f"{pair} ({_too_close(ctx, alert)['gap']})" if alert.kind == "too-close" else pair


def lines_at_risk(ctx: PageContext) -> tuple[Link, ...]:
    """The lines that one loss would end and that are not dismissed, the hardest to replace first."""
    found = [alert.subject[0] for alert in ctx.alerts if alert.kind == "line-at-risk" and _seen(ctx, alert)]
    return tuple(ctx.to_line(line) for line in found)


def holders_of(ctx: PageContext, line: str) -> tuple[Holder, ...]:
    """Who holds a coral of a line, or gave us ours, as far as this audience may read it."""
    held = ctx.found.holders.get(line, ())
    return tuple(holder for holder in held if all(ctx.view.tells(source) for source in holder.inputs))


def nobody(ctx: PageContext, line: str) -> str:
    """The words for a line that no partner known to this audience holds."""
    return ctx.words("lines.somebody" if ctx.found.holders.get(line) else "lines.nobody")


def titles_about(ctx: PageContext, coral: str) -> tuple[str, ...]:
    """What there is to do about one coral, in a few words each."""
    return tuple(_matter(ctx, each).title for each in ctx.alerts_about.get(coral, ()) if _seen(ctx, each))


def _seen(ctx: PageContext, alert: Alert) -> bool:
    """Whether the view shows all that an alert names."""
    view = ctx.view
    trades = [fact.id for fact in alert.facts.values() if isinstance(fact, Named) and fact.kind == "trade"]
    if (alert.system and alert.system not in view.systems) or not all(id in view.trades for id in trades):
        return False
    match ALERTS_ABOUT[alert.kind]:
        case "quantity":
            return alert.system in ctx.findings
        case "line":
            return any(coral.line == alert.subject[0] for coral in view.corals.values())
        case "plan":
            return alert.subject[0] in view.plans
        case "coral":
            return all(id in view.corals for id in alert.subject) and (not trades or view.shows_accounts)
        case "trade":
            return view.shows_accounts


def _matter(ctx: PageContext, alert: Alert) -> Matter:
    words, traits = ctx.words, TRAITS[alert.kind]
    blanks = _blanks(ctx, alert)
    own, aside = ctx.view.audience == "own", "dismiss" if alert.system else "dismiss_anywhere"
    side = _by_now(alert) or ("unsure" if alert.unsure else blanks.get("side", ""))
    add, line = ready_line(ctx, alert) if own else ("", "")
    return Matter(
        urgency=alert.urgency,
        urgency_words=words(f"alerts.urgency.{alert.urgency}"),
        title=_said(words, alert, "title", side, blanks),
        reason=_said(words, alert, "reason", side, blanks),
        how=_said(words, alert, "how", _test_before(ctx, alert) or side, blanks),
        size_label=_said(words, alert, "size", "predicted" if _is_predicted(ctx, alert) else side, blanks),
        size=_size(ctx, alert),
        system=ctx.to_system(alert.system) if alert.system else Link(""),
        evidence=_evidence(ctx, alert, blanks),
        method=to_method(ctx, traits.method),
        lines=_lines(ctx, alert),
        dismiss=words(f"alerts.{aside}", system=alert.system) if own else "",
        dismiss_line=_dismissal(ctx, alert) if own else "",
        add=words("alerts.add", file=add) if own else "",
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


def _test_before(ctx: PageContext, alert: Alert) -> str:
    """Which words of when to test a level on its way out fit: nobody tests before today."""
    earliest = alert.facts.get("earliest")
    if alert.kind != "leaving-band" or not isinstance(earliest, date):
        return ""
    return "before" if earliest > ctx.today else "today"


def _is_predicted(ctx: PageContext, alert: Alert) -> bool:
    """Whether the uptake that a level leaves its band by was not measured since something came, went or was cut."""
    return alert.kind == "leaving-band" and alert.quantity in PREDICTED and bool(ctx.found.predicted.get(alert.system))


def _by_now(alert: Alert) -> str:
    """Which words fit an alert about room: it is still to come, or has already happened."""
    if alert.kind not in _OF_ROOM:
        return ""
    return "already" if alert.size is not None and alert.size.value <= 0 else "soon"


def _blanks(ctx: PageContext, alert: Alert) -> dict[str, str]:
    """What fills the words of an alert: its facts, the names of what it is about, and what its kind adds."""
    words, blanks = ctx.words, {name: _fact(ctx, fact) for name, fact in alert.facts.items()}
    if alert.system:
        blanks["system"] = ctx.view.systems[alert.system].name
    match ALERTS_ABOUT[alert.kind]:
        case "quantity":
            blanks["quantity"] = words(f"quantities.{alert.quantity}")
            blanks["quantity_within"] = words(f"quantities_within.{alert.quantity}")
        case "line":
            blanks["name"] = ctx.to_line(alert.subject[0]).text
        case "coral":
            names = [ctx.view.corals[id].name for id in alert.subject]
            blanks |= {"name": names[0], "other": names[-1]}
    more = _MORE.get(alert.kind)
    return {**blanks, **more(ctx, alert)} if more else blanks


def _fact(ctx: PageContext, fact: Fact) -> str:
    """A fact in words: moments on the keeper's clock, days in the journal's order, numbers with their units."""
    words = ctx.words
    match fact:
        case None:
            return words("room.open")
        case datetime():
            return ctx.say.moment(fact).text
        case date():
            return ctx.say.on(fact)
        case Quantity():
            return ctx.say.written(fact)
        case Named("partner", id):
            return ctx.partner(id)
        case Named("trade", id):
            return ctx.say.on(ctx.view.trades[id].at)
        case Named(_, id):
            return words(f"edges.{id}")
        case int():
            return in_words(words, str(fact))
    return fact


def _explanations(ctx: PageContext, alert: Alert) -> dict[str, str]:
    found = ctx.findings[alert.system]
    uptake = found.uptake[alert.quantity]
    return {"explained": explained(ctx, uptake), "test": which_test(ctx, found, uptake)}


def _beyond(ctx: PageContext, alert: Alert) -> dict[str, str]:
    system, latest = ctx.view.systems[alert.system], ctx.findings[alert.system].latest[alert.quantity]
    side = alert.facts["side"]
    end = band_end(ctx, system.low if side == "low" else system.high, alert.quantity)
    return {
        "read": ctx.say.reading(latest.reading, latest.value),
        "end": ctx.words(f"alerts.out-of-band.end.{side}", end=end),
    }


def _could_return(ctx: PageContext, alert: Alert) -> dict[str, str]:
    """One of those who could give a line back, and how many more: a card has room for one name."""
    names = [ctx.partner(holder.partner) for holder in holders_of(ctx, alert.subject[0])]
    if not names:
        return {"who": nobody(ctx, alert.subject[0])}
    more = ctx.words("lines.more_holders", n=len(names) - 1) if len(names) > 1 else ""
    return {"who": ctx.words("lines.could_return", who=names[0] + more)}


def _due(ctx: PageContext, alert: Alert) -> dict[str, str]:
    left = alert.facts["days"]
    assert isinstance(left, int)
    late = left < 0
    return {"standing": ctx.words(f"trades.owed.{'overdue' if late else 'left'}", n=abs(left))}


def _planned(ctx: PageContext, alert: Alert) -> dict[str, str]:
    days = alert.facts["days"]
    assert isinstance(days, int)
    return {"names": names_of(ctx, ctx.view.plans[alert.subject[0]]), "left": left_words(ctx, days)}


def _too_close(ctx: PageContext, alert: Alert) -> dict[str, str]:
    safe = alert.facts["safe"]
    assert isinstance(safe, Quantity)
    assert alert.size is not None
    return {"gap": of_safe(ctx, alert.size.value, safe.canonical()), "safe": ctx.say.length(safe.canonical())}


def _predicted(ctx: PageContext, alert: Alert) -> dict[str, str]:
    names = {"name": shortened(ctx, [ctx.view.corals[id].name for id in alert.subject])}
    return names if alert.facts["tells"] else {**names, "tells": ctx.words("alerts.predicted.daily")}


# What the words of a kind need beside its facts.
_MORE: dict[AlertKind, Callable[[PageContext, Alert], dict[str, str]]] = {
    "two-explanations": _explanations,
    "out-of-band": _beyond,
    "line-at-risk": _could_return,
    "owed": _due,
    "planned": _planned,
    "too-close": _too_close,
    "predicted": _predicted,
}


def _size(ctx: PageContext, alert: Alert) -> Shown | None:
    """The number behind an alert: how far beyond, of a level, of a change per day, or in a unit of its own."""
    words, size = ctx.words, alert.size
    if alert.kind == "doubtful-reading":
        for doubt in ctx.findings[alert.system].uptake[alert.quantity].doubtful:
            if doubt.reading.source in alert.inputs:
                expected = ctx.say.level(alert.quantity, doubt.expected)
                value = ctx.say.reading(doubt.reading, doubt.value)
                return Shown(value, words("alerts.doubtful-reading.expected", interval=expected.interval))
    if size is None:
        return None
    if size.value < 0 and (alert.kind == "out-of-band" or _by_now(alert) == "already"):
        size = Estimate(-size.value, -size.high, -size.low, size.unit, size.level)
    if size.unit == "cm":
        return ctx.say.level("length", size)
    if size.unit.endswith("/day"):
        return ctx.say.per_day(alert.quantity or "alkalinity", size)
    if not alert.quantity or size.unit != KINDS[alert.quantity].canonical:
        return ctx.say.estimate(size)
    return ctx.say.difference(alert.quantity, size)


def _evidence(ctx: PageContext, alert: Alert, blanks: Mapping[str, str]) -> Link:
    """The link to the evidence: a quantity of a system, a coral's page, a line, a trade, or a sheet."""
    words = ctx.words
    match ALERTS_ABOUT[alert.kind]:
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
    told = sorted({source for source in alert.inputs if ctx.view.tells(source)}, reverse=True)
    return tuple(Line(str(source), "") for source in told[:_LINES])
