"""How level and uptake move between events; and what may have happened that nobody wrote down, with its odds."""

from collections.abc import Sequence
from functools import cache
from math import log, sqrt
from typing import ClassVar, Protocol

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from generator.reckon.estimate.kalman import Transition
from generator.reckon.estimate.multiprocess import Branches
from generator.reckon.estimate.uncertainty import Array

NOTHING, STRAY, JUMP, STEP, STOP, LOGGED = range(6)
# Pump i begins to wear: kind WORN + i.
WORN = 16

# In 30 of 1,000 readings a reading is wild by some 4 kit errors, in 5 more by some 20 (one standard deviation).
WILD = ((0.030, 4.0), (0.005, 20.0))
# A reading is called doubtful from these odds on that it is wild.
DOUBTFUL = 0.15
# The level jumps (a dose, a spill, new water that nobody wrote down) about once in 170 days, by some 10 kit errors.
JUMP_ODDS = 0.006
JUMP_SIZE = 10.0
# Once in so many water changes the level jumps with it: another mix, another volume, a buffer nobody wrote down.
JUMP_AT_CHANGE = 0.03
# The demand is taken to step once in 22 days: more often than it does, so that the first reading after a step already
# widens the interval as far as the step goes. By how much, as a share of it: mean and standard deviation of a fall, a
# rise and a stop, and how many of 100 steps are of each kind. What died takes up nothing, and dissolves a little.
STEP_ODDS = 0.045
STEPS = ((STEP, 0.35, -0.40, 0.25), (STEP, 0.50, 0.60, 0.60), (STOP, 0.15, -1.06, 0.08))
# However long nothing was read, a step is no likelier than this before the reading: in a long gap it shows anyway.
MOST_STEP_ODDS = 0.20
# The estimate itself, unlike its interval, takes a step since the reading before for so many times as likely as that.
FRESH = 0.4
# A pump begins to wear about twice a year. A month later it lacks about this share (mean and standard deviation).
WEAR_ODDS = 1.0 / 180.0
WEAR, WEAR_SPREAD = 0.12 / 30.0, 0.10 / 30.0
# A demand that stepped within a month does so again with a tenth of these odds.
AGAIN = 0.1
# When in the time since the last reading it stepped: one of three moments.
MOMENTS = (1.0 / 6.0, 0.5, 5.0 / 6.0)
# However long nothing was read, no rival is likelier than this before the reading, nor all of them together.
MOST_ODDS = 0.40
MOST_IN_ALL = 0.97
# A step needs a demand known before it, a jump a level: so many readings come first.
READ_BEFORE_STEP = 3
READ_BEFORE_JUMP = 2
# What a logged change of the corals may take to come about in full, days, beside at once.
SETTLING = (7.0, 14.0)


class Gap(Struct, frozen=True):
    """The time before a reading, days: since the last reading of anything, and of the same level; readings before.

    `renewed` counts the water changes since the last reading of the same level.
    """

    since_any: float
    since_same: float
    before: int
    renewed: int = 0


def unlogged(
    size: int, levels: int, level: int, taken: Array, gap: Gap, error: float, pumps: Sequence[int] = ()
) -> Branches:
    """What else may explain a reading of a level, with a kit `error`; `taken` (levels,) is what a unit of uptake takes.

    `pumps` are the numbers of the state that tell what share each pump that may wear lacks.
    """
    jump = steps = 0.0
    if gap.before >= READ_BEFORE_JUMP:
        jump = min(JUMP_ODDS * gap.since_same + JUMP_AT_CHANGE * gap.renewed, MOST_ODDS)
    if gap.before >= READ_BEFORE_STEP:
        steps = min(STEP_ODDS * gap.since_any, MOST_STEP_ODDS)
    one, by_days = _after_a_day(size, levels, level, tuple(taken.tolist()), jump > 0.0, steps > 0.0, tuple(pumps))
    odds = np.exp(one.log_odds)
    odds[one.kind == JUMP] = jump
    odds[one.by_rate] *= steps
    odds[one.kind >= WORN] = min(WEAR_ODDS * gap.since_any, MOST_ODDS / 4.0)
    every = float(odds[1:].sum())
    odds *= min(MOST_IN_ALL / every, 1.0)
    odds[0] = 1.0 - min(every, MOST_IN_ALL)
    return replace(
        one,
        log_odds=np.log(odds),
        direction=np.where(by_days, gap.since_any * one.direction, one.direction),
        spread=np.where(one.kind == JUMP, error * one.spread, one.spread),
        blur=gap.since_any * one.blur,
        widened=error**2 * one.widened,
    )


@cache
def _after_a_day(
    size: int, levels: int, level: int, taken: tuple[float, ...], jumps: bool, steps: bool, pumps: tuple[int, ...]
) -> tuple[Branches, NDArray[np.bool_]]:
    """The same after one day, for a kit error of one and a certain step; and which of the odds grow with the days."""
    still = np.zeros(size)
    rows = [_Rival(NOTHING, 1.0, still), *(_Rival(STRAY, odds, still, widened=strays**2) for odds, strays in WILD)]
    if jumps:
        rows.append(_Rival(JUMP, 1.0, np.eye(size)[level], spread=JUMP_SIZE))
    if steps:
        # Within its third of the gap the moment is not known: a rectangular distribution.
        vague = 1.0 / len(MOMENTS) / 12.0**0.5
        for kind, share, mean, spread in STEPS:
            for moment in MOMENTS:
                step = still.copy()
                step[:levels], step[levels] = -moment * np.array(taken), 1.0
                blur = vague * (mean**2 + spread**2) ** 0.5
                rows.append(_Rival(kind, share / len(MOMENTS), step, log(AGAIN), mean, spread, True, blur))
        for number, place in enumerate(pumps):
            worn = still.copy()
            worn[place], worn[place + 1] = 0.5, 1.0
            rows.append(_Rival(WORN + number, 1.0, worn, mean=WEAR, spread=WEAR_SPREAD))
    found = _branches(rows, np.append(taken, np.zeros(size - levels)))
    return found, (found.direction != 0.0) & (found.direction != 1.0)


class _Rival(Struct, frozen=True):
    kind: int
    odds: float
    direction: Array
    again: float = 0.0
    mean: float = 0.0
    spread: float = 0.0
    by_rate: bool = False
    blur: float = 0.0
    widened: float = 0.0


def _branches(rows: Sequence[_Rival], blurred: Array) -> Branches:
    return Branches(
        kind=np.array([row.kind for row in rows]),
        log_odds=np.log([row.odds for row in rows]),
        again=np.array([row.again for row in rows]),
        direction=np.array([row.direction for row in rows]),
        mean=np.array([row.mean for row in rows]),
        spread=np.array([row.spread for row in rows]),
        by_rate=np.array([row.by_rate for row in rows]),
        blur=np.array([row.blur for row in rows]),
        blurred=blurred,
        widened=np.array([row.widened for row in rows]),
    )


def logged(ways: Array, sizes: Sequence[tuple[float, float, float]]) -> Branches:
    """The branches of a logged change: each of the equally likely `ways` (B, n) with each of its `sizes`."""
    rows = [
        _Rival(LOGGED + i, odds / len(ways), way, 0.0, mean, spread)
        for i, way in enumerate(ways)
        for odds, mean, spread in sizes
    ]
    return _branches(rows, np.zeros(ways.shape[1]))


# How fast the growth of demand changes: in a month by about 0.2 % of the demand a day. An assumption of ours.
GROWTH_CHANGE = 0.002 / sqrt(30.0)


class Dynamics(Protocol):
    """How the state moves: of its `size` numbers the first `levels` are levels, the next two uptake and its growth."""

    @property
    def size(self) -> int:
        """How many numbers the state has, n."""
        ...

    @property
    def levels(self) -> int:
        """How many of them are levels."""
        ...

    def moving(self, days: Array) -> tuple[Array, Array, Array]:
        """Over each stretch (T,) without inflow: F, and the noise's variance as ``drift * q2 + fixed`` (T, n, n)."""
        ...


class Moving(Dynamics, Protocol):
    """Dynamics that tell what of the state is taken up."""

    @property
    def taken(self) -> Array:
        """What a unit of uptake takes of each level (levels,)."""
        ...

    def takes(self, level: int) -> Array:
        """The combination (n,) of the state that gives all that is taken up of a level."""
        ...


def flows(dynamics: Dynamics, days: Array, inflow: Array) -> list[Transition]:
    """The transitions over stretches (T,) with constant inflows (T, levels)."""
    F, drift, fixed = dynamics.moving(days)
    c = np.zeros((len(days), dynamics.size))
    c[:, : dynamics.levels] = inflow * days[:, None]
    return [Transition(*each) for each in zip(F, c, drift, fixed, strict=True)]


class OneLevel(Struct, frozen=True):
    """State (level, uptake, growth of the uptake a day); q2 multiplies `scale` squared, `scale` being the demand."""

    scale: float
    size: ClassVar[int] = 3
    levels: ClassVar[int] = 1

    @property
    def taken(self) -> Array:
        """A unit of uptake takes a unit of the level."""
        return np.ones(1)

    def takes(self, level: int) -> Array:
        """The uptake itself, of the only level there is."""
        return np.array([[0.0, 1.0, 0.0]][level])

    def moving(self, days: Array) -> tuple[Array, Array, Array]:
        """Level falls by what is taken up, integrated exactly."""
        F = np.tile(np.eye(3), (len(days), 1, 1))
        F[:, 1, 2], F[:, 0, 1], F[:, 0, 2] = days, -days, -(days**2) / 2.0
        return F, *_noise(np.diag([-1.0, 1.0, 1.0]), self.scale, days)


class TwoLevels(Struct, frozen=True):
    """State (alkalinity, calcium, calcification, its growth, other uptake of alkalinity), in meq/L and mg/L.

    Calcification is in meq/L of alkalinity a day and moves as uptake does in `OneLevel`; it takes
    `calcium_per_meq` mg/L of calcium with each meq/L. The other uptake wanders about zero with standard
    deviation `other` and a correlation time of `memory` days (Ornstein-Uhlenbeck process, integrated exactly).
    """

    scale: float
    calcium_per_meq: float
    other: float
    memory: float
    size: ClassVar[int] = 5
    levels: ClassVar[int] = 2

    @property
    def taken(self) -> Array:
        """A unit of calcification takes a unit of alkalinity and its share of calcium."""
        return np.array([1.0, self.calcium_per_meq])

    def takes(self, level: int) -> Array:
        """Of alkalinity: calcification and the other uptake. Of calcium: what calcification takes."""
        return np.array([[0.0, 0.0, 1.0, 0.0, 1.0], [0.0, 0.0, self.calcium_per_meq, 0.0, 0.0]][level])

    def moving(self, days: Array) -> tuple[Array, Array, Array]:
        """Both levels fall with calcification, alkalinity also with the other uptake."""
        left = np.exp(-days / self.memory)
        F = np.tile(np.eye(5), (len(days), 1, 1))
        F[:, 2, 3] = days
        F[:, :2, 2] = -days[:, None] * self.taken
        F[:, :2, 3] = -(days**2)[:, None] / 2.0 * self.taken
        F[:, 0, 4], F[:, 4, 4] = -self.memory * (1.0 - left), left
        spread = np.zeros((5, 3))
        spread[:2, 0] = -self.taken
        spread[2, 1] = spread[3, 2] = 1.0
        drift, fixed = _noise(spread, self.scale, days)
        wandered = np.maximum(2.0 * days / self.memory - 3.0 + 4.0 * left - left**2, 0.0)
        fixed[:, 4, 4] += self.other**2 * (1.0 - left**2)
        fixed[:, 0, 0] += self.other**2 * self.memory**2 * wandered
        fixed[:, 0, 4] = fixed[:, 4, 0] = -(self.other**2) * self.memory * (1.0 - left) ** 2
        return F, drift, fixed


def _noise(spread: Array, scale: float, days: Array) -> tuple[Array, Array]:
    """Variances (T, n, n) that the random walks of the uptake (for q2) and of its growth add over some days (T,).

    `spread` (n, 3) says how each state follows what was taken up, the uptake and its growth, whose
    covariances are those of a Wiener process and its first and second integrals.
    """
    d, none = days, np.zeros(len(days))
    walk = np.array([[d**3 / 3.0, d**2 / 2.0, none], [d**2 / 2.0, d, none], [none, none, none]]).transpose(2, 0, 1)
    growth = np.array(
        [[d**5 / 20.0, d**4 / 8.0, d**3 / 6.0], [d**4 / 8.0, d**3 / 3.0, d**2 / 2.0], [d**3 / 6.0, d**2 / 2.0, d]]
    ).transpose(2, 0, 1)
    return (scale**2 * spread @ walk @ spread.T, (GROWTH_CHANGE * scale) ** 2 * spread @ growth @ spread.T)
