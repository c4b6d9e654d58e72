"""Whether a dismissed item is still the same."""

from generator.reckon.attention.item import Item
from generator.records.log import Dismissal

# An item that grew to this many times its dismissed size is a new one.
GROWN = 1.5


def put_aside(item: Item, dismissal: Dismissal) -> bool:
    """Whether a dismissal still hides an item.

    It does while kind, quantity, side and occasion are the same and the item is at most half as large again
    as the dismissed size. A dismissal without a size hides any size. One from before the item began does not
    count.
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
