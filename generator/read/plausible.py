"""Which readings are possible in a living reef, and what an impossible one probably meant."""

import math
from collections.abc import Iterator

from generator.read.usual import amount
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity, parse_quantity

# Bounds for units whose conversion is not a factor, in that unit: those of the kind, a salinity of 5 to 42, by
# TEOS-10 and the Practical Salinity Scale 1978. No calculation of the water holds outside them.
_BY_UNIT = {
    "sg 25/25": (1.0038, 1.0316),
    "sg 20/20": (1.0039, 1.0319),
    "sg 60F/60F": (1.0039, 1.0322),
    "sg 20/4": (1.0021, 1.0301),
    "mS/cm": (9.0, 62.3),
    "total": (6.5, 9.5),
}
# The least of any water: 0, and what an instrument of specific gravity may show in pure water.
_LEAST_OF_WATER = dict.fromkeys(("sg 25/25", "sg 20/20", "sg 60F/60F", "sg 20/4"), 0.99)
# Of these there is never so little that a reading could end at a bound.
_NEVER_NOTHING = ("salinity", "temperature", "ph")


def implausible(written: Quantity) -> tuple[str, str] | None:
    """What is wrong with an impossible value, and what was likely meant; None if the value is possible."""
    if _possible(written) or (written.below and written.kind not in _NEVER_NOTHING):
        return None
    likely = min(_meant(written), key=_distance, default=None)
    remedy = f"did you mean {likely}?" if likely else "check the number and its unit"
    return f"{KINDS[written.kind].words} of {written} is impossible in a living reef", remedy


def impossible_water(written: Quantity) -> tuple[str, str] | None:
    """What is wrong with the salinity or temperature of water outside a system: 0 to 42 psu, 0 to 40 °C."""
    if _LEAST_OF_WATER.get(written.unit, 0.0) <= amount(written) <= _bounds(written)[1]:
        return None
    return f"{KINDS[written.kind].words} of {written} is impossible for water", "check the number and its unit"


def _bounds(written: Quantity) -> tuple[float, float]:
    """The bounds of `amount` in a living reef."""
    return _BY_UNIT.get(written.unit) or KINDS[written.kind].plausible or (-math.inf, math.inf)


def _possible(written: Quantity) -> bool:
    low, high = _bounds(written)
    return low <= amount(written) <= high


def _meant(written: Quantity) -> Iterator[Quantity]:
    """Possible values with the same digits in another unit, or with the point moved by one place."""
    value, digits, kind = written.value, written.digits, KINDS[written.kind]
    others = [Quantity(value, unit.symbol, kind.id, digits) for unit in kind.units if unit.symbol != written.unit]
    moved = [
        Quantity(value / 10, written.unit, kind.id, digits + 1),
        Quantity(value * 10, written.unit, kind.id, max(digits - 1, 0)),
    ]
    if value < 0:
        moved.append(Quantity(-value, written.unit, kind.id, digits))
    if kind.id == "salinity" and value > 1000:  # 1025 for 1.025
        moved.append(Quantity(value / 1000, written.unit, kind.id, digits + 3))
    yield from filter(_possible, (*moved, *others))


def _distance(meant: Quantity) -> float:
    """How far a value is from the kind's everyday one, as a ratio; other forms count as fitting well."""
    if not meant.has_factor:
        return 0.0
    usual = parse_quantity(KINDS[meant.kind].example, meant.kind).canonical()
    return abs(math.log(max(meant.canonical(), 1e-9) / usual))
