"""Which readings are possible in a living reef, and what an impossible one probably meant."""

import math
from collections.abc import Iterator

from generator.units.kinds import KINDS, Kind
from generator.units.quantity import Quantity, parse_quantity

# Bounds for units whose conversion is not a factor, in that unit: about those of the kind, a salinity of 5 to 42, by
# TEOS-10 and the Practical Salinity Scale 1978; below common practice, no source.
_BOUNDS_BY_UNIT = {
    "sg 25/25": (1.003, 1.0316),
    "sg 20/20": (1.003, 1.0319),
    "sg 60F/60F": (1.003, 1.0322),
    "sg 20/4": (1.002, 1.0301),
    "mS/cm": (8.0, 62.3),
    "total": (6.5, 9.5),
}
# What an instrument of specific gravity may show in pure water.
_FRESH = 0.99
# Of these there is never so little that a reading could end at a bound.
_NEVER_NOTHING = ("salinity", "temperature", "ph")


def implausible(written: Quantity) -> tuple[str, str] | None:
    """What is wrong with an impossible value, and what was likely meant; None if the value is possible."""
    kind = KINDS[written.kind]
    if kind.plausible is None or _possible(written, kind):
        return None
    if written.below and kind.id not in _NEVER_NOTHING:
        return None
    name = kind.words or kind.id
    wrong = f"{name} of {written} is impossible in a living reef"
    likely = min(_meant(written, kind), key=lambda q: _distance(q, kind), default=None)
    return wrong, f"did you mean {likely}?" if likely else "check the number and its unit"


def impossible_water(written: Quantity) -> tuple[str, str] | None:
    """What is wrong with the salinity or temperature of water outside a system: 0 to 42 psu, 0 to 40 °C."""
    kind = KINDS[written.kind]
    unit = kind.unit(written.unit)
    assert unit is not None
    assert kind.plausible is not None
    high = _BOUNDS_BY_UNIT[unit.symbol][1] if unit.form else kind.plausible[1]
    value = written.value if unit.form else written.canonical()
    least = _FRESH if unit.form == "specific gravity" else 0.0
    if least <= value <= high:
        return None
    return f"{kind.words or kind.id} of {written} is impossible for water", "check the number and its unit"


def _possible(written: Quantity, kind: Kind) -> bool:
    unit = kind.unit(written.unit)
    if unit is None or kind.plausible is None:
        return True
    low, high = _BOUNDS_BY_UNIT[unit.symbol] if unit.form else kind.plausible
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
