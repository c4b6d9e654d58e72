"""What to pack for a trip, and the limits of lifting."""

from typing import Literal

from pydantic.dataclasses import dataclass

from generator.nature.table import STRICT, table

Grip = Literal["good", "fair", "poor"]


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Packed:
    """One thing to pack: the id of its words, and from how many hours of travel on."""

    item: str
    from_hours: float


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Lifting:
    """Limits of the revised NIOSH lifting equation: reach, height of the hands and rise in cm, turn in degrees.

    `grips` are the coupling multipliers for a lift that begins below 75 cm, and from there up.
    """

    source: str
    grips: dict[Grip, tuple[float, float]]
    farthest: float
    highest: float
    longest: float
    most_turned: float


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class _Travel:
    packing: tuple[Packed, ...]
    lifting: Lifting


_TABLE = table("travel", _Travel)
PACKING = _TABLE.packing
LIFTING = _TABLE.lifting
