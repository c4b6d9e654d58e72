"""All that is found about one coral's growth on a day: the one way into this room for a coral."""

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from math import exp, hypot, pi
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.finding import Answer, CannotTell
from generator.reckon.growth.health import Decline, decline
from generator.reckon.growth.mass import MassKind, Weight, by_day, grown, leading_kind, mass_on, single_weights
from generator.reckon.growth.measurements import (
    Block,
    Point,
    Segment,
    blocks,
    height_points,
    mass_points,
    radius_points,
    segments,
)
from generator.reckon.growth.pace import (
    FOOTPRINT,
    LENGTH,
    MASS,
    Course,
    Pace,
    Repeats,
    ahead,
    doubling_time,
    extension,
    extension_ahead,
    recent_points,
    repeats_to,
    specific_growth_ahead,
    specific_growth_rate,
)
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.units.quantity import Estimate, coverage_factor

# How many days a rate ahead covers: soon, and for room and cutting.
SOON_DAYS, AHEAD_DAYS = 21, 183
_STEPS = 6


class Growth(Struct, frozen=True):
    """How one coral grew, and how it will grow: two separate answers.

    `specific` (%/day) is of its mass, or of its footprint where it was not weighed twice, from the first to the last
    day of `between`; `specific_ahead` is that of the next `SOON_DAYS`. Extensions are in cm/year, those ahead for the
    next `AHEAD_DAYS`; `doubling` is in days, by the rate ahead. `mass` (g) is by the last weighing of the `mass_kind`
    its growth is followed by, `mass_ahead` what it will weigh if nothing is cut; `grown` (g) adds cuttings back;
    `repeats` is how far its weighings repeat. `radii` (cm) and `weighed` are the measurements behind them,
    `segments` where they may be compared.
    """

    coral: str
    as_of: date
    segments: tuple[Segment, ...]
    weighed: tuple[Weight, ...]
    radii: tuple[Point, ...]
    mass_kind: MassKind | None
    mass: Answer
    specific_of: Literal["mass", "footprint"]
    between: tuple[date, date] | None
    specific: Answer
    specific_ahead: Answer
    doubling: Answer
    radial_extension: Answer
    radial_ahead: Answer
    height_extension: Answer
    height_ahead: Answer
    grown: Answer
    repeats: Repeats | None
    mass_ahead: tuple[tuple[date, Estimate], ...]
    decline: Decline | None


class Spreading(Struct, frozen=True):
    """As much of `Growth` as tells how a coral spreads."""

    as_of: date
    segments: tuple[Segment, ...]
    radial_ahead: Answer


def spreading(coral: Coral, as_of: date) -> Spreading:
    """How a coral spreads, from its sizes up to a day."""
    parts = segments(coral, as_of)
    outwards = recent_points(blocks(radius_points(coral, as_of), parts), as_of)
    return Spreading(as_of, parts, extension_ahead(_lengths(outwards, as_of)))


def analyse_growth(coral: Coral, logs: Mapping[str, SystemLog], as_of: date) -> Growth:
    """A coral's growth up to a day; `logs` by system, for the water that buoyant weighings were made in."""
    parts = segments(coral, as_of)
    singles = single_weights(coral, logs, as_of)
    kind = leading_kind(by_day(singles))
    masses = blocks(mass_points(singles, kind), parts) if kind else ()
    weighings = Course(recent_points(masses, as_of), MASS, as_of, (SOON_DAYS,))
    repeats = repeats_to(weighings) if kind else None
    weighed = tuple(weight.repeating(repeats.share) if repeats else weight for weight in by_day(singles))
    radii = radius_points(coral, as_of)
    spreads = blocks(radii, parts)
    outwards = _lengths(recent_points(spreads, as_of), as_of)
    upwards = _lengths(recent_points(blocks(height_points(coral, as_of), parts), as_of), as_of)
    # By footprints if no two masses compare.
    by_mass = any(block[0].at < block[-1].at for block in masses) or not spreads
    late = weighings if by_mass else Course(tuple(map(_areas, outwards.blocks)), FOOTPRINT, as_of, (SOON_DAYS,))
    specific_ahead = specific_growth_ahead(late)
    return Growth(
        coral=coral.id,
        as_of=as_of,
        segments=parts,
        weighed=weighed,
        radii=radii,
        mass_kind=kind,
        mass=mass_on(weighed, as_of, kind),
        specific_of="mass" if by_mass else "footprint",
        between=(late.blocks[0][0].at, late.blocks[-1][-1].at) if late.blocks else None,
        specific=specific_growth_rate(late),
        specific_ahead=specific_ahead,
        doubling=doubling_time(specific_ahead),
        radial_extension=extension(outwards),
        radial_ahead=extension_ahead(outwards),
        height_extension=extension(upwards),
        height_ahead=extension_ahead(upwards),
        grown=grown(coral, weighed, kind) if kind else CannotTell("never-weighed", "weigh-it"),
        repeats=repeats,
        mass_ahead=_mass_ahead(weighed, weighings.blocks, parts, as_of),
        decline=_decline(masses, spreads),
    )


def _lengths(measured: Sequence[Block], as_of: date) -> Course:
    return Course(measured, LENGTH, as_of, (AHEAD_DAYS,))


def _mass_ahead(
    weighed: tuple[Weight, ...], masses: Sequence[Block], parts: tuple[Segment, ...], as_of: date
) -> tuple[tuple[date, Estimate], ...]:
    """Mass forecast from the last weighing until half a year from now; empty if it was cut since, or weighed once."""
    last = masses[-1][-1] if masses else None
    if last is None or any(part.since > last.at and part.began in ("cutting", "breakage") for part in parts):
        return ()
    whole = (as_of - last.at).days + AHEAD_DAYS
    days = [whole * step // _STEPS for step in range(1, _STEPS + 1)]
    paces = ahead(Course(masses, MASS, last.at, days))
    if paces is None:
        return ()
    weight = next(each for each in reversed(weighed) if each.at == last.at)
    of_weighing = hypot(weight.scale, weight.repeats or 0.0) / weight.grams
    found = []
    for pace, day in zip((Pace(0.0, 0.0), *paces), (0, *days), strict=True):
        width = exp(coverage_factor() * hypot(pace.standard, of_weighing))
        grams = weight.grams * exp(pace.grown)
        found.append((last.at + timedelta(days=day), Estimate(grams, grams / width, grams * width, "g")))
    return tuple(found)


def _areas(block: Block) -> Block:
    return tuple(replace(p, value=pi * p.value**2, standard=2.0 * pi * p.value * p.standard) for p in block)


def _decline(masses: tuple[Block, ...], spreads: tuple[Block, ...]) -> Decline | None:
    """A fall of growth by mass or size, whichever was measured more often; by the other if that shows none."""
    count = [sum(len(block) for block in each) for each in (masses, spreads)]
    by_mass, by_radius = decline(masses, "mass"), decline(spreads, "radius")
    return (by_mass or by_radius) if count[0] >= count[1] else (by_radius or by_mass)
