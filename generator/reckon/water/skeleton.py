"""How much skeleton the corals of a water laid down over a time."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import pairwise

from generator.reckon.water.findings import TrackPoint
from generator.reckon.water.stoichiometry import GRAMS_PER_MEQ
from generator.units.quantity import Estimate


def laid_down(track: Sequence[TrackPoint], litres: float, since: datetime, until: datetime) -> Estimate | None:
    """Grams of CaCO3 by the alkalinity taken up between two moments, as far as its track (meq/L/day) reaches.

    The trapezoidal rule; all days may err in the same direction, so that the ends of the interval add up too. Source
    of the proportion: see `stoichiometry`. None where fewer than two points of the track are within.
    """
    within = [point for point in track if since <= point.at <= until]
    if len(within) < 2:
        return None
    total = [0.0, 0.0, 0.0]
    for one, other in pairwise(within):
        days = (other.at - one.at) / timedelta(days=1)
        ends = ((each.per_day.value, each.per_day.low, each.per_day.high) for each in (one, other))
        for number, (begin, end) in enumerate(zip(*ends, strict=True)):
            total[number] += days * (begin + end) / 2.0
    value, low, high = (each * litres * GRAMS_PER_MEQ for each in total)
    return Estimate(max(value, 0.0), max(low, 0.0), max(high, 0.0), "g")
