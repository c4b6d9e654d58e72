"""What a coral's measurements say: the place it takes, what it should weigh, over which stretches they compare."""

from collections.abc import Sequence
from datetime import date
from math import exp, hypot, log, pi, prod, sqrt
from typing import Literal

from msgspec import Struct

from generator.nature.constants import RULER_REPEATS_TO
from generator.nature.genera import SHAPES
from generator.nature.rates import published_density
from generator.reckon.finding import Finding, UncertaintyPart
from generator.reckon.growth.mass import MassKind, Weight, written_error
from generator.records.coral import Coral, Form, Size
from generator.records.source import Source
from generator.units.quantity import Cm, Estimate, SquareCm, coverage_factor

Beginning = Literal["arrival", "cutting", "breakage", "place"]


class Segment(Struct, frozen=True):
    """From `since` until the next segment (None: still going on), and what began it."""

    since: date
    until: date | None
    began: Beginning
    source: Source


class Point(Struct, frozen=True):
    """One measurement of a coral: a mass in g or a length in cm, with its instrument's standard uncertainty.

    `repeats` is the recorded error of a repeated weighing (standard deviation, g); None if it is not recorded.
    """

    at: date
    value: float
    standard: float
    source: Source
    repeats: float | None = None


Block = tuple[Point, ...]


def segments(coral: Coral, as_of: date) -> tuple[Segment, ...]:
    """A coral's life up to a day, cut where it was cut, broke, or changed its place."""
    breaks: dict[date, tuple[Beginning, Source]] = {}
    stood = None
    for placement in sorted(coral.placements, key=lambda placement: placement.since):
        where = (placement.system, placement.place)
        if stood not in (None, where) and placement.since <= as_of:
            breaks[placement.since] = ("place", placement.source)
        stood = where
    for health in coral.breakages:
        if health.at <= as_of:
            breaks[health.at] = ("breakage", health.source)
    for cutting in coral.cuttings:
        if cutting.at <= as_of:
            breaks[cutting.at] = ("cutting", cutting.source)
    breaks.pop(coral.arrival.at, None)
    starts = [(coral.arrival.at, ("arrival", coral.arrival.source)), *sorted(breaks.items())]
    ends: list[date | None] = [start for start, _ in starts[1:]]
    return tuple(
        Segment(since, until, began, source)
        for (since, (began, source)), until in zip(starts, [*ends, None], strict=True)
    )


def blocks(points: Sequence[Point], parts: Sequence[Segment]) -> tuple[Block, ...]:
    """The points of each segment that holds any.

    A point on the day of a cut or a breakage was measured after it. One on the day of a move ends one
    segment and begins the next: moving does not change the coral.
    """
    found = []
    for index, part in enumerate(parts):
        moved_on = index + 1 < len(parts) and parts[index + 1].began == "place"
        inside = tuple(
            point
            for point in points
            if (index == 0 or part.since <= point.at)
            and (part.until is None or point.at < part.until or (moved_on and point.at == part.until))
        )
        if inside:
            found.append(inside)
    return tuple(found)


def mass_points(weighed: Sequence[Weight], kind: MassKind) -> tuple[Point, ...]:
    """Masses of one kind (g), each with the error of its scale alone: all share that of the densities."""
    return tuple(
        Point(weight.at, weight.grams, weight.scale, weight.source, weight.repeats)
        for weight in weighed
        if weight.kind == kind
    )


def radius_points(coral: Coral, as_of: date) -> tuple[Point, ...]:
    """Mean radii (cm) seen from above: half the root of length times width.

    Where no two sizes have a width, half of every length.
    """
    sizes = coral.measured_until(as_of)
    both = [size for size in sizes if size.width is not None]
    return tuple(_radius(size) for size in (both if len(both) >= 2 else sizes))


def _radius(size: Size) -> Point:
    length = size.length.canonical()
    width = size.width.canonical() if size.width else length
    radius = (length * width) ** 0.5 / 2.0
    # Relative errors of length and width halve under the root and add in quadrature; a length alone counts whole.
    error = _ruler_error(length, written_error(size.length)) / max(length, 1e-9)
    if size.width:
        error = hypot(error, _ruler_error(width, written_error(size.width)) / max(width, 1e-9)) / 2.0
    return Point(size.at, radius, radius * error, size.source)


def height_points(coral: Coral, as_of: date) -> tuple[Point, ...]:
    """Heights (cm)."""
    sizes = coral.measured_until(as_of)
    return tuple(
        Point(size.at, height, _ruler_error(height, written_error(size.height)), size.source)
        for size in sizes
        if size.height is not None and (height := size.height.canonical())
    )


def _ruler_error(length: float, written: float) -> float:
    """Standard uncertainty (cm) of a ruler's reading: its last digit, and how far a repeat on a colony strays."""
    return hypot(written, RULER_REPEATS_TO.value * length)


class Body(Struct, frozen=True):
    """A colony's length, width and height in cm; None where not measured."""

    length: float
    width: float | None = None
    height: float | None = None
    inputs: tuple[Source, ...] = ()

    @property
    def diameter(self) -> Cm:
        """Diameter (cm) of the circle of its footprint's area."""
        return sqrt(self.length * (self.width or self.length))

    @property
    def footprint(self) -> SquareCm:
        """Area (cm²) of the ellipse that it covers, seen from above; a circle where only its length is known."""
        return pi / 4.0 * self.diameter**2


def body(size: Size) -> Body:
    """A measured size as a body."""
    return Body(
        size.length.canonical(),
        size.width.canonical() if size.width else None,
        size.height.canonical() if size.height else None,
        (size.source,),
    )


def surface_area(length: float, width: float, height: float, factor: float) -> float:
    """Surface (cm²) of a colony from its measures (cm) and its form's factor M, 1 to 4 (see `nature.genera`).

    Source: CSA = π ((h + d/2) / 2)² M, d = √(length × width); EPA/600/R-12/029, table 3-2.
    """
    diameter = sqrt(length * width)
    return pi * ((height + diameter / 2.0) / 2.0) ** 2 * factor


def height_of(measured: Body, form: Form) -> tuple[Cm, Cm, Cm]:
    """Height (cm), low, typical and high: as measured, else by the form's usual share of the diameter."""
    if measured.height is not None:
        return measured.height, measured.height, measured.height
    low, typical, high = SHAPES[form].height
    return measured.diameter * low, measured.diameter * typical, measured.diameter * high


def expected_mass(measured: Body, genus: str, form: Form) -> Finding:
    """Mass (g) to expect of a colony of a size, genus and form, with its 90 % range.

    Each range spans 90 % of what can be and counts as log-normal about the typical value.
    """
    shape = SHAPES[form]
    density = published_density(genus, form)
    area = measured.footprint
    ranges = {"density": (density.low, density.typical, density.high)}
    if shape.thickness:
        outline = area
        ranges["thickness"] = shape.thickness
    else:
        outline = 2.0 / 3.0 * area
        ranges["fill"] = shape.fill or (0.1, 0.3, 1.0)
        if measured.height is None:
            ranges["height"] = height_of(measured, form)
        else:
            outline *= measured.height
    return _product(outline, ranges, measured.inputs)


def _product(outline: float, ranges: dict[str, tuple[float, float, float]], inputs: tuple[Source, ...]) -> Finding:
    """An outline times every range's typical value; spreads add in quadrature on the log scale, each side by itself."""
    k = coverage_factor()
    value = outline * prod(typical for _, typical, _ in ranges.values())
    ruler = 2.0 * RULER_REPEATS_TO.value * k
    below = hypot(ruler, *(log(typical / low) for low, typical, _ in ranges.values()))
    above = hypot(ruler, *(log(high / typical) for _, typical, high in ranges.values()))
    spreads = {"ruler": ruler, **{cause: log(high / low) / 2.0 for cause, (low, _, high) in ranges.items()}}
    return Finding(
        Estimate(value, value * exp(-below), value * exp(above), "g"),
        "expected-mass",
        inputs,
        tuple(UncertaintyPart(cause, value * spread / k) for cause, spread in spreads.items()),
    )
