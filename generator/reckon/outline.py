"""The area that a colony covers, seen from above."""

from math import pi


def footprint_area(length: float, width: float) -> float:
    """Area (cm²) of the ellipse that a colony of a length and width (cm) covers, seen from above."""
    return pi / 4.0 * length * width
