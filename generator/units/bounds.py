"""What is possible for water in a living reef: the bounds of each quantity, and of what may change it at once."""

import math

from generator.units.kinds import KINDS
from generator.units.quantity import convert

# Bounds for units whose conversion is not a factor, in that unit: those of the kind, a salinity of 5 to 42, by
# TEOS-10 and the Practical Salinity Scale 1978. No calculation of the water holds outside them.
BY_UNIT = {
    "sg 25/25": (1.0038, 1.0316),
    "sg 20/20": (1.0039, 1.0319),
    "sg 60F/60F": (1.0039, 1.0322),
    "sg 20/4": (1.0021, 1.0301),
    "mS/cm": (9.0, 62.3),
    "total": (6.5, 9.5),
}

# The most a solution may change the water at once, and a pump or a reactor in a day, in canonical units.
# Corals take up less than 5 dKH a day in the densest tanks. Common practice, no source.
AT_ONCE = {"alkalinity": 1.8, "calcium": 100.0, "magnesium": 250.0, "potassium": 150.0, "strontium": 20.0}
A_DAY = {"alkalinity": 2.9, "calcium": 80.0, "magnesium": 80.0, "potassium": 80.0, "strontium": 5.0}


def bounds(kind: str, unit: str) -> tuple[float, float]:
    """What a quantity can be in a living reef, in one of its units."""
    if unit in BY_UNIT:
        return BY_UNIT[unit]
    low, high = KINDS[kind].plausible or (-math.inf, math.inf)
    return convert(low, kind, KINDS[kind].canonical, unit), convert(high, kind, KINDS[kind].canonical, unit)
