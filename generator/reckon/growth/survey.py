"""All that is found about one coral's growth on a day: the one way into this room for a coral."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from math import pi
from typing import Literal

from generator.reckon.finding import Answer, CannotTell
from generator.reckon.growth.decline import Decline, decline
from generator.reckon.growth.mass import MassKind, Weight, grown, leading_kind, mass_on, weights
from generator.reckon.growth.rate import doubling_time, extension, recent, specific_growth_rate
from generator.reckon.growth.segments import (
    Point,
    Segment,
    blocks,
    height_points,
    mass_points,
    radius_points,
    segments,
)
from generator.records.coral import Coral
from generator.records.log import SystemLog


@dataclass(frozen=True, slots=True)
class Growth:
    """How one coral grows. `specific` (%/day) is of its mass, or of its footprint where it was not weighed twice.

    `mass` (g) is by the last weighing of the `mass_kind` its growth is followed by; `grown` (g) adds
    cuttings back; extensions are in cm/year; `doubling` is in days. `radii` (cm) and `weighed` are the
    measurements behind them, `segments` where they may be compared.
    """

    coral: str
    as_of: date
    segments: tuple[Segment, ...]
    weighed: tuple[Weight, ...]
    radii: tuple[Point, ...]
    mass_kind: MassKind | None
    mass: Answer
    specific_of: Literal["mass", "footprint"]
    specific: Answer
    doubling: Answer
    radial_extension: Answer
    height_extension: Answer
    grown: Answer
    decline: Decline | None


def survey_growth(coral: Coral, logs: Mapping[str, SystemLog], as_of: date) -> Growth:
    """A coral's growth up to a day; `logs` by system, for the water that buoyant weighings were made in."""
    parts = segments(coral, as_of)
    weighed = weights(coral, logs, as_of)
    kind = leading_kind(weighed)
    masses = blocks(mass_points(weighed, kind), parts) if kind else ()
    radii = radius_points(coral, as_of)
    spreads = blocks(radii, parts)
    heights = blocks(height_points(coral, as_of), parts)
    specific_of, specific = _specific(masses, spreads, as_of)
    return Growth(
        coral=coral.id,
        as_of=as_of,
        segments=parts,
        weighed=weighed,
        radii=radii,
        mass_kind=kind,
        mass=mass_on(weighed, as_of, kind),
        specific_of=specific_of,
        specific=specific,
        doubling=doubling_time(specific),
        radial_extension=extension(recent(spreads, as_of)),
        height_extension=extension(recent(heights, as_of)),
        grown=grown(coral, weighed, kind) if kind else CannotTell("never-weighed", "weigh-it"),
        decline=_decline(masses, spreads),
    )


_Blocks = tuple[tuple[Point, ...], ...]


def _specific(masses: _Blocks, spreads: _Blocks, as_of: date) -> tuple[Literal["mass", "footprint"], Answer]:
    of_mass = specific_growth_rate(recent(masses, as_of))
    if not isinstance(of_mass, CannotTell) or not spreads:
        return "mass", of_mass
    return "footprint", specific_growth_rate(recent(tuple(_areas(block) for block in spreads), as_of))


def _areas(block: tuple[Point, ...]) -> tuple[Point, ...]:
    return tuple(replace(p, value=pi * p.value**2, standard=2.0 * pi * p.value * p.standard) for p in block)


def _decline(masses: _Blocks, spreads: _Blocks) -> Decline | None:
    """By whichever was measured more often; the other where that shows none."""
    count = [sum(len(block) for block in each) for each in (masses, spreads)]
    by_mass, by_radius = decline(masses, "mass"), decline(spreads, "radius")
    return (by_mass or by_radius) if count[0] >= count[1] else (by_radius or by_mass)
