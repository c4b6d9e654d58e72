"""For how long a plan can be trusted to keep a level in its band."""

from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

from generator.reckon.dosing.needs import band
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import CannotTell
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.records.system import System

# A plan holds as long as the level is in its band with these odds.
ODDS = 0.975

_NORMAL = NormalDist()


@dataclass(frozen=True, slots=True)
class Held:
    """How many days a level stays in its band by a plan's doses, and how many if they met every need."""

    days: float
    if_met: float


def holds_for(
    system: System,
    water: WaterFindings,
    kind: str,
    corrected_to: float | None,
    fallen_short: Callable[[float], float],
) -> Held | CannotTell:
    """Days from now for which a level stays in its band with the odds `ODDS`, at most the forecast's horizon.

    Doses that meet the demand leave the level where it is; with a correction it goes to `corrected_to`
    (canonical unit), and what is asked on the way there is that it strays no further from its planned path
    than the band is wide about the target. `fallen_short` tells by how much it is lower after so many days
    for what the doses leave of the need. How unsure it grows is that of the forecast, whatever the dose.
    Answers as the forecast does where that cannot be told.
    """
    forecast = water.forecasts[kind]
    if not isinstance(forecast, Forecast):
        return forecast
    start, ends = forecast.track[0], band(system, kind)
    mean = start[1].value if corrected_to is None else corrected_to
    found = {"days": 0.0, "if_met": 0.0}
    for what, short in (("days", fallen_short), ("if_met", _not_short)):
        for moment, level in forecast.track:
            days = (moment - start[0]).total_seconds() / 86400.0
            error = (level.high - level.low) / 2.0 / coverage_factor(level.level)
            if _inside(mean - short(days), error, ends) < ODDS:
                break
            found[what] = days
    return Held(**found)


def _not_short(_days: float) -> float:
    return 0.0


def _inside(mean: float, error: float, ends: tuple[float | None, float | None]) -> float:
    low, high = ends
    below = 0.0 if low is None else _NORMAL.cdf((low - mean) / error)
    above = 0.0 if high is None else _NORMAL.cdf((mean - high) / error)
    return 1.0 - below - above
