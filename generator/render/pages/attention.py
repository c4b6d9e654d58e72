"""What needs the keeper, in words: what, why, how large, how certain, and the link to the evidence."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from types import ModuleType

from generator.reckon.attention import Alert
from generator.render import links
from generator.render.numbers import (
    Shown,
    in_words,
    say_day,
    say_difference,
    say_estimate,
    say_level,
    say_moment,
    say_per_day,
    say_reading,
)
from generator.render.pages import attention_corals as corals_matter
from generator.render.pages import attention_plans as plans_matter
from generator.render.pages import attention_trades as trades_matter
from generator.render.pages.desk import Desk, Link
from generator.render.pages.readings import anchor, band_end
from generator.render.pages.stories import explained, which_test
from generator.render.pages.why import Line, evidence, to_method
from generator.render.words import Words
from generator.units.kinds import KINDS

_MOMENTS = ("at", "after", "before")
_DAYS = ("since", "likely", "earliest", "latest")


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


_URGENCY = {
    "out-of-band": "act",
    "leaving-band": "act",
    "uptake-changed": "check",
    "unexplained-shift": "check",
    "unexplained-uptake": "check",
    "temperature-swing": "check",
    "aragonite-saturation": "check",
    "salinity-in-doubt": "check",
    "phosphate-short": "check",
    "salt-out-of-balance": "know",
    "doubtful-reading": "check",
    "two-explanations": "check",
    "trend": "know",
    "no-reading": "check",
    "missed-dose": "act",
    "growth-fell": "check",
    "light-step-up": "check",
    "neighbours-touch": "check",
    "outgrows-place": "know",
    "line-at-risk": "know",
    "state-check": "check",
    "owed": "check",
    "planned": "check",
    "predicted": "act",
}


# How each is reckoned; what is only read or promised counts by the ledger, or by its trade.
_METHOD = {
    "out-of-band": "ledger",
    "leaving-band": "forecast",
    "uptake-changed": "uptake",
    "unexplained-shift": "unexplained-shift",
    "unexplained-uptake": "calcification",
    "temperature-swing": "temperature-swing",
    "aragonite-saturation": "aragonite-saturation",
    "salinity-in-doubt": "salt-balance",
    "phosphate-short": "nutrient-ratio",
    "salt-out-of-balance": "composition",
    "doubtful-reading": "rivals",
    "two-explanations": "rivals",
    "trend": "trend",
    "no-reading": "next-test",
    "missed-dose": "habit",
    "growth-fell": "growth-decline",
    "light-step-up": "light-steps",
    "neighbours-touch": "meeting",
    "outgrows-place": "meeting",
    "line-at-risk": "lines-at-risk",
    "state-check": "accounts",
    "owed": "accounts",
    "planned": "journey",
    "predicted": "expected-uptake",
}


def matters(desk: Desk, system: str | None = None) -> tuple[Matter, ...]:
    """The matters of every system of the view, or of one, most important first."""
    mine = [alert for alert in desk.alerts if system in (None, alert.system)]
    return tuple(
        _matter(desk, alert) if not alert.subject else _of_subject(desk, alert) for alert in mine if _seen(desk, alert)
    )


def lines_at_risk(desk: Desk) -> tuple[Link, ...]:
    """The lines that one loss would end and that are not dismissed, the hardest to replace first."""
    found = [alert.subject[0] for alert in desk.alerts if alert.kind == "line-at-risk" and _seen(desk, alert)]
    return tuple(desk.to_line(line) for line in found)


def _seen(desk: Desk, alert: Alert) -> bool:
    """Whether the view shows all that an alert names."""
    if not alert.subject:
        return alert.system in desk.view.systems and alert.system in desk.findings
    here = not alert.system or alert.system in desk.view.systems
    return here and _about(alert).seen(desk, alert)


def _about(alert: Alert) -> ModuleType:
    """Where the words of a matter about corals, a line, a trade or a plan are found."""
    if alert.kind in plans_matter.KINDS:
        return plans_matter
    return trades_matter if alert.kind in trades_matter.KINDS else corals_matter


def _of_subject(desk: Desk, alert: Alert) -> Matter:
    """A matter about corals, a line, a trade or a plan."""
    about = _about(alert)
    words, blanks = desk.words, about.blanks(desk, alert)
    by_now = corals_matter.by_now(alert)
    side = by_now or blanks.get("side", "")
    urgency = _URGENCY[alert.kind]
    own, aside = desk.view.audience == "own", "dismiss" if alert.system else "dismiss_anywhere"
    return Matter(
        urgency=urgency,
        urgency_words=words(f"alerts.urgency.{urgency}"),
        title=_said(words, alert, "title", side, blanks),
        reason=_said(words, alert, "reason", side, blanks),
        how=_said(words, alert, "how", side, blanks),
        size_label=_said(words, alert, "size", side, blanks),
        size=(plans_matter if about is plans_matter else corals_matter).size(desk, alert),
        system=desk.to_system(alert.system) if alert.system else Link(""),
        evidence=about.way(desk, alert),
        method=to_method(desk, _METHOD[alert.kind]),
        lines=corals_matter.lines(desk, alert),
        dismiss=words(f"alerts.{aside}", system=alert.system) if own else "",
        dismiss_line=_dismissal(desk, alert) if own else "",
    )


def _matter(desk: Desk, alert: Alert) -> Matter:
    words, system = desk.words, desk.view.systems[alert.system]
    blanks = _blanks(desk, alert)
    told = evidence(desk.view.log_of(alert.system), desk.display, words)
    side = blanks.get("side", "")
    urgency, own = _URGENCY[alert.kind], desk.view.audience == "own"
    return Matter(
        urgency=urgency,
        urgency_words=words(f"alerts.urgency.{urgency}"),
        title=_said(words, alert, "title", side, blanks),
        reason=_said(words, alert, "reason", side, blanks),
        how=_said(words, alert, "how", _test_before(desk, alert) or side, blanks),
        size_label=_said(words, alert, "size", side, blanks),
        size=_size(desk, alert),
        system=desk.to_system(alert.system),
        evidence=desk.link(
            f"{links.page_of('system', alert.system)}#{anchor(desk.findings[alert.system], alert.quantity)}",
            words("alerts.evidence", **blanks),
        ),
        method=to_method(desk, _METHOD[alert.kind]),
        lines=told.lines(alert.inputs)[0][:4],
        dismiss=words("alerts.dismiss", system=system.id) if own else "",
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
    if alert.kind != "leaving-band":
        return ""
    earliest = datetime.fromisoformat(dict(alert.numbers)["earliest"]).astimezone(desk.display.zone).date()
    return "before" if earliest > desk.today else "today"


def _blanks(desk: Desk, alert: Alert) -> dict[str, str]:
    """The alert's numbers in words: moments on the keeper's clock, the rest as they are."""
    blanks = {
        "quantity": desk.words(f"quantities.{alert.quantity}"),
        "quantity_within": desk.words(f"quantities_within.{alert.quantity}"),
        "system": desk.view.systems[alert.system].name,
    }
    for name, text in alert.numbers:
        if name in _MOMENTS and text:
            text = say_moment(desk.display, desk.words, datetime.fromisoformat(text)).text
        elif name in _DAYS and text:
            text = say_day(
                desk.display, desk.words, datetime.fromisoformat(text).astimezone(desk.display.zone).date()
            ).text
        blanks[name] = in_words(desk.words, text)
    if alert.kind == "two-explanations":
        found = desk.findings[alert.system]
        blanks["explained"] = explained(desk, found.uptake[alert.quantity])
        blanks["test"] = which_test(desk, found, found.uptake[alert.quantity])
    if alert.kind == "out-of-band":
        system, latest = desk.view.systems[alert.system], desk.findings[alert.system].latest[alert.quantity]
        end = band_end(desk, system.low if blanks["side"] == "low" else system.high, alert.quantity)
        blanks["read"] = say_reading(desk.display, desk.words, latest.reading, latest.value)
        blanks["end"] = desk.words(f"alerts.out-of-band.end.{blanks['side']}", end=end)
    return blanks


def _size(desk: Desk, alert: Alert) -> Shown | None:
    """The number behind a matter: how far beyond, of a level, of a change per day, or in a unit of its own."""
    display, words, findings = desk.display, desk.words, desk.findings[alert.system]
    if alert.kind == "out-of-band" and alert.size:
        size = alert.size
        beyond = size if size.value >= 0 else replace(size, value=-size.value, low=-size.high, high=-size.low)
        return say_difference(display, words, alert.quantity, beyond)
    if alert.kind == "doubtful-reading":
        for doubt in findings.uptake[alert.quantity].doubtful:
            if doubt.reading.source in alert.inputs:
                expected = say_level(display, words, alert.quantity, doubt.expected)
                value = say_reading(display, words, doubt.reading, doubt.value)
                return Shown(value, words("alerts.doubtful-reading.expected", interval=expected.interval))
    if alert.size is None:
        return None
    if alert.size.unit.endswith("/day"):
        return say_per_day(display, words, alert.quantity, alert.size)
    if alert.size.unit != KINDS[alert.quantity].canonical:
        return say_estimate(words, alert.size, words.unit(alert.size.unit))
    return say_difference(display, words, alert.quantity, alert.size)
