"""What to weigh out for a stock."""

import molmass
import pytest

from generator.nature.constants import SOLUBILITY
from generator.reckon.dosing.stocks import Recipe, most_dissolved, recipe, recipe_giving
from generator.reckon.dosing.supplies import LEFT_BEHIND
from generator.reckon.finding import CannotTell
from generator.units.compounds import COMPOUNDS, molar_mass
from generator.units.kinds import MEQ_PER_DKH


def mixed(answer: Recipe | CannotTell) -> Recipe:
    assert isinstance(answer, Recipe), answer
    return answer


@pytest.mark.parametrize(
    ("compound", "grams"),
    # +1 dKH in 100 L: standard atomic weights, by hand.
    [("NaHCO3", 2.9961), ("Na2CO3", 1.8900)],
)
def test_a_stock_of_a_degree_in_100_l_a_millilitre_holds_the_grams_of_the_table(compound, grams):
    # 50 mL of it raise 100 L by 1 dKH.
    found = mixed(recipe_giving(compound, "alkalinity", 100.0 * MEQ_PER_DKH / 0.050, 1.0))
    assert found.grams * 0.050 == pytest.approx(grams, abs=6e-5)


def test_two_parts_of_equal_strength_take_equal_millilitres():
    soda = mixed(recipe("Na2CO3", 60.0, 5.0))
    chloride = mixed(recipe_giving("CaCl2.2H2O", "calcium", soda.gives["alkalinity"] * 20.039, 5.0))
    # A mole of each is two equivalents: by a reference library's molar masses.
    ratio = molmass.Formula("CaCl2(H2O)2").mass / molmass.Formula("Na2CO3").mass
    assert chloride.grams / soda.grams == pytest.approx(ratio, rel=2e-4)


@pytest.mark.parametrize(
    ("compound", "hydrate"),
    [
        ("CaCl2", "CaCl2.2H2O"),
        ("CaCl2", "CaCl2.6H2O"),
        ("MgCl2", "MgCl2.6H2O"),
        ("MgSO4", "MgSO4.7H2O"),
        ("Na2CO3", "Na2CO3.10H2O"),
    ],
)
def test_a_hydrate_takes_more_grams_for_the_same_salt(compound, hydrate):
    formula = hydrate.replace(".", "(").replace("H2O", "", 1)
    waters = int(hydrate.partition(".")[2].removesuffix("H2O"))
    mass = molmass.Formula(f"{compound}(H2O){waters}").mass
    assert formula.startswith(compound)
    assert molar_mass(hydrate) == pytest.approx(mass, rel=2e-4)
    assert molar_mass(compound) < molar_mass(hydrate)


def test_what_does_not_dissolve_is_refused_with_the_most_that_does():
    # CRC Handbook, from memory: 9.6 g of NaHCO3 in 100 g of water at 20 °C.
    found = recipe("NaHCO3", 120.0, 5.0)
    assert isinstance(found, CannotTell)
    assert found.why == "does-not-dissolve"
    assert dict(found.numbers)["most"] == "86.4"
    assert mixed(recipe("NaHCO3", 80.0, 5.0)).grams == pytest.approx(400.0)


def test_washing_soda_with_its_water_dissolves_as_far_as_the_soda_in_it():
    # 21.5 g/100 g of the anhydrous salt; the decahydrate is 2.70 times as heavy.
    assert most_dissolved("Na2CO3.10H2O") / most_dissolved("Na2CO3") == pytest.approx(286.138 / 105.988, rel=1e-4)


def test_limewater_is_as_strong_as_dissolves_and_no_stronger():
    # CRC Handbook, from memory: 1.60 to 1.73 g/L at 20 °C; 43 to 47 meq/L.
    most = most_dissolved("Ca(OH)2")
    assert 1.60 <= most <= 1.73
    assert 43.0 < mixed(recipe("Ca(OH)2", most, 10.0)).gives["alkalinity"] < 47.0
    assert isinstance(recipe("Ca(OH)2", 2.0, 10.0), CannotTell)


def test_a_compound_that_gives_none_of_a_kind_is_refused():
    found = recipe_giving("NaHCO3", "calcium", 1000.0, 1.0)
    assert isinstance(found, CannotTell)
    assert found.why == "gives-none"


@pytest.mark.parametrize("compound", COMPOUNDS)
def test_every_compound_a_keeper_may_write_has_its_solubility_and_its_residue(compound):
    assert compound == "Ca(OH)2" or compound.partition(".")[0] in SOLUBILITY
    assert compound.partition(".")[0] in LEFT_BEHIND
    assert most_dissolved(compound) > 0.0
