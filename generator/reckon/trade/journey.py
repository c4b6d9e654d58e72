"""A planned journey: does the colony fit, how much water, how heavy, how warm, how long the oxygen lasts."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from generator.nature.constants import CONTAINER_MASS, Packed
from generator.nature.genera import genus_name
from generator.reckon.finding import Finding, UncertaintyPart, one_cause
from generator.reckon.growth.measurements import body, expected_mass, height_of
from generator.reckon.trade import carrying
from generator.reckon.trade.carrying import Lift, hours_of_oxygen, lift, packing_list
from generator.reckon.trade.fit import Fit, Sides, fit, water_to_cover
from generator.records.coral import Coral, Weighing
from generator.records.settings import Container
from generator.records.source import Source
from generator.records.trade import Trade
from generator.units.quantity import STANDARD_DENSITY, Estimate, sum_of_estimates

METHOD = "journey"

Level = Literal["low", "moderate", "high"]
RiskId = Literal["fit", "cover", "temperature", "oxygen"]

# A container's own mass, kg: low, typical, high.
_CONTAINER_MASS = (CONTAINER_MASS.ends[0], CONTAINER_MASS.value, CONTAINER_MASS.ends[1])
# Water is poured to within this share of what it should be; common practice, no source.
POURED = 0.05
# Changes of temperature (°C) over a journey: harmless up to the first, harmful from the second; common practice,
# no source.
_MILD_CHANGE, _HARSH_CHANGE = 2.0, 4.0


@dataclass(frozen=True, slots=True)
class Trip:
    """What is known before leaving. Lengths in cm, masses in kg, temperatures in °C.

    `mass` is the colony's, drained. `air` is the mean air on the road and its standard uncertainty.
    `container_id` names the container whose logged trips count, `container_holds` its litres where they are written;
    `inputs` are the lines it is based on.
    """

    colony: Sides
    surface_factor: float
    mass: Estimate
    container: Sides
    hours: float
    start: float
    air: tuple[float, float]
    salinity: float = 35.0
    padding: float = 2.5
    cover: float = 2.5
    container_id: str | None = None
    container_mass: float | None = None
    container_holds: float | None = None
    inputs: tuple[Source, ...] = ()


@dataclass(frozen=True, slots=True)
class Risk:
    """One thing that can go wrong on the road, and how likely it is to."""

    id: RiskId
    level: Level


@dataclass(frozen=True, slots=True)
class Journey:
    """A judged journey. `cautions` are ids of words that are always shown with it.

    `load` has the parts of the uncertainty of the mass to lift.
    """

    plan: Trip
    fit: Fit
    water: Estimate
    covered: bool
    lift: Lift
    time_constant: Finding
    arrival: Finding
    oxygen: Finding
    load: tuple[UncertaintyPart, ...]
    packing: tuple[Packed, ...]
    risks: tuple[Risk, ...]
    cautions: tuple[str, ...]
    method: str = METHOD


def judge(plan: Trip, trades: Iterable[Trade] = ()) -> Journey:
    """Judge a plan, using the logged trips of its container."""
    fitted = fit(plan.colony, plan.container, plan.padding)
    water, covered = water_to_cover(
        plan.colony, fitted.extent, plan.container, plan.padding, plan.cover, plan.container_holds
    )
    litres = max(water.value, 0.1)
    logged = carrying.legs(trades, plan.container_id) if plan.container_id else ()
    constant = carrying.time_constant(logged, carrying.usual_time_constant(plan.container, litres), litres)
    arrival = carrying.arrival_temperature(plan.start, plan.air, plan.hours, constant)
    lasts = hours_of_oxygen(litres, plan.salinity, plan.start, plan.colony, plan.surface_factor)
    lasts, load = replace(lasts, inputs=plan.inputs), _load(plan, water)
    return Journey(
        plan=plan,
        fit=fitted,
        water=water,
        covered=covered,
        lift=lift(sum_of_estimates([*load.values()]), plan.container.width),
        time_constant=constant,
        arrival=arrival,
        oxygen=lasts,
        load=tuple(part for cause, mass in load.items() for part in one_cause(cause, mass)),
        packing=packing_list(plan.hours, lasts.estimate.low),
        risks=(
            Risk("fit", "low" if fitted.fits else "high"),
            Risk("cover", "low" if covered else "moderate"),
            Risk("temperature", _of_temperature(plan.start, arrival.estimate)),
            Risk("oxygen", _of_oxygen(plan.hours, lasts.estimate)),
        ),
        cautions=("lifting", "cites", "no-release"),
    )


def sides_of_coral(coral: Coral) -> tuple[Sides, Estimate] | None:
    """A coral's sides (cm) from its last size, and its mass (kg), drained; None if it was never measured.

    A height that was not measured is the upper end of the usual range of its form. The mass is the one expected of its
    size, unless it was weighed in air on the day of that size or later.
    """
    last = max(coral.sizes, key=lambda size: size.at, default=None)
    if last is None:
        return None
    measured = body(last)
    height = height_of(measured, coral.form)[2]
    weighed = max((w for w in coral.weighings if not w.in_water), key=lambda w: w.at, default=None)
    if weighed is not None and weighed.at >= last.at:
        mass = _weighed(weighed)
    else:
        mass = expected_mass(measured, genus_name(coral.species), coral.form).estimate.scaled(1e-3, "kg")
    return Sides(measured.length, measured.width or measured.length, height), mass


def _weighed(weighing: Weighing) -> Estimate:
    """The mass (kg) on the scale less its holder, with the error of one step of the scale."""
    grams = weighing.mass.canonical() - (weighing.holder.canonical() if weighing.holder else 0.0)
    step = weighing.resolution.canonical()
    return Estimate(grams, max(grams - step, 0.0), grams + step, "g").scaled(1e-3, "kg")


def sides_of_container(container: Container) -> Sides:
    """A container's inner measures, cm."""
    return Sides(container.length.canonical(), container.width.canonical(), container.height.canonical())


def _load(plan: Trip, water: Estimate) -> dict[str, Estimate]:
    """What is lifted, kg: water, coral and container, each by what makes it unsure."""
    low, typical, high = (plan.container_mass,) * 3 if plan.container_mass else _CONTAINER_MASS
    container = Estimate(typical, low, high, "kg")
    water_mass = water.scaled(STANDARD_DENSITY, "kg")
    poured = Estimate(0.0, -POURED * water_mass.value, POURED * water_mass.value, "kg")
    return {
        "water-displaced": water_mass,
        "water-poured": poured,
        "colony-mass": plan.mass,
        "container-mass": container,
    }


def _of_temperature(start: float, arrival: Estimate) -> Level:
    """The risk at the end of the interval that is farther from the start temperature."""
    worst = max(abs(arrival.low - start), abs(arrival.high - start))
    if worst <= _MILD_CHANGE:
        return "low"
    return "moderate" if worst <= _HARSH_CHANGE else "high"


def _of_oxygen(hours: float, lasts: Estimate) -> Level:
    if hours <= lasts.low:
        return "low"
    return "moderate" if hours <= lasts.value else "high"
