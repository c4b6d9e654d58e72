"""The words, size and evidence of a matter about corals or a line."""

from dataclasses import replace
from datetime import date

from generator.reckon.attention import Alert
from generator.reckon.lineage.at_risk import Holder
from generator.render import links
from generator.render.numbers import Shown, say_day, say_estimate, say_level
from generator.render.pages.desk import Desk, Link
from generator.render.pages.why import Line

_DAYS = ("since", "likely", "earliest", "latest")
_LINES = 4
_OF_ROOM = ("neighbours-touch", "outgrows-place")


def seen(desk: Desk, alert: Alert) -> bool:
    """Whether the view has the corals, or the line, that an alert is about."""
    if alert.kind == "line-at-risk":
        return any(coral.line == alert.subject[0] for coral in desk.view.corals.values())
    return all(id in desk.view.corals for id in alert.subject)


def blanks(desk: Desk, alert: Alert) -> dict[str, str]:
    """The blanks of an alert's words: names, days in the journal's order, and numbers with their units."""
    words = desk.words
    filled = {name: _told(desk, name, text) for name, text in alert.numbers}
    if alert.kind == "line-at-risk":
        names = [desk.to_line(alert.subject[0]).text]
    else:
        names = [desk.view.corals[id].name for id in alert.subject]
    filled |= {"name": names[0], "other": names[-1]}
    if alert.system:
        filled["system"] = desk.view.systems[alert.system].name
    if "edge" in filled:
        filled["edge"] = words(f"edges.{filled['edge']}")
    if "par" in filled:
        filled["par"] = f"{filled['par']}\u00a0{words.unit('PAR')}"
    if alert.kind == "line-at-risk":
        filled["who"] = _who_could_return(desk, alert.subject[0])
    return filled


def holders_of(desk: Desk, line: str) -> tuple[Holder, ...]:
    """Who holds a coral of a line, or gave us ours, as far as this audience may read it."""
    held = desk.found.holders.get(line, ())
    return tuple(holder for holder in held if all(desk.view.tells(source) for source in holder.inputs))


def _who_could_return(desk: Desk, line: str) -> str:
    """One of those who could give a line back, and how many more: a card has room for one name."""
    names = [desk.partner(holder.partner) for holder in holders_of(desk, line)]
    if not names:
        return nobody(desk, line)
    more = desk.words("lines.more_holders", n=len(names) - 1) if len(names) > 1 else ""
    return desk.words("lines.could_return", who=names[0] + more)


def nobody(desk: Desk, line: str) -> str:
    """The words for a line that no partner known to this audience holds."""
    return desk.words("lines.somebody" if desk.found.holders.get(line) else "lines.nobody")


def _told(desk: Desk, name: str, text: str) -> str:
    if name in _DAYS:
        return say_day(desk.display, desk.words, date.fromisoformat(text)).text if text else desk.words("room.open")
    return text


def by_now(alert: Alert) -> str:
    """Which words fit a matter about room: it is still to come, or has already happened."""
    if alert.kind not in _OF_ROOM:
        return ""
    return "already" if alert.size is not None and alert.size.value <= 0 else "soon"


def size(desk: Desk, alert: Alert) -> Shown | None:
    """How large the matter is."""
    if alert.size is None:
        return None
    if alert.size.unit == "cm":
        found = alert.size
        over = replace(found, value=-found.value, low=-found.high, high=-found.low)
        return say_level(desk.display, desk.words, "length", over if by_now(alert) == "already" else found)
    return say_estimate(desk.words, alert.size, desk.words.unit(alert.size.unit))


def way(desk: Desk, alert: Alert) -> Link:
    """The link to the evidence: the coral's page, the line, or the plan of the system."""
    if alert.kind == "line-at-risk":
        line = desk.to_line(alert.subject[0])
        return replace(line, text=desk.words("alerts.to_line", name=line.text))
    if alert.kind == "neighbours-touch":
        system = desk.view.systems[alert.system]
        return desk.link(links.plan_of(alert.system), desk.words("alerts.to_plan", system=system.name))
    part = {"growth-fell": "growth", "light-step-up": "light", "outgrows-place": "room"}[alert.kind]
    id = alert.subject[0]
    return desk.link(
        f"{links.page_of('coral', id)}#{part}", desk.words("alerts.to_coral", name=desk.view.corals[id].name)
    )


def lines(desk: Desk, alert: Alert) -> tuple[Line, ...]:
    """The newest lines behind it."""
    told = sorted({source for source in alert.inputs if desk.view.tells(source)}, reverse=True)
    return tuple(Line(str(source), "") for source in told[:_LINES])
