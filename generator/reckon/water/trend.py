"""Where a quantity goes that is only read: its change per day over the last months, and how sure that is."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np

from generator.reckon.estimate.robust_slope import RobustSlope, robust_slope
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.canonical import resolution
from generator.reckon.water.findings import Trend
from generator.records.log import Reading
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, coverage_factor

# How far back a trend looks, and how far apart its ends must be at least: a shorter span mistakes
# the swing of a day or of a feeding for a trend. Common practice, no source.
DAYS = 90.0
LEAST_DAYS = 7.0


def trends(readings: Sequence[Reading], values: Sequence[float], as_of: datetime) -> dict[str, Trend]:
    """The trend of every kind among `readings`, whose canonical `values` stand in the same order.

    Over the last `DAYS` before `as_of`; later readings do not count. A kind with too little to tell
    from is there too, with the reason.
    """
    since = as_of - timedelta(days=DAYS)
    by_kind: dict[str, list[tuple[Reading, float]]] = defaultdict(list)
    for reading, value in zip(readings, values, strict=True):
        if reading.at <= as_of:
            by_kind[reading.kind].append((reading, value))
    found = {}
    for kind, of_kind in sorted(by_kind.items()):
        recent = [(reading, value) for reading, value in of_kind if reading.at >= since]
        found[kind] = Trend(kind, _change_per_day(kind, recent), DAYS, len(recent))
    return found


def _change_per_day(kind: str, recent: Sequence[tuple[Reading, float]]) -> Answer:
    """Theil–Sen slope with Sen's 90 % interval, never narrower than what rounding alone can hide.

    Readings that all agree do not prove that nothing changes: a line that rises by one step of what was
    written over the whole span can still read the same everywhere.
    """
    sources = tuple(reading.source for reading, _ in recent)
    if not recent:
        return CannotTell("no-recent-readings", "read-again-later", (("days", f"{DAYS:g}"),))
    first = min(reading.at for reading, _ in recent)
    x = np.array([(reading.at - first).total_seconds() / 86400.0 for reading, _ in recent])
    span = float(x.max())
    if span == 0.0:
        return CannotTell("one-time", "read-again-later", inputs=sources)
    if span < LEAST_DAYS:
        return CannotTell("span-too-short", "read-again-later", (("days", f"{LEAST_DAYS:g}"),), sources)
    slope = robust_slope(x, np.array([value for _, value in recent]))
    if slope is None:
        return CannotTell("too-few-readings", "read-more", (("readings", f"{len(recent)}"),), sources)
    step = max(resolution(reading.value) for reading, _ in recent) / span
    return Finding(
        Estimate(
            slope.slope,
            min(slope.low, slope.slope - step),
            max(slope.high, slope.slope + step),
            f"{KINDS[kind].canonical}/day",
        ),
        "trend",
        sources,
        _parts(slope, step),
    )


def _parts(slope: RobustSlope, step: float) -> tuple[UncertaintyPart, ...]:
    scatter = (slope.high - slope.low) / 2.0 / coverage_factor()
    # A step's whole width is spread evenly over what the slope can be to either side.
    return (UncertaintyPart("scatter", scatter), UncertaintyPart("resolution", step / 3.0**0.5))
