"""Numbers of nature, each with its unit, its source and how it is known.

The one place for every measured number that calculations use; the methods page is made from `ALL`. Molar
masses come from `units.atomic_weights`. Coefficients of a published equation are in the function for that
equation, with its source in the docstring.
"""

from dataclasses import dataclass
from typing import Literal

from generator.units.atomic_weights import molar_mass

Known = Literal["definition", "published", "from memory", "derived", "common practice"]


@dataclass(frozen=True, slots=True)
class Constant:
    """One number of nature: what it is, its value and unit, and where it comes from.

    `standard` is its standard uncertainty, `low` and `high` the range of published values; None where
    not known. `known`: by definition; from a published value that was read or reproduced; from memory
    of the published source; derived from other constants; or common practice, with no source.
    """

    name: str
    value: float
    unit: str
    source: str
    known: Known = "published"
    standard: float | None = None
    low: float | None = None
    high: float | None = None


# -- Salinity and temperature ------------------------------------------------------------------------

_TEOS10 = "IOC, SCOR and IAPSO 2010, TEOS-10 manual (UNESCO Manuals and Guides 56)"

STANDARD_SALINITY = Constant("practical salinity of standard seawater", 35.0, "psu", _TEOS10, "definition")
REFERENCE_SALINITY = Constant("reference salinity of standard seawater", 35.16504, "g/kg", _TEOS10, "definition")
STANDARD_TEMPERATURE = Constant(
    "temperature taken where none is logged", 25.0, "°C", "common practice, no source", "common practice"
)
ICE_POINT = Constant("0 °C on the absolute scale", 273.15, "K", "ITS-90", "definition")

# -- What seawater is made of ------------------------------------------------------------------------

_MILLERO = "Millero, Feistel, Wright & McDougall 2008, Deep-Sea Res. I 55:50-72, Table 4"


def _fraction(ion: str, value: float) -> Constant:
    return Constant(f"mass fraction of {ion} in sea salt", value, "g/g", _MILLERO)


REFERENCE_COMPOSITION: dict[str, Constant] = {
    "Na": _fraction("Na⁺", 0.3065958),
    "Mg": _fraction("Mg²⁺", 0.0365055),
    "Ca": _fraction("Ca²⁺", 0.0117186),
    "K": _fraction("K⁺", 0.0113495),
    "Sr": _fraction("Sr²⁺", 0.0002260),
    "Cl": _fraction("Cl⁻", 0.5503396),
    "SO4": _fraction("SO₄²⁻", 0.0771319),
    "HCO3": _fraction("HCO₃⁻", 0.0029805),
    "Br": _fraction("Br⁻", 0.0019134),
    "CO3": _fraction("CO₃²⁻", 0.0004078),
    "B(OH)4": _fraction("B(OH)₄⁻", 0.0002259),
    "F": _fraction("F⁻", 0.0000369),
    "OH": _fraction("OH⁻", 0.0000038),
    "B(OH)3": _fraction("B(OH)₃", 0.0005527),
    "CO2": _fraction("CO₂", 0.0000121),
}


def _mg_per_kg(*ions: str) -> float:
    return sum(REFERENCE_COMPOSITION[ion].value for ion in ions) * REFERENCE_SALINITY.value * 1e3


def _mmol_per_kg(ion: str) -> float:
    return _mg_per_kg(ion) / molar_mass(ion)


_DERIVED = f"from {_MILLERO}, at practical salinity 35"

SEAWATER_CALCIUM = Constant("calcium of seawater", _mg_per_kg("Ca"), "mg/kg", _DERIVED, "derived")
SEAWATER_MAGNESIUM = Constant("magnesium of seawater", _mg_per_kg("Mg"), "mg/kg", _DERIVED, "derived")
SEAWATER_POTASSIUM = Constant("potassium of seawater", _mg_per_kg("K"), "mg/kg", _DERIVED, "derived")
SEAWATER_STRONTIUM = Constant("strontium of seawater", _mg_per_kg("Sr"), "mg/kg", _DERIVED, "derived")
SEAWATER_BORON = Constant(
    "boron of seawater",
    (_mmol_per_kg("B(OH)3") + _mmol_per_kg("B(OH)4")) * molar_mass("B"),
    "mg/kg",
    f"{_DERIVED}; Lee et al. 2010 (Geochim. Cosmochim. Acta 74:1801) found 4 % more",
    "derived",
    high=4.677,
)
SEAWATER_ALKALINITY = Constant(
    "alkalinity of seawater",
    _mmol_per_kg("HCO3") + 2.0 * _mmol_per_kg("CO3") + _mmol_per_kg("B(OH)4") + _mmol_per_kg("OH"),
    "mmol/kg",
    _DERIVED,
    "derived",
)

_GUIDE = "as in Dickson, Sabine & Christian 2007, Guide to best practices for ocean CO2 measurements, ch. 5"

SALINITY_PER_CHLORINITY = Constant(
    "practical salinity per chlorinity", 1.80655, "psu/‰", "Wooster, Lee & Dietrich 1969"
)
BORON_PER_CHLORINITY_UPPSTROM1974 = Constant(
    "boron per chlorinity", 0.000232 / 10.811, "mol/kg/‰", f"Uppström 1974, Deep-Sea Res. 21:161, {_GUIDE}"
)
BORON_PER_CHLORINITY_LEE2010 = Constant(
    "boron per chlorinity", 0.0002414 / 10.811, "mol/kg/‰", "Lee et al. 2010, Geochim. Cosmochim. Acta 74:1801"
)
SULFATE_PER_CHLORINITY = Constant("sulfate per chlorinity", 0.14 / 96.062, "mol/kg/‰", f"Morris & Riley 1966, {_GUIDE}")
FLUORIDE_PER_CHLORINITY = Constant("fluoride per chlorinity", 0.000067 / 18.998, "mol/kg/‰", f"Riley 1965, {_GUIDE}")
CALCIUM_PER_CHLORINITY = Constant(
    "calcium per chlorinity", 0.02128 / 40.087, "mol/kg/‰", f"Riley & Tongudai 1967, {_GUIDE}"
)
GAS_CONSTANT = Constant("gas constant", 82.05736, "cm³ atm/mol/K", "CODATA 2018", "from memory")

# -- Standard uncertainties of the carbonate system's constants --------------------------------------

_ORR = "Orr, Epitalon, Dickson & Gattuso 2018, Marine Chemistry 207:84-107"

PK2_UNCERTAINTY = Constant("standard uncertainty of pK2", 0.015, "pK", _ORR)
PKSP_UNCERTAINTY = Constant("standard uncertainty of aragonite's pKsp", 0.02, "pK", _ORR)

# -- Calcification and skeleton ----------------------------------------------------------------------

ALKALINITY_PER_CACO3 = Constant(
    "alkalinity taken up with each mole of CaCO3",
    2.0,
    "eq/mol",
    "Ca²⁺ + 2 HCO₃⁻ → CaCO₃ + CO₂ + H₂O; Smith & Key 1975, Limnol. Oceanogr. 20:493; Chisholm & Gattuso 1991, 36:1232",
    "definition",
)
CALCIUM_PER_CACO3 = Constant("calcium taken up with each mole of CaCO3", 1.0, "mol/mol", "stoichiometry", "definition")
CORAL_MAGNESIUM_PER_CALCIUM = Constant(
    "magnesium per calcium of coral aragonite",
    4.5,
    "mmol/mol",
    "Mitsuguchi et al. 1996, Science 274:961; Reynaud et al. 2007, Geochim. Cosmochim. Acta 71:354-362",
    "from memory",
    low=4.0,
    high=5.0,
)
CORAL_STRONTIUM_PER_CALCIUM_AT_0C = Constant(
    "strontium per calcium of coral aragonite, extrapolated to 0 °C",
    10.214,
    "mmol/mol",
    "Armid et al. 2011, Coral Reefs (cultured Porites cylindrica)",
    standard=0.229,
)
CORAL_STRONTIUM_PER_CALCIUM_SLOPE = Constant(
    "change of strontium per calcium of coral aragonite with temperature",
    -0.0642,
    "mmol/mol/K",
    "Armid et al. 2011, Coral Reefs (cultured Porites cylindrica)",
    standard=0.00897,
)
ARAGONITE_DENSITY = Constant(
    "density of aragonite",
    2.93,
    "g/cm³",
    "De Villiers 1971; Dal Negro & Ungaretti 1971, Am. Mineral. 56:768 (calculated; 2.947 measured)",
    low=2.93,
    high=2.947,
)
ACROPORA_SKELETON_DENSITY = Constant(
    "micro-density of Acropora skeleton",
    2.83,
    "g/cm³",
    "Bucher, Harriott & Roberts 1998, J. Exp. Mar. Biol. Ecol. 228:117-136 (means of 8 species)",
    low=2.781,
    high=2.873,
)

CORAL_SKELETON_DENSITY = Constant(
    "micro-density of a coral's skeleton, where its genus was not measured",
    2.93,
    "g/cm³",
    "2.93 by convention: Jokiel, Maragos & Franzisket 1978; Spencer Davies 1989, Mar. Biol. 101:389-395; "
    "least measured in Bucher, Harriott & Roberts 1998",
    low=2.781,
    high=2.947,
)
CALCITE_DENSITY = Constant("density of calcite", 2.711, "g/cm³", "Handbook of Mineralogy", "from memory")
CALCIFICATION_SIZE_EXPONENT = Constant(
    "exponent of calcification on a colony's surface",
    0.8813,
    "1",
    "Carlot et al. 2022, Ecol. Evol. (six species together)",
    low=0.7918,
    high=0.9658,
)

# -- Limewater ---------------------------------------------------------------------------------------

# Published values spread by a tenth, so a strength from it must never be shown to three digits.
LIME_SOLUBILITY_AT_20C = Constant(
    "solubility of Ca(OH)2 in water at 20 °C",
    1.665,
    "g/L",
    "CRC Handbook of Chemistry and Physics: 1.60 in recent editions, 1.73 in older tables",
    "from memory",
    low=1.60,
    high=1.73,
)
LIME_SOLUBILITY_SLOPE = Constant(
    "change of the solubility of Ca(OH)2 with temperature (mean of 0 to 100 °C)",
    -0.0114,
    "g/L/K",
    "1.85 g/L at 0 °C and 0.71 g/L at 100 °C; CRC Handbook, Seidell & Linke",
    "from memory",
)

# -- Nutrients ---------------------------------------------------------------------------------------

REDFIELD_NITROGEN_PER_PHOSPHORUS = Constant(
    "nitrogen per phosphorus of plankton", 16.0, "mol/mol", "Redfield, Ketchum & Richards 1963"
)
# Coral with less phosphate than this and more nitrogen than that bleaches from lack of phosphorus.
_STARVING = "Wiedenmann et al. 2013, Nat. Clim. Change 3:160-164; Rosset et al. 2017, Mar. Pollut. Bull. 118:180-187"
STARVING_PHOSPHATE = Constant("phosphate that starves coral", 0.3, "µmol/L", _STARVING, "from memory")
STARVING_NITROGEN_PER_PHOSPHORUS = Constant(
    "nitrogen per phosphorus at which coral starves of phosphorus", 22.0, "mol/mol", _STARVING, "from memory"
)

ALL: tuple[Constant, ...] = (
    STANDARD_SALINITY,
    REFERENCE_SALINITY,
    STANDARD_TEMPERATURE,
    ICE_POINT,
    *REFERENCE_COMPOSITION.values(),
    SEAWATER_CALCIUM,
    SEAWATER_MAGNESIUM,
    SEAWATER_POTASSIUM,
    SEAWATER_STRONTIUM,
    SEAWATER_BORON,
    SEAWATER_ALKALINITY,
    SALINITY_PER_CHLORINITY,
    BORON_PER_CHLORINITY_UPPSTROM1974,
    BORON_PER_CHLORINITY_LEE2010,
    SULFATE_PER_CHLORINITY,
    FLUORIDE_PER_CHLORINITY,
    CALCIUM_PER_CHLORINITY,
    GAS_CONSTANT,
    PK2_UNCERTAINTY,
    PKSP_UNCERTAINTY,
    ALKALINITY_PER_CACO3,
    CALCIUM_PER_CACO3,
    CORAL_MAGNESIUM_PER_CALCIUM,
    CORAL_STRONTIUM_PER_CALCIUM_AT_0C,
    CORAL_STRONTIUM_PER_CALCIUM_SLOPE,
    ARAGONITE_DENSITY,
    ACROPORA_SKELETON_DENSITY,
    CORAL_SKELETON_DENSITY,
    CALCITE_DENSITY,
    CALCIFICATION_SIZE_EXPONENT,
    LIME_SOLUBILITY_AT_20C,
    LIME_SOLUBILITY_SLOPE,
    REDFIELD_NITROGEN_PER_PHOSPHORUS,
    STARVING_PHOSPHATE,
    STARVING_NITROGEN_PER_PHOSPHORUS,
)
