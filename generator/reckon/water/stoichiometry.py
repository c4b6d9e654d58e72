"""Calcification's exact proportions: Ca2+ + 2 HCO3- -> CaCO3 + CO2 + H2O.

Source: Smith & Key 1975, Limnol. Oceanogr. 20:493 (alkalinity anomaly); Dickson, Sabine & Christian
2007, ch. 2; molar masses from standard atomic weights.
"""

from generator.nature.constants import ALKALINITY_PER_CACO3, CALCIUM_PER_CACO3
from generator.units.compounds import molar_mass

# mg of calcium that leave with each meq of alkalinity.
CALCIUM_PER_MEQ = molar_mass("Ca") * CALCIUM_PER_CACO3.value / ALKALINITY_PER_CACO3.value
# g of CaCO3 laid down for each meq of alkalinity.
GRAMS_PER_MEQ = molar_mass("CaCO3") / ALKALINITY_PER_CACO3.value / 1000.0
