"""A planned journey: does the colony fit, how much water, how heavy, how warm, how long the oxygen lasts."""

from collections.abc import Iterable, Sequence
from functools import cache
from math import pi
from typing import Literal

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import CONTAINER_MASS, Packed
from generator.nature.genera import genus_name
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.finding import Finding, UncertaintyPart, one_cause
from generator.reckon.growth.measurements import body, expected_mass, height_of
from generator.reckon.trade import carrying
from generator.reckon.trade.carrying import Lift, Sides, hours_of_oxygen, lift, packing_list
from generator.records.coral import Coral, Weighing
from generator.records.settings import Container
from generator.records.source import Source
from generator.records.trade import Trade
from generator.units.quantity import STANDARD_DENSITY, Estimate, Litres, sum_of_estimates

Level = Literal["low", "moderate", "high"]
RiskId = Literal["fit", "cover", "temperature", "oxygen"]

# A container's own mass, kg: low, typical, high.
_CONTAINER_MASS = (CONTAINER_MASS.ends[0], CONTAINER_MASS.value, CONTAINER_MASS.ends[1])
# Water is poured to within this share of what it should be; common practice, no source.
POURED = 0.05
# Changes of temperature (°C) over a journey: harmless up to the first, harmful from the second; common practice,
# no source.
_MILD_CHANGE, _HARSH_CHANGE = 2.0, 4.0
# Litres. Where a colony leaves no room for water, so little is calculated with.
_LEAST_WATER = 0.1


class Trip(Struct, frozen=True):
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


class Pose(Struct, frozen=True):
    """How a colony lies: tilted about the line `tilted_about` (from its length), then turned; all in degrees."""

    turn: float
    tilt: float
    tilted_about: float


class Fit(Struct, frozen=True):
    """The best pose and what it leaves free.

    `clearance` (cm) is the least room beyond the padding on any side, negative if it is too tight.
    `clearance_of_box` is the same for a colony that fills its box to the corners. `extent` (cm) is the room
    the colony takes in that pose.
    """

    fits: bool
    pose: Pose
    clearance: float
    clearance_of_box: float
    extent: Sides
    method: str = "fit"


class Risk(Struct, frozen=True):
    """One thing that can go wrong on the road, and how likely it is to."""

    id: RiskId
    level: Level


class Journey(Struct, frozen=True):
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
    method: str = "journey"


def judge(plan: Trip, trades: Iterable[Trade] = ()) -> Journey:
    """Judge a plan, using the logged trips of its container."""
    fitted = fit(plan.colony, plan.container, plan.padding)
    water, covered = water_to_cover(
        plan.colony, fitted.extent, plan.container, plan.padding, plan.cover, plan.container_holds
    )
    litres = max(water.value, _LEAST_WATER)
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


def oxygen_together(found: Sequence[Journey]) -> Estimate:
    """Hours that the oxygen lasts with several colonies in one container, filled to cover the tallest of them.

    Each uses what it would alone, and displaces half its outline.
    """
    halves = [_outline(each.plan.colony) / 2.0 for each in found]
    deepest = max(each.water.value + half for each, half in zip(found, halves, strict=True))
    litres = max(deepest - sum(halves), _LEAST_WATER)
    alone = [(max(each.water.value, _LEAST_WATER), each.oxygen.estimate) for each in found]
    # How much coral uses and how little it bears is as unsure of all of them, so that ends go with ends.
    ends = [sum(water / (each.value, each.low, each.high)[end] for water, each in alone) for end in range(3)]
    value, low, high = (litres / used for used in ends)
    return Estimate(value, low, high, "h")


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


_Shape = Literal["ellipsoid", "box"]

# A container is filled to so much of what it holds: it is carried, and needs air. Common practice, no source.
_FULL = 0.95
_STEP = 2.5  # degrees between the poses tried; each is a true pose, so what fits does fit
_MOST_TILT = 60.0  # a colony on its side lies on its tips


def fit(colony: Sides, container: Sides, padding: float) -> Fit:
    """The pose that leaves a colony most room beyond the padding; flat, if it fits so.

    The colony counts as the ellipsoid of its three sides, because most are round at the corners. The result
    also says whether its box would fit. Lengths in cm. Of poses within a millimetre, the least tilted wins.
    Source: half the extent of an ellipsoid with semi-axes s turned by R is √Σ(R s)², of a box Σ|R s|; geometry.
    """
    rotations, poses = _poses()
    clearance = _clearance(rotations, colony, container, padding, "ellipsoid")
    tilts = poses[:, 1]
    flat = tilts == 0.0
    allowed = np.flatnonzero(flat) if clearance[flat].max() >= 0.0 else np.arange(len(tilts))
    best = int(allowed[np.lexsort((tilts[allowed], -np.round(clearance[allowed], 1)))[0]])
    turn, tilt, about = (float(angle) for angle in poses[best])
    extent = 2.0 * _half_extents(rotations[best : best + 1], colony, "ellipsoid")[0]
    return Fit(
        fits=bool(clearance[best] >= 0.0),
        pose=Pose(turn, tilt, about),
        clearance=float(clearance[best]),
        clearance_of_box=float(_clearance(rotations[best : best + 1], colony, container, padding, "box")[0]),
        extent=Sides(*(float(side) for side in extent)),
    )


def water_to_cover(
    colony: Sides, extent: Sides, container: Sides, padding: float, cover: float, holds: float | None = None
) -> tuple[Estimate, bool]:
    """Litres that cover a colony on its padding by `cover` cm (all lengths in cm), and whether there is room for them.

    The colony itself displaces between nothing and its whole outline. The container `holds` so many litres (None: as
    much as its sides), and is never filled to the brim.
    """
    depth = padding + extent.height + cover
    outline = _outline(colony)
    full = container.length * container.width * min(depth, container.height) / 1e3
    most = max(container.length * container.width * container.height / 1e3 if holds is None else holds, 0.0) * _FULL
    litres, low, high = (min(each, most) for each in (full - outline / 2.0, full - outline, full))
    return Estimate(litres, low, high, "L"), depth <= container.height and full - outline / 2.0 <= most


def _outline(colony: Sides) -> Litres:
    """The volume of a colony's whole outline, an ellipsoid, L."""
    return pi / 6.0 * colony.length * colony.width * colony.height / 1e3


def _half_extents(rotations: Array, colony: Sides, shape: _Shape) -> Array:
    turned = rotations * (colony.array / 2.0)
    if shape == "box":
        boxed: Array = np.abs(turned).sum(axis=2)
        return boxed
    rounded: Array = np.sqrt((turned**2).sum(axis=2))
    return rounded


def _clearance(rotations: Array, colony: Sides, container: Sides, padding: float, shape: _Shape) -> Array:
    room = container.array / 2.0 - padding - _half_extents(rotations, colony, shape)
    least: Array = room.min(axis=1)
    return least


@cache
def _poses() -> tuple[Array, Array]:
    """Every pose tried: rotations (n, 3, 3), and turn, tilt and the line tilted about (n, 3), in degrees."""
    half_circle = np.arange(0.0, 180.0, _STEP)
    tilts = np.arange(0.0, _MOST_TILT + _STEP, _STEP)
    turn, tilt, about = (grid.ravel() for grid in np.meshgrid(half_circle, tilts, half_circle, indexing="ij"))
    # Without tilt the tilt axis means nothing.
    one = (tilt > 0.0) | (about == 0.0)
    turn, tilt, about = turn[one], tilt[one], about[one]
    rotations = _about_z(turn) @ _about_z(about) @ _about_x(tilt) @ _about_z(-about)
    return rotations, np.stack([turn, tilt, about], axis=1)


def _about_z(degrees: Array) -> Array:
    c, s, o = np.cos(np.radians(degrees)), np.sin(np.radians(degrees)), np.zeros_like(degrees)
    return np.stack([c, -s, o, s, c, o, o, o, o + 1.0], axis=1).reshape(-1, 3, 3)


def _about_x(degrees: Array) -> Array:
    c, s, o = np.cos(np.radians(degrees)), np.sin(np.radians(degrees)), np.zeros_like(degrees)
    return np.stack([o + 1.0, o, o, o, c, -s, o, s, c], axis=1).reshape(-1, 3, 3)


class Oval(Struct, frozen=True):
    """The outline of a colony from one side: its half axes in cm, and how far the long one is turned (degrees)."""

    half_long: float
    half_short: float
    turned: float


def outlines(colony: Sides, pose: Pose) -> tuple[Oval, Oval]:
    """How a colony looks in a pose from above (length to the right) and from the front (height up).

    Source: the shadow of an ellipsoid with matrix R S² Rᵀ on a plane is the ellipse of its two rows; geometry.
    """
    turn, tilt, about = (np.array([angle]) for angle in (pose.turn, pose.tilt, pose.tilted_about))
    rotation = (_about_z(turn) @ _about_z(about) @ _about_x(tilt) @ _about_z(-about))[0]
    matrix = rotation @ np.diag((colony.array / 2.0) ** 2) @ rotation.T
    return _oval(matrix[np.ix_((0, 1), (0, 1))]), _oval(matrix[np.ix_((0, 2), (0, 2))])


def _oval(shadow: Array) -> Oval:
    values, vectors = np.linalg.eigh(shadow)
    across, up = vectors[:, 1]
    return Oval(float(values[1] ** 0.5), float(values[0] ** 0.5), float(np.degrees(np.arctan2(up, across))) % 180.0)
