"""Whether what the keeper dismissed is still the same matter."""

from generator.reckon.attention.item import Item
from generator.records.log import Dismissal

# A matter that grew to so many times the size it was dismissed at is another one.
GROWN = 1.5


def put_aside(item: Item, dismissal: Dismissal) -> bool:
    """Whether a dismissal still keeps an item away.

    It does while kind, quantity, side and occasion are the same and the matter is at most half larger than
    the size in the name that was dismissed. A dismissal without a size holds whatever the size; one
    from before the matter began does not hold.
    """
    if item.began is not None and dismissal.at < item.began:
        return False
    matter, size = _parts(dismissal.item)
    return matter == _parts(item.id)[0] and (size is None or item.magnitude <= GROWN * size)


def _parts(id: str) -> tuple[str, float | None]:
    matter, mark, size = id.rpartition("~")
    if not mark:
        return id, None
    try:
        return matter, float(size)
    except ValueError:
        return id, None
