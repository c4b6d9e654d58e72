"""For how long a plan can be trusted to keep the levels in their bands."""

from collections.abc import Mapping
from statistics import NormalDist

from generator.reckon.dosing.needs import band
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.records.system import System

# A plan holds as long as the level is in its band with these odds.
ODDS = 0.975
# Kinds whose leaving the band ends a plan; magnesium moves too slowly to.
JUDGED = ("alkalinity", "calcium")

_NORMAL = NormalDist()


def holds_for(
    system: System, water: WaterFindings, levels: Mapping[str, float], correcting: Mapping[str, int]
) -> float:
    """Days from now for which every judged level stays in its band with the odds `ODDS`, at most the forecast's.

    Doses that meet the demand leave the level where it is, and the target after a correction; how unsure
    it grows is that of the forecast, whatever the dose. While a correction is under way (`correcting`,
    days by kind) the level may be outside on its way in. A kind without a band or a forecast says nothing.
    """
    found = []
    for kind in JUDGED:
        forecast = water.forecasts.get(kind)
        if isinstance(forecast, Forecast) and kind in levels:
            found.append(_holds(forecast, band(system, kind), levels[kind], correcting.get(kind)))
    return min(found, default=0.0)


def _holds(forecast: Forecast, ends: tuple[float | None, float | None], target: float, days: int | None) -> float:
    start, good = forecast.track[0][1].value, 0.0
    for moment, level in forecast.track:
        after = (moment - forecast.track[0][0]).total_seconds() / 86400.0
        if days is not None and after < days:
            continue
        error = (level.high - level.low) / 2.0 / coverage_factor(level.level)
        if _inside(start if days is None else target, error, ends) < ODDS:
            return good
        good = after
    return good


def _inside(mean: float, error: float, ends: tuple[float | None, float | None]) -> float:
    low, high = ends
    below = 0.0 if low is None else _NORMAL.cdf((low - mean) / error)
    above = 0.0 if high is None else _NORMAL.cdf((mean - high) / error)
    return 1.0 - below - above
