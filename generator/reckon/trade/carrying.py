"""What a trip allows: how warm the water arrives, how long the oxygen lasts, what can be lifted, and what to pack."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import exp, hypot, log, sqrt
from typing import Literal

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from generator.nature.constants import (
    CORAL_RESPIRATION,
    HEAT_TRANSFER,
    LIFTING,
    LIFTING_LOAD,
    OXYGEN_AT_START,
    OXYGEN_LIMIT,
    OXYGEN_MASS,
    PACKING,
    SEAWATER_HEAT_CAPACITY,
    SURFACE_FROM_SIZE,
    TEAM_SHARE,
    Grip,
    Packed,
)
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.finding import Finding, UncertaintyPart, ValidRange, one_cause
from generator.reckon.growth.measurements import surface_area
from generator.records.source import Source
from generator.records.trade import Trade
from generator.units.quantity import STANDARD_DENSITY, Estimate, coverage_factor, spread_of_range

METHOD = "cooling"

_THERMOMETER = 0.2  # °C, standard uncertainty of a difference of two readings; common practice, no source
# °C, how far the mean air of a leg is from what was read at both its ends, and at one; assumptions of ours.
_AIR_BY_BOTH_ENDS, _AIR_BY_ONE = 1.0, 2.0
_GRID = 241


class Sides(Struct, frozen=True):
    """Length, width and height in cm: of a colony, or inside a container."""

    length: float
    width: float
    height: float

    @property
    def array(self) -> NDArray[np.float64]:
        """The three as an array."""
        return np.array([self.length, self.width, self.height])


class Leg(Struct, frozen=True):
    """Between two readings: hours, the water's temperatures at both ends, the air's mean and how unsure that is; °C."""

    hours: float
    start: float
    end: float
    air: float
    litres: float | None
    source: Source
    air_error: float = _AIR_BY_BOTH_ENDS


def temperature_after(start: float, air: float, hours: float, time_constant: float) -> float:
    """Temperature of the water (°C) after some hours in air of constant temperature.

    Source: Newton's law of cooling, T = Ta + (T0 - Ta) exp(-t/τ).
    """
    return air + (start - air) * exp(-hours / time_constant)


def legs(trades: Iterable[Trade], container: str) -> tuple[Leg, ...]:
    """Every leg of the logged trips of a container that has both ends and the air's temperature.

    A leg's air is the mean of both ends, or the one that was measured.
    """
    found = []
    for trade in trades:
        travel = trade.travel
        if travel is None or travel.container != container:
            continue
        litres = travel.water.canonical() if travel.water else None
        readings = sorted(travel.temperatures, key=lambda reading: reading.after.canonical())
        for first, second in pairwise(readings):
            airs = [reading.air.canonical() for reading in (first, second) if reading.air]
            hours = second.after.canonical() - first.after.canonical()
            if airs and hours > 0.0:
                ends = first.water.canonical(), second.water.canonical()
                error = _AIR_BY_BOTH_ENDS if len(airs) == 2 else _AIR_BY_ONE
                found.append(Leg(hours, *ends, sum(airs) / len(airs), litres, second.source, error))
    return tuple(found)


def usual_time_constant(container: Sides, litres: float) -> LogNormal:
    """The usual time constant (h) of a container without logged trips, from its surface and its water.

    Source: lumped heat capacity, τ = ρ c V / (U A), over the range of U for still air and foam.
    """
    a, b, c = container.length / 100.0, container.width / 100.0, container.height / 100.0
    area = 2.0 * (a * b + b * c + c * a)
    kilojoules = litres * STANDARD_DENSITY * SEAWATER_HEAT_CAPACITY.value
    hours = kilojoules * 1e3 / (HEAT_TRANSFER.value * area) / 3600.0
    return LogNormal(hours, spread_of_range(*HEAT_TRANSFER.ends))


def time_constant(trips: Sequence[Leg], usual: LogNormal, litres: float) -> Finding:
    """The time constant (h) of a container with an amount of water (L), with its 90 % interval.

    Least squares over the logged legs, weighted with the usual value for such a container; without legs it is
    the usual range. If a trip's water is known, more water takes proportionally longer. A leg tells by how well
    the thermometer is known, and the air: the longer it takes, the more of the air's error the water shows.
    """
    width = 4.0 * usual.spread
    grid = np.exp(np.linspace(log(usual.median) - width, log(usual.median) + width, _GRID))
    weight = -0.5 * (np.log(grid / usual.median) / usual.spread) ** 2
    for leg in trips:
        scaled = grid * (leg.litres / litres if leg.litres else 1.0)
        kept = np.exp(-leg.hours / scaled)
        expected = leg.air + (leg.start - leg.air) * kept
        error = np.hypot(_THERMOMETER, leg.air_error * (1.0 - kept))
        weight -= 0.5 * ((leg.end - expected) / error) ** 2 + np.log(error)
    share = np.cumsum(np.exp(weight - weight.max()))
    low, middle, high = (float(np.interp(p, share / share[-1], grid)) for p in (0.05, 0.5, 0.95))
    found = Estimate(middle, low, high, "h")
    return Finding(found, METHOD, tuple(leg.source for leg in trips), one_cause("trips", found))


def arrival_temperature(start: float, air: tuple[float, float], hours: float, constant: Finding) -> Finding:
    """Temperature of the water (°C) on arrival, for air of a mean and a standard uncertainty, with its 90 % interval.

    The uncertainties of air and time constant add in quadrature.
    """
    mean, standard = air
    found = constant.estimate
    value = temperature_after(start, mean, hours, found.value)
    k = coverage_factor()
    by_air = k * standard * (1.0 - exp(-hours / found.value))
    ends = [temperature_after(start, mean, hours, end) - value for end in (found.low, found.high)]
    below = (by_air**2 + min(*ends, 0.0) ** 2) ** 0.5
    above = (by_air**2 + max(*ends, 0.0) ** 2) ** 0.5
    parts = (
        UncertaintyPart("air", by_air / k),
        UncertaintyPart("time-constant", (max(*ends, 0.0) - min(*ends, 0.0)) / 2.0 / k),
    )
    return Finding(Estimate(value, value - below, value + above, "°C"), METHOD, constant.inputs, parts)


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
    """Oxygen (mg/L) that seawater holds in equilibrium with moist air, at the standard density."""
    return solubility(salinity, temperature) * OXYGEN_MASS.value * STANDARD_DENSITY / 1e3


def respiration(colony: Sides, surface_factor: float) -> LogNormal:
    """Oxygen (mg/h) that a colony takes up in the dark, from its measures (cm) and its form's surface factor."""
    surface = LogNormal(
        surface_area(colony.length, colony.width, colony.height, surface_factor), log(SURFACE_FROM_SIZE.value)
    )
    rate = LogNormal(CORAL_RESPIRATION.value * OXYGEN_MASS.value / 1e3, spread_of_range(*CORAL_RESPIRATION.ends))
    return surface.times(rate)


def hours_of_oxygen(
    litres: float, salinity: float, temperature: float, colony: Sides, surface_factor: float
) -> Finding:
    """Hours until the oxygen in still, closed, dark water falls to the critical limit, with its 90 % range.

    The limit is a range, and its spread is part of the result. Oxygen from the air above and from sloshing is left
    out, so the real time is longer. Raises `OutsideRange` as `solubility` does.
    """
    left = OXYGEN_AT_START.value * saturation(salinity, temperature) - OXYGEN_LIMIT.value
    # A rectangular distribution over the range; JCGM 100:2008 (GUM), 4.3.7.
    of_limit = (OXYGEN_LIMIT.ends[1] - OXYGEN_LIMIT.ends[0]) / sqrt(12.0) / left
    taken = respiration(colony, surface_factor)
    hours = LogNormal(left * litres / taken.median, hypot(taken.spread, of_limit)).estimate("h")
    of_surface = log(SURFACE_FROM_SIZE.value)
    parts = (
        UncertaintyPart("colony-surface", hours.value * of_surface),
        UncertaintyPart("respiration", hours.value * sqrt(max(0.0, taken.spread**2 - of_surface**2))),
        UncertaintyPart("oxygen-limit", hours.value * of_limit),
    )
    return Finding(Estimate(hours.value, hours.low, hours.high, "h"), "oxygen", (), parts)


# With hands lower than this, a container is held farther from the body.
_LOW_HANDS = 25.0
# Height of the hands on a container on the floor, and the lift to a table or a car, cm; our assumptions.
_HANDS_AT, _RISE = 20.0, 55.0

Judgement = Literal["one-person", "two-people", "not-filled"]


class Lift(Struct, frozen=True):
    """A lift from the floor to a table: `limit` (kg) for one person, `of_two` (kg) for two together, what to do.

    `caution` is the id of the words always shown with it. `not-filled`: carry it empty, and fill and drain
    it in place.
    """

    mass: Estimate
    limit: float
    of_two: float
    judgement: Judgement
    caution: str = "lifting"
    method: str = "lifting"


def reach_over(container_width: float, hands: float) -> float:
    """Distance from ankles to hands (cm), for a container of this width (cm) held at this height (cm).

    Source: H = 20 + W/2, with hands below 25 cm 25 + W/2; Waters et al. 1993, as in NIOSH 94-110 (from memory).
    """
    return (25.0 if hands < _LOW_HANDS else 20.0) + container_width / 2.0


def recommended_limit(
    reach: float, from_height: float, rise: float, turn: float = 0.0, grip: Grip = "fair", load: float | None = None
) -> float:
    """Mass (kg) that nearly all healthy workers can lift occasionally, by the revised NIOSH lifting equation.

    `reach` is the distance from ankles to hands, `from_height` the height of the hands at the start, `rise`
    how far up (all cm); `turn` is the turn of the body in degrees. For lifts five minutes apart or more. The limit
    is 0 for a reach over 63 cm, hands above 175 cm, a rise over 175 cm or a turn over 135 degrees.
    Raises `ValueError` for negative numbers and NaN.
    Source: RWL = LC HM VM DM AM FM CM, HM = 25/H, VM = 1 - 0.003 |V - 75|, DM = 0.82 + 4.5/D,
    AM = 1 - 0.0032 A, FM = 1; Waters et al. 1993 (from memory).
    """
    if not all(each >= 0.0 for each in (reach, from_height, rise, turn)):
        raise ValueError("a reach, a height, a rise and a turn are numbers of 0 or more")
    most = (LIFTING.farthest, LIFTING.highest, LIFTING.longest, LIFTING.most_turned)
    if any(each > limit for each, limit in zip((reach, from_height, rise, turn), most, strict=True)):
        return 0.0
    horizontal = 25.0 / max(reach, 25.0)
    vertical = 1.0 - 0.003 * abs(from_height - 75.0)
    distance = 0.82 + 4.5 / max(rise, 25.0)
    asymmetry = 1.0 - 0.0032 * turn
    coupling = LIFTING.grips[grip][from_height >= 75.0]
    return (load or LIFTING_LOAD.value) * horizontal * vertical * distance * asymmetry * coupling


def lift(mass: Estimate, container_width: float) -> Lift:
    """How to lift a full container (kg, and its width in cm) from the floor to a car or a table.

    Our assumptions: the hands hold it at its sides, 20 cm up, and lift it by 55 cm. The upper end of the mass
    counts, to protect the back. Two people together may lift less than twice as much as one; see `TEAM_SHARE`.
    """
    reach = reach_over(container_width, _HANDS_AT)
    limit = recommended_limit(reach, from_height=_HANDS_AT, rise=_RISE)
    of_two = 2.0 * TEAM_SHARE.value * limit
    judgement: Judgement = "one-person"
    if mass.high > limit:
        judgement = "two-people" if mass.high <= of_two else "not-filled"
    return Lift(mass, limit, of_two, judgement)


def packing_list(hours: float, oxygen_lasts: float | None = None) -> tuple[Packed, ...]:
    """What to pack for a trip of some hours, in order; the longer the trip, the more.

    An air pump is needed if the trip is longer than the lower end of the oxygen range (hours).
    """
    short_of_air = oxygen_lasts is not None and oxygen_lasts <= hours
    due = [each for each in PACKING if hours >= each.from_hours]
    pump = next(each for each in PACKING if each.item == "air-pump")
    return (*due, pump) if short_of_air and pump not in due else tuple(due)
