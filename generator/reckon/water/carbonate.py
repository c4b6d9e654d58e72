"""The carbonate system: aragonite saturation, CO2 pressure and dissolved carbon from alkalinity and pH.

Only what reef water has in number enters: carbonate, borate, water, bisulfate and fluoride. Phosphate
and silicate at a reef's levels change the answer by less than any kit can see.
Source of the method: Dickson, Sabine & Christian 2007, Guide to best practices for ocean CO2
measurements, ch. 2 and 5; the constants are those of `equilibrium`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, hypot, log

import numpy as np

from generator.nature.constants import PK2_UNCERTAINTY, PKSP_UNCERTAINTY
from generator.reckon.estimate.uncertainty import Array, Measured, contributions
from generator.reckon.finding import Answer, CannotTell, Finding, OutsideRange, UncertaintyPart, ValidRange
from generator.reckon.water import equilibrium as eq
from generator.reckon.water.equilibrium import Values
from generator.reckon.water.seawater import density
from generator.records.source import Source
from generator.units.compounds import molar_mass
from generator.units.quantity import Estimate, coverage_factor

# What can be asked of any water; common practice, no source.
_ALKALINITY = ValidRange("alkalinity", "µmol/kg", 0.0, 20_000.0, "the carbonate system of seawater")
_PH = ValidRange("pH", "", 4.0, 11.0, "the carbonate system of seawater")


@dataclass(frozen=True, slots=True)
class CarbonateState:
    """The carbonate system of a water: amounts in µmol/kg, CO2 fugacity and pressure in µatm."""

    aragonite_saturation: Array
    co2_pressure: Array
    co2_fugacity: Array
    dissolved_carbon: Array
    carbonate: Array
    bicarbonate: Array
    carbon_dioxide: Array


def carbonate_state(
    alkalinity: Values,
    ph_total: Values,
    salinity: Values,
    temperature: Values,
    calcium: Values | None = None,
    total_boron: Callable[[Values], Array] = eq.total_boron_lee2010,
) -> CarbonateState:
    """The carbonate system from alkalinity (µmol/kg) and pH on the total scale.

    Numbers or arrays alike. `calcium` in µmol/kg; without it, that of seawater at this salinity. `total_boron` is
    one of the published forms in `equilibrium`. Raises `OutsideRange` where a constant does not hold, or for what
    is no alkalinity or pH at all.
    """
    _ALKALINITY.check(alkalinity)
    _PH.check(ph_total)
    h = np.power(10.0, -np.asarray(ph_total, float))
    k1, k2 = eq.k1(salinity, temperature), eq.k2(salinity, temperature)
    carbon_alkalinity = np.asarray(alkalinity, float) * 1e-6 - _other_alkalinity(h, salinity, temperature, total_boron)
    bicarbonate = carbon_alkalinity / (1.0 + 2.0 * k2 / h)
    carbonate = bicarbonate * k2 / h
    carbon_dioxide = bicarbonate * h / k1
    fugacity = carbon_dioxide / eq.k0(salinity, temperature)
    ca = eq.total_calcium(salinity) if calcium is None else np.asarray(calcium, float) * 1e-6
    return CarbonateState(
        aragonite_saturation=ca * carbonate / eq.k_aragonite(salinity, temperature),
        co2_pressure=fugacity / eq.fugacity_per_pressure(temperature) * 1e6,
        co2_fugacity=fugacity * 1e6,
        dissolved_carbon=(carbon_dioxide + bicarbonate + carbonate) * 1e6,
        carbonate=carbonate * 1e6,
        bicarbonate=bicarbonate * 1e6,
        carbon_dioxide=carbon_dioxide * 1e6,
    )


def _other_alkalinity(h: Array, salinity: Values, temperature: Values, total_boron: Callable[[Values], Array]) -> Array:
    """Alkalinity that is not carbonate or bicarbonate, mol/kg."""
    kb, kw = eq.k_borate(salinity, temperature), eq.k_water(salinity, temperature)
    ks, kf = eq.k_bisulfate(salinity, temperature), eq.k_fluoride(salinity, temperature)
    sulfate, fluoride = eq.total_sulfate(salinity), eq.total_fluoride(salinity)
    free_h = h / (1.0 + sulfate / ks)
    borate = total_boron(salinity) / (1.0 + h / kb)
    return borate + kw / h - free_h - sulfate / (1.0 + ks / free_h) - fluoride / (1.0 + kf / free_h)


def ph_total_from_nbs(ph_nbs: Values, salinity: Values, temperature: Values) -> Array:
    """pH on the total scale from pH on the NBS scale, as a probe set with NBS buffers shows it.

    About 0.14 lower at S = 35 and 25 °C. By way of the seawater scale, which counts the hydrogen in
    HF as well. Source: `equilibrium.hydrogen_activity`; the Guide, ch. 2.
    """
    return np.asarray(ph_nbs, float) - _nbs_above_total(salinity, temperature)


def ph_nbs_from_total(ph_total: Values, salinity: Values, temperature: Values) -> Array:
    """pH on the NBS scale from pH on the total scale; the inverse of `ph_total_from_nbs`."""
    return np.asarray(ph_total, float) + _nbs_above_total(salinity, temperature)


def _nbs_above_total(salinity: Values, temperature: Values) -> Array:
    bound_to_sulfate = eq.total_sulfate(salinity) / eq.k_bisulfate(salinity, temperature)
    bound_to_fluoride = eq.total_fluoride(salinity) / eq.k_fluoride(salinity, temperature)
    seawater_per_total = 1.0 + bound_to_fluoride / (1.0 + bound_to_sulfate)
    return np.asarray(-np.log10(eq.hydrogen_activity(salinity, temperature) * seawater_per_total))


def aragonite_saturation(
    alkalinity: Measured,
    ph_nbs: Measured,
    salinity: Measured,
    temperature: Measured,
    calcium: Measured | None = None,
    inputs: tuple[Source, ...] = (),
) -> Answer:
    """Aragonite saturation state with its 90 % interval.

    In: canonical units (meq/L, pH on the NBS scale, psu, °C, calcium in mg/L), each with its standard
    uncertainty; without calcium, that of seawater at this salinity is taken. The interval is
    symmetrical in the logarithm, where the saturation follows pH almost straight, so that it can
    never reach below zero. The uncertainty of the constants themselves is one of its parts.
    `CannotTell` outside of where the constants were measured (salinity 19 to 40, 5 to 35 °C), or where so little
    alkalinity is left that no carbonate can be reckoned from it.
    """
    measured = {"alkalinity": alkalinity, "ph": ph_nbs, "salinity": salinity, "temperature": temperature}
    if calcium is not None:
        measured["calcium"] = calcium
    try:
        state = _state(**{name: each.value for name, each in measured.items()})
    except OutsideRange:
        return CannotTell("outside-carbonate-constants", "read-salinity-and-temperature-again", inputs=inputs)
    value = float(state.aragonite_saturation)
    if value <= 0.0:
        return CannotTell("no-carbonate-alkalinity", "read-alkalinity-and-ph-again", inputs=inputs)
    parts = contributions(_saturation, measured)
    parts["constants"] = value * _relative_uncertainty_of_constants(state)
    factor = exp(coverage_factor() * hypot(*parts.values()) / value)
    return Finding(
        Estimate(value, value / factor, value * factor, "Ω"),
        "aragonite-saturation",
        inputs,
        tuple(UncertaintyPart(cause, standard) for cause, standard in parts.items()),
    )


def _state(
    alkalinity: float, ph: float, salinity: float, temperature: float, calcium: float | None = None
) -> CarbonateState:
    kg_per_litre = density(salinity, temperature)
    return carbonate_state(
        alkalinity * 1e3 / kg_per_litre,
        ph_total_from_nbs(ph, salinity, temperature),
        salinity,
        temperature,
        None if calcium is None else calcium * 1e3 / molar_mass("Ca") / kg_per_litre,
    )


def _saturation(**measured: float) -> float:
    return float(_state(**measured).aragonite_saturation)


def _relative_uncertainty_of_constants(state: CarbonateState) -> float:
    # With alkalinity and pH given, K1 cancels; boron and water's product weigh less than a tenth of these two.
    of_carbonate = float(state.bicarbonate / (state.bicarbonate + 2.0 * state.carbonate)) * PK2_UNCERTAINTY.value
    return log(10.0) * hypot(of_carbonate, PKSP_UNCERTAINTY.value)
