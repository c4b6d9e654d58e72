"""For how long a plan can be trusted to keep a level in its band."""

from statistics import NormalDist

from generator.reckon.dosing.needs import band
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import CannotTell
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.records.system import System

# A plan holds as long as the level is in its band with these odds.
ODDS = 0.975

_NORMAL = NormalDist()


def holds_for(system: System, water: WaterFindings, kind: str, corrected_to: float | None) -> float | CannotTell:
    """Days from now for which a level stays in its band with the odds `ODDS`, at most the forecast's horizon.

    Doses that meet the demand leave the level where it is; with a correction it goes to `corrected_to`
    (canonical unit), and what is asked on the way there is that it strays no further from its planned path
    than the band is wide about the target. How unsure it grows is that of the forecast, whatever the dose.
    Answers as the forecast does where that cannot be told.
    """
    forecast = water.forecasts[kind]
    if not isinstance(forecast, Forecast):
        return forecast
    start, ends, good = forecast.track[0], band(system, kind), 0.0
    mean = start[1].value if corrected_to is None else corrected_to
    for moment, level in forecast.track:
        error = (level.high - level.low) / 2.0 / coverage_factor(level.level)
        if _inside(mean, error, ends) < ODDS:
            return good
        good = (moment - start[0]).total_seconds() / 86400.0
    return good


def _inside(mean: float, error: float, ends: tuple[float | None, float | None]) -> float:
    low, high = ends
    below = 0.0 if low is None else _NORMAL.cdf((low - mean) / error)
    above = 0.0 if high is None else _NORMAL.cdf((mean - high) / error)
    return 1.0 - below - above
