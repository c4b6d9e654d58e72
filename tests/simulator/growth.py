"""How the simulated coral grows: mass, size by form, and the CaCO3 it lays down a day.

Calcification follows G = rate * mass**0.85, so that large colonies lay down less for each gram, as
published allometry says (exponent about 0.88 on surface: Carlot et al. 2022). The rates put a table of 3.1 kg
near 6.5 g a day: 22.8 kg a square metre of plan a year (Courtney et al. 2024, tabulate Acropora) on its plan.
"""

from msgspec import Struct

from generator.units.compounds import molar_mass

MASS_EXPONENT = 0.85
ARAGONITE_DENSITY = 2.93  # g/cm3, calculated from the cell (De Villiers 1971)
MAGNESIUM_PER_CALCIUM = 4.5e-3  # mol/mol in coral aragonite (Mitsuguchi et al. 1996)
CACO3 = molar_mass("CaCO3")


class Form(Struct, frozen=True):
    """Mass = coefficient * length**exponent (g, cm); width and height as parts of the length; g/day at 1 g."""

    coefficient: float
    exponent: float
    width: float
    height: float
    rate: float


FORMS: dict[str, Form] = {
    "branching": Form(0.30, 2.7, 0.85, 0.75, 0.0070),
    "tabling": Form(0.55, 2.3, 0.70, 0.30, 0.0070),
    "corymbose": Form(0.40, 2.6, 0.90, 0.55, 0.0068),
    "digitate": Form(0.50, 2.6, 0.85, 0.50, 0.0062),
    "massive": Form(0.37, 3.0, 0.92, 0.60, 0.0030),
    "encrusting": Form(0.50, 2.1, 0.90, 0.08, 0.0040),
    "plating": Form(0.55, 2.2, 0.85, 0.30, 0.0058),
    "columnar": Form(0.25, 2.8, 0.80, 0.90, 0.0045),
    "solitary": Form(0.25, 3.0, 0.95, 0.30, 0.0025),
}


def grams_per_day(form: str, mass: float, vigour: float) -> float:
    """CaCO3 a coral of this form and mass (g) lays down in a day when it does `vigour` times the usual."""
    return float(FORMS[form].rate * mass**MASS_EXPONENT * vigour)


def size(form: str, mass: float) -> tuple[float, float, float]:
    """Length, width and height in cm of a coral of this form and dry mass (g)."""
    shape = FORMS[form]
    length = (mass / shape.coefficient) ** (1.0 / shape.exponent)
    return length, length * shape.width, length * shape.height


def mass_of(form: str, length: float) -> float:
    """Dry mass (g) of a coral of this form and length (cm)."""
    return float(FORMS[form].coefficient * length ** FORMS[form].exponent)


def uptake_per_litre(grams: float, litres: float) -> dict[str, float]:
    """What `grams` of CaCO3 a day take from the water: alkalinity meq/L, calcium and magnesium mg/L a day.

    Source: 1 mol CaCO3 takes 2 eq of alkalinity and 1 mol Ca (Dickson et al. 2007, ch. 2).
    """
    moles = grams / CACO3 / litres
    calcium = moles * molar_mass("Ca") * 1e3
    return {
        "alkalinity": moles * 2e3,
        "calcium": calcium,
        "magnesium": moles * MAGNESIUM_PER_CALCIUM * molar_mass("Mg") * 1e3,
    }
