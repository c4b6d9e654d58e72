"""The carbonate system of seawater at the surface: its constants, and what alkalinity and pH say of carbonate.

Each constant takes practical salinity and temperature (°C), numbers or arrays alike, and is in mol/kg of seawater on
the total pH scale, or as stated; outside of where it was measured it raises `OutsideRange`. All as given by Dickson,
Sabine & Christian 2007, Guide to best practices for ocean CO2 measurements (PICES Special Publication 3), ch. 5, called
the Guide below. Their coefficients stand in the formulas as published.
"""

from collections.abc import Callable
from math import exp, hypot, log

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from generator.nature.constants import (
    BORON_PER_CHLORINITY_LEE2010,
    CALCIUM_PER_CHLORINITY,
    FLUORIDE_PER_CHLORINITY,
    GAS_CONSTANT,
    ICE_POINT,
    PH_ON_NBS_SCALE,
    PK2_UNCERTAINTY,
    PKSP_UNCERTAINTY,
    SALINITY_PER_CHLORINITY,
    SULFATE_PER_CHLORINITY,
    Constant,
)
from generator.reckon.estimate.uncertainty import Array, Measured, contributions
from generator.reckon.finding import Answer, CannotTell, Finding, OutsideRange, UncertaintyPart, ValidRange
from generator.reckon.water.seawater import density
from generator.records.source import Source
from generator.units.compounds import molar_mass
from generator.units.quantity import Estimate, coverage_factor

Values = float | NDArray[np.float64]


def _holds(source: str, salinity: tuple[float, float], temperature: tuple[float, float]) -> tuple[ValidRange, ...]:
    """Where a constant holds: practical salinity, and temperature in °C."""
    return ValidRange("salinity", "psu", *salinity, source), ValidRange("temperature", "°C", *temperature, source)


# Ranges as stated by the authors; from memory, except Lueker and Mucci. No range was found for fluoride and for the
# activity of hydrogen: they use that of bisulfate, which appears in the same formulas.
WEISS = _holds("Weiss 1974", (0.0, 40.0), (-1.0, 40.0))
LUEKER = _holds("Lueker et al. 2000", (19.0, 43.0), (2.0, 35.0))
DICKSON = _holds("Dickson 1990", (5.0, 45.0), (0.0, 45.0))
MILLERO = _holds("Millero 1995", (0.0, 45.0), (0.0, 45.0))
MUCCI = _holds("Mucci 1983", (5.0, 44.0), (5.0, 40.0))
# Where the composition of seawater is taken to be constant; common practice, no source.
PROPORTION = ValidRange("salinity", "psu", 0.0, 45.0, "constant composition")
VIRIAL = ValidRange("temperature", "°C", -8.0, 47.0, "Weiss 1974 (virial coefficients)")


def _kelvin(temperature: Values) -> Array:
    return np.asarray(temperature, float) + ICE_POINT.value


def _inside(holds: tuple[ValidRange, ...], salinity: Values, temperature: Values) -> tuple[Array, Array]:
    """Salinity and absolute temperature (K); raises `OutsideRange` where a constant does not hold."""
    for valid, value in zip(holds, (salinity, temperature), strict=True):
        valid.check(value)
    return np.asarray(salinity, float), _kelvin(temperature)


def _ionic_strength(s: Array) -> Array:
    return 19.924 * s / (1000.0 - 1.005 * s)


def _per_kg_seawater(s: Array) -> Array:
    return 1.0 - 0.001005 * s


def k0(salinity: Values, temperature: Values) -> Array:
    """Solubility of CO2, mol/kg/atm. Source: Weiss 1974, Mar. Chem. 2:203-215."""
    s, kelvin = _inside(WEISS, salinity, temperature)
    t = kelvin / 100.0
    ln = 93.4517 / t - 60.2409 + 23.3585 * np.log(t) + s * (0.023517 - 0.023656 * t + 0.0047036 * t**2)
    return np.asarray(np.exp(ln))


def k1(salinity: Values, temperature: Values) -> Array:
    """First dissociation of carbonic acid. Source: Lueker, Dickson & Keeling 2000, Mar. Chem. 70:105-119."""
    s, t = _inside(LUEKER, salinity, temperature)
    pk = 3633.86 / t - 61.2172 + 9.67770 * np.log(t) - 0.011555 * s + 0.0001152 * s**2
    return np.asarray(np.power(10.0, -pk))


def k2(salinity: Values, temperature: Values) -> Array:
    """Second dissociation of carbonic acid. Source: Lueker, Dickson & Keeling 2000, Mar. Chem. 70:105-119."""
    s, t = _inside(LUEKER, salinity, temperature)
    pk = 471.78 / t + 25.9290 - 3.16967 * np.log(t) - 0.01781 * s + 0.0001122 * s**2
    return np.asarray(np.power(10.0, -pk))


def k_borate(salinity: Values, temperature: Values) -> Array:
    """Dissociation of boric acid. Source: Dickson 1990, Deep-Sea Res. A 37:755-766."""
    s, t = _inside(DICKSON, salinity, temperature)
    root = np.sqrt(s)
    ln = (
        (-8966.90 - 2890.53 * root - 77.942 * s + 1.728 * s * root - 0.0996 * s**2) / t
        + 148.0248
        + 137.1942 * root
        + 1.62142 * s
        + (-24.4344 - 25.085 * root - 0.2474 * s) * np.log(t)
        + 0.053105 * root * t
    )
    return np.asarray(np.exp(ln))


def k_water(salinity: Values, temperature: Values) -> Array:
    """Ion product of water, mol²/kg². Source: Millero 1995, Geochim. Cosmochim. Acta 59:661-677 (Guide form)."""
    s, t = _inside(MILLERO, salinity, temperature)
    ln = (
        148.9652
        - 13847.26 / t
        - 23.6521 * np.log(t)
        + (118.67 / t - 5.977 + 1.0495 * np.log(t)) * np.sqrt(s)
        - 0.01615 * s
    )
    return np.asarray(np.exp(ln))


def k_bisulfate(salinity: Values, temperature: Values) -> Array:
    """Dissociation of bisulfate, on the free scale. Source: Dickson 1990, J. Chem. Thermodyn. 22:113-127."""
    s, t = _inside(DICKSON, salinity, temperature)
    strength = _ionic_strength(s)
    ln = (
        -4276.1 / t
        + 141.328
        - 23.093 * np.log(t)
        + (-13856.0 / t + 324.57 - 47.986 * np.log(t)) * np.sqrt(strength)
        + (35474.0 / t - 771.54 + 114.723 * np.log(t)) * strength
        - 2698.0 / t * strength**1.5
        + 1776.0 / t * strength**2
    )
    return np.asarray(np.exp(ln) * _per_kg_seawater(s))


def k_fluoride(salinity: Values, temperature: Values) -> Array:
    """Dissociation of hydrogen fluoride, on the free scale. Source: Dickson & Riley 1979, Mar. Chem. 7:89-99."""
    s, t = _inside(DICKSON, salinity, temperature)
    ln = 1590.2 / t - 12.641 + 1.525 * np.sqrt(_ionic_strength(s))
    return np.asarray(np.exp(ln) * _per_kg_seawater(s))


def k_aragonite(salinity: Values, temperature: Values) -> Array:
    """Solubility product of aragonite, mol²/kg². Source: Mucci 1983, Am. J. Sci. 283:780-799."""
    s, t = _inside(MUCCI, salinity, temperature)
    log10 = (
        -171.945
        - 0.077993 * t
        + 2903.293 / t
        + 71.595 * np.log10(t)
        + (-0.068393 + 0.0017276 * t + 88.135 / t) * np.sqrt(s)
        - 0.10018 * s
        + 0.0059415 * s**1.5
    )
    return np.asarray(np.power(10.0, log10))


def fugacity_per_pressure(temperature: Values) -> Array:
    """Fugacity of CO2 per partial pressure in air at 1 atm. Source: Weiss 1974, Mar. Chem. 2:203-215."""
    VIRIAL.check(temperature)
    t = _kelvin(temperature)
    virial = -1636.75 + 12.0408 * t - 0.0327957 * t**2 + 3.16528e-5 * t**3
    return np.asarray(np.exp((virial + 2.0 * (57.7 - 0.118 * t)) / (GAS_CONSTANT.value * t)))


def hydrogen_activity(salinity: Values, temperature: Values) -> Array:
    """Apparent activity coefficient of H⁺: what an electrode set with NBS buffers shows per mol/kg of seawater scale.

    It depends on the electrode's liquid junction, so pH on the NBS scale is uncertain by a hundredth or two.
    Source: Takahashi, Williams & Bos 1982, GEOSECS Pacific Expedition vol. 3, ch. 3.
    """
    s, t = _inside(DICKSON, salinity, temperature)
    return np.asarray(1.2948 - 0.002036 * t + (0.0004607 - 0.000001475 * t) * s**2)


def _in_proportion(per_chlorinity: Constant, salinity: Values) -> Array:
    PROPORTION.check(salinity)
    return per_chlorinity.value * np.asarray(salinity, float) / SALINITY_PER_CHLORINITY.value


def total_boron_lee2010(salinity: Values) -> Array:
    """Total boron, mol/kg. Source: Lee et al. 2010, Geochim. Cosmochim. Acta 74:1801-1811."""
    return _in_proportion(BORON_PER_CHLORINITY_LEE2010, salinity)


def total_sulfate(salinity: Values) -> Array:
    """Total sulfate, mol/kg. Source: Morris & Riley 1966, Deep-Sea Res. 13:699-705."""
    return _in_proportion(SULFATE_PER_CHLORINITY, salinity)


def total_fluoride(salinity: Values) -> Array:
    """Total fluoride, mol/kg. Source: Riley 1965, Deep-Sea Res. 12:219-220."""
    return _in_proportion(FLUORIDE_PER_CHLORINITY, salinity)


def total_calcium(salinity: Values) -> Array:
    """Calcium of seawater, mol/kg. Source: Riley & Tongudai 1967, Chem. Geol. 2:263-269."""
    return _in_proportion(CALCIUM_PER_CHLORINITY, salinity)


# What can be asked of any water; common practice, no source.
_ALKALINITY = ValidRange("alkalinity", "µmol/kg", 0.0, 20_000.0, "the carbonate system of seawater")
_PH = ValidRange("pH", "", 4.0, 11.0, "the carbonate system of seawater")


class CarbonateState(Struct, frozen=True):
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
    total_boron: Callable[[Values], Array] = total_boron_lee2010,
) -> CarbonateState:
    """The carbonate system from alkalinity (µmol/kg) and pH on the total scale.

    Numbers or arrays alike. `calcium` in µmol/kg; without it, that of seawater at this salinity. `total_boron` is
    one of the published forms. Raises `OutsideRange` where a constant does not hold, or for what
    is no alkalinity or pH at all.
    """
    _ALKALINITY.check(alkalinity)
    _PH.check(ph_total)
    h = np.power(10.0, -np.asarray(ph_total, float))
    first, second = k1(salinity, temperature), k2(salinity, temperature)
    carbon_alkalinity = np.asarray(alkalinity, float) * 1e-6 - _other_alkalinity(h, salinity, temperature, total_boron)
    bicarbonate = carbon_alkalinity / (1.0 + 2.0 * second / h)
    carbonate = bicarbonate * second / h
    carbon_dioxide = bicarbonate * h / first
    fugacity = carbon_dioxide / k0(salinity, temperature)
    ca = total_calcium(salinity) if calcium is None else np.asarray(calcium, float) * 1e-6
    return CarbonateState(
        aragonite_saturation=ca * carbonate / k_aragonite(salinity, temperature),
        co2_pressure=fugacity / fugacity_per_pressure(temperature) * 1e6,
        co2_fugacity=fugacity * 1e6,
        dissolved_carbon=(carbon_dioxide + bicarbonate + carbonate) * 1e6,
        carbonate=carbonate * 1e6,
        bicarbonate=bicarbonate * 1e6,
        carbon_dioxide=carbon_dioxide * 1e6,
    )


def _other_alkalinity(h: Array, salinity: Values, temperature: Values, total_boron: Callable[[Values], Array]) -> Array:
    """Alkalinity that is not carbonate or bicarbonate, mol/kg."""
    kb, kw = k_borate(salinity, temperature), k_water(salinity, temperature)
    ks, kf = k_bisulfate(salinity, temperature), k_fluoride(salinity, temperature)
    sulfate, fluoride = total_sulfate(salinity), total_fluoride(salinity)
    free_h = h / (1.0 + sulfate / ks)
    borate = total_boron(salinity) / (1.0 + h / kb)
    return borate + kw / h - free_h - sulfate / (1.0 + ks / free_h) - fluoride / (1.0 + kf / free_h)


def ph_total_from_nbs(ph_nbs: Values, salinity: Values, temperature: Values) -> Array:
    """pH on the total scale from pH on the NBS scale, as a probe set with NBS buffers shows it.

    About 0.14 lower at S = 35 and 25 °C. By way of the seawater scale, which counts the hydrogen in
    HF as well. Source: `hydrogen_activity`; the Guide, ch. 2.
    """
    return np.asarray(ph_nbs, float) - _nbs_above_total(salinity, temperature)


def ph_nbs_from_total(ph_total: Values, salinity: Values, temperature: Values) -> Array:
    """pH on the NBS scale from pH on the total scale; the inverse of `ph_total_from_nbs`."""
    return np.asarray(ph_total, float) + _nbs_above_total(salinity, temperature)


def _nbs_above_total(salinity: Values, temperature: Values) -> Array:
    bound_to_sulfate = total_sulfate(salinity) / k_bisulfate(salinity, temperature)
    bound_to_fluoride = total_fluoride(salinity) / k_fluoride(salinity, temperature)
    seawater_per_total = 1.0 + bound_to_fluoride / (1.0 + bound_to_sulfate)
    return np.asarray(-np.log10(hydrogen_activity(salinity, temperature) * seawater_per_total))


def aragonite_saturation(
    alkalinity: Measured,
    ph_nbs: Measured,
    salinity: Measured,
    temperature: Measured,
    calcium: Measured | None = None,
    inputs: tuple[Source, ...] = (),
) -> Answer:
    """Aragonite saturation state with its 90 % interval.

    In: canonical units (meq/L, pH on the NBS scale, psu, °C, calcium in mg/L), each with its standard uncertainty;
    without calcium, that of seawater at this salinity is taken. The interval is symmetrical in the logarithm, where the
    saturation follows pH almost straight, so that it can never reach below zero. How unsure the NBS scale is in
    seawater, and the constants, are parts of it. `CannotTell` outside of where the constants were measured (salinity 19
    to 40, 5 to 35 °C), or where so little alkalinity is left that no carbonate can be reckoned from it.
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
    scale = {name: Measured(each.value) for name, each in measured.items()}
    scale["ph"] = Measured(ph_nbs.value, PH_ON_NBS_SCALE.value)
    parts["ph-scale"] = contributions(_saturation, scale)["ph"]
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
