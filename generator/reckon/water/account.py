"""A dissolved quantity as an account: what the log says was paid in, and how the state moves with it.

Times are in days, levels in any one unit.
"""

from collections.abc import Iterator, Sequence
from functools import reduce

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.estimate.kalman import Transition, stay
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.water.dynamics import Dynamics, flows

# A step that only goes up, in the mean about as far as said, of which the size is not known: the odds of a small and a
# large one, their mean and standard deviation as shares of what is said. Assumptions of ours.
ONLY_MORE = ((0.5, 0.4, 0.25), (0.5, 1.5, 0.6))


class SteadyInflow(Struct, frozen=True):
    """A steady inflow over [start, end): change of the level a day, and by which uncertain factors it counts."""

    start: float
    end: float
    per_day: float
    factors: tuple[int, ...] = ()


class Paid(Struct, frozen=True):
    """A change of the level at once, and by which uncertain factors it counts."""

    at: float
    amount: float
    factors: tuple[int, ...] = ()


class Renewal(Struct, frozen=True):
    """A share (0 to 1) of the water replaced by new water of a known level with an `error` (one standard deviation)."""

    at: float
    fraction: float
    level: float
    error: float


class DemandStep(Struct, frozen=True):
    """A moment from which demand may be another: what is believed of its step before any reading.

    The step is about `mean` (the account's unit a day; positive: more is taken up) with standard deviation
    `error`, to which comes `share` of the demand where nothing better tells the size: either way or, where `only_more`,
    upwards alone. It may take up to `settles` days to come about in full (0: at once).
    """

    at: float
    share: float = 0.0
    mean: float = 0.0
    error: float = 0.0
    settles: float = 0.0
    only_more: bool = False

    def sizes(self, demand: float) -> tuple[tuple[float, float, float], ...]:
        """What the step may be where so much is taken up a day: odds, mean and standard deviation of each part."""
        if self.only_more and self.share:
            return tuple((odds, self.share * demand * mean, self.share * demand * sd) for odds, mean, sd in ONLY_MORE)
        return ((1.0, self.mean, float(np.sqrt(self.variance(demand)))),)

    def variance(self, demand: float) -> float:
        """The variance of the step where so much is taken up a day."""
        return self.error**2 + (self.share * demand) ** 2

    def scaled(self, factor: float) -> "DemandStep":
        """The same demand step of a quantity that is taken up `factor` times as fast."""
        return replace(self, mean=self.mean * factor, error=self.error * factor)


class Account(Struct, frozen=True):
    """All that was paid into one quantity: steady inflows, doses, renewals.

    A payment's `factors` are places in the list of what may make it count for more or less than declared: a
    solution's strength, a pump's rate. Every payment counts by the volume, place 0, so it is not listed.
    """

    steady: tuple[SteadyInflow, ...] = ()
    doses: tuple[Paid, ...] = ()
    renewals: tuple[Renewal, ...] = ()

    def paid_between(self, start: float, end: float) -> float:
        """The change of level that steady inflows and doses made over [start, end)."""
        steady = sum(max(0.0, min(s.end, end) - max(s.start, start)) * s.per_day for s in self.steady)
        return steady + sum(dose.amount for dose in self.doses if start <= dose.at < end)

    def paid_before(self, times: Array, factors: int) -> Array:
        """All that was paid since the first of the times and before each (T, factors): in column 0 the whole.

        Every other column holds what counts by that factor. `times` must not decrease.
        """
        found = np.zeros((len(times), factors))
        for place in range(factors):
            steady = [s for s in self.steady if (place == 0 or place in s.factors) and s.end > times[0]]
            rises = [(max(s.start, times[0]), s.per_day) for s in steady]
            falls = [(s.end, -s.per_day) for s in steady if np.isfinite(s.end)]
            found[:, place] = _accumulated(sorted([*rises, *falls]), times)
            doses = [d for d in self.doses if (place == 0 or place in d.factors) and d.at >= times[0]]
            doses.sort(key=lambda dose: dose.at)
            sums = np.cumsum([0.0, *(dose.amount for dose in doses)])
            found[:, place] += sums[np.searchsorted([dose.at for dose in doses], times, "left")]
        return found

    def scaled(self, factor: float) -> "Account":
        """The same payments into water whose volume makes each count `factor` times as much."""
        return Account(
            tuple(replace(s, per_day=s.per_day * factor) for s in self.steady),
            tuple(replace(d, amount=d.amount * factor) for d in self.doses),
            tuple(replace(r, fraction=min(r.fraction * factor, 1.0)) for r in self.renewals),
        )


def _accumulated(changes: Sequence[tuple[float, float]], times: Array) -> Array:
    """The integral up to each time (T,) of a rate; `changes` are (time, change of the rate), in order of time."""
    if not changes:
        return np.zeros(len(times))
    at, by = np.array(changes).T
    rate = np.cumsum(by)
    whole = np.concatenate([[0.0], np.cumsum(rate[:-1] * np.diff(at))])
    place = np.searchsorted(at, times, "right") - 1
    known = np.maximum(place, 0)
    return np.where(place < 0, 0.0, whole[known] + rate[known] * (times - at[known]))


def transitions(
    dynamics: Dynamics,
    accounts: Sequence[Account],
    demand_steps: Sequence[tuple[float, float, float]],
    moments: Sequence[float],
    jumps: Sequence[tuple[float, Transition]] = (),
) -> list[Transition]:
    """The transition into each moment from the one before it (into the first: none, it stays).

    `accounts` is one a level; `demand_steps` are (time, mean, variance) of a step of the uptake; `jumps` are
    transitions of their own at a time. What is paid in at a moment comes after its reading, for a keeper reads and then
    doses; demand steps and jumps come before it. `moments` must not decrease.
    """
    happenings = _in_order(dynamics, accounts, demand_steps, jumps)
    edges = sorted({edge for account in accounts for s in account.steady for edge in (s.start, s.end)})
    # The way into each moment: stretches between happenings (by their place among the stretches) and happenings.
    ways: list[list[int | Transition]] = [[]]
    begun: list[float] = []
    days: list[float] = []
    at_happening = at_edge = 0
    while at_happening < len(happenings) and happenings[at_happening][0] < (moments[0], _PAID):
        at_happening += 1
    now = moments[0]
    for moment in moments[1:]:
        way: list[int | Transition] = []
        read = (moment, _PAID)
        while now < moment or (at_happening < len(happenings) and happenings[at_happening][0] < read):
            while at_edge < len(edges) and edges[at_edge] <= now:
                at_edge += 1
            stop = min(moment, edges[at_edge] if at_edge < len(edges) else moment)
            if at_happening < len(happenings) and happenings[at_happening][0] < read:
                stop = min(stop, max(happenings[at_happening][0][0], now))
            if stop > now:
                way.append(len(days))
                begun.append(now)
                days.append(stop - now)
                now = stop
            done = min((now, _PAID + 1), read)
            while at_happening < len(happenings) and happenings[at_happening][0] < done:
                way.append(happenings[at_happening][1])
                at_happening += 1
        ways.append(way)
    flown = flows(dynamics, np.array(days), _rates(accounts, np.array(begun)))
    still = stay(dynamics.size)
    return [
        reduce(Transition.then, (flown[each] if isinstance(each, int) else each for each in way)) if way else still
        for way in ways
    ]


# What happens at one moment: first what may change demand, then (once the water is read) what is paid in.
_STEPPED, _PAID = 0, 1


def _in_order(
    dynamics: Dynamics,
    accounts: Sequence[Account],
    demand_steps: Sequence[tuple[float, float, float]],
    jumps: Sequence[tuple[float, Transition]],
) -> list[tuple[tuple[float, int], Transition]]:
    """Everything that happens, by time and by its order within one moment."""
    opened = [((at, _STEPPED), transition) for at, transition in (*_stepped(dynamics, demand_steps), *jumps)]
    paid = [((at, _PAID), transition) for at, transition in _paid(dynamics, accounts)]
    return sorted([*opened, *paid], key=lambda pair: pair[0])


def _rates(accounts: Sequence[Account], times: Array) -> Array:
    """The steady inflow into each level at some times, level units a day (T, accounts)."""
    found = np.zeros((len(times), len(accounts)))
    for place, account in enumerate(accounts):
        for s in account.steady:
            found[(times >= s.start) & (times < s.end), place] += s.per_day
    return found


def _paid(dynamics: Dynamics, accounts: Sequence[Account]) -> Iterator[tuple[float, Transition]]:
    """Doses and renewals, each at its time."""
    still = stay(dynamics.size)
    for level, account in enumerate(accounts):
        for dose in account.doses:
            c = np.zeros(dynamics.size)
            c[level] = dose.amount
            yield dose.at, Transition(still.F, c, still.drift, still.fixed)
        for renewal in account.renewals:
            F, c, fixed = np.eye(dynamics.size), np.zeros(dynamics.size), np.zeros_like(still.fixed)
            F[level, level] = 1.0 - renewal.fraction
            c[level] = renewal.fraction * renewal.level
            fixed[level, level] = (renewal.fraction * renewal.error) ** 2
            yield renewal.at, Transition(F, c, still.drift, fixed)


def _stepped(
    dynamics: Dynamics, demand_steps: Sequence[tuple[float, float, float]]
) -> Iterator[tuple[float, Transition]]:
    """Steps the uptake may take, each at its time."""
    still = stay(dynamics.size)
    for at, mean, variance in demand_steps:
        c, fixed = np.zeros(dynamics.size), np.zeros_like(still.fixed)
        c[dynamics.levels], fixed[dynamics.levels, dynamics.levels] = mean, variance
        yield at, Transition(still.F, c, still.drift, fixed)
