"""What readings say together that none says alone."""

from math import hypot, sqrt

import numpy as np
import PyCO2SYS as pyco2
import pytest
from msgspec.structs import replace

from generator.reckon.estimate.uncertainty import Measured
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.canonical import canonical_values
from generator.reckon.water.carbonate import ph_total_from_nbs
from generator.reckon.water.health import WaterHealth, ratio, water_health
from generator.reckon.water.seawater import density
from generator.records.system import System
from tests.reckon.water.journals import moment
from tests.reckon.water.waters import log, read, reef

# Seawater at S = 35: Millero et al. 2008, Deep-Sea Res. I 55:50-72, Table 4 (mg/kg), by litre at 25 °C.
SEA = {"calcium": 412.1, "magnesium": 1284.1, "potassium": 399.1}


def health(*readings, day: float = 30.0, of: System | None = None) -> WaterHealth:
    read_here = log(*readings).readings
    return water_health(of or reef(), read_here, canonical_values(read_here), moment(day))


def sea(day: float, salinity_read: float, salinity: float, **changed: float):
    """The sea's salts in water of a salinity, with what a meter makes of it."""
    kg_per_litre = float(density(salinity, 25.0))
    of_water = {kind: changed.get(kind, 1.0) * per_kg * salinity / 35.0 * kg_per_litre for kind, per_kg in SEA.items()}
    return read(day, salinity=f"{salinity_read} psu", **{kind: f"{value:.1f} mg/L" for kind, value in of_water.items()})


def test_saturation_is_that_of_the_reference_library():
    # Source: PyCO2SYS, constants of Lueker et al. 2000; alkalinity 2400 µmol/kg, pH 8.2 on the NBS scale.
    found = health(
        read(29.0, alkalinity="2400 µmol/kg", ph="8.20 NBS", salinity="35.0 psu", temperature="25.0 °C")
    ).saturation
    expected = pyco2.sys(
        2400.0, float(ph_total_from_nbs(8.2, 35.0, 25.0)), 1, 3, salinity=35, temperature=25, opt_k_carbonic=10
    )["saturation_aragonite"]
    assert isinstance(found, Finding)
    assert found.estimate.value == pytest.approx(expected, rel=0.01)
    assert found.estimate.low < expected < found.estimate.high
    assert len(found.inputs) == 4


def test_of_the_readings_ph_makes_the_saturation_most_unsure():
    # Source: Dickson, Sabine & Christian 2007: carbonate goes nearly as 10 to the pH. A pH off by 0.03 is 6 % of it,
    # less the borate; an alkalinity off by 0.15 dKH 2 %.
    found = health(read(29.0, alkalinity="8.0 dKH", ph="8.20 NBS", salinity="35.0 psu", temperature="25.0 °C"))
    assert isinstance(found.saturation, Finding)
    parts = {part.cause: part.standard for part in found.saturation.parts}
    assert parts["ph"] / found.saturation.estimate.value == pytest.approx(0.06, abs=0.01)
    assert parts["alkalinity"] / found.saturation.estimate.value == pytest.approx(0.02, abs=0.005)


def test_ph_of_one_week_says_nothing_of_the_alkalinity_of_another():
    found = health(read(20.0, ph="8.2 NBS"), read(27.0, alkalinity="8.0 dKH"))
    assert isinstance(found.saturation, CannotTell)


def test_the_alkalinity_read_nearest_to_the_ph_is_taken():
    near = read(28.5, alkalinity="7.0 dKH")
    found = health(read(29.4, alkalinity="9.0 dKH"), near, read(28.6, ph="8.2 NBS")).saturation
    assert isinstance(found, Finding)
    assert near[0].source in found.inputs


def test_water_read_as_salty_as_it_is_has_the_seas_salts():
    # Source: constancy of seawater's composition; Millero et al. 2008.
    for salinity in (32.0, 35.0, 37.0):
        found = health(sea(29.0, salinity, salinity)).salts
        assert not found.together
        for salt in found.salts:
            assert isinstance(salt.ratio, Finding)
            assert salt.ratio.estimate.value == pytest.approx(1.0, abs=0.003)


@pytest.mark.parametrize(("shown", "really"), [(35.0, 32.0), (35.0, 38.0), (33.0, 36.0)])
def test_salts_that_are_all_off_by_the_same_share_point_to_the_salinity_reading(shown, really):
    # Common practice, no source: when calcium, magnesium and potassium are all low, check the refractometer first.
    found = health(sea(29.0, shown, really)).salts
    assert found.together
    assert isinstance(found.salinity_error, Finding)
    error = found.salinity_error.estimate
    assert error.value == pytest.approx(really - shown, abs=0.1)
    assert error.low < really - shown < error.high


def test_one_salt_that_is_off_by_itself_does_not_put_the_salinity_in_doubt():
    found = health(sea(29.0, 35.0, 35.0, potassium=0.7)).salts
    assert not found.together
    assert isinstance(found.salts[2].ratio, Finding)
    assert found.salts[2].ratio.estimate.high < 0.8


def test_two_salts_are_too_few_to_judge_the_salinity_by():
    found = health(read(29.0, salinity="35.0 psu", calcium="380 mg/L", magnesium="1190 mg/L")).salts
    assert isinstance(found.salinity_error, CannotTell)
    assert not found.together


def test_redfields_ratio_is_ten_to_one_by_mass():
    # Source: Redfield, Ketchum & Richards 1963, 16 mol/mol: 10.446 mg of nitrate to a mg of phosphate.
    found = health(read(29.0, nitrate="10.446 mg/L", phosphate="1.000 mg/L")).nutrients
    assert isinstance(found.ratio, Finding)
    assert found.ratio.estimate.value == pytest.approx(16.0, abs=0.01)


def test_phosphate_below_what_the_kit_sees_leaves_only_a_least_ratio():
    found = health(read(29.0, nitrate="10.0 mg/L", phosphate="<0.02 mg/L")).nutrients
    assert isinstance(found.ratio, CannotTell)
    # 10 mg/L less 1.645 times 0.8 mg/L of nitrate is 140.1 µmol/L, 0.02 mg/L of phosphate 0.2106 µmol/L.
    assert found.at_least == pytest.approx(140.1 / 0.2106, rel=0.002)
    assert found.at_most is None


def test_nitrate_below_what_the_kit_sees_leaves_only_a_greatest_ratio():
    found = health(read(29.0, nitrate="<1 mg/L", phosphate="0.10 mg/L")).nutrients
    assert isinstance(found.ratio, CannotTell)
    # 1 mg/L of nitrate is 16.13 µmol/L; 0.1 mg/L less 1.645 times 0.005 mg/L of phosphate 0.9663 µmol/L.
    assert found.at_most == pytest.approx(16.13 / 0.9663, rel=0.002)
    assert found.at_least is None


def test_a_kit_that_strays_by_all_the_phosphate_there_is_tells_no_ratio():
    found = health(read(29.0, nitrate="10.0 mg/L", phosphate="0.005 mg/L")).nutrients
    assert isinstance(found.ratio, CannotTell)
    assert found.at_least is not None


def test_the_ratios_interval_holds_the_truth_nine_times_in_ten():
    rng = np.random.default_rng(7)
    nitrate, phosphate, strays = 100.0, 0.8, (10.0, 0.15)
    held = 0
    for n, p in zip(rng.normal(nitrate, strays[0], 2000), rng.normal(phosphate, strays[1], 2000), strict=True):
        found = ratio(Measured(n, strays[0]), Measured(p, strays[1]), ()).estimate
        held += found.low <= nitrate / phosphate <= found.high
    assert held / 2000 == pytest.approx(0.90, abs=0.02)


def test_temperature_swings_by_the_widest_day_and_by_the_week():
    days = [
        read(23.5 + d, temperature=f"{t} °C") for d, t in ((0, 25.0), (0.4, 26.4), (3, 24.6), (5, 25.2), (5.4, 25.6))
    ]
    found = health(*days, of=reef(temperature=("24.4 °C", "26.6 °C"))).temperature
    assert isinstance(found.day, Finding)
    assert isinstance(found.week, Finding)
    assert found.day.estimate.value == pytest.approx(1.4)
    assert found.week.estimate.value == pytest.approx(1.8)
    assert found.band == pytest.approx(2.2)
    # Two readings of one thermometer.
    assert found.day.estimate.standard == pytest.approx(sqrt(2.0) * 0.1)


def test_a_night_counts_as_one_day_whatever_the_clock_says():
    found = health(read(28.9, temperature="26.5 °C"), read(29.2, temperature="24.5 °C")).temperature
    assert isinstance(found.day, Finding)
    assert found.day.estimate.value == pytest.approx(2.0)


def test_one_reading_of_temperature_tells_no_swing():
    assert isinstance(health(read(29.0, temperature="25.0 °C")).temperature.day, CannotTell)


def test_a_ratio_and_a_level_are_never_below_nought():
    # Fieller 1954: with a nitrate that may be none, the lower end is none.
    found = ratio(Measured(2.0, 2.0), Measured(1.0, 0.1), ())
    assert found.estimate.low == 0.0
    assert found.estimate.value == 2.0
    nutrients = health(read(29.0, nitrate="0.1 mg/L", phosphate="0.50 mg/L")).nutrients
    assert nutrients.nitrate.estimate.low == 0.0
    # Standard atomic weights: 0.1 mg/L of NO3 are 1.6128 µmol/L.
    assert nutrients.nitrate.estimate.value == pytest.approx(1.6128, rel=1e-4)


def test_a_salt_whose_kit_declares_nothing_is_as_unsure_as_its_readings_were_found_to_be():
    bare = replace(reef(), kits={})
    here = log(read(29.0, salinity="35.0 psu", calcium="425 mg/L")).readings
    # By the last digit written alone, or by what is learned; the salinity is off by a step of its own.
    for learned, error in (({}, hypot(1.0, 425.0 * 0.1 / 35.0)), ({"calcium": 10.0}, hypot(10.0, 425.0 * 0.1 / 35.0))):
        (calcium,) = water_health(bare, here, canonical_values(here), moment(30.0), learned).salts.salts
        assert isinstance(calcium.normalised, Finding)
        assert calcium.normalised.estimate.standard == pytest.approx(error, rel=0.02)
