"""A dissolved quantity as an account: what the log says was paid in, and how the state moves with it.

Times are in days, levels in any one unit. The coral's uptake is a rate that grows with the coral and
drifts like a random walk: between events dC = (inflow - uptake) dt, d(uptake) = growth dt + q dW, and
the growth itself changes slowly. Solved exactly, so irregular times cost nothing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import exp, sqrt
from typing import Protocol

import numpy as np

from generator.reckon.estimate.passage import Array, Passage, stay


@dataclass(frozen=True, slots=True)
class Standing:
    """A steady inflow over [start, end): change of the level a day."""

    start: float
    end: float
    per_day: float


@dataclass(frozen=True, slots=True)
class Renewal:
    """A share of the water replaced by new water of a known level, give or take `error` (one standard deviation)."""

    at: float
    fraction: float
    level: float
    error: float


@dataclass(frozen=True, slots=True)
class Opening:
    """A moment from which demand may be another: what is believed of its step before any reading.

    The step is about `mean` (the account's unit a day; positive: more is taken up) with standard deviation
    `error`, to which comes `share` of the demand where nothing better tells the size. It may take up to
    `settles` days to come about in full (0: at once).
    """

    at: float
    share: float = 0.0
    mean: float = 0.0
    error: float = 0.0
    settles: float = 0.0

    def variance(self, demand: float) -> float:
        """The variance of the step where so much is taken up a day."""
        return self.error**2 + (self.share * demand) ** 2

    def scaled(self, factor: float) -> "Opening":
        """The same opening of a quantity that is taken up `factor` times as fast."""
        return replace(self, mean=self.mean * factor, error=self.error * factor)


@dataclass(frozen=True, slots=True)
class Account:
    """All that was paid into one quantity: standing inflows, doses (time, change at once), renewals."""

    standing: tuple[Standing, ...] = ()
    doses: tuple[tuple[float, float], ...] = ()
    renewals: tuple[Renewal, ...] = ()

    def paid_between(self, start: float, end: float) -> float:
        """The change of level that standing inflows and doses made over [start, end)."""
        steady = sum(max(0.0, min(s.end, end) - max(s.start, start)) * s.per_day for s in self.standing)
        return steady + sum(amount for at, amount in self.doses if start <= at < end)

    def scaled(self, factor: float) -> "Account":
        """The same payments into water whose volume makes each count `factor` times as much."""
        return Account(
            tuple(Standing(s.start, s.end, s.per_day * factor) for s in self.standing),
            tuple((at, amount * factor) for at, amount in self.doses),
            tuple(Renewal(r.at, min(r.fraction * factor, 1.0), r.level, r.error) for r in self.renewals),
        )


# How fast the growth of demand changes: in a month by about 0.2 % of the demand a day. An assumption of ours.
GROWTH_CHANGE = 0.002 / sqrt(30.0)


class Dynamics(Protocol):
    """How the state moves: of its `size` numbers the first `levels` are levels, the next two uptake and its growth."""

    @property
    def size(self) -> int:
        """How many numbers the state has."""
        ...

    @property
    def levels(self) -> int:
        """How many of them are levels."""
        ...

    def flow(self, days: float, inflow: Array) -> Passage:
        """The passage over a stretch with constant inflow (one rate a level)."""
        ...


@dataclass(frozen=True, slots=True)
class OneLevel:
    """State (level, uptake, growth of the uptake a day); q2 multiplies `scale` squared, `scale` being the demand."""

    scale: float
    size: int = field(default=3, init=False)
    levels: int = field(default=1, init=False)

    def flow(self, days: float, inflow: Array) -> Passage:
        """Level falls by what is taken up, integrated exactly."""
        F = np.eye(3)
        F[1:, 1:] = [[1.0, days], [0.0, 1.0]]
        F[0, 1:] = [-days, -(days**2) / 2.0]
        spread = np.diag([-1.0, 1.0, 1.0])
        drift, fixed = _noise(spread, self.scale, days)
        return Passage(F, np.array([inflow[0] * days, 0.0, 0.0]), drift, fixed)


@dataclass(frozen=True, slots=True)
class TwoLevels:
    """State (alkalinity, calcium, calcification, its growth, other uptake of alkalinity), in meq/L and mg/L.

    Calcification is in meq/L of alkalinity a day and moves as uptake does in `OneLevel`; it takes
    `calcium_per_meq` mg/L of calcium with each meq/L. The other uptake wanders about zero with standard
    deviation `other` and forgets itself over `memory` days (Ornstein-Uhlenbeck, integrated exactly).
    """

    scale: float
    calcium_per_meq: float
    other: float
    memory: float
    size: int = field(default=5, init=False)
    levels: int = field(default=2, init=False)

    def flow(self, days: float, inflow: Array) -> Passage:
        """Both levels fall with calcification, alkalinity also with the other uptake."""
        left = exp(-days / self.memory)
        passed = self.memory * (1.0 - left)
        F = np.eye(5)
        F[2:4, 2:4] = [[1.0, days], [0.0, 1.0]]
        F[:2, 2:4] = np.outer([-1.0, -self.calcium_per_meq], [days, days**2 / 2.0])
        F[0, 4], F[4, 4] = -passed, left
        spread = np.zeros((5, 3))
        spread[:2, 0] = -1.0, -self.calcium_per_meq
        spread[2, 1] = spread[3, 2] = 1.0
        drift, fixed = _noise(spread, self.scale, days)
        fixed[4, 4] += self.other**2 * (1.0 - left**2)
        fixed[0, 0] += self.other**2 * self.memory**2 * max(2.0 * days / self.memory - 3.0 + 4.0 * left - left**2, 0.0)
        fixed[0, 4] = fixed[4, 0] = -(self.other**2) * self.memory * (1.0 - left) ** 2
        return Passage(F, np.array([inflow[0] * days, inflow[1] * days, 0.0, 0.0, 0.0]), drift, fixed)


def _noise(spread: Array, scale: float, days: float) -> tuple[Array, Array]:
    """Variances that an uptake's walk (for q2) and its growth's own walk leave after some days.

    `spread` (n, 3) says how each state follows what was taken up, the uptake and its growth, whose
    covariances are those of a Wiener process and its first and second integrals.
    """
    d = days
    walk = np.array([[d**3 / 3.0, d**2 / 2.0, 0.0], [d**2 / 2.0, d, 0.0], [0.0, 0.0, 0.0]])
    growth = np.array(
        [[d**5 / 20.0, d**4 / 8.0, d**3 / 6.0], [d**4 / 8.0, d**3 / 3.0, d**2 / 2.0], [d**3 / 6.0, d**2 / 2.0, d]]
    )
    return (
        scale**2 * spread @ walk @ spread.T,
        (GROWTH_CHANGE * scale) ** 2 * spread @ growth @ spread.T,
    )


def passages(
    dynamics: Dynamics,
    accounts: Sequence[Account],
    openings: Sequence[tuple[float, float, float]],
    moments: Sequence[float],
    jumps: Sequence[tuple[float, Passage]] = (),
) -> list[Passage]:
    """The passage into each moment from the one before it (into the first: none, it stays).

    `accounts` is one a level; `openings` are (time, mean, variance) of a step of the uptake; `jumps` are passages of
    their own at a time. What is paid in at a moment comes after its reading, for a keeper reads and then
    doses; openings and jumps come before it. `moments` must not decrease.
    """
    happenings = _in_order(dynamics, accounts, openings, jumps)
    edges = sorted({edge for account in accounts for s in account.standing for edge in (s.start, s.end)})
    result = [stay(dynamics.size)]
    at_happening = at_edge = 0
    while at_happening < len(happenings) and happenings[at_happening][0] < (moments[0], _PAID):
        at_happening += 1
    now = moments[0]
    for moment in moments[1:]:
        passage = stay(dynamics.size)
        read = (moment, _PAID)
        while now < moment or (at_happening < len(happenings) and happenings[at_happening][0] < read):
            while at_edge < len(edges) and edges[at_edge] <= now:
                at_edge += 1
            stop = min(moment, edges[at_edge] if at_edge < len(edges) else moment)
            if at_happening < len(happenings) and happenings[at_happening][0] < read:
                stop = min(stop, max(happenings[at_happening][0][0], now))
            if stop > now:
                passage = passage.then(dynamics.flow(stop - now, _rates(accounts, now)))
                now = stop
            done = min((now, _PAID + 1), read)
            while at_happening < len(happenings) and happenings[at_happening][0] < done:
                passage = passage.then(happenings[at_happening][1])
                at_happening += 1
        result.append(passage)
    return result


# What happens at one moment: first what may change demand, then (once the water is read) what is paid in.
_OPENED, _PAID = 0, 1


def _in_order(
    dynamics: Dynamics,
    accounts: Sequence[Account],
    openings: Sequence[tuple[float, float, float]],
    jumps: Sequence[tuple[float, Passage]],
) -> list[tuple[tuple[float, int], Passage]]:
    """Everything that happens at a moment, by time and by its turn within the moment."""
    opened = [((at, _OPENED), passage) for at, passage in (*_opened(dynamics, openings), *jumps)]
    paid = [((at, _PAID), passage) for at, passage in _paid(dynamics, accounts)]
    return sorted([*opened, *paid], key=lambda pair: pair[0])


def _rates(accounts: Sequence[Account], now: float) -> Array:
    return np.array([sum(s.per_day for s in a.standing if s.start <= now < s.end) for a in accounts])


def _paid(dynamics: Dynamics, accounts: Sequence[Account]) -> Iterator[tuple[float, Passage]]:
    """Doses and renewals, each at its time."""
    still = stay(dynamics.size)
    for level, account in enumerate(accounts):
        for at, amount in account.doses:
            c = np.zeros(dynamics.size)
            c[level] = amount
            yield at, Passage(still.F, c, still.drift, still.fixed)
        for renewal in account.renewals:
            F, c, fixed = np.eye(dynamics.size), np.zeros(dynamics.size), np.zeros_like(still.fixed)
            F[level, level] = 1.0 - renewal.fraction
            c[level] = renewal.fraction * renewal.level
            fixed[level, level] = (renewal.fraction * renewal.error) ** 2
            yield renewal.at, Passage(F, c, still.drift, fixed)


def _opened(dynamics: Dynamics, openings: Sequence[tuple[float, float, float]]) -> Iterator[tuple[float, Passage]]:
    """Steps the uptake may take, each at its time."""
    still = stay(dynamics.size)
    for at, mean, variance in openings:
        c, fixed = np.zeros(dynamics.size), np.zeros_like(still.fixed)
        c[dynamics.levels], fixed[dynamics.levels, dynamics.levels] = mean, variance
        yield at, Passage(still.F, c, still.drift, fixed)
