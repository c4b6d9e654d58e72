"""A coral as far as it is known on a day: what it is, how large, how heavy."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import pi, sqrt
from typing import TypeVar

from generator.nature.constants import (
    AREA_SPREAD,
    DRAINED_SKELETON,
    SPREAD_PER_YEAR,
    SURFACE_SPREAD,
    SURFACE_SPREAD_WITHOUT_HEIGHT,
)
from generator.nature.genera import genus_name, surface_factor
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.growth.mass import skeleton_density, skeleton_from_buoyant
from generator.reckon.growth.measurements import Body, body, height_of, surface_area
from generator.records.coral import Coral, Form, Size, Weighing
from generator.records.source import Source
from generator.units.quantity import STANDARD_DENSITY, spread_of_range

# Dry skeleton in a drained colony's mass in air: the rest is tissue and the water it holds.
SKELETON_OF_DRAINED = LogNormal(DRAINED_SKELETON.value, spread_of_range(*DRAINED_SKELETON.ends))
_DAYS_A_YEAR = 365.25

Entry = TypeVar("Entry", Size, Weighing)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mass:
    """A mass in grams with the scale's step; `holder` is what it holds that is not coral, weighed the same way."""

    grams: float
    resolution: float
    in_water: bool = False
    holder: float = 0.0
    years_ago: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Colony:
    """A coral that may not be in any file yet: its genus and form, and what was measured.

    `body` holds its length, width and height, taken `measured_years_ago`.
    """

    genus: str
    form: Form
    body: Body | None = None
    mass: Mass | None = None
    measured_years_ago: float = 0.0
    id: str = ""
    inputs: tuple[Source, ...] = ()


def colony_of(coral: Coral, day: date) -> Colony:
    """A coral as its file knows it on a day: by the last size and weighing up to then (the first, before any).

    A weighing under water goes before one in air of the same day: it weighs the skeleton alone. What
    was cut since a weighing is taken off it where its mass is written.
    """
    size = _last(coral.sizes, day)
    weighing = _last(sorted(coral.weighings, key=lambda w: w.in_water), day)
    inputs = tuple(found.source for found in (size, weighing) if found is not None)
    return Colony(
        genus=genus_name(coral.species),
        form=coral.form,
        body=body(size) if size else None,
        mass=_mass(weighing, coral, day) if weighing else None,
        measured_years_ago=_years(size.at, day) if size else 0.0,
        id=coral.id,
        inputs=inputs or (coral.source,),
    )


def footprint(colony: Colony, measured: Body) -> LogNormal:
    """Area seen from above, cm²."""
    area = measured.footprint
    return _aged(LogNormal(area, AREA_SPREAD.value), colony.measured_years_ago)


def outline(colony: Colony, measured: Body) -> float:
    """The length of the way over the colony, as a multiple of its length: half an ellipse over its chord.

    Source: Ramanujan 1914, first approximation of an ellipse's perimeter.
    """
    a, b = measured.diameter / 2.0, height_of(measured, colony.form)[1]
    perimeter = pi * (3.0 * (a + b) - sqrt((3.0 * a + b) * (a + 3.0 * b)))
    return perimeter / 2.0 / (2.0 * a)


def surface(colony: Colony, measured: Body) -> LogNormal:
    """The living surface, cm², as `growth.measurements` has it, and how unsure that is."""
    height = height_of(measured, colony.form)[1]
    factor = surface_factor(colony.genus, colony.form)
    area = surface_area(measured.length, measured.width or measured.length, height, factor)
    spread = SURFACE_SPREAD_WITHOUT_HEIGHT.value if measured.height is None else SURFACE_SPREAD.value
    return _aged(LogNormal(area, spread), colony.measured_years_ago)


def skeleton(mass: Mass, genus: str, water_density: float = STANDARD_DENSITY) -> LogNormal | None:
    """Dry skeleton, g, without the holder; None where the holder weighs as much as all, or there is no skeleton.

    In water by its buoyant mass (see `growth.mass`), in air by what a drained colony usually
    holds of skeleton.
    """
    grams, density = mass.grams - mass.holder, skeleton_density(genus)
    if grams <= 0.0 or density is None:
        return None
    # Two readings of the scale where a holder is taken off; a rounded step is spread evenly (GUM F.2.2.1).
    of_scale = mass.resolution / 12.0**0.5 * (2.0**0.5 if mass.holder else 1.0) / grams
    if mass.in_water:
        dry = skeleton_from_buoyant(grams, water_density, density.value)
        return _aged(LogNormal(dry, of_scale), mass.years_ago)
    whole = LogNormal(grams, of_scale).times(SKELETON_OF_DRAINED)
    return _aged(whole, mass.years_ago)


def _aged(value: LogNormal, years: float) -> LogNormal:
    return value.times(LogNormal(1.0, SPREAD_PER_YEAR.value * years))


def _last(written: Sequence[Entry], day: date) -> Entry | None:
    in_order = sorted(written, key=lambda entry: entry.at)
    past = [entry for entry in in_order if entry.at <= day]
    return past[-1] if past else (in_order[0] if in_order else None)


def _mass(weighing: Weighing, coral: Coral, day: date) -> Mass:
    cut = sum(c.mass.canonical() for c in coral.cuttings if c.mass and weighing.at <= c.at <= day)
    holder = weighing.holder.canonical() if weighing.holder else 0.0
    if not weighing.in_water:
        holder += cut
    return Mass(
        grams=weighing.mass.canonical(),
        resolution=weighing.resolution.canonical(),
        in_water=weighing.in_water,
        holder=holder,
        years_ago=_years(weighing.at, day),
    )


def _years(then: date, day: date) -> float:
    return abs((day - then).days) / _DAYS_A_YEAR
