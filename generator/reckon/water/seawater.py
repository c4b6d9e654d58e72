"""Seawater: density, salinity in all the forms a keeper reads it in, the carbonate system from alkalinity and pH."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from math import exp, hypot, log
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from generator.nature.constants import PK2_UNCERTAINTY, PKSP_UNCERTAINTY, REFERENCE_SALINITY, STANDARD_SALINITY
from generator.reckon.estimate.uncertainty import Array, Measured, contributions
from generator.reckon.finding import Answer, CannotTell, Finding, OutsideRange, UncertaintyPart, ValidRange
from generator.reckon.water import equilibrium as eq
from generator.reckon.water.equilibrium import Values
from generator.records.source import Source
from generator.units.compounds import molar_mass
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, Quantity, convert, coverage_factor, per_day

Number = TypeVar("Number", float, NDArray[np.float64])

# Temperature of the seawater and of the pure water it is compared with, °C. 60 °F is 15.56 °C.
_SIXTY_FAHRENHEIT = (60.0 - 32.0) / 1.8
REFERENCE_PAIRS: dict[str, tuple[float, float]] = {
    "sg 25/25": (25.0, 25.0),
    "sg 20/20": (20.0, 20.0),
    "sg 60F/60F": (_SIXTY_FAHRENHEIT, _SIXTY_FAHRENHEIT),
    "sg 20/4": (20.0, 4.0),
}

# Meters state conductivity as it would be at this temperature, °C.
_CONDUCTIVITY_AT = 25.0

_STEPS = 12

# IOC, SCOR and IAPSO 2010, 2.6: to 42 g/kg of salt, a practical salinity of 41.8, rounded; UNESCO Technical Papers
# in Marine Science 44, below 2 extended by Hill, Dauphinee & Woods 1986. Both from memory.
_TEOS_10, _PSS_78 = "TEOS-10", "the Practical Salinity Scale 1978"
VALID_SALINITY = ValidRange("salinity", "psu", 0.0, 42.0, _TEOS_10)
VALID_TEMPERATURE = ValidRange("temperature", "°C", -6.0, 40.0, _TEOS_10)
_ON_THE_SCALE = ValidRange("salinity", "psu", 0.0, 42.0, _PSS_78)
_CONDUCTS = ValidRange("conductivity", "mS/cm", 0.0, 62.36, _PSS_78)
# The lowest reading of an instrument in pure water, and the rounding allowed at the upper end.
_LIGHTEST, _ROUNDING = 0.99, 5e-5


def density(salinity: Number, temperature: Number) -> Number:
    """Density of seawater (kg/L) from practical salinity and temperature (°C).

    Practical salinity 0 to 42, -6 to 40 °C.
    Source: TEOS-10 Gibbs function (gsw `rho_t_exact`) at zero pressure; IOC, SCOR and IAPSO 2010.
    """
    VALID_SALINITY.check(salinity)
    VALID_TEMPERATURE.check(temperature)
    return _density(salinity, temperature)


def _density(salinity: Number, temperature: Number) -> Number:
    import gsw

    absolute = salinity * (REFERENCE_SALINITY.value / STANDARD_SALINITY.value)
    kg_per_m3: Number = gsw.rho_t_exact(absolute, temperature, 0.0)
    return kg_per_m3 / 1e3


def specific_gravity(salinity: Number, pair: str) -> Number:
    """Specific gravity of seawater for a reference pair, a key of `REFERENCE_PAIRS`.

    The pair names the temperature of the seawater and that of the pure water it is compared with;
    20/4 and 25/25 are two units of salinity apart.
    """
    VALID_SALINITY.check(salinity)
    return _gravity(salinity, pair)


def _gravity(salinity: Number, pair: str) -> Number:
    at, compared_at = REFERENCE_PAIRS[pair]
    return _density(salinity, salinity * 0.0 + at) / _density(0.0, compared_at)


def salinity_from_specific_gravity(gravity: Number, pair: str) -> Number:
    """Practical salinity from specific gravity for a reference pair, a key of `REFERENCE_PAIRS`.

    The instrument is taken to state what the water has at the pair's own temperature, as
    temperature-compensated ones do. Below pure water it answers 0. Inverse of `specific_gravity`,
    to 1e-9.
    """
    heaviest = float(_gravity(VALID_SALINITY.high, pair)) + _ROUNDING
    ValidRange("specific gravity", "", _LIGHTEST, heaviest, f"{_TEOS_10} by {pair}").check(gravity)
    at = STANDARD_SALINITY.value
    rise = _gravity(at + 0.5, pair) - _gravity(at - 0.5, pair)
    salinity = gravity * 0.0 + at
    # The curve is nearly straight: with the slope at 35 each step leaves a tenth of the error or less.
    for _ in range(_STEPS):
        salinity = np.maximum(0.0, salinity + (gravity - _gravity(salinity, pair)) / rise)
    # A reading within rounding of the upper end is the upper end.
    heaviest_water: Number = np.minimum(salinity, VALID_SALINITY.high)
    return heaviest_water


def conductivity(salinity: Number) -> Number:
    """Conductivity (mS/cm) at 25 °C from practical salinity.

    Source: the Practical Salinity Scale 1978 (gsw `C_from_SP`), UNESCO Technical Papers in Marine
    Science 44.
    """
    _ON_THE_SCALE.check(salinity)
    import gsw

    millisiemens: Number = gsw.C_from_SP(salinity, _CONDUCTIVITY_AT, 0.0)
    return millisiemens


def salinity_from_conductivity(millisiemens: Number) -> Number:
    """Practical salinity from conductivity (mS/cm) compensated to 25 °C.

    Source: as `conductivity` (gsw `SP_from_C`). How a meter compensates is its own affair and is not
    undone here; at 25 °C it does not matter.
    """
    _CONDUCTS.check(millisiemens)
    import gsw

    salinity: Number = gsw.SP_from_C(millisiemens, _CONDUCTIVITY_AT, 0.0)
    return salinity


def salinity_from_unit(value: Number, unit: str) -> Number:
    """Practical salinity from a value in any unit of the salinity kind.

    Raises `ValueError` for a unit that salinity does not have.
    """
    if unit in REFERENCE_PAIRS:
        return salinity_from_specific_gravity(value, unit)
    if unit == "mS/cm":
        return salinity_from_conductivity(value)
    return value * convert(1.0, "salinity", unit, KINDS["salinity"].canonical)


def salinity_in_unit(salinity: Number, unit: str) -> Number:
    """A practical salinity in any unit of the salinity kind; the inverse of `salinity_from_unit`."""
    if unit in REFERENCE_PAIRS:
        return specific_gravity(salinity, unit)
    if unit == "mS/cm":
        return conductivity(salinity)
    return salinity * convert(1.0, "salinity", KINDS["salinity"].canonical, unit)


# A scale has few marks, so a log of thousands of readings asks for few different ones.
@lru_cache(maxsize=1024)
def practical_salinity(reading: Quantity) -> float:
    """Practical salinity of a reading in any unit of the salinity kind."""
    return float(salinity_from_unit(reading.value, reading.unit))


def salinity_uncertainty(precision: Quantity, salinity: float = STANDARD_SALINITY.value) -> float:
    """A difference of salinity (a kit's precision, a step of a scale) in practical salinity.

    By the local slope of the unit at `salinity`, since specific gravity and conductivity are not
    proportional to it.
    """
    if precision.unit in REFERENCE_PAIRS or precision.unit == "mS/cm":
        salinity = min(max(salinity, VALID_SALINITY.low + 0.5), VALID_SALINITY.high - 0.5)
        rise = salinity_in_unit(salinity + 0.5, precision.unit) - salinity_in_unit(salinity - 0.5, precision.unit)
        return float(precision.value / rise)
    return per_day(precision.value, "salinity", precision.unit, KINDS["salinity"].canonical)


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
