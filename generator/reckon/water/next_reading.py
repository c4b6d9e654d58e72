"""What a reading that nobody has made yet is held against: the last one, and the forecast."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from math import hypot
from statistics import median

from generator.reckon.water.findings import WaterFindings
from generator.units.quantity import Estimate, coverage_factor

# How many readings back a keeper's usual step from one to the next is looked for, and how many such steps are far.
_BACK, _FAR = 12, 4.0
# Makes the median size of normal steps their standard deviation (Rousseeuw & Croux 1993, JASA 88:1273).
_MAD = 1.4826
# Differences of fewer readings say nothing of what is usual.
_ENOUGH = 4


def far_from_last(values: Sequence[float], kit_error: float | None) -> float | None:
    """How far from the last of its readings one of a quantity is odd, in their unit; None if nothing tells.

    That is four times what is usual from one reading to the next, or what the kit alone makes of two readings.
    """
    steps = [abs(later - earlier) for earlier, later in pairwise(values[-_BACK:])]
    usual = _MAD * median(steps) if len(steps) >= _ENOUGH else 0.0
    return _FAR * max(usual, 2.0**0.5 * (kit_error or 0.0)) or None


def readings_ahead(found: WaterFindings, kind: str, kit_error: float | None) -> tuple[tuple[datetime, Estimate], ...]:
    """What a kit should show of a quantity, day by day from now on, the kit's own error included; none if unknown."""
    forecast, half = found.forecasts.get(kind), coverage_factor() * (kit_error or 0.0)
    track = getattr(forecast, "track", ())
    return tuple(
        (
            at,
            replace(
                level,
                low=level.value - hypot(level.value - level.low, half),
                high=level.value + hypot(level.high - level.value, half),
            ),
        )
        for at, level in track[::2]
    )
