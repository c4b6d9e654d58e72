"""The cautions beside each plan and recipe."""

from generator.reckon.dosing.analysis import analyse_dosing
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.stocks import of_compounds, of_phases, of_plan
from tests.reckon.dosing.systems import AS_OF, BICARB, CHLORIDE, LIME, TWO_PART, dosed, found, log, solution


def plan_of(system, water=None) -> Plan:
    answer = dosing_plan(system, log(), water or found(), AS_OF)
    assert isinstance(answer, Plan)
    return answer


def test_lime_and_soda_burn_and_bicarbonate_does_not():
    assert "caustic" in of_compounds(["Ca(OH)2"])
    assert "caustic" in of_compounds(["Na2CO3.10H2O"])
    assert "caustic" not in of_compounds(["NaHCO3"])


def test_dry_calcium_chloride_heats_the_water_it_dissolves_in_and_the_hexahydrate_does_not():
    assert "heat-on-dissolving" in of_compounds(["CaCl2"])
    assert "heat-on-dissolving" in of_compounds(["CaCl2.2H2O"])
    assert "heat-on-dissolving" not in of_compounds(["CaCl2.6H2O"])


def test_every_plan_points_to_the_maker_and_to_electricity_beside_water():
    system = dosed({"bicarb": BICARB, "chloride": CHLORIDE})
    assert {"electricity-by-water", "maker-and-local-codes"} <= set(of_plan(plan_of(system), system))


def test_a_fast_rise_is_warned_of_and_a_steady_level_is_not():
    system = dosed(TWO_PART)
    assert "fast-rise" in of_plan(plan_of(system, found(level_dkh=6.0)), system)
    assert "fast-rise" not in of_plan(plan_of(system), system)
    assert "fast-rise" not in of_plan(plan_of(system, found(level_dkh=9.6)), system)


def test_doses_foreseen_for_a_newcomer_carry_the_cautions_of_a_plan():
    system = dosed(TWO_PART)
    assert of_phases(plan_of(system).phases, system) == of_plan(plan_of(system), system)


def test_a_plan_with_a_reactor_warns_of_its_gas_and_one_without_does_not():
    system = dosed({})
    by_reactor = dosing_plan(system, log(effluent=("40 L/day", "25 dKH")), found(), AS_OF)
    assert isinstance(by_reactor, Plan)
    assert "carbon-dioxide" in of_plan(by_reactor, system)
    assert "carbon-dioxide" not in of_plan(plan_of(dosed(TWO_PART)), dosed(TWO_PART))


def test_limewater_raises_ph():
    system = dosed({"lime": LIME}, "9 L/day")
    assert {"ph-rise", "caustic", "dusty"} <= set(of_plan(plan_of(system), system))


def test_what_is_only_weighed_out_for_a_recipe_or_to_cover_a_shortfall_is_warned_of_too():
    lye = solution("NaOH", 40.0, "2 L")
    told = analyse_dosing(dosed({"bicarb": BICARB, "chloride": CHLORIDE, "lye": lye}), log(), found(), AS_OF)
    assert "lye" in told.recipes
    assert isinstance(told.plan, Plan)
    assert "lye" not in {dose.supply for phase in told.plan.phases for dose in phase.doses}
    assert {"caustic", "heat-on-dissolving"} <= set(told.cautions)
    short = analyse_dosing(dosed({"bicarb": BICARB}), log(), found(), AS_OF)
    assert [cure.what for each in short.shortfalls for cure in each.remedies] == ["CaCl2.2H2O"]
    assert "heat-on-dissolving" in short.cautions
    assert "caustic" not in short.cautions
