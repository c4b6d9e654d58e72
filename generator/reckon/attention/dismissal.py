"""Whether a dismissed alert is still the same."""

from generator.reckon.attention.alert import Alert
from generator.records.log import Dismissal

# An alert that grew to this many times its dismissed size is a new one.
GROWN = 1.5


def put_aside(alert: Alert, dismissal: Dismissal) -> bool:
    """Whether a dismissal still hides an alert.

    It does while kind, quantity, side and occasion are the same and the alert is at most half as large again
    as the dismissed size. A dismissal without a size hides any size. One from before the alert began does not
    count.
    """
    if alert.began is not None and dismissal.at < alert.began:
        return False
    matter, size = _parts(dismissal.alert)
    return matter == _parts(alert.id)[0] and (size is None or alert.magnitude <= GROWN * size)


def _parts(id: str) -> tuple[str, float | None]:
    matter, mark, size = id.rpartition("~")
    if not mark:
        return id, None
    try:
        return matter, float(size)
    except ValueError:
        return id, None
