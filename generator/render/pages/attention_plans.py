"""The words and evidence of a matter about what is planned, or about what has just come and was not read yet."""

from datetime import datetime

from generator.reckon.attention import Alert
from generator.render import links
from generator.render.numbers import Shown, say_moment, say_per_day
from generator.render.pages.desk import Desk, Link
from generator.render.pages.doses import has_dosing
from generator.render.pages.planned import left_words, title_of

KINDS = ("planned", "predicted")


def seen(desk: Desk, alert: Alert) -> bool:
    """Whether this audience may see the plan, or the coral."""
    if alert.kind == "planned":
        return alert.subject[0] in desk.view.plans
    return alert.subject[0] in desk.view.corals


def blanks(desk: Desk, alert: Alert) -> dict[str, str]:
    """The blanks of an alert's words."""
    filled = dict(alert.numbers)
    if alert.kind == "planned":
        plan = desk.view.plans[alert.subject[0]]
        return {**filled, "what": title_of(desk, plan), "left": left_words(desk, int(filled["days"]))}
    filled["at"] = _moment(desk, filled["at"])
    filled["tells"] = _moment(desk, filled["tells"]) if filled["tells"] else desk.words("alerts.predicted.daily")
    return {**filled, "name": desk.view.corals[alert.subject[0]].name, "system": desk.view.systems[alert.system].name}


def size(desk: Desk, alert: Alert) -> Shown | None:
    """What is predicted, a day."""
    return say_per_day(desk.display, desk.words, "alkalinity", alert.size) if alert.size else None


def way(desk: Desk, alert: Alert) -> Link:
    """The way to the sheet, or to the doses of the system."""
    words = desk.words
    if alert.kind == "planned":
        return desk.link(links.page_of("plan", alert.subject[0]), words("alerts.planned.way"))
    system = desk.view.systems[alert.system]
    if has_dosing(desk, alert.system):
        return desk.link(links.dosing_of(alert.system), words("alerts.predicted.way", system=system.name))
    return desk.to_system(alert.system)


def _moment(desk: Desk, iso: str) -> str:
    return say_moment(desk.display, desk.words, datetime.fromisoformat(iso)).text
