"""Which readings are possible in a living reef, and what an impossible one probably meant."""

import math
from collections.abc import Iterator

from generator.units.kinds import KINDS, Kind
from generator.units.quantity import Quantity, parse_quantity

# Bounds for units whose conversion is not a factor, in that unit; common practice, no source.
_BOUNDS_BY_FORM = {"specific gravity": (1.003, 1.040), "conductivity": (8.0, 75.0), "pH scale": (6.5, 9.5)}


def implausible(written: Quantity) -> tuple[str, str] | None:
    """What is wrong with an impossible value, and what was likely meant; None if the value is possible."""
    kind = KINDS[written.kind]
    if kind.plausible is None or written.below or _possible(written, kind):
        return None
    name = kind.words or kind.id
    wrong = f"{name} of {written} is impossible in a living reef"
    likely = min(_meant(written, kind), key=lambda q: _distance(q, kind), default=None)
    return wrong, f"did you mean {likely}?" if likely else "check the number and its unit"


def _possible(written: Quantity, kind: Kind) -> bool:
    unit = kind.unit(written.unit)
    if unit is None or kind.plausible is None:
        return True
    low, high = _BOUNDS_BY_FORM[unit.form] if unit.form else kind.plausible
    return low <= (written.value if unit.form else written.canonical()) <= high


def _meant(written: Quantity, kind: Kind) -> Iterator[Quantity]:
    """Possible values with the same digits in another unit, or with the point moved by one place."""
    value, digits = written.value, written.digits
    others = [Quantity(value, unit.symbol, kind.id, digits) for unit in kind.units if unit.symbol != written.unit]
    moved = [
        Quantity(value / 10, written.unit, kind.id, digits + 1),
        Quantity(value * 10, written.unit, kind.id, max(digits - 1, 0)),
    ]
    if value < 0:
        moved.append(Quantity(-value, written.unit, kind.id, digits))
    if kind.id == "salinity" and value > 1000:  # 1025 for 1.025
        moved.append(Quantity(value / 1000, written.unit, kind.id, digits + 3))
    for each in (*moved, *others):
        if _possible(each, kind):
            yield each


def _distance(meant: Quantity, kind: Kind) -> float:
    """How far a value is from the kind's everyday one, as a ratio; other forms count as fitting well."""
    unit = kind.unit(meant.unit)
    if unit is None or unit.form:
        return 0.0
    usual = parse_quantity(kind.example, kind.id).canonical()
    return abs(math.log(max(meant.canonical(), 1e-9) / usual))
