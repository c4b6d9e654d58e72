"""The water's temperature on arrival: Newton's law, with a time constant learned from the container's trips."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import exp, log

import numpy as np

from generator.nature.constants import HEAT_TRANSFER, SEAWATER_HEAT_CAPACITY
from generator.reckon.estimate.lognormal import LogNormal
from generator.reckon.finding import Finding, UncertaintyPart, one_cause
from generator.reckon.trade.fit import Sides
from generator.records.source import Source
from generator.records.trade import Trade
from generator.units.quantity import STANDARD_DENSITY, Estimate, coverage_factor, spread_of_range

METHOD = "cooling"

_THERMOMETER = 0.2  # °C, standard uncertainty of a difference of two readings; common practice, no source
_GRID = 241


@dataclass(frozen=True, slots=True)
class Leg:
    """Between two readings: hours, the water's temperatures at both ends, and the air's mean; °C."""

    hours: float
    start: float
    end: float
    air: float
    litres: float | None
    source: Source


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
                found.append(Leg(hours, *ends, sum(airs) / len(airs), litres, second.source))
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
    the usual range. If a trip's water is known, more water takes proportionally longer.
    """
    width = 4.0 * usual.spread
    grid = np.exp(np.linspace(log(usual.median) - width, log(usual.median) + width, _GRID))
    weight = -0.5 * (np.log(grid / usual.median) / usual.spread) ** 2
    for leg in trips:
        scaled = grid * (leg.litres / litres if leg.litres else 1.0)
        expected = leg.air + (leg.start - leg.air) * np.exp(-leg.hours / scaled)
        weight -= 0.5 * ((leg.end - expected) / _THERMOMETER) ** 2
    share = np.cumsum(np.exp(weight - weight.max()))
    low, middle, high = (float(np.interp(p, share / share[-1], grid)) for p in (0.05, 0.5, 0.95))
    found = Estimate(middle, low, high, "h")
    return Finding(found, METHOD, tuple(leg.source for leg in trips), one_cause("trips", found))


def arrival_temperature(start: float, air: tuple[float, float], hours: float, constant: Finding) -> Finding:
    """Temperature of the water (°C) on arrival, for air of a mean and a standard uncertainty, with its 90 % interval.

    The uncertainties of air and time constant add in squares.
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
