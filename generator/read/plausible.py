"""What is possible for water, a coral, a solution and a journey, and what an impossible value probably meant."""

import math
from collections.abc import Iterator

from generator.read.usual import amount
from generator.records.coral import Form
from generator.units.bounds import BY_UNIT
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity, parse_quantity

# Mass (g) for each cm³ of the box around a colony. Aragonite weighs 2.93 g/cm³ and no skeleton is denser
# (CRC Handbook, from memory). The thinnest branching colonies fill a hundredth of their box; common
# practice, no source.
MOST_DENSE, LEAST_DENSE = 2.93, 0.01
# Height over the longer side seen from above, at least, where the height was not measured; common practice, no source.
FLATTEST: dict[Form, float] = {"encrusting": 0.02, "plating": 0.05, "tabling": 0.05}
FLATTEST_OTHERWISE = 0.1
# Extension of the fastest corals: branches of Acropora grow 10 to 20 cm a year, so a colony's side twice
# that (Pratchett et al. 2015, Oceanography and Marine Biology 53, from memory).
FASTEST_GROWTH = 40.0  # cm a year
# No keeper measures a side better than this; common practice, no source.
BETWEEN_HANDS = 4.0  # cm
# How far sweeper tentacles reach, cm: 5 to 30 in Galaxea and Euphyllia; common practice, no source.
LONGEST_TENTACLES = 50.0
# Sunlight at noon on a reef flat is near 2000 PAR; no lamp over a tank gives more.
MOST_LIGHT = 2000.0
# Shares of a system's water that evaporate in a day, fans and shallow trays included; common practice, no source.
EVAPORATES = (0.0003, 0.09)

# Grams of a compound that a litre of solution can hold at 20 °C: CRC Handbook of Chemistry and Physics,
# aqueous solubility of inorganic compounds (from memory), with the water of the crystals added for hydrates.
MOST_DISSOLVED = {
    "NaHCO3": 100.0,
    "Na2CO3": 220.0,
    "Na2CO3.10H2O": 600.0,
    "NaOH": 800.0,
    "KHCO3": 330.0,
    "Ca(OH)2": 1.8,
    "CaCO3": 0.02,
    "CaCl2": 800.0,
    "CaCl2.2H2O": 1000.0,
    "CaCl2.6H2O": 1300.0,
    "MgCl2": 500.0,
    "MgCl2.6H2O": 1100.0,
    "MgSO4": 350.0,
    "MgSO4.7H2O": 750.0,
    "KCl": 340.0,
    "SrCl2.6H2O": 850.0,
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
    return BY_UNIT.get(written.unit) or KINDS[written.kind].plausible or (-math.inf, math.inf)


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
