"""The way that a plan foretells: how each colony of it will travel, judged before anyone leaves."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from generator.nature.genera import genus_name, surface_factor
from generator.reckon.arrivals.colony import SKELETON_OF_DRAINED
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.finding import CannotTell
from generator.reckon.growth.mass import skeleton_density
from generator.reckon.trade.carrying import Lift, lift
from generator.reckon.trade.journey import Journey, Plan, judge, sides_of_container, sides_of_coral
from generator.records.coral import Coral
from generator.records.settings import Container
from generator.records.trade import Trade, Travel
from generator.units.quantity import STANDARD_DENSITY, Estimate, Share, spread_of_range

# What to expect of water and air where neither was written (°C, and the air's standard uncertainty);
# common practice, no source.
_WATER, _AIR, _AIR_SPREAD = 25.0, 20.0, 3.0
# Air that the keeper wrote down beforehand is a forecast; its standard uncertainty in °C is ours.
_FORECAST_SPREAD = 2.0

# What a colony lifted out of the water weighs, as a multiple of its mass drained: low, typical, high.
# Common practice, no source.
DRIPPING = (1.05, 1.10, 1.25)

Way = Literal["coming", "going", "moving"]


@dataclass(frozen=True, slots=True)
class Weights:
    """What a colony weighs, kg: drained in air, dripping as it is lifted out, hanging in water (None: no skeleton).

    `lift` judges lifting it out by hand.
    """

    air: Estimate
    dripping: Estimate
    in_water: Estimate | None
    lift: Lift


@dataclass(frozen=True, slots=True)
class Passenger:
    """A colony of a plan, as it is on the day, and its journey (None: no way is planned, but its weight is known).

    A piece to be cut is judged as if the whole coral went: what fits the whole fits the piece.
    """

    coral: Coral
    way: Way
    whole: bool
    weights: Weights | None
    judged: Journey | CannotTell | None


def passenger(
    coral: Coral,
    way: Way,
    travel: Travel | None,
    containers: Mapping[str, Container],
    latest: Mapping[str, Mapping[str, float]],
    trades: Iterable[Trade],
    today: date,
    whole: bool = True,
) -> Passenger:
    """A colony and its way; `latest` has the temperature (°C) last read in each system."""
    held = weight_in_hand(coral)
    judged: Journey | CannotTell | None = None
    if travel is not None:
        judged = _judged(coral, way, travel, containers, latest, trades, today)
    elif held is None:
        judged = CannotTell("never-measured", "measure-it", inputs=(coral.source,))
    return Passenger(coral, way, whole, held, judged)


def floor_share(found: Iterable[Passenger]) -> Share | None:
    """The share of their container's floor that colonies take side by side, with padding between them and at its sides.

    None: fewer than two have a way. However they are laid, they fit only where this is below 1.
    """
    judged = [each.judged for each in found if isinstance(each.judged, Journey)]
    if len(judged) < 2:
        return None
    box, padding = judged[0].plan.container, judged[0].plan.padding
    taken = sum((each.fit.extent.length + padding) * (each.fit.extent.width + padding) for each in judged)
    return taken / max((box.length - padding) * (box.width - padding), 1e-9)


def weight_in_hand(coral: Coral) -> Weights | None:
    """What a colony weighs in the keeper's hands; None where it was never measured.

    In water its skeleton alone weighs, less the water it displaces (see `growth.mass`).
    """
    measured = sides_of_coral(coral)
    if measured is None:
        return None
    sides, air = measured
    drops = LogNormal(DRIPPING[1], spread_of_range(DRIPPING[0], DRIPPING[2]))
    mass = LogNormal(air.value, spread_of_range(air.low, air.high, air.level))
    dripping = mass.times(drops).estimate("kg")
    density = skeleton_density(genus_name(coral.species))
    in_water = None
    if density is not None:
        heavier = LogNormal(1.0 - STANDARD_DENSITY / density.value, 0.0)
        in_water = mass.times(SKELETON_OF_DRAINED).times(heavier).estimate("kg")
    return Weights(air, dripping, in_water, lift(dripping, sides.width))


def _judged(
    coral: Coral,
    way: Way,
    travel: Travel,
    containers: Mapping[str, Container],
    latest: Mapping[str, Mapping[str, float]],
    trades: Iterable[Trade],
    today: date,
) -> Journey | CannotTell:
    container = containers.get(travel.container or "")
    if container is None:
        return CannotTell("no-container", "write-a-container", inputs=(travel.source,))
    measured = sides_of_coral(coral)
    if measured is None:
        return CannotTell("never-measured", "measure-it", inputs=(coral.source,))
    sides, mass = measured
    standing = coral.placement_on(today) if way != "coming" else None
    start, air = _expected(travel, latest.get(standing.system, {}).get("temperature") if standing else None)
    plan = Plan(
        colony=sides,
        surface_factor=surface_factor(genus_name(coral.species), coral.form),
        mass=mass,
        container=sides_of_container(container),
        hours=travel.duration.canonical(),
        start=start,
        air=air,
        container_id=travel.container,
        container_mass=container.mass.canonical() / 1e3 if container.mass else None,
        container_holds=container.volume.canonical() if container.volume else None,
        inputs=(container.source, travel.source, max(coral.sizes, key=lambda size: size.at).source),
    )
    return judge(plan, trades)


def _expected(travel: Travel, read: float | None) -> tuple[float, tuple[float, float]]:
    """The water's temperature on leaving, and the air's mean with its standard uncertainty; °C."""
    told = travel.expected
    start = told.water.canonical() if told and told.water else read
    air = (told.air.canonical(), _FORECAST_SPREAD) if told and told.air else (_AIR, _AIR_SPREAD)
    return (_WATER if start is None else start), air
