"""The unit table and stoichiometry against definitions, atomic weights and general-purpose libraries."""

from collections.abc import Callable

import molmass
import pint
import pytest

from generator.nature.methods import Pinned
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.units.compounds import ATOMIC_WEIGHTS, COMPOUNDS, molar_mass
from generator.units.kinds import KINDS, MEQ_PER_DKH
from generator.units.quantity import convert
from tests.published.table import checks, holds


@pytest.mark.parametrize("check", checks("conversions"))
def test_a_conversion_agrees_with_the_published_one(check: Pinned):
    holds(check, convert(**check.inputs))


@pytest.mark.parametrize("check", checks("molar_masses"))
def test_a_molar_mass_is_the_sum_of_standard_atomic_weights(check: Pinned):
    holds(check, molar_mass(check.inputs["formula"]))


@pytest.mark.parametrize("formula", sorted({*COMPOUNDS, "NO3", "NO2", "NH4", "PO4", "SiO2", "SO4", "B(OH)3", "SrCO3"}))
def test_a_molar_mass_agrees_with_a_reference_library(formula: str):
    # molmass sums atomic weights to all their digits, we the abridged ones: 0.01 % covers both.
    assert molar_mass(formula) == pytest.approx(molmass.Formula(formula).mass, rel=1e-4)


@pytest.mark.parametrize("element", ATOMIC_WEIGHTS)
def test_an_atomic_weight_agrees_with_a_reference_library(element: str):
    # Boron and sulfur are the widest: IUPAC gives them as ranges (10.806 to 10.821, 32.059 to 32.076).
    assert ATOMIC_WEIGHTS[element] == pytest.approx(molmass.ELEMENTS[element].mass, rel=2e-4)


def _gram_in(litres: float) -> float:
    """meq/L that laying down one gram of CaCO3 takes from this much water."""
    return 1.0 / GRAMS_PER_MEQ / litres


STOICHIOMETRY: dict[str, Callable[..., float]] = {
    "calcium per meq": lambda: CALCIUM_PER_MEQ,
    "calcium per dKH": lambda: CALCIUM_PER_MEQ * MEQ_PER_DKH,
    "dKH per 20 mg/L calcium": lambda: 20.0 / CALCIUM_PER_MEQ / MEQ_PER_DKH,
    "dKH of a gram of CaCO3": lambda litres: _gram_in(litres) / MEQ_PER_DKH,
    "calcium of a gram of CaCO3": lambda litres: _gram_in(litres) * CALCIUM_PER_MEQ,
    "grams for 1 dKH in 100 L": lambda compound: 100.0 * MEQ_PER_DKH / COMPOUNDS[compound].per_gram("alkalinity"),
    "grams for 10 mg/L in 100 L": lambda compound, kind: 1000.0 / COMPOUNDS[compound].per_gram(kind),
}


@pytest.mark.parametrize("check", checks("stoichiometry"))
def test_stoichiometry_agrees_with_the_sum_done_by_hand(check: Pinned):
    holds(check, STOICHIOMETRY[check.what](**check.inputs))


# Units that a general-purpose library knows too, by its names for them.
PINT_NAMES = {
    "length": {"cm": "cm", "mm": "mm", "m": "m", "in": "inch"},
    "mass": {"g": "g", "kg": "kg", "mg": "mg", "lb": "pound", "oz": "ounce"},
    "volume": {
        "L": "liter",
        "mL": "milliliter",
        "gal": "gallon",
        "qt": "quart",
        "cup": "cup",
        "fl oz": "fluid_ounce",
        "tbsp": "tablespoon",
        "tsp": "teaspoon",
    },
    "rate": {
        "mL/day": "mL/day",
        "L/day": "L/day",
        "mL/min": "mL/min",
        "mL/h": "mL/hour",
        "L/h": "L/hour",
        "gal/day": "gallon/day",
        "fl oz/day": "fluid_ounce/day",
        "tsp/day": "teaspoon/day",
    },
    "strength": {"g/L": "g/L", "g/100mL": "g/deciliter", "g/gal": "g/gallon", "oz/gal": "oz/gal", "lb/gal": "lb/gal"},
    "temperature": {"°C": "degC", "°F": "degF"},
    "duration": {"h": "hour", "min": "minute", "days": "day"},
    "distance": {"km": "km", "mi": "mile"},
    "current": {"cm/s": "cm/s"},
}


@pytest.fixture(scope="module")
def registry() -> pint.UnitRegistry:
    return pint.UnitRegistry()


@pytest.mark.parametrize("kind", PINT_NAMES)
def test_every_everyday_unit_agrees_with_pint(registry: pint.UnitRegistry, kind: str):
    names = PINT_NAMES[kind]
    assert set(names) == {unit.symbol for unit in KINDS[kind].units}, "a unit of this kind is not checked"
    for ours, theirs in names.items():
        for to, to_theirs in names.items():
            expected = registry.Quantity(37.5, theirs).to(to_theirs).magnitude
            assert convert(37.5, kind, ours, to) == pytest.approx(expected, rel=1e-12)
