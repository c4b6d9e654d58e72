"""What is possible for a coral, a solution and a journey: bounds that a slip of the hand leaves.

Each is wide, so that only a slip is outside it.
"""

from generator.records.coral import Form

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
