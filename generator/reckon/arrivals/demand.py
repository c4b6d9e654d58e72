"""What so many grams of CaCO3 a day take out of a system's water."""

from generator.reckon.water.stoichiometry import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.records.system import Water
from generator.units.quantity import Estimate


def alkalinity_of(grams: Estimate, water: Water) -> Estimate:
    """Alkalinity (meq/L/day) that calcification of so many g CaCO3/day takes from the water.

    Source: two equivalents a mole of CaCO3, see `water.stoichiometry`.
    """
    return grams.scaled(1.0 / GRAMS_PER_MEQ / water.volume.canonical(), "meq/L/day")


def calcium_of(grams: Estimate, water: Water) -> Estimate:
    """Calcium (mg/L/day) that calcification of so many g CaCO3/day takes from the water.

    Source: one mole a mole of CaCO3, see `water.stoichiometry`.
    """
    return alkalinity_of(grams, water).scaled(CALCIUM_PER_MEQ, "mg/L/day")
