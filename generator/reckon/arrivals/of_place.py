"""What the light and flow of another place do to a coral's calcification, as factors with their ranges."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from math import exp, hypot, log, sqrt, tanh

from generator.nature.constants import (
    FLOW_WEAK_TO_STRONG,
    LEFT_OF_LIGHT,
    LIGHT_SATURATION_OF_CALCIFICATION,
    LIGHT_TO_DARK_CALCIFICATION,
    LIT_SHARE_OF_DAY,
    OF_ITS_PLACE,
)
from generator.reckon.estimate.uncertainty import LogNormal
from generator.records.coral import Placement
from generator.records.system import Place, System
from generator.units.quantity import coverage_factor, spread_of_range

Ends = tuple[float, float]
# How far each flow is from weak (0) to strong (1), and how far places of one flow may be apart. Choices of ours.
FLOWS = {"weak": 0.0, "moderate": 0.5, "strong": 1.0}
WITHIN_A_FLOW = 0.25
# What each of the two adds where it is not recorded (of the logarithm): half of the variance assumed of a place.
NOT_RECORDED = LogNormal(1.0, OF_ITS_PLACE.value / sqrt(2.0))


@dataclass(frozen=True, slots=True)
class Spot:
    """The light (PAR, µmol/m²/s) and flow (0 weak to 1 strong) where a coral stands or may stand, least and most.

    `lit` is the share of a day that it has light. None: not recorded.
    """

    light: Ends | None = None
    flow: Ends | None = None
    lit: float = LIT_SHARE_OF_DAY.value


UNKNOWN = Spot()


@dataclass(frozen=True, slots=True)
class OfPlace:
    """By how much light and flow make a coral calcify otherwise at another place; None: not recorded at both."""

    light: LogNormal | None = None
    flow: LogNormal | None = None

    @property
    def whole(self) -> LogNormal:
        """Both together, with the spread that is assumed of what is not recorded."""
        return (self.light or NOT_RECORDED).times(self.flow or NOT_RECORDED)


NOTHING_RECORDED = OfPlace()


def spot_of(placement: Placement | None, system: System) -> Spot:
    """Where a coral stands: the light measured at it, else that of its place, and its place's flow."""
    place = system.places.get(placement.place or "") if placement else None
    spot = _spot([place] if place else [], system)
    if placement is None or placement.light is None:
        return spot
    at = placement.light.canonical()
    return Spot((at, at), spot.flow, spot.lit)


def anywhere_in(system: System) -> Spot:
    """Wherever in a system: from the least to the most of its places, where all of them have it recorded."""
    return _spot(list(system.places.values()), system)


def of_place(here: Spot, there: Spot) -> OfPlace:
    """The factors from one place to another, the same as those of the way back turned over."""
    light = _of_light(here, there) if here.light and there.light else None
    return OfPlace(light, _of_flow(here.flow, there.flow) if here.flow and there.flow else None)


def response(light: float, lit: float, saturation: float) -> float:
    """Calcification of a day in so much light (PAR) for a share `lit` of it, in units of that of light to the full.

    Source: hyperbolic tangent of light over that of saturation, Chalker 1981, Mar. Biol. 63:135-141, on top of what is
    laid down in the dark, Gattuso, Allemand & Frankignoulle 1999, Am. Zool. 39:160-183 (both from memory).
    """
    dark = 1.0 / LIGHT_TO_DARK_CALCIFICATION.value
    return dark + (1.0 - dark) * lit * tanh(light / saturation)


def _of_light(here: Spot, there: Spot) -> LogNormal:
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


def _spot(places: Iterable[Place], system: System) -> Spot:
    places = list(places)
    lit = system.photoperiod.canonical() / 24.0 if system.photoperiod else LIT_SHARE_OF_DAY.value
    light = [end for place in places for end in (place.light, place.light_to or place.light)]
    flow = [place.flow for place in places]
    known, flows = [each.canonical() for each in light if each], [FLOWS[each] for each in flow if each]
    return Spot(
        (min(known), max(known)) if known and len(known) == len(light) else None,
        (min(flows), max(flows)) if flows and len(flows) == len(flow) else None,
        lit,
    )
