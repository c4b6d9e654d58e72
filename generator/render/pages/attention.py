"""What needs the keeper, in words: what, why, how large, how certain, and the link to the evidence."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime

from generator.reckon.attention import Alert
from generator.reckon.attention.alert import NATURE, Fact, Named
from generator.reckon.lineage.at_risk import Holder
from generator.records.log import ALERTS_ABOUT, AlertKind
from generator.render.base import links
from generator.render.base.blocks import Line
from generator.render.base.context import Desk
from generator.render.base.inline import Link
from generator.render.base.numbers import Shown, in_words, say_estimate
from generator.render.base.why import evidence, to_method
from generator.render.base.words import Words
from generator.render.pages.doses import has_dosing
from generator.render.pages.planned import left_words, title_of
from generator.render.pages.readings import anchor, band_end
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


def matters(desk: Desk, system: str | None = None) -> tuple[Matter, ...]:
    """The matters of every system of the view, or of one, most important first."""
    mine = [alert for alert in desk.alerts if system in (None, alert.system)]
    return tuple(_matter(desk, alert) for alert in mine if _seen(desk, alert))


def lines_at_risk(desk: Desk) -> tuple[Link, ...]:
    """The lines that one loss would end and that are not dismissed, the hardest to replace first."""
    found = [alert.subject[0] for alert in desk.alerts if alert.kind == "line-at-risk" and _seen(desk, alert)]
    return tuple(desk.to_line(line) for line in found)


def holders_of(desk: Desk, line: str) -> tuple[Holder, ...]:
    """Who holds a coral of a line, or gave us ours, as far as this audience may read it."""
    held = desk.found.holders.get(line, ())
    return tuple(holder for holder in held if all(desk.view.tells(source) for source in holder.inputs))


def nobody(desk: Desk, line: str) -> str:
    """The words for a line that no partner known to this audience holds."""
    return desk.words("lines.somebody" if desk.found.holders.get(line) else "lines.nobody")


def _seen(desk: Desk, alert: Alert) -> bool:
    """Whether the view shows all that an alert names."""
    view = desk.view
    trades = [fact.id for fact in alert.facts.values() if isinstance(fact, Named) and fact.kind == "trade"]
    if (alert.system and alert.system not in view.systems) or not all(id in view.trades for id in trades):
        return False
    match ALERTS_ABOUT[alert.kind]:
        case "quantity":
            return alert.system in desk.findings
        case "line":
            return any(coral.line == alert.subject[0] for coral in view.corals.values())
        case "plan":
            return alert.subject[0] in view.plans
        case "coral":
            return all(id in view.corals for id in alert.subject) and (not trades or view.shows_accounts)
        case "trade":
            return view.shows_accounts


def _matter(desk: Desk, alert: Alert) -> Matter:
    words, nature = desk.words, NATURE[alert.kind]
    blanks = _blanks(desk, alert)
    own, aside = desk.view.audience == "own", "dismiss" if alert.system else "dismiss_anywhere"
    side = _by_now(alert) or blanks.get("side", "")
    return Matter(
        urgency=nature.urgency,
        urgency_words=words(f"alerts.urgency.{nature.urgency}"),
        title=_said(words, alert, "title", side, blanks),
        reason=_said(words, alert, "reason", side, blanks),
        how=_said(words, alert, "how", _test_before(desk, alert) or side, blanks),
        size_label=_said(words, alert, "size", side, blanks),
        size=_size(desk, alert),
        system=desk.to_system(alert.system) if alert.system else Link(""),
        evidence=_evidence(desk, alert, blanks),
        method=to_method(desk, nature.method),
        lines=_lines(desk, alert),
        dismiss=words(f"alerts.{aside}", system=alert.system) if own else "",
        dismiss_line=_dismissal(desk, alert) if own else "",
    )


def _dismissal(desk: Desk, alert: Alert) -> str:
    """The log entry that dismisses an alert, to copy as it is."""
    reason = desk.words("alerts.own_reason")
    at = desk.as_of.astimezone(desk.display.zone)
    return f"- at: {at:%Y-%m-%d %H:%M}\n  dismiss: {{alert: {alert.id}, reason: {reason}}}"


def _said(words: Words, alert: Alert, part: str, side: str, blanks: Mapping[str, str]) -> str:
    """A part of a card, in the words of its side where the sides differ; only `how` can be empty."""
    key = f"alerts.{alert.kind}.{part}"
    if part == "how" and not words.has(key):
        return ""
    sided = f"{key}.{side}"
    return words(sided if side and words.has(sided) else key, **blanks)


def _test_before(desk: Desk, alert: Alert) -> str:
    """Which words of when to test a level on its way out fit: nobody tests before today."""
    earliest = alert.facts.get("earliest")
    if alert.kind != "leaving-band" or not isinstance(earliest, date):
        return ""
    return "before" if earliest > desk.today else "today"


def _by_now(alert: Alert) -> str:
    """Which words fit an alert about room: it is still to come, or has already happened."""
    if alert.kind not in _OF_ROOM:
        return ""
    return "already" if alert.size is not None and alert.size.value <= 0 else "soon"


def _blanks(desk: Desk, alert: Alert) -> dict[str, str]:
    """What fills the words of an alert: its facts, the names of what it is about, and what its kind adds."""
    words, blanks = desk.words, {name: _fact(desk, fact) for name, fact in alert.facts.items()}
    if alert.system:
        blanks["system"] = desk.view.systems[alert.system].name
    match ALERTS_ABOUT[alert.kind]:
        case "quantity":
            blanks["quantity"] = words(f"quantities.{alert.quantity}")
            blanks["quantity_within"] = words(f"quantities_within.{alert.quantity}")
        case "line":
            blanks["name"] = desk.to_line(alert.subject[0]).text
        case "coral":
            names = [desk.view.corals[id].name for id in alert.subject]
            blanks |= {"name": names[0], "other": names[-1]}
    more = _MORE.get(alert.kind)
    return {**blanks, **more(desk, alert)} if more else blanks


def _fact(desk: Desk, fact: Fact) -> str:
    """A fact in words: moments on the keeper's clock, days in the journal's order, numbers with their units."""
    words = desk.words
    match fact:
        case None:
            return words("room.open")
        case datetime():
            return desk.say.moment(fact).text
        case date():
            return desk.say.on(fact)
        case Quantity():
            return desk.say.written(fact)
        case Named("partner", id):
            return desk.partner(id)
        case Named("trade", id):
            return desk.say.on(desk.view.trades[id].at)
        case Named(_, id):
            return words(f"edges.{id}")
        case int():
            return in_words(words, str(fact))
    return fact


def _explanations(desk: Desk, alert: Alert) -> dict[str, str]:
    found = desk.findings[alert.system]
    uptake = found.uptake[alert.quantity]
    return {"explained": explained(desk, uptake), "test": which_test(desk, found, uptake)}


def _beyond(desk: Desk, alert: Alert) -> dict[str, str]:
    system, latest = desk.view.systems[alert.system], desk.findings[alert.system].latest[alert.quantity]
    side = alert.facts["side"]
    end = band_end(desk, system.low if side == "low" else system.high, alert.quantity)
    return {
        "read": desk.say.reading(latest.reading, latest.value),
        "end": desk.words(f"alerts.out-of-band.end.{side}", end=end),
    }


def _could_return(desk: Desk, alert: Alert) -> dict[str, str]:
    """One of those who could give a line back, and how many more: a card has room for one name."""
    names = [desk.partner(holder.partner) for holder in holders_of(desk, alert.subject[0])]
    if not names:
        return {"who": nobody(desk, alert.subject[0])}
    more = desk.words("lines.more_holders", n=len(names) - 1) if len(names) > 1 else ""
    return {"who": desk.words("lines.could_return", who=names[0] + more)}


def _due(desk: Desk, alert: Alert) -> dict[str, str]:
    left = alert.facts["days"]
    assert isinstance(left, int)
    late = left < 0
    return {"standing": desk.words(f"trades.owed.{'overdue' if late else 'left'}", n=abs(left))}


def _planned(desk: Desk, alert: Alert) -> dict[str, str]:
    days = alert.facts["days"]
    assert isinstance(days, int)
    return {"what": title_of(desk, desk.view.plans[alert.subject[0]]), "left": left_words(desk, days)}


def _predicted(desk: Desk, alert: Alert) -> dict[str, str]:
    return {} if alert.facts["tells"] else {"tells": desk.words("alerts.predicted.daily")}


# What the words of a kind need beside its facts.
_MORE: dict[AlertKind, Callable[[Desk, Alert], dict[str, str]]] = {
    "two-explanations": _explanations,
    "out-of-band": _beyond,
    "line-at-risk": _could_return,
    "owed": _due,
    "planned": _planned,
    "predicted": _predicted,
}


def _size(desk: Desk, alert: Alert) -> Shown | None:
    """The number behind an alert: how far beyond, of a level, of a change per day, or in a unit of its own."""
    words, size = desk.words, alert.size
    if alert.kind == "doubtful-reading":
        for doubt in desk.findings[alert.system].uptake[alert.quantity].doubtful:
            if doubt.reading.source in alert.inputs:
                expected = desk.say.level(alert.quantity, doubt.expected)
                value = desk.say.reading(doubt.reading, doubt.value)
                return Shown(value, words("alerts.doubtful-reading.expected", interval=expected.interval))
    if size is None:
        return None
    if size.value < 0 and (alert.kind == "out-of-band" or _by_now(alert) == "already"):
        size = Estimate(-size.value, -size.high, -size.low, size.unit, size.level)
    if size.unit == "cm":
        return desk.say.level("length", size)
    if size.unit.endswith("/day"):
        return desk.say.per_day(alert.quantity or "alkalinity", size)
    if not alert.quantity or size.unit != KINDS[alert.quantity].canonical:
        return say_estimate(words, size, words.unit(size.unit))
    return desk.say.difference(alert.quantity, size)


def _evidence(desk: Desk, alert: Alert, blanks: Mapping[str, str]) -> Link:
    """The link to the evidence: a quantity of a system, a coral's page, a line, a trade, or a sheet."""
    words = desk.words
    match ALERTS_ABOUT[alert.kind]:
        case "quantity":
            at = anchor(desk.findings[alert.system], alert.quantity)
            return desk.link(f"{links.page_of('system', alert.system)}#{at}", words("alerts.evidence", **blanks))
        case "line":
            return replace(desk.to_line(alert.subject[0]), text=words("alerts.to_line", **blanks))
        case "plan":
            return desk.link(links.page_of("plan", alert.subject[0]), words("alerts.planned.way"))
    if isinstance(trade := alert.facts.get("trade"), Named):
        return desk.link(links.page_of("trade", trade.id), words(f"alerts.{alert.kind}.way", **blanks))
    if alert.kind == "neighbours-touch":
        return desk.link(links.plan_of(alert.system), words("alerts.to_plan", **blanks))
    if part := _PART.get(alert.kind):
        return desk.link(f"{links.page_of('coral', alert.subject[0])}#{part}", words("alerts.to_coral", **blanks))
    if has_dosing(desk, alert.system):
        return desk.link(links.dosing_of(alert.system), words("alerts.predicted.way", **blanks))
    return desk.to_system(alert.system)


def _lines(desk: Desk, alert: Alert) -> tuple[Line, ...]:
    """The newest lines behind it: those of a log in words."""
    if alert.quantity:
        return evidence(desk, alert.system).lines(alert.inputs)[0][:_LINES]
    told = sorted({source for source in alert.inputs if desk.view.tells(source)}, reverse=True)
    return tuple(Line(str(source), "") for source in told[:_LINES])
