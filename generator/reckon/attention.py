"""What calls for a person today, and why."""

from dataclasses import dataclass
from typing import Literal

from generator.records.source import Source
from generator.units.quantity import Estimate

ItemKind = Literal[
    "out-of-band", "leaving-band", "doubtful-reading", "unexplained-shift", "no-reading", "trend", "demand-changed"
]


@dataclass(frozen=True, slots=True)
class Item:
    """One thing for the day's page. `id` is stable while the matter is the same, so that it can be dismissed.

    `size` is the number behind it, in the quantity's canonical unit (or per day); `numbers` fill its words.
    """

    id: str
    kind: ItemKind
    system: str
    quantity: str
    stake: float
    size: Estimate | None
    numbers: tuple[tuple[str, str], ...] = ()
    inputs: tuple[Source, ...] = ()
