"""Estimates that know more than any keeper: an estimate from the same readings that knows less can hardly be better.

One knows when the demand changed, how fast it drifts before and after, and how the kit strays; only not by how much it
changed. Level, demand and the logarithm of the water volume by a Kalman filter (Durbin & Koopman 2012, ch. 4) whose
demand is opened by a whole demand at the moment of the change. Readings teach it the volume as well, which a pump that
is set anew tells a little.

The other looks for wild readings and knows how fast the demand drifts, perhaps also that nothing else happens.
"""

import numpy as np
from msgspec.structs import replace

from generator.reckon.estimate.multiprocess import Branches
from generator.reckon.estimate.stories import follow
from generator.reckon.water.dynamics import NOTHING, STRAY
from generator.reckon.water.state_estimate import StateEstimate
from tests.accuracy.tanks import KIT_ERROR, Array, Kept

# Before the first reading the demand may be anything up to about this (dKH a day, one standard deviation).
_OPEN = 1.0


def wild_knowing_drift(found: StateEstimate, drift: float, alone: bool) -> Array:
    """The chance that each reading is wild (N,) where the demand drifts by a known share of itself per root of a day.

    The estimate that was `found` tells what is followed; what else it thinks may have happened is left out where a wild
    reading `alone` can.
    """
    process = found.followed.process
    known = {"q2": np.array([drift**2]), "r2": np.ones(1), "log_prior": np.zeros(1)}
    branches = [_wild_alone(each) if each is not None and alone else each for each in process.branches]
    followed = follow(replace(process, branches=branches, **known))
    return np.asarray(followed.odds(STRAY)[found.readings])


def _wild_alone(branches: Branches) -> Branches:
    """A wild reading, or nothing."""
    left = np.isin(branches.kind, (NOTHING, STRAY))
    odds = np.where(branches.kind == NOTHING, 0.0, np.exp(branches.log_odds))
    odds[0] = 1.0 - odds[left].sum()
    rows = {name: getattr(branches, name)[left] for name in branches.__struct_fields__ if name != "blurred"}
    return replace(branches, **rows | {"log_odds": np.log(odds[left])})


def knowing_when(
    kept: Kept, day: float, base: float, factor: float, drift: float, volume_error: float
) -> tuple[float, float]:
    """The demand at the last reading and its error, where it changed on a `day` from about `base` by a `factor`."""
    state, spread = np.array([kept.values[0], base, 0.0]), np.diag([KIT_ERROR**2, _OPEN**2, volume_error**2])
    now = float(kept.times[0])
    for at, value in zip(kept.times[1:], kept.values[1:], strict=True):
        for stop, share, level in _stops(kept, now, float(at), day):
            wanders = drift * base * (factor if now >= day else 1.0)
            state, spread = _moved(state, spread, stop - now, kept.account.paid_between(now, stop), wanders)
            state[0] += share * (level - state[0])
            spread[0] *= 1.0 - share
            spread[:, 0] *= 1.0 - share
            if stop == day:
                spread[1, 1] += base**2
            now = stop
        gain = spread[:, 0] / (spread[0, 0] + KIT_ERROR**2)
        state, spread = state + gain * (value - state[0]), spread - np.outer(gain, spread[0])
    return float(state[1]), float(np.sqrt(spread[1, 1]))


def _stops(kept: Kept, now: float, at: float, day: float) -> list[tuple[float, float, float]]:
    """What happens up to a reading: when, what share of the water is renewed, and with which level."""
    found = [(each.at, each.fraction, each.level) for each in kept.account.renewals if now <= each.at < at]
    return sorted([*found, *([(day, 0.0, 0.0)] if now <= day < at else []), (at, 0.0, 0.0)])


def _moved(state: Array, spread: Array, days: float, paid: float, wanders: float) -> tuple[Array, Array]:
    """Level, demand and volume some days later, the demand having wandered (dKH a day per square root of a day)."""
    F = np.array([[1.0, -days, -paid], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]])
    walk = np.zeros((3, 3))
    walk[:2, :2] = [[days**3 / 3.0, -(days**2) / 2.0], [-(days**2) / 2.0, days]]
    return F @ state + np.array([paid, 0.0, 0.0]), F @ spread @ F.T + wanders**2 * walk
