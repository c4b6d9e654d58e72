"""What a litre of each of the keeper's solutions gives the water, and calcification's exact proportions.

Ca2+ + 2 HCO3- -> CaCO3 + CO2 + H2O. Source: Smith & Key 1975, Limnol. Oceanogr. 20:493 (alkalinity anomaly);
Dickson, Sabine & Christian 2007, ch. 2; molar masses from standard atomic weights.
"""

from generator.nature.constants import ALKALINITY_PER_CACO3, CALCIUM_PER_CACO3, LIME_SOLUBILITY_AT_20C
from generator.reckon.water.canonical import canonical_value
from generator.records.system import Solution
from generator.units.compounds import COMPOUNDS, molar_mass

# mg of calcium that leave with each meq of alkalinity.
CALCIUM_PER_MEQ = molar_mass("Ca") * CALCIUM_PER_CACO3.value / ALKALINITY_PER_CACO3.value
# g of CaCO3 laid down for each meq of alkalinity.
GRAMS_PER_MEQ = molar_mass("CaCO3") / ALKALINITY_PER_CACO3.value / 1000.0


def per_litre(solution: Solution, kind: str) -> float:
    """What a litre of a solution gives of a kind, in its canonical unit times litres (meq, mg).

    Calcium hydroxide counts no further than it dissolves: the rest lies on the bottom of the container.
    """
    given = 0.0
    if solution.declared is not None and (declared := solution.declared.of(kind)) is not None:
        given += canonical_value(declared)
    if solution.compound is not None and solution.strength is not None:
        grams = solution.strength.canonical()
        if solution.compound == "Ca(OH)2":
            grams = min(grams, LIME_SOLUBILITY_AT_20C.value)
        given += grams * COMPOUNDS[solution.compound].per_gram(kind)
    return given
