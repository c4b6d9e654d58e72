"""The carbonate system moves as the field knows it to move."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.reckon.estimate.uncertainty import Measured
from generator.reckon.finding import CannotTell, Finding, OutsideRange
from generator.reckon.water import carbonate as eq
from generator.reckon.water.carbonate import aragonite_saturation, carbonate_state, ph_nbs_from_total, ph_total_from_nbs
from generator.reckon.water.seawater import density
from generator.records.source import Source
from generator.units.kinds import MEQ_PER_DKH

NAN = float("nan")
ALKALINITIES, PH = st.floats(1800.0, 4000.0), st.floats(7.6, 8.5)
SALINITIES, TEMPERATURES = st.floats(30.0, 40.0), st.floats(18.0, 32.0)


@given(ALKALINITIES, st.floats(10.0, 300.0), PH, SALINITIES, TEMPERATURES)
def test_saturation_rises_with_alkalinity(alkalinity, more, ph, salinity, temperature):
    low, high = (carbonate_state(a, ph, salinity, temperature) for a in (alkalinity, alkalinity + more))
    assert high.aragonite_saturation > low.aragonite_saturation


@given(ALKALINITIES, PH, st.floats(0.01, 0.3), SALINITIES, TEMPERATURES)
def test_saturation_rises_and_carbon_dioxide_falls_with_ph(alkalinity, ph, more, salinity, temperature):
    low, high = (carbonate_state(alkalinity, p, salinity, temperature) for p in (ph, ph + more))
    assert high.aragonite_saturation > low.aragonite_saturation
    assert high.co2_pressure < low.co2_pressure
    assert high.dissolved_carbon < low.dissolved_carbon


@given(PH, SALINITIES, TEMPERATURES)
def test_ph_survives_the_other_scale_and_back(ph, salinity, temperature):
    total = ph_total_from_nbs(ph, salinity, temperature)
    assert ph_nbs_from_total(total, salinity, temperature) == pytest.approx(ph, abs=1e-12)
    # Source: PyCO2SYS 1.8.3.4: the scales lie 0.137 apart at S 35, 25 °C.
    assert 0.10 < ph - total < 0.17


def test_taking_one_scale_for_the_other_costs_a_fifth_of_the_saturation():
    # Source: PyCO2SYS 1.8.3.4: 3.892 against 3.045.
    right = carbonate_state(2400.0, ph_total_from_nbs(8.1, 35.0, 25.0), 35.0, 25.0).aragonite_saturation
    wrong = carbonate_state(2400.0, 8.1, 35.0, 25.0).aragonite_saturation
    assert right / wrong == pytest.approx(3.04536 / 3.89208, rel=1e-3)


@given(ALKALINITIES, PH)
def test_dissolved_carbon_is_the_sum_of_its_forms(alkalinity, ph):
    state = carbonate_state(alkalinity, ph, 35.0, 25.0)
    forms = state.carbon_dioxide + state.bicarbonate + state.carbonate
    assert state.dissolved_carbon == pytest.approx(forms, rel=1e-12)


def test_many_waters_at_once_are_the_same_as_one_by_one():
    alkalinity, ph = np.array([2200.0, 2800.0]), np.array([8.0, 8.2])
    together = carbonate_state(alkalinity, ph, 35.0, 25.0).aragonite_saturation
    np.testing.assert_allclose(
        together, [carbonate_state(a, p, 35.0, 25.0).aragonite_saturation for a, p in zip(alkalinity, ph, strict=True)]
    )


READ = {
    "alkalinity": Measured(8.0 * MEQ_PER_DKH, 0.15 * MEQ_PER_DKH),
    "ph": Measured(8.2, 0.05),
    "salinity": Measured(35.0, 0.3),
    "temperature": Measured(25.5, 0.2),
    "calcium": Measured(420.0, 10.0),
}


def _saturation(**other: Measured) -> Finding:
    found = aragonite_saturation(*{**READ, **other}.values(), inputs=(Source("logs/lagoon/2026-03.yaml", 12),))
    assert isinstance(found, Finding)
    return found


def test_saturation_carries_its_interval_its_parts_and_the_lines_it_rests_on():
    found = _saturation()
    assert found.estimate.low < found.estimate.value < found.estimate.high
    assert {part.cause for part in found.parts} == {*READ, "ph-scale", "constants"}
    assert found.inputs == (Source("logs/lagoon/2026-03.yaml", 12),)


def test_the_interval_holds_the_truth_nine_times_in_ten():
    rng = np.random.default_rng(1)
    truth, held = _saturation().estimate.value, 0
    # The uncertainty of constants and scale is not drawn, so it is left out of the interval too.
    for _ in range(400):
        drawn = {name: Measured(rng.normal(m.value, m.standard), m.standard) for name, m in READ.items()}
        found = _saturation(**drawn)
        read = sum(part.standard**2 for part in found.parts if part.cause in READ) ** 0.5
        half_width = 1.645 * read / found.estimate.value
        held += abs(np.log(found.estimate.value / truth)) <= half_width
    assert 340 <= held <= 380


def test_more_calcium_means_more_saturation_in_proportion():
    ratio = _saturation(calcium=Measured(462.0, 10.0)).estimate.value / _saturation().estimate.value
    assert ratio == pytest.approx(1.1, rel=1e-9)


def test_of_a_ph_without_any_error_the_scale_of_its_buffers_is_left():
    # Carbonate goes nearly as 10 to the pH: 0.02 of it is 4 % or a little less.
    parts = {part.cause: part.standard for part in _saturation(ph=Measured(8.2)).parts}
    assert "ph" not in parts
    assert 0.03 < parts["ph-scale"] / _saturation().estimate.value < 0.046


def test_a_vague_ph_never_makes_the_saturation_negative():
    found = _saturation(ph=Measured(8.2, 0.6)).estimate
    assert found.low > 0.0


@pytest.mark.parametrize("other", [{"salinity": Measured(12.0)}, {"temperature": Measured(38.0)}])
def test_outside_the_waters_the_constants_were_measured_in_nothing_is_claimed(other):
    found = aragonite_saturation(*{**READ, **other}.values())
    assert isinstance(found, CannotTell)
    assert found.why == "outside-carbonate-constants"


def test_water_without_carbonate_alkalinity_has_no_saturation_to_tell():
    found = aragonite_saturation(*{**READ, "alkalinity": Measured(0.05, 0.05)}.values())
    assert isinstance(found, CannotTell)
    assert found.why == "no-carbonate-alkalinity"


CONSTANTS = {
    eq.k0: eq.WEISS,
    eq.k1: eq.LUEKER,
    eq.k2: eq.LUEKER,
    eq.k_borate: eq.DICKSON,
    eq.k_water: eq.MILLERO,
    eq.k_bisulfate: eq.DICKSON,
    eq.k_fluoride: eq.DICKSON,
    eq.k_aragonite: eq.MUCCI,
    eq.hydrogen_activity: eq.DICKSON,
}


@pytest.mark.parametrize("constant", CONSTANTS, ids=lambda constant: constant.__name__)
def test_a_constant_holds_up_to_both_ends_of_what_was_measured_and_not_beyond(constant):
    of_salinity, of_temperature = CONSTANTS[constant]
    for salinity in (of_salinity.low, of_salinity.high):
        for temperature in (of_temperature.low, of_temperature.high):
            assert np.isfinite(constant(salinity, temperature))
    for salinity in (of_salinity.low - 1e-6, of_salinity.high + 1e-6, NAN):
        with pytest.raises(OutsideRange, match="salinity"):
            constant(salinity, 25.0)
    for temperature in (of_temperature.low - 1e-6, of_temperature.high + 1e-6, NAN):
        with pytest.raises(OutsideRange, match="temperature"):
            constant(35.0, temperature)


@pytest.mark.parametrize("total", [eq.total_boron_lee2010, eq.total_sulfate, eq.total_fluoride, eq.total_calcium])
def test_no_water_has_less_than_no_salt(total):
    assert total(0.0) == 0.0
    for salinity in (-1e-6, 45.1, NAN):
        with pytest.raises(OutsideRange, match="salinity"):
            total(salinity)


@pytest.mark.parametrize(
    ("alkalinity", "ph", "salinity", "temperature", "named"),
    [
        (NAN, 8.1, 35.0, 25.0, "alkalinity"),
        (-1.0, 8.1, 35.0, 25.0, "alkalinity"),
        (2400.0, NAN, 35.0, 25.0, "pH"),
        (2400.0, 14.1, 35.0, 25.0, "pH"),
        (2400.0, 8.1, NAN, 25.0, "salinity"),
        (2400.0, 8.1, 18.9, 25.0, "salinity"),
        (2400.0, 8.1, 35.0, 35.1, "temperature"),
    ],
)
def test_the_carbonate_system_of_no_water_there_is_has_no_answer(alkalinity, ph, salinity, temperature, named):
    with pytest.raises(OutsideRange, match=named):
        carbonate_state(alkalinity, ph, salinity, temperature)


def _read(salinity: float, temperature: float) -> dict[str, Measured]:
    return {**READ, "salinity": Measured(salinity, 0.5), "temperature": Measured(temperature, 0.3)}


def test_the_saturation_is_told_up_to_the_ends_and_a_reason_beyond():
    # Where a spread reaches over an end, the side that holds counts.
    for salinity, temperature in ((19.0, 25.0), (40.0, 25.0), (35.0, 5.0), (35.0, 35.0)):
        told = aragonite_saturation(*_read(salinity, temperature).values())
        assert isinstance(told, Finding)
        assert {"salinity", "temperature"} <= {part.cause for part in told.parts}
    for salinity, temperature in ((18.99, 25.0), (40.01, 25.0), (35.0, 4.99), (35.0, 35.01), (NAN, 25.0)):
        unknown = aragonite_saturation(*_read(salinity, temperature).values())
        assert isinstance(unknown, CannotTell)
        assert unknown.why == "outside-carbonate-constants"


def test_calcium_as_in_seawater_gives_the_saturation_of_seawater():
    # Dickson, Sabine & Christian 2007, SOP 5: 0.01028 mol/kg of calcium at a salinity of 35.
    without = aragonite_saturation(*(READ[name] for name in ("alkalinity", "ph", "salinity", "temperature")))
    assert isinstance(without, Finding)
    seawater = Measured(0.01028 * 40.078 * 1000.0 * density(35.0, 25.5), 10.0)
    assert _saturation(calcium=seawater).estimate.value == pytest.approx(without.estimate.value, rel=1e-3)
    assert {part.cause for part in without.parts} == {*READ, "ph-scale", "constants"} - {"calcium"}
