"""What needs the keeper today, and why.

In: a journal and its findings at a moment. Out: items, most important first.
Must not know words, pages, or how a number was calculated.
"""

from generator.reckon.attention.corals import of_corals
from generator.reckon.attention.dismissal import put_aside
from generator.reckon.attention.doses import of_doses
from generator.reckon.attention.health import of_health
from generator.reckon.attention.item import Item as Item
from generator.reckon.attention.planned import PREDICTED, of_plans, of_predicted
from generator.reckon.attention.trades import of_trades
from generator.reckon.attention.water import of_water
from generator.reckon.survey import Findings
from generator.records.journal import Journal


def items(journal: Journal, found: Findings) -> tuple[Item, ...]:
    """What needs the keeper, most important first, without what a system's log dismisses.

    An item that belongs to no system, such as a promise, can be dismissed in any log.
    """
    every = [*of_corals(journal, found), *of_trades(journal, found), *of_plans(found), *of_predicted(found)]
    for id, water in sorted(found.water.items()):
        every += [*of_water(journal.systems[id], water, found.as_of), *of_health(water)]
        every += of_doses(journal.systems[id], water)
    # That the uptake changed is for readings to tell. Until then it is predicted, and an item of its own says so.
    every = [item for item in every if not (item.kind == "uptake-changed" and _is_predicted(item, found))]
    dismissals = {id: log.until(found.as_of).dismissals for id, log in journal.logs.items()}
    anywhere = tuple(each for those in dismissals.values() for each in those)
    left = [
        item
        for item in every
        if not any(put_aside(item, each) for each in (dismissals.get(item.system, ()) if item.system else anywhere))
    ]
    return tuple(sorted(left, key=lambda item: (-item.stake, item.id)))


def _is_predicted(item: Item, found: Findings) -> bool:
    return item.quantity in PREDICTED and bool(found.predicted.get(item.system))
