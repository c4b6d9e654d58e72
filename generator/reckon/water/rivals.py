"""What may have happened that nobody wrote down: the rivals by which a surprise can be explained, and their odds.

Odds and sizes are assumptions of ours, stated on the methods page.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import log

import numpy as np

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
# rise and a stop, and how many of 100 steps are of each kind.
STEP_ODDS = 0.045
STEPS = ((STEP, 0.35, -0.40, 0.25), (STEP, 0.50, 0.60, 0.60), (STOP, 0.15, -1.00, 0.08))
# A pump begins to wear about twice a year. A month later it lacks about so much, give or take (one standard deviation).
WEAR_ODDS = 1.0 / 180.0
WEAR, WEAR_SPREAD = 0.12 / 30.0, 0.10 / 30.0
# A demand that stepped within a month does so again with a tenth of these odds.
AGAIN = 0.1
# When in the time since the last reading it stepped: one of three moments.
MOMENTS = (1.0 / 6.0, 0.5, 5.0 / 6.0)
# However long nothing was read, no rival is likelier than this before the reading.
MOST_ODDS = 0.40
# A step needs a demand known before it, a jump a level: so many readings come first.
READ_BEFORE_STEP = 3
READ_BEFORE_JUMP = 2
# What a logged change of the corals may take to come about in full, days, beside at once.
SETTLING = (7.0, 14.0)


@dataclass(frozen=True, slots=True)
class Gap:
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
    """The rivals for a reading of a level, of a kit `error`; `taken` is what a unit of uptake takes of each level.

    `pumps` are the numbers of the state that tell what share each pump that may wear lacks.
    """
    still = np.zeros(size)
    rows = [_Rival(STRAY, odds, still, widened=(strays * error) ** 2) for odds, strays in WILD]
    if gap.before >= READ_BEFORE_JUMP:
        odds = min(JUMP_ODDS * gap.since_same + JUMP_AT_CHANGE * gap.renewed, MOST_ODDS)
        if odds:
            jump = still.copy()
            jump[level] = 1.0
            rows.append(_Rival(JUMP, odds, jump, spread=JUMP_SIZE * error))
    if gap.before >= READ_BEFORE_STEP and gap.since_any:
        whole = min(STEP_ODDS * gap.since_any, MOST_ODDS)
        # Within its third of the gap the moment is anybody's guess: what that blurs is as of an even distribution.
        vague = gap.since_any / len(MOMENTS) / 12.0**0.5
        for kind, share, mean, spread in STEPS:
            for moment in MOMENTS:
                step = still.copy()
                step[:levels], step[levels] = -taken * gap.since_any * moment, 1.0
                blur = vague * (mean**2 + spread**2) ** 0.5
                rows.append(_Rival(kind, whole * share / len(MOMENTS), step, log(AGAIN), mean, spread, True, blur))
    if gap.before >= READ_BEFORE_STEP and gap.since_any:
        for number, place in enumerate(pumps):
            worn = still.copy()
            worn[place], worn[place + 1] = gap.since_any / 2.0, 1.0
            odds = min(WEAR_ODDS * gap.since_any, MOST_ODDS / 4.0)
            rows.append(_Rival(WORN + number, odds, worn, mean=WEAR, spread=WEAR_SPREAD))
    rows.insert(0, _Rival(NOTHING, 1.0 - sum(row.odds for row in rows), still))
    return _branches(rows, np.append(taken, np.zeros(size - levels)))


@dataclass(frozen=True, slots=True)
class _Rival:
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
    """The ways (B, n) in which a logged change may come about, each as likely as the next, with each of its sizes."""
    rows = [
        _Rival(LOGGED + i, odds / len(ways), way, 0.0, mean, spread)
        for i, way in enumerate(ways)
        for odds, mean, spread in sizes
    ]
    return _branches(rows, np.zeros(ways.shape[1]))
