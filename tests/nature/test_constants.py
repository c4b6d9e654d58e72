"""The numbers of nature: every one is read by some calculation, and they agree with each other."""

import ast

import pytest

from generator.nature.constants import (
    BY_ID,
    LIME_SOLUBILITY_AT_20C,
    REFERENCE_COMPOSITION,
    STANDARD_SALINITY,
    STANDARD_TEMPERATURE,
)
from generator.units.quantity import STANDARD_DENSITY
from tests.modules import MODULES, nodes


def _read() -> set[str]:
    """The names that modules of the house import from the constants, or ask of them (`_constants.NAME`)."""
    every = [node for path in MODULES for node in nodes(path)]
    froms = [each for each in every if isinstance(each, ast.ImportFrom) and each.module == "generator.nature.constants"]
    return {alias.name for each in froms for alias in each.names} | {
        each.attr
        for each in every
        if isinstance(each, ast.Attribute) and isinstance(each.value, ast.Name) and each.value.id == "_constants"
    }


def test_every_number_that_is_listed_is_read_by_a_calculation() -> None:
    assert {id.upper().replace("-", "_") for id in BY_ID} <= (read := _read())
    assert "SOLUBILITY" in read


def test_a_constant_that_does_not_exist_cannot_be_imported() -> None:
    with pytest.raises(ImportError):
        from generator.nature.constants import STANDARD_BREADTH  # noqa: F401


def test_the_density_taken_where_nothing_is_logged_is_that_of_the_standard_water() -> None:
    from generator.reckon.water.seawater import density

    standard = density(STANDARD_SALINITY.value, STANDARD_TEMPERATURE.value)
    assert pytest.approx(standard, abs=5e-5) == STANDARD_DENSITY


def test_saturated_limewater_has_43_to_47_meq_a_litre() -> None:
    # Source: CRC Handbook, 1.60 to 1.73 g/L at 20 °C (from memory); two equivalents a mole.
    assert 2000.0 / 74.092 * (LIME_SOLUBILITY_AT_20C.low or 0.0) == pytest.approx(43.2, abs=0.05)
    assert 2000.0 / 74.092 * (LIME_SOLUBILITY_AT_20C.high or 0.0) == pytest.approx(46.7, abs=0.05)


def test_the_ions_of_the_sea_add_up_to_its_salt() -> None:
    # Source: Millero et al. 2008, Table 4.
    assert sum(ion.value for ion in REFERENCE_COMPOSITION.values()) == pytest.approx(1.0, abs=1e-12)
