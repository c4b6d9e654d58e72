"""How long the oxygen in the water lasts."""

from math import exp, hypot, log, sqrt

from generator.nature.constants import (
    CORAL_RESPIRATION,
    OXYGEN_LIMIT,
    OXYGEN_MASS,
    SURFACE_FROM_SIZE,
)
from generator.reckon.estimate.lognormal import LogNormal
from generator.reckon.finding import Finding, UncertaintyPart
from generator.reckon.growth.footprint import surface_area
from generator.reckon.trade.fit import Sides
from generator.reckon.valid_range import ValidRange
from generator.units.quantity import STANDARD_DENSITY, Estimate, spread_of_range

METHOD = "oxygen"

# Water from a tank with surface movement is nearly saturated.
_SATURATED = 0.95
_SOURCE = "Garcia & Gordon 1992"
_SALINITY = ValidRange("salinity", "psu", 0.0, 42.0, _SOURCE)
_TEMPERATURE = ValidRange("temperature", "°C", 0.0, 40.0, _SOURCE)


def solubility(salinity: float, temperature: float) -> float:
    """Oxygen (µmol/kg) that seawater holds in equilibrium with moist air at one atmosphere.

    `temperature` in °C, 0 to 40; practical salinity 0 to 42. 274.610 at 35 and 10 °C.
    Source: Garcia & Gordon 1992, Limnol. Oceanogr. 37:1307-1312, eq. 8 with the fit to Benson & Krause
    (table 1) and without the A3 Ts² term printed by mistake. Raises `OutsideRange` beyond these ends.
    """
    _SALINITY.check(salinity)
    _TEMPERATURE.check(temperature)
    ts = log((298.15 - temperature) / (273.15 + temperature))
    a = (5.80871, 3.20291, 4.17887, 5.10006, -9.86643e-2, 3.80369)
    b = (-7.01577e-3, -7.70028e-3, -1.13864e-2, -9.51519e-3)
    c = -2.75915e-7
    fresh = sum(each * ts**power for power, each in enumerate(a))
    salted = sum(each * ts**power for power, each in enumerate(b))
    return exp(fresh + salinity * salted + c * salinity**2)


def saturation(salinity: float, temperature: float) -> float:
    """The same in mg/L, at the standard density."""
    return solubility(salinity, temperature) * OXYGEN_MASS.value * STANDARD_DENSITY / 1e3


def respiration(colony: Sides, surface_factor: float) -> LogNormal:
    """Oxygen (mg/h) that a colony takes up in the dark, from its measures (cm) and its form's surface factor."""
    assert CORAL_RESPIRATION.low is not None
    assert CORAL_RESPIRATION.high is not None
    surface = LogNormal(
        surface_area(colony.length, colony.width, colony.height, surface_factor), log(SURFACE_FROM_SIZE.value)
    )
    rate = LogNormal(
        CORAL_RESPIRATION.value * OXYGEN_MASS.value / 1e3,
        spread_of_range(CORAL_RESPIRATION.low, CORAL_RESPIRATION.high),
    )
    return surface.times(rate)


def hours_of_oxygen(
    litres: float, salinity: float, temperature: float, colony: Sides, surface_factor: float
) -> Finding:
    """Hours until the oxygen in still, closed, dark water falls to the critical limit, with its 90 % range.

    The limit is a range, and its spread is part of the result. Oxygen from the air above and from sloshing is left
    out, so the real time is longer. Raises `OutsideRange` as `solubility` does.
    """
    assert OXYGEN_LIMIT.low is not None
    assert OXYGEN_LIMIT.high is not None
    left = _SATURATED * saturation(salinity, temperature) - OXYGEN_LIMIT.value
    # A rectangular distribution over the range; JCGM 100:2008 (GUM), 4.3.7.
    of_limit = (OXYGEN_LIMIT.high - OXYGEN_LIMIT.low) / sqrt(12.0) / left
    taken = respiration(colony, surface_factor)
    hours = LogNormal(left * litres / taken.median, hypot(taken.spread, of_limit)).estimate("h")
    of_surface = log(SURFACE_FROM_SIZE.value)
    parts = (
        UncertaintyPart("colony-surface", hours.value * of_surface),
        UncertaintyPart("respiration", hours.value * sqrt(max(0.0, taken.spread**2 - of_surface**2))),
        UncertaintyPart("oxygen-limit", hours.value * of_limit),
    )
    return Finding(Estimate(hours.value, hours.low, hours.high, "h"), METHOD, (), parts)
