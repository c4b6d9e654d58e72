"""What dosing leaves behind, and what a water change does."""

import math

import molmass
import pytest

from generator.reckon.dosing.analysis import water_change
from generator.reckon.dosing.supplies import LEFT_BEHIND, left_behind, salinity_drift
from generator.records.system import Solution, Water
from generator.units.compounds import COMPOUNDS, molar_mass
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.dosing.systems import LIME, solution
from tests.reckon.water.journals import here, levels

WATER = Water(source=here(), volume=parse_quantity("400 L", "volume"), uncertainty=parse_quantity("20 L", "volume"))


def sure(value: float, unit: str = "L/day") -> Estimate:
    return Estimate(value, value, value, unit)


NACL = molmass.Formula("NaCl").mass


@pytest.mark.parametrize("base", ["NaHCO3", "Na2CO3", "NaOH"])
def test_a_mole_of_two_part_leaves_two_of_salt(base):
    # 2 Na from the one part and 2 Cl from the other for each mole of CaCO3; molar masses by a reference library.
    per_mole = 2.0 / COMPOUNDS[base].equivalents
    grams = per_mole * left_behind(solution(base, molar_mass(base))) + left_behind(
        solution("CaCl2.2H2O", molar_mass("CaCl2.2H2O"))
    )
    assert grams == pytest.approx(2.0 * NACL, rel=1e-4)


def test_limewater_leaves_nothing():
    assert left_behind(LIME) == 0.0


def test_two_parts_for_a_meq_a_litre_and_day_raise_salinity_by_a_unit_and_three_quarters_a_month():
    # 58.44 mg of NaCl a litre and day, 30.44 days, 1.0233 kg/L, 35/35.16504 psu for each g/kg.
    soda, chloride = solution("NaHCO3", 84.006), solution("CaCl2.2H2O", 73.504)
    found = salinity_drift({"soda": sure(0.4), "chloride": sure(0.4)}, {"soda": soda, "chloride": chloride}, WATER)
    assert found.estimate.value == pytest.approx(0.05844 * 30.4375 / 1.0233 * 35.0 / 35.16504, rel=1e-3)
    assert found.estimate.low / found.estimate.value == pytest.approx(1.0 - 1.645 * 0.05, rel=1e-3)


def test_a_declared_solution_counts_as_the_usual_salts():
    declared = Solution(source=here(), declared=levels(alkalinity="1000 dKH", calcium="7146.96 mg/L"))
    assert left_behind(declared) == pytest.approx(1000.0 * MEQ_PER_DKH / 1000.0 * NACL, rel=1e-4)


def test_a_reactor_in_the_plan_adds_no_salt():
    assert salinity_drift({"reactor": sure(10.0)}, {}, WATER).estimate.value == 0.0


def test_every_ion_left_behind_balances_the_charge_of_what_was_taken():
    charge = {"Na": 1, "K": 1, "Cl": -1, "SO4": -2}
    for compound, ions in LEFT_BEHIND.items():
        given = COMPOUNDS[compound if compound in COMPOUNDS else f"{compound}.6H2O"]
        left = sum(charge[ion] * count for ion, count in ions)
        metals = 2 * given.calcium + 2 * given.magnesium + 2 * given.strontium
        assert left == given.equivalents - metals, compound


def test_a_water_change_leaves_the_rest_of_the_excess():
    effects = {
        e.kind: e
        for e in water_change({"nitrate": sure(20.0), "calcium": sure(400.0)}, levels(calcium="440 mg/L"), 0.1)
    }
    assert set(effects) == {"calcium"}
    assert effects["calcium"].after.value == pytest.approx(404.0)
    assert effects["calcium"].after.high - effects["calcium"].after.value == pytest.approx(
        1.645 * 0.1 * 0.03 * 440.0, rel=1e-3
    )


def test_what_a_water_change_leaves_is_as_unsure_as_level_mix_and_volume():
    # GUM 5.1, by hand: 0.75 of the level's 5, a quarter of 3 % of 440, a quarter of 5 % of the 40 between them.
    before = Estimate(400.0, 400.0 - 1.645 * 5.0, 400.0 + 1.645 * 5.0, "mg/L")
    (effect,) = water_change({"calcium": before}, levels(calcium="440 mg/L"), 0.25, 0.05)
    standard = (effect.after.high - effect.after.value) / 1.645
    assert standard == pytest.approx(math.sqrt(3.75**2 + 3.3**2 + 0.5**2), rel=1e-3)


def test_both_ends_of_a_level_move_with_the_new_water():
    # A tenth of 7.0, known to 3 %, into what is likely 8.1 to 11.0, by hand: (1 - f) end + f mix, and a little more.
    (effect,) = water_change({"calcium": Estimate(8.2, 8.1, 11.0, "mg/L")}, levels(calcium="7.0 mg/L"), 0.1)
    of_mix = 1.645 * 0.1 * 0.03 * 7.0
    assert effect.after.value == pytest.approx(8.08)
    assert effect.after.low == pytest.approx(8.08 - math.hypot(0.09, of_mix), rel=1e-3)
    assert effect.after.high == pytest.approx(8.08 + math.hypot(2.52, of_mix), rel=1e-3)


def test_salinity_drift_is_as_unsure_as_the_doses():
    solutions = {"soda": solution("NaHCO3", 84.006), "chloride": solution("CaCl2.2H2O", 73.504)}
    rate = Estimate(0.4, 0.3, 0.5, "L/day")
    found = salinity_drift({"soda": rate, "chloride": rate}, solutions, WATER).estimate
    assert (found.high - found.value) / found.value == pytest.approx(math.hypot(0.25, 1.645 * 0.05), rel=1e-3)


def test_water_changes_one_after_another_leave_the_power_of_what_one_leaves():
    level = 30.0
    for _ in range(5):
        (effect,) = water_change({"calcium": sure(400.0 + level)}, levels(calcium="400 mg/L"), 0.2)
        level = effect.after.value - 400.0
    assert level == pytest.approx(30.0 * 0.8**5)


def test_a_change_of_all_the_water_is_the_mix():
    (effect,) = water_change({"alkalinity": sure(3.2)}, levels(alkalinity="8.0 dKH"), 1.0)
    assert effect.after.value == pytest.approx(8.0 * MEQ_PER_DKH)
