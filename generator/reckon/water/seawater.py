"""Density of seawater, and salinity in all the forms a keeper reads it in.

TEOS-10 by way of gsw, loaded only when something is asked. A reef's water is taken to have the
composition of the reference, so its absolute salinity is its reference salinity. Temperatures are
ITS-90, pressures that of the surface. Outside of where the formulas hold they raise `OutsideRange`.
"""

from functools import lru_cache
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from generator.nature.constants import REFERENCE_SALINITY, STANDARD_SALINITY
from generator.reckon.finding import ValidRange
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity, convert, per_day

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
