"""How much of each compound dissolves: limits of a stock, from handbooks and from memory.

Grams of the anhydrous compound in 100 g of water at 20 °C. A hydrate is held to the limit of what it
holds of the anhydrous compound. Limewater's limit stands in `constants`.
"""

from generator.reckon.constants import Constant

_CRC = "CRC Handbook of Chemistry and Physics, aqueous solubility of inorganic compounds"


def _solubility(formula: str, value: float, low: float | None = None, high: float | None = None) -> Constant:
    return Constant(
        f"solubility of {formula} at 20 °C", value, "g/100 g water", _CRC, "from memory", low=low, high=high
    )


SOLUBILITY: dict[str, Constant] = {
    "NaHCO3": _solubility("NaHCO3", 9.6),
    "Na2CO3": _solubility("Na2CO3", 21.5),
    "NaOH": _solubility("NaOH", 109.0),
    "KHCO3": _solubility("KHCO3", 33.3, low=22.4),
    "CaCl2": _solubility("CaCl2", 74.5),
    "MgCl2": _solubility("MgCl2", 54.6),
    "MgSO4": _solubility("MgSO4", 33.7),
    "KCl": _solubility("KCl", 34.2),
    "SrCl2": _solubility("SrCl2", 52.9),
    "CaCO3": _solubility("CaCO3", 0.0013, low=0.0006, high=0.0015),
}

ALL: tuple[Constant, ...] = tuple(SOLUBILITY.values())
