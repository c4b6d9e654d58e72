"""Where a quantity goes if nothing is changed, and when it leaves its band."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import erf, hypot, log, sqrt
from typing import Literal

import numpy as np

from generator.reckon.estimate.passage import Array
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import CannotTell
from generator.reckon.water.account import OneLevel, passages
from generator.reckon.water.estimate import MORE_WATER, Track
from generator.reckon.water.findings import Forecast
from generator.reckon.water.uptake import Evidence, cannot_tell, interval
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

HORIZON_DAYS = 30.0
STEP_DAYS = 0.5
# A forecast speaks of an earliest, a likely and a latest moment: 5, 50 and 95 futures in 100 have passed.
ODDS = (0.05, 0.5, 0.95)

Side = Literal["low", "high"]


def forecast(
    evidence: Evidence,
    found: Track | None,
    volume_error: float,
    low: float | None,
    high: float | None,
    as_of: datetime,
) -> Forecast | CannotTell:
    """The level over the next `HORIZON_DAYS` with all standing doses running on, and the band's end it passes first.

    `low` and `high` are the band's ends in the canonical unit. Answers `CannotTell` without a band or
    where the uptake itself cannot be told.
    """
    if low is None and high is None:
        return CannotTell("no-band", "write-a-band")
    if found is None:
        return CannotTell("no-readings", "read-twice")
    if (unknown := cannot_tell(evidence, found)) is not None:
        return unknown
    days = np.arange(0.0, HORIZON_DAYS + STEP_DAYS / 2, STEP_DAYS)
    mean, error = _future(evidence, found, volume_error, days)
    moments = [as_of + timedelta(days=float(day)) for day in days]
    return _forecast(evidence.kind, moments, mean, error, low, high)


def with_step(found: Forecast, step: Estimate, low: float | None, high: float | None) -> Forecast:
    """The same forecast if from its start on the demand is changed by `step` (canonical unit a day; positive: more).

    `low` and `high` are the band's ends as `forecast` was given them.
    """
    start = found.track[0][0]
    error_of_step = (step.high - step.low) / 2.0 / coverage_factor(step.level)
    moments, mean, error = [], [], []
    for moment, level in found.track:
        days = (moment - start).total_seconds() / 86400.0
        moments.append(moment)
        mean.append(level.value - step.value * days)
        error.append(hypot((level.high - level.low) / 2.0 / coverage_factor(level.level), error_of_step * days))
    return _forecast(found.kind, moments, mean, error, low, high)


def _forecast(
    kind: str,
    moments: Sequence[datetime],
    mean: Sequence[float],
    error: Sequence[float],
    low: float | None,
    high: float | None,
) -> Forecast:
    unit = KINDS[kind].canonical
    # The band's end that is the likelier to be passed at any time within the horizon is the one to speak of.
    chances = {
        side: [_passed(m, s, end, side) for m, s in zip(mean, error, strict=True)] for side, end in _ends(low, high)
    }
    side = max(chances, key=lambda s: max(chances[s]))
    reached = [_first(chances[side], odds, moments) for odds in ODDS]
    return Forecast(
        kind=kind,
        leaves=side if reached[0] is not None else None,
        earliest=reached[0],
        likely=reached[1],
        latest=reached[2],
        horizon_days=HORIZON_DAYS,
        track=tuple(
            (moment, interval(float(m), float(s), unit)) for moment, m, s in zip(moments, mean, error, strict=True)
        ),
    )


def _future(evidence: Evidence, found: Track, volume_error: float, days: Array) -> tuple[list[float], list[float]]:
    """Mean and standard error of the level so many days after the track's end.

    More water than declared means less uptake and a weaker dose alike, so most of the volume's
    uncertainty cancels: it is carried by telling the future again with one per cent more water.
    """
    moments = [float(found.moments[-1] + day) for day in days]
    dynamics, q2 = OneLevel(found.demand), (found.drift / found.demand) ** 2
    plain = passages(dynamics, [evidence.account], [], moments)
    thinner = passages(dynamics, [evidence.account.scaled(1.0 / MORE_WATER)], [], moments)
    mean, variance = found.averaged.mean[-1], found.averaged.variance[-1]
    diluted = mean + found.volume_slope[-1] * log(MORE_WATER)
    means, errors = [], []
    for step, thin in zip(plain, thinner, strict=True):
        mean, diluted = step.F @ mean + step.c, thin.F @ diluted + thin.c
        variance = step.F @ variance @ step.F.T + step.drift * q2 + step.fixed
        of_volume = float(diluted[0] - mean[0]) / log(MORE_WATER) * volume_error
        means.append(float(mean[0]))
        errors.append(sqrt(float(variance[0, 0]) + of_volume**2))
    return means, errors


def _ends(low: float | None, high: float | None) -> list[tuple[Side, float]]:
    ends: list[tuple[Side, float | None]] = [("low", low), ("high", high)]
    return [(side, end) for side, end in ends if end is not None]


def _passed(mean: float, error: float, end: float, side: Side) -> float:
    """The chance that a normal level lies beyond an end of its band."""
    beyond = (end - mean if side == "low" else mean - end) / error
    return 0.5 * (1.0 + erf(beyond / sqrt(2.0)))


def _first(chances: Sequence[float], odds: float, moments: Sequence[datetime]) -> datetime | None:
    return next((moment for chance, moment in zip(chances, moments, strict=True) if chance >= odds), None)
