"""The carbonate system against the Guide's check values and a reference implementation.

PyCO2SYS is used as a judge only, never imported by the generator.
"""

import numpy as np
import PyCO2SYS as pyco2
import pytest

from generator.nature.methods import Pinned
from generator.reckon.estimate.uncertainty import Measured
from generator.reckon.finding import Finding
from generator.reckon.water import carbonate
from generator.reckon.water.carbonate import aragonite_saturation, carbonate_state, ph_nbs_from_total, ph_total_from_nbs
from generator.reckon.water.seawater import density
from tests.published.table import checks, holds

TAKE = {"ln": np.log, "log10": np.log10, "micromoles": lambda value: value * 1e6}
# Boron by Uppström 1974, Deep-Sea Res. 21:161 (0.000232 g/kg/‰), which many published states rest on.
BORON = {
    "uppstrom1974": lambda salinity: 0.000232 / 10.811 * np.asarray(salinity, float) / 1.80655,
    "lee2010": carbonate.total_boron_lee2010,
}
PYCO2SYS_BORON = {"uppstrom1974": 1, "lee2010": 2}
TOTAL_SCALE, NBS_SCALE = 1, 4


@pytest.mark.parametrize("check", checks("equilibrium"))
def test_a_constant_has_the_published_check_value(check: Pinned):
    form, name = check.what.split(" ")
    holds(check, TAKE[form](getattr(carbonate, name)(**check.inputs)))


def _state_value(what, alkalinity, boron, ph_total=None, ph_nbs=None, temperature=25.0, calcium=None):
    if what == "ph_nbs":
        return ph_nbs_from_total(ph_total, 35.0, temperature)
    ph = ph_total_from_nbs(ph_nbs, 35.0, temperature) if ph_total is None else ph_total
    return getattr(carbonate_state(alkalinity, ph, 35.0, temperature, calcium, BORON[boron]), what)


@pytest.mark.parametrize("check", checks("carbonate"))
def test_the_carbonate_system_has_the_published_state(check: Pinned):
    holds(check, _state_value(check.what, **check.inputs))


def _grid() -> dict[str, np.ndarray]:
    axes = np.meshgrid([1500.0, 2400.0, 3600.0], [7.7, 8.1, 8.5], [30.0, 35.0, 38.0], [20.0, 25.0, 29.0])
    return dict(zip(("alkalinity", "ph", "salinity", "temperature"), (axis.ravel() for axis in axes), strict=True))


def _reference(grid: dict[str, np.ndarray], scale: int, boron: str) -> dict[str, np.ndarray]:
    return pyco2.sys(
        par1=grid["alkalinity"],
        par1_type=1,
        par2=grid["ph"],
        par2_type=3,
        salinity=grid["salinity"],
        temperature=grid["temperature"],
        opt_pH_scale=scale,
        opt_k_carbonic=10,  # Lueker et al. 2000
        opt_k_bisulfate=1,  # Dickson 1990
        opt_k_fluoride=1,  # Dickson & Riley 1979
        opt_total_borate=PYCO2SYS_BORON[boron],
    )


@pytest.mark.parametrize("boron", BORON)
@pytest.mark.parametrize("scale", [TOTAL_SCALE, NBS_SCALE], ids=["total scale", "NBS scale"])
def test_every_reef_water_agrees_with_the_reference_library_to_a_thousandth(scale: int, boron: str):
    grid = _grid()
    reference = _reference(grid, scale, boron)
    ph = grid["ph"] if scale == TOTAL_SCALE else ph_total_from_nbs(grid["ph"], grid["salinity"], grid["temperature"])
    state = carbonate_state(grid["alkalinity"], ph, grid["salinity"], grid["temperature"], total_boron=BORON[boron])
    for ours, theirs in {
        "aragonite_saturation": "saturation_aragonite",
        "co2_pressure": "pCO2",
        "co2_fugacity": "fCO2",
        "dissolved_carbon": "dic",
        "carbonate": "carbonate",
        "bicarbonate": "bicarbonate",
        "carbon_dioxide": "aqueous_CO2",
    }.items():
        np.testing.assert_allclose(getattr(state, ours), reference[theirs], rtol=1e-3, err_msg=ours)


@pytest.mark.long
def test_the_uncertainty_of_saturation_agrees_with_the_reference_library():
    ph_nbs = float(ph_nbs_from_total(8.1, 35.0, 25.0))
    per_litre = density(35.0, 25.0) / 1e3
    ours = aragonite_saturation(
        Measured(2400.0 * per_litre, 50.0 * per_litre), Measured(ph_nbs, 0.05), Measured(35.0), Measured(25.0)
    )
    assert isinstance(ours, Finding)
    parts = {part.cause: part.standard for part in ours.parts}
    into, system = ["saturation_aragonite"], {"par1_type": 1, "par2_type": 3, "opt_total_borate": 2}
    read = pyco2.sys(2400.0, 8.1, uncertainty_into=into, uncertainty_from={"par1": 50.0, "par2": 0.05}, **system)
    # Ours takes the curve over a whole standard uncertainty, theirs the tangent: 1 % apart at most.
    assert parts["alkalinity"] == pytest.approx(read["u_saturation_aragonite__par1"], rel=0.01)
    assert parts["ph"] == pytest.approx(read["u_saturation_aragonite__par2"], rel=0.01)
    # The constants' own uncertainty, Orr et al. 2018, as the library ships it.
    known = pyco2.sys(2400.0, 8.1, uncertainty_into=into, uncertainty_from=pyco2.uncertainty_OEDG18, **system)
    assert parts["constants"] == pytest.approx(known["u_saturation_aragonite"], rel=0.01)
