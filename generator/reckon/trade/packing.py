"""What to take along, by how long the road is."""

from dataclasses import dataclass
from typing import Literal

METHOD = "packing"

Why = Literal["always", "air", "warmth", "long", "arrival"]


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to pack: the id of its words, and of why."""

    id: str
    why: Why


# (hours from which it is needed, item, why). Common practice, no source.
_FROM_HOURS: tuple[tuple[float, str, Why], ...] = (
    (0.0, "foam", "always"),
    (0.0, "tank-water", "always"),
    (0.0, "lid", "always"),
    (0.0, "towels", "always"),
    (0.0, "gloves", "always"),
    (0.0, "thermometer", "always"),
    (0.0, "bag-for-pieces", "always"),
    (0.0, "record-of-origin", "always"),
    (0.0, "spare-water", "arrival"),
    (1.0, "air-pump", "air"),
    (1.0, "blanket", "warmth"),
    (3.0, "heat-or-cold-pack", "warmth"),
    (3.0, "spare-batteries", "air"),
    (6.0, "insulated-box", "warmth"),
    (6.0, "water-to-change", "long"),
    (12.0, "ammonia-test", "long"),
    (12.0, "someone-awaiting", "arrival"),
)


def packing_list(hours: float, oxygen_lasts: float | None = None) -> tuple[Item, ...]:
    """What to pack for a trip of some hours, in order; the longer the trip, the more.

    An air pump is needed if the trip is longer than the lower end of the oxygen range (hours).
    """
    items = [Item(id, why) for start, id, why in _FROM_HOURS if hours >= start]
    short_of_air = oxygen_lasts is not None and oxygen_lasts <= hours
    if short_of_air and not any(item.id == "air-pump" for item in items):
        items.append(Item("air-pump", "air"))
    return tuple(items)
