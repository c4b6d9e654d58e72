"""Tanks whose demand is known: it wanders, grows, steps, ramps or stops, and is read and dosed by a keeper.

Levels in dKH (calcium in mg/L), times in days. What the keeper believes to have paid in may differ from what was:
more water than declared, weaker solutions, a pump that gives less. The demand wanders as a share of itself.
"""

from collections.abc import Callable

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from generator.reckon.water.account import Account, Paid, Renewal, SteadyInflow
from tests.simulator.water import CALCIUM_PER_DKH

Array = NDArray[np.float64]

KIT_ERROR = 0.15
CALCIUM_KIT_ERROR = 8.0
_GRID = 0.05


def _as_believed(_at: float) -> float:
    return 0.0


class Plan(Struct, frozen=True):
    """What one tank does and how it is kept.

    `times` of the readings; the demand begins at `base` (dKH a day), wanders by `drift` (share of itself per
    square root of a day), grows by `growth` (share a day), and is multiplied by `factor` from `day` on, over
    `ramp` days. `given` tells by how much more than believed the pump gives at a time, `water` how much more
    water there is than declared (shares). `doses` are amounts by hand.
    """

    times: Array
    base: float = 0.9
    drift: float = 0.02
    growth: float = 0.0
    day: float = np.inf
    factor: float = 1.0
    ramp: float = 0.0
    water: float = 0.0
    given: Callable[[float], float] = _as_believed
    calcium_given: Callable[[float], float] = _as_believed
    pumped: bool = True
    doses: tuple[tuple[float, float], ...] = ()
    renewed_every: float = 14.0
    calcium_every: int = 0


class Kept(Struct, frozen=True):
    """A tank's log and its truth at each reading."""

    times: Array
    values: Array
    levels: Array
    uptake: Array
    account: Account
    calcium_times: Array
    calcium_values: Array
    calcium_account: Account

    def until(self, count: int) -> "Kept":
        """The first so many readings, and the whole account."""
        last = self.times[count - 1]
        known = self.calcium_times <= last
        return replace(
            self,
            times=self.times[:count],
            values=self.values[:count],
            levels=self.levels[:count],
            uptake=self.uptake[:count],
            calcium_times=self.calcium_times[known],
            calcium_values=self.calcium_values[known],
        )

    @property
    def by_hand(self) -> float:
        """The last two readings' difference, what was paid in added back, a day."""
        paid = self.account.paid_between(float(self.times[-2]), float(self.times[-1]))
        return float((self.values[-2] - self.values[-1] + paid) / (self.times[-1] - self.times[-2]))


def keep(rng: np.random.Generator, plan: Plan) -> Kept:
    """One tank kept by a plan: the pump is set at every reading to about what is needed."""
    grid = np.arange(0.0, plan.times[-1] + 2 * _GRID, _GRID)
    steps = rng.normal(0.0, plan.drift * np.sqrt(_GRID), len(grid))
    come = np.clip((grid - plan.day) / plan.ramp, 0.0, 1.0) if plan.ramp > 0.0 else (grid >= plan.day).astype(float)
    demand = plan.base * np.exp(np.cumsum(steps) + plan.growth * grid) * (1.0 + (plan.factor - 1.0) * come)
    taken = np.concatenate([[0.0], np.cumsum((demand[1:] + demand[:-1]) / 2.0 * _GRID)])
    level, calcium, now, renewed = 8.2, 425.0, 0.0, 0.0
    rate = plan.base if plan.pumped else 0.0
    standing, paid, renewals = [], [], []
    levels, calciums = [], []
    hand = sorted(plan.doses)
    for at in plan.times:
        used = float(np.interp(at, grid, taken) - np.interp(now, grid, taken))
        middle = (at + now) / 2.0
        given = rate * (at - now) / (1.0 + plan.water)
        standing.append(SteadyInflow(now, float(at), rate, (1,)))
        poured = [dose for dose in hand if now <= dose[0] < at]
        paid += [Paid(*dose) for dose in poured]
        by_hand = sum(amount for _, amount in poured) / (1.0 + plan.water)
        level += given * (1.0 + plan.given(middle)) + by_hand - used
        calcium += CALCIUM_PER_DKH * (given * (1.0 + plan.calcium_given(middle)) + by_hand - used)
        levels.append(level)
        calciums.append(calcium)
        now = float(at)
        need = float(np.interp(at, grid, demand)) * (1.0 + rng.normal(0.0, 0.05)) + (8.2 - level) / 10.0
        rate = max(0.0, need) if plan.pumped else 0.0
        if at - renewed > plan.renewed_every:
            renewed = float(at)
            share = 0.1 / (1.0 + plan.water)
            level, calcium = level + share * (8.0 - level), calcium + share * (440.0 - calcium)
            renewals.append(Renewal(now, 0.1, 8.0, 0.0))
    standing.append(SteadyInflow(now, np.inf, rate, (1,)))
    account = Account(tuple(standing), tuple(paid), tuple(renewals))
    picks = slice(None, None, plan.calcium_every) if plan.calcium_every else slice(0, 0)
    return Kept(
        times=plan.times,
        values=np.array(levels) + rng.normal(0.0, KIT_ERROR, len(levels)),
        levels=np.array(levels),
        uptake=np.interp(plan.times, grid, demand),
        account=account,
        calcium_times=plan.times[picks],
        calcium_values=(np.array(calciums) + rng.normal(0.0, CALCIUM_KIT_ERROR, len(levels)))[picks],
        calcium_account=Account(
            tuple(replace(s, per_day=s.per_day * CALCIUM_PER_DKH) for s in standing),
            tuple(replace(d, amount=d.amount * CALCIUM_PER_DKH) for d in paid),
            tuple(replace(r, level=440.0) for r in renewals),
        ),
    )


def read_every(rng: np.random.Generator, every: float, days: float) -> Array:
    """Readings about so many days apart, a little earlier or later than the clock says."""
    gaps = every * rng.uniform(0.93, 1.07, int(days / every / 0.93) + 2)
    times = np.cumsum(gaps)
    return times[times <= days]
