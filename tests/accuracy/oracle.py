"""An estimate that knows when the demand changed, how fast it drifts before and after, and how the kit strays; only not
by how much it changed.

An estimate from the same readings that knows no more of the size can hardly be better. Level, demand and the logarithm
of the water volume by a Kalman filter (Durbin & Koopman 2012, ch. 4) whose demand is opened by a whole demand at the
moment of the change. Readings teach it the volume as well, which a pump that is set anew tells a little.
"""

import numpy as np

from tests.accuracy.tanks import KIT_ERROR, Array, Kept

# Before the first reading the demand may be anything up to about this (dKH a day, one standard deviation).
_OPEN = 1.0


def knowing_when(kept: Kept, day: float, base: float, factor: float, drift: float, volume_error: float) -> float:
    """The demand at the last reading, at least nothing, where it changed on a `day` from about `base` by a `factor`."""
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
    return max(float(state[1]), 0.0)


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
