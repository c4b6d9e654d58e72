"""The words and evidence of a matter about what is planned, or about what has just come and was not read yet."""

from datetime import datetime

from generator.reckon.attention import Item
from generator.render import links
from generator.render.numbers import Shown, say_moment, say_per_day
from generator.render.pages.desk import Desk, Link
from generator.render.pages.doses import has_dosing
from generator.render.pages.planned import left_words, title_of

KINDS = ("planned", "predicted")


def seen(desk: Desk, item: Item) -> bool:
    """Whether this audience may see the plan, or the coral."""
    if item.kind == "planned":
        return item.subject[0] in desk.view.plans
    return item.subject[0] in desk.view.corals


def blanks(desk: Desk, item: Item) -> dict[str, str]:
    """The blanks of an item's words."""
    filled = dict(item.numbers)
    if item.kind == "planned":
        plan = desk.view.plans[item.subject[0]]
        return {**filled, "what": title_of(desk, plan), "left": left_words(desk, int(filled["days"]))}
    filled["at"] = _moment(desk, filled["at"])
    filled["tells"] = _moment(desk, filled["tells"]) if filled["tells"] else desk.words("items.predicted.daily")
    return {**filled, "name": desk.view.corals[item.subject[0]].name, "system": desk.view.systems[item.system].name}


def size(desk: Desk, item: Item) -> Shown | None:
    """What is predicted, a day."""
    return say_per_day(desk.display, desk.words, "alkalinity", item.size) if item.size else None


def way(desk: Desk, item: Item) -> Link:
    """The way to the sheet, or to the doses of the system."""
    words = desk.words
    if item.kind == "planned":
        return desk.link(links.page_of("plan", item.subject[0]), words("items.planned.way"))
    system = desk.view.systems[item.system]
    if has_dosing(desk, item.system):
        return desk.link(links.dosing_of(item.system), words("items.predicted.way", system=system.name))
    return desk.to_system(item.system)


def _moment(desk: Desk, iso: str) -> str:
    return say_moment(desk.display, desk.words, datetime.fromisoformat(iso)).text
