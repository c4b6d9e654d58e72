"""A dissolved quantity as an account: what the log says was paid in, and how the state moves with it.

Times are in days, levels in any one unit. The coral's uptake is a rate that grows with the coral and
drifts like a random walk: between events dC = (inflow - uptake) dt, d(uptake) = growth dt + q dW, and
the growth itself changes slowly. Solved exactly, so irregular times cost nothing.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from math import sqrt
from typing import Protocol

import numpy as np

from generator.reckon.estimate.passage import Array, Passage, stay


@dataclass(frozen=True, slots=True)
class Standing:
    """A steady inflow over [start, end): change of the level a day, and by which uncertain factors it counts."""

    start: float
    end: float
    per_day: float
    factors: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Paid:
    """A change of the level at once, and by which uncertain factors it counts."""

    at: float
    amount: float
    factors: tuple[int, ...] = ()


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
    """All that was paid into one quantity: standing inflows, doses, renewals.

    A payment's `factors` are places in the list of what may make it count for more or less than declared: a
    solution's strength, a pump's rate. The volume, place 0, goes without saying.
    """

    standing: tuple[Standing, ...] = ()
    doses: tuple[Paid, ...] = ()
    renewals: tuple[Renewal, ...] = ()

    def paid_between(self, start: float, end: float) -> float:
        """The change of level that standing inflows and doses made over [start, end)."""
        steady = sum(max(0.0, min(s.end, end) - max(s.start, start)) * s.per_day for s in self.standing)
        return steady + sum(dose.amount for dose in self.doses if start <= dose.at < end)

    def paid_before(self, times: Array, factors: int) -> Array:
        """All that was paid since the first of the times and before each (T, factors): in column 0 the whole.

        Every other column holds what counts by that factor. `times` must not decrease.
        """
        found = np.zeros((len(times), factors))
        for place in range(factors):
            standing = [s for s in self.standing if (place == 0 or place in s.factors) and s.end > times[0]]
            rises = [(max(s.start, times[0]), s.per_day) for s in standing]
            falls = [(s.end, -s.per_day) for s in standing if np.isfinite(s.end)]
            found[:, place] = _accumulated(sorted([*rises, *falls]), times)
            doses = [d for d in self.doses if (place == 0 or place in d.factors) and d.at >= times[0]]
            doses.sort(key=lambda dose: dose.at)
            sums = np.cumsum([0.0, *(dose.amount for dose in doses)])
            found[:, place] += sums[np.searchsorted([dose.at for dose in doses], times, "left")]
        return found

    def scaled(self, factor: float) -> "Account":
        """The same payments into water whose volume makes each count `factor` times as much."""
        return Account(
            tuple(replace(s, per_day=s.per_day * factor) for s in self.standing),
            tuple(replace(d, amount=d.amount * factor) for d in self.doses),
            tuple(replace(r, fraction=min(r.fraction * factor, 1.0)) for r in self.renewals),
        )


def _accumulated(changes: Sequence[tuple[float, float]], times: Array) -> Array:
    """The integral up to each time of a rate that changes by so much at each of some times, in order."""
    if not changes:
        return np.zeros(len(times))
    at, by = np.array(changes).T
    rate = np.cumsum(by)
    whole = np.concatenate([[0.0], np.cumsum(rate[:-1] * np.diff(at))])
    place = np.searchsorted(at, times, "right") - 1
    known = np.maximum(place, 0)
    return np.where(place < 0, 0.0, whole[known] + rate[known] * (times - at[known]))


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


class Moving(Dynamics, Protocol):
    """Dynamics that tell of many stretches at once."""

    @property
    def taken(self) -> Array:
        """What a unit of uptake takes of each level."""
        ...

    def takes(self, level: int) -> Array:
        """The combination of the state (size,) that is all that is taken up of a level."""
        ...

    def moving(self, days: Array) -> tuple[Array, Array, Array]:
        """Over each stretch (T,) without inflow: F, and the noise's variance as ``drift * q2 + fixed`` (T, n, n)."""
        ...


@dataclass(frozen=True, slots=True)
class OneLevel:
    """State (level, uptake, growth of the uptake a day); q2 multiplies `scale` squared, `scale` being the demand."""

    scale: float
    size: int = field(default=3, init=False)
    levels: int = field(default=1, init=False)

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

    def flow(self, days: float, inflow: Array) -> Passage:
        """The passage over a stretch with constant inflow."""
        F, drift, fixed = (each[0] for each in self.moving(np.array([days])))
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

    @property
    def taken(self) -> Array:
        """A unit of calcification takes a unit of alkalinity and its share of calcium."""
        return np.array([1.0, self.calcium_per_meq])

    def takes(self, level: int) -> Array:
        """Of alkalinity calcification and the other uptake, of calcium what calcification takes."""
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

    def flow(self, days: float, inflow: Array) -> Passage:
        """The passage over a stretch with constant inflows."""
        F, drift, fixed = (each[0] for each in self.moving(np.array([days])))
        return Passage(F, np.array([inflow[0] * days, inflow[1] * days, 0.0, 0.0, 0.0]), drift, fixed)


def _noise(spread: Array, scale: float, days: Array) -> tuple[Array, Array]:
    """Variances (T, n, n) that an uptake's walk (for q2) and its growth's own walk leave after some days (T,).

    `spread` (n, 3) says how each state follows what was taken up, the uptake and its growth, whose
    covariances are those of a Wiener process and its first and second integrals.
    """
    d, none = days, np.zeros(len(days))
    walk = np.array([[d**3 / 3.0, d**2 / 2.0, none], [d**2 / 2.0, d, none], [none, none, none]]).transpose(2, 0, 1)
    growth = np.array(
        [[d**5 / 20.0, d**4 / 8.0, d**3 / 6.0], [d**4 / 8.0, d**3 / 3.0, d**2 / 2.0], [d**3 / 6.0, d**2 / 2.0, d]]
    ).transpose(2, 0, 1)
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
        for dose in account.doses:
            c = np.zeros(dynamics.size)
            c[level] = dose.amount
            yield dose.at, Passage(still.F, c, still.drift, still.fixed)
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
