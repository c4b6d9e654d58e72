"""The sea's salts against the Reference Composition."""

from collections.abc import Callable

import pytest

from generator.nature.constants import REFERENCE_COMPOSITION
from generator.nature.methods import Pinned
from generator.reckon.water.seawater import REFERENCE, reference_concentration
from generator.units.compounds import molar_mass
from tests.published.table import checks, holds

ELEMENT = {"magnesium": "Mg", "calcium": "Ca"}


def _mass_ratio(of: str, to: str) -> float:
    return REFERENCE[of].value / REFERENCE[to].value


FUNCTIONS: dict[str, Callable[..., float]] = {
    "per kilogram": lambda kind: REFERENCE[kind].value,
    "per litre": lambda kind, temperature: reference_concentration(kind, float(temperature)),
    "mass ratio": _mass_ratio,
    "molar ratio": lambda of, to: _mass_ratio(of, to) * molar_mass(ELEMENT[to]) / molar_mass(ELEMENT[of]),
}


@pytest.mark.parametrize("check", checks("composition"))
def test_seawater_holds_what_the_reference_composition_says(check: Pinned):
    holds(check, FUNCTIONS[check.what](**check.inputs))


def test_the_reference_composition_carries_no_net_charge():
    # Seawater is neutral; the table is rounded to a ten-millionth of a gram a gram.
    charges = {
        "Na": 1, "Mg": 2, "Ca": 2, "K": 1, "Sr": 2, "Cl": -1, "SO4": -2, "HCO3": -1, "Br": -1,
        "CO3": -2, "B(OH)4": -1, "F": -1, "OH": -1,
    }  # fmt: skip
    moles = {ion: constant.value / molar_mass(ion) for ion, constant in REFERENCE_COMPOSITION.items()}
    positive = sum(moles[ion] * charge for ion, charge in charges.items() if charge > 0)
    assert abs(sum(moles[ion] * charge for ion, charge in charges.items())) < 1e-4 * positive
