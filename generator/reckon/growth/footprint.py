"""The place a colony takes, its surface, and what a colony of its size and form should weigh."""

from dataclasses import dataclass
from math import exp, hypot, log, pi, prod, sqrt

from generator.nature.constants import RULER_REPEATS_TO
from generator.nature.genera import SHAPES
from generator.nature.rates import published_density
from generator.reckon.finding import Finding, UncertaintyPart
from generator.records.coral import Form, Size
from generator.records.source import Source
from generator.units.quantity import Estimate, coverage_factor


@dataclass(frozen=True, slots=True)
class Body:
    """A colony's length, width and height in cm; None where not measured."""

    length: float
    width: float | None = None
    height: float | None = None
    inputs: tuple[Source, ...] = ()

    @property
    def diameter(self) -> float:
        """Diameter (cm) of the circle of its footprint's area."""
        return sqrt(self.length * (self.width or self.length))

    @property
    def footprint(self) -> float:
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


def height_of(measured: Body, form: Form) -> tuple[float, float, float]:
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
    """An outline times every range's typical value; their spreads add in squares on the log scale, side by side."""
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
