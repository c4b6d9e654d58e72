"""The words and evidence of a matter about a promise, or about a check of new corals."""

from datetime import date

from generator.reckon.attention import Alert
from generator.render import links
from generator.render.numbers import say_day
from generator.render.pages.desk import Desk, Link

KINDS = ("owed", "state-check")


def seen(desk: Desk, alert: Alert) -> bool:
    """Whether this audience may see what is owed, and the trade it was promised in."""
    numbers = dict(alert.numbers)
    here = numbers["trade"] in desk.view.trades and desk.view.shows_accounts
    return here and (alert.kind == "owed" or alert.subject[0] in desk.view.corals)


def blanks(desk: Desk, alert: Alert) -> dict[str, str]:
    """The blanks of an alert's words: names as this audience knows them, days in the journal's order."""
    words, filled = desk.words, dict(alert.numbers)
    for name in ("due", "came"):
        if name in filled:
            filled[name] = say_day(desk.display, words, date.fromisoformat(filled[name])).text
    filled["trade"] = say_day(desk.display, words, desk.view.trades[filled["trade"]].at).text
    if alert.kind == "state-check":
        return {**filled, "name": desk.view.corals[alert.subject[0]].name}
    left = int(filled["days"])
    standing = words("trades.owed.overdue", n=-left) if left < 0 else words("trades.owed.left", n=left)
    return {**filled, "partner": desk.partner(filled["partner"]), "standing": standing}


def way(desk: Desk, alert: Alert) -> Link:
    """The way to the trade."""
    trade = dict(alert.numbers)["trade"]
    return desk.link(links.page_of("trade", trade), desk.words(f"alerts.{alert.kind}.way", **blanks(desk, alert)))
