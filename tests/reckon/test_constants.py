"""The list of constants is whole and says where each comes from."""

import pytest

from generator.reckon import constants
from generator.reckon.constants import ALL, REFERENCE_COMPOSITION, Constant
from generator.units.quantity import STANDARD_DENSITY


def test_every_constant_of_the_module_is_listed_once():
    named = [value for value in vars(constants).values() if isinstance(value, Constant)]
    listed = list(ALL)
    assert sorted(c.name for c in [*named, *REFERENCE_COMPOSITION.values()]) == sorted(c.name for c in listed)


@pytest.mark.parametrize("constant", ALL, ids=lambda constant: constant.name)
def test_a_constant_has_a_name_a_unit_a_source_and_lies_in_its_own_range(constant: Constant):
    assert constant.name
    assert constant.unit
    assert constant.source
    assert constant.low is None or constant.low <= constant.value
    assert constant.high is None or constant.value <= constant.high
    assert constant.standard is None or constant.standard > 0.0


def test_the_density_taken_where_nothing_is_logged_is_that_of_the_standard_water():
    from generator.reckon.water.seawater import density

    standard = density(constants.STANDARD_SALINITY.value, constants.STANDARD_TEMPERATURE.value)
    assert pytest.approx(standard, abs=5e-5) == STANDARD_DENSITY


def test_saturated_limewater_has_43_to_47_meq_a_litre():
    # Source: CRC Handbook, 1.60 to 1.73 g/L at 20 °C (from memory); two equivalents a mole.
    solubility = constants.LIME_SOLUBILITY_AT_20C
    assert 2000.0 / 74.092 * (solubility.low or 0.0) == pytest.approx(43.2, abs=0.05)
    assert 2000.0 / 74.092 * (solubility.high or 0.0) == pytest.approx(46.7, abs=0.05)


def test_coral_takes_up_little_strontium_and_less_magnesium():
    # Source: Armid et al. 2011: 8.61 mmol/mol at 25 °C.
    at_25 = constants.CORAL_STRONTIUM_PER_CALCIUM_AT_0C.value + 25.0 * constants.CORAL_STRONTIUM_PER_CALCIUM_SLOPE.value
    assert at_25 == pytest.approx(8.61, abs=0.005)
    # 2.7 mg of magnesium with each gram of calcium (Mitsuguchi et al. 1996, from memory).
    magnesium = constants.CORAL_MAGNESIUM_PER_CALCIUM.value * 24.305 / 40.078
    assert magnesium == pytest.approx(2.7, abs=0.05)
