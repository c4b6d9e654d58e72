"""A coral as far as it is known on a day: what it is, how large, how heavy; what another place does to its growth."""

from collections.abc import Iterable, Sequence
from datetime import date
from itertools import product
from math import exp, hypot, log, pi, sqrt, tanh
from typing import TypeVar

from msgspec import Struct

from generator.nature.constants import (
    AREA_SPREAD,
    DRAINED_SKELETON,
    FLOW_WEAK_TO_STRONG,
    LEFT_OF_LIGHT,
    LIGHT_SATURATION_OF_CALCIFICATION,
    LIGHT_TO_DARK_CALCIFICATION,
    LIT_SHARE_OF_DAY,
    OF_ITS_PLACE,
    SPREAD_PER_YEAR,
    SURFACE_SPREAD,
    SURFACE_SPREAD_WITHOUT_HEIGHT,
)
from generator.nature.genera import genus_name, surface_factor
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.growth.mass import skeleton_density, skeleton_from_buoyant
from generator.reckon.growth.measurements import Body, body, expected_mass, height_of, surface_area
from generator.records.coral import Coral, Form, Placement, Size, Weighing
from generator.records.source import Source
from generator.records.system import Place, System
from generator.units.quantity import STANDARD_DENSITY, Estimate, coverage_factor, spread_of_range

# Dry skeleton in a drained colony's mass in air: the rest is tissue and the water it holds.
SKELETON_OF_DRAINED = LogNormal(DRAINED_SKELETON.value, spread_of_range(*DRAINED_SKELETON.ends))
_DAYS_A_YEAR = 365.25

Entry = TypeVar("Entry", Size, Weighing)


class Mass(Struct, frozen=True, kw_only=True):
    """A mass in grams with the scale's step; `holder` is what it holds that is not coral, weighed the same way.

    `cut` is what was cut off since, drained in air.
    """

    grams: float
    resolution: float
    in_water: bool = False
    holder: float = 0.0
    cut: float = 0.0
    years_ago: float = 0.0


class Colony(Struct, frozen=True, kw_only=True):
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
    """The area that it covers, seen from above, cm²."""
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
    holds of skeleton; less what was cut off since.
    """
    grams, density = mass.grams - mass.holder, skeleton_density(genus)
    if grams <= 0.0 or density is None:
        return None
    # Two readings of the scale where a holder is taken off; a rounded step is spread evenly (GUM F.2.2.1).
    of_scale = mass.resolution / 12.0**0.5 * (2.0**0.5 if mass.holder else 1.0) / grams
    solid = SKELETON_OF_DRAINED
    dry = skeleton_from_buoyant(grams, water_density, density.value) if mass.in_water else grams * solid.median
    cut = mass.cut * solid.median
    if cut >= dry:
        return None
    left = dry - cut
    of_share = solid.spread * (cut / left if mass.in_water else 1.0)
    return _aged(LogNormal(left, hypot(of_scale * dry / left, of_share)), mass.years_ago)


def drained(colony: Colony) -> Estimate | None:
    """What it weighs drained in air, g: as weighed, else by its skeleton or its size; None where none is known."""
    mass, solid = colony.mass, SKELETON_OF_DRAINED
    if mass is not None and not mass.in_water:
        grams = mass.grams - mass.holder - mass.cut
        return Estimate.exact(grams, "g") if grams > 0.0 else None
    if mass is not None and (dry := skeleton(mass, colony.genus)) is not None:
        return LogNormal(dry.median / solid.median, hypot(dry.spread, solid.spread)).estimate("g")
    return expected_mass(colony.body, colony.genus, colony.form).estimate if colony.body else None


def _aged(value: LogNormal, years: float) -> LogNormal:
    return value.times(LogNormal(1.0, SPREAD_PER_YEAR.value * years))


def _last(written: Sequence[Entry], day: date) -> Entry | None:
    in_order = sorted(written, key=lambda entry: entry.at)
    past = [entry for entry in in_order if entry.at <= day]
    return past[-1] if past else (in_order[0] if in_order else None)


def _mass(weighing: Weighing, coral: Coral, day: date) -> Mass:
    # As in `growth.measurements.blocks`, what was weighed on the day of a cut was weighed after it.
    return Mass(
        grams=weighing.mass.canonical(),
        resolution=weighing.resolution.canonical(),
        in_water=weighing.in_water,
        holder=weighing.holder.canonical() if weighing.holder else 0.0,
        cut=sum(c.mass.canonical() for c in coral.cuttings if c.mass and weighing.at < c.at <= day),
        years_ago=_years(weighing.at, day),
    )


def _years(then: date, day: date) -> float:
    return abs((day - then).days) / _DAYS_A_YEAR


Ends = tuple[float, float]
# How far each flow is from weak (0) to strong (1), and how far places of one flow may be apart. Choices of ours.
FLOWS = {"weak": 0.0, "moderate": 0.5, "strong": 1.0}
WITHIN_A_FLOW = 0.25
# What each of the two adds where it is not recorded (of the logarithm): half of the variance assumed of a place.
NOT_RECORDED = LogNormal(1.0, OF_ITS_PLACE.value / sqrt(2.0))


class LightAndFlow(Struct, frozen=True):
    """The light (PAR, µmol/m²/s) and flow (0 weak to 1 strong) where a coral stands or may stand, least and most.

    `lit` is the share of a day that it has light. None: not recorded.
    """

    light: Ends | None = None
    flow: Ends | None = None
    lit: float = LIT_SHARE_OF_DAY.value


UNKNOWN = LightAndFlow()


class OfPlace(Struct, frozen=True):
    """By how much light and flow make a coral calcify otherwise at another place; None: not recorded at both."""

    light: LogNormal | None = None
    flow: LogNormal | None = None

    @property
    def whole(self) -> LogNormal:
        """The factors of light and flow multiplied, with an assumed spread for what is not recorded."""
        return (self.light or NOT_RECORDED).times(self.flow or NOT_RECORDED)


NOTHING_RECORDED = OfPlace()


def spot_of(placement: Placement | None, system: System) -> LightAndFlow:
    """Where a coral stands: the light measured at it, else that of its place, and its place's flow."""
    place = system.places.get(placement.place or "") if placement else None
    spot = _spot([place] if place else [], system)
    if placement is None or placement.light is None:
        return spot
    at = placement.light.canonical()
    return LightAndFlow((at, at), spot.flow, spot.lit)


def anywhere_in(system: System) -> LightAndFlow:
    """The range of light and flow over all places of a system, if all of them have it recorded."""
    return _spot(list(system.places.values()), system)


def of_place(here: LightAndFlow, there: LightAndFlow) -> OfPlace:
    """The factors from one place to another; those of the way back are their inverses."""
    light = _of_light(here, there) if here.light and there.light else None
    return OfPlace(light, _of_flow(here.flow, there.flow) if here.flow and there.flow else None)


def response(light: float, lit: float, saturation: float) -> float:
    """Calcification of a day in so much light (PAR) for a share `lit` of it, in units of that of light to the full.

    Source: hyperbolic tangent of light over that of saturation, Chalker 1981, Mar. Biol. 63:135-141, on top of what is
    laid down in the dark, Gattuso, Allemand & Frankignoulle 1999, Am. Zool. 39:160-183 (both from memory).
    """
    dark = 1.0 / LIGHT_TO_DARK_CALCIFICATION.value
    return dark + (1.0 - dark) * lit * tanh(light / saturation)


def _of_light(here: LightAndFlow, there: LightAndFlow) -> LogNormal:
    """A coral that gets used to its light makes up for part of it: anything from all of the difference to nothing."""
    assert here.light is not None
    assert there.light is not None
    ratios = [
        log(response(to, there.lit, saturation) / response(of, here.lit, saturation))
        for of, to, saturation in product(here.light, there.light, LIGHT_SATURATION_OF_CALCIFICATION.ends)
    ]
    middle, half = (max(ratios) + min(ratios)) / 2.0, (max(ratios) - min(ratios)) / 2.0
    left, (least, most) = LEFT_OF_LIGHT.value, LEFT_OF_LIGHT.ends
    spread = hypot(left * half, (most - least) / 2.0 * middle) / coverage_factor()
    return LogNormal(exp(left * middle), spread)


def _of_flow(here: Ends, there: Ends) -> LogNormal:
    least, most = there[0] - here[1], there[1] - here[0]
    whole = -log(FLOW_WEAK_TO_STRONG.value)
    middle, half = (least + most) / 2.0, (most - least) / 2.0
    apart = hypot(half / coverage_factor(), WITHIN_A_FLOW)
    return LogNormal(exp(middle * whole), hypot(middle * spread_of_range(*FLOW_WEAK_TO_STRONG.ends), apart * whole))


def _spot(places: Iterable[Place], system: System) -> LightAndFlow:
    places = list(places)
    lit = system.photoperiod.canonical() / 24.0 if system.photoperiod else LIT_SHARE_OF_DAY.value
    light = [end for place in places for end in (place.light, place.light_to or place.light)]
    flow = [place.flow for place in places]
    known, flows = [each.canonical() for each in light if each], [FLOWS[each] for each in flow if each]
    return LightAndFlow(
        (min(known), max(known)) if known and len(known) == len(light) else None,
        (min(flows), max(flows)) if flows and len(flows) == len(flow) else None,
        lit,
    )
