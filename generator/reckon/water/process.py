"""One water laid out as a process: its state, how it moves from moment to moment, what may have happened unlogged.

The state is that of the dynamics (levels, uptake, its growth), then what stands still and is not known: the
logarithm of the water volume and of each delivery's strength and rate (by which payments count for less or
more than declared), then the step of an arrival that is settling, one number for each way it may, and of each pump that
may wear the share it lacks and by how much that grows a day.
"""

from collections.abc import Sequence
from itertools import groupby

import numpy as np
from msgspec import Struct

from generator.reckon.estimate.kalman import Model
from generator.reckon.estimate.multiprocess import Branches
from generator.reckon.estimate.uncertainty import Array, Ints
from generator.reckon.water.account import Account, DemandStep, Renewal
from generator.reckon.water.dynamics import SETTLING, Gap, Moving, logged, unlogged

# What comes first of several things at one moment: what may change demand, then the reading, then new water, then a
# pump that is measured.
_STEPPED, _READ, _RENEWED, _MEASURED = range(4)
# A pump lacks no more than this share before it begins to wear (one standard deviation).
UNWORN = 0.001
# Arrivals that settle at the same time, each in its own way; more than so many at once only step.
MOST_SETTLING = 2


class Series(Struct, frozen=True):
    """Readings of one level: times (N,) in days, not decreasing, values and errors (N,), one standard deviation.

    `kit` (N,) numbers the kit of each; all but kit 0 may be off from it, by `offsets` (one standard deviation each).
    """

    times: Array
    values: Array
    errors: Array
    kit: Ints | None = None
    offsets: tuple[float, ...] = ()

    def last_before(self, at: float) -> Array:
        """The value read last up to a time, or the first one of all; empty without any."""
        last = max(int(np.searchsorted(self.times, at, "right")), 1)
        return self.values[last - 1 : last]


class Layout(Struct, frozen=True):
    """Where in the state factors, each level's kit offsets, ramps and pumps begin, and its size in all."""

    factors: int
    kits: tuple[int, ...]
    ramps: int
    pumps: int
    size: int

    @property
    def lacking(self) -> tuple[int, ...]:
        """Of each pump the number that is the share it lacks; the next one is by how much that grows a day."""
        return tuple(range(self.pumps, self.size, 2))


class Course(Struct, frozen=True):
    """The process at moments `times` (T,): model, branches, and which moments are readings of each level."""

    times: Array
    model: Model
    branches: tuple[Branches | None, ...]
    readings: tuple[Ints, ...]
    layout: Layout
    dynamics: Moving
    settling: tuple[tuple[float, int, float], ...]

    def ahead(self, accounts: Sequence[Account], times: Array) -> Model:
        """How the state moves from one of some later times to the next, by what the accounts then pay in and renew."""
        model = _moving(self.dynamics, accounts, self.settling, times, self.layout)
        for level, account in enumerate(accounts):
            last = self.model.y[self.readings[level][-1:]]
            for renewal in account.renewals:
                if times[0] < renewal.at <= times[-1]:
                    _renew(model, int(np.searchsorted(times, renewal.at)), level, renewal, self.layout, last)
        return model


# The ways of settling of the demand steps by their place among them: the number of the state, and the days.
Slots = dict[int, list[tuple[int, float]]]


def course(
    dynamics: Moving,
    series: Sequence[Series],
    accounts: Sequence[Account],
    demand_steps: Sequence[DemandStep],
    demand: float,
    factor_errors: Sequence[float],
    spread: Array,
    until: float,
    pumps: Sequence[Sequence[float]] = (),
) -> Course:
    """Lay out the readings of every level (`series`) and their `accounts` up to `until`, which is a moment too.

    `spread` is the variance of the dynamics' state before the first reading; `factor_errors` are the standard
    deviations of the logarithms of the volume (first) and of the deliveries. `pumps` may wear: when each was measured;
    the accounts' payments count by them after all factors.
    """
    first = min(float(s.times[0]) for s in series if len(s.times))
    rows = _rows(series, accounts, demand_steps, pumps, first, until)
    # New water of all levels at once is one moment.
    moments = [list(of) for _, of in groupby(rows, lambda row: row[:2] if row[1] == _RENEWED else row)]
    times = np.array([of[0][0] for of in moments] + [max(until, rows[-1][0])])
    slots, ramps = _slots(demand_steps, first)
    layout = _laid_out(dynamics.size, len(factor_errors), series, ramps, len(pumps))
    settling = tuple(
        (demand_steps[i].at, layout.ramps + slot, days) for i, ways in slots.items() for slot, days in ways
    )
    model = _moving(dynamics, accounts, settling, times, layout)
    branches: list[Branches | None] = [None] * len(times)
    readings: list[list[int]] = [[] for _ in series]
    last_read = -np.inf
    usual = [float(np.median(s.errors)) if len(s.errors) else 0.0 for s in series]
    changed = [np.array([renewal.at for renewal in account.renewals]) for account in accounts]
    for t, (at, what, which, index) in ((t, row) for t, of in enumerate(moments) for row in of):
        if what == _READ:
            one = series[which]
            model.h[t, which], model.y[t], model.noise[t] = 1.0, one.values[index], one.errors[index] ** 2
            if one.kit is not None and one.kit[index] > 0:
                model.h[t, layout.kits[which] + one.kit[index] - 1] = 1.0
            since_same = at - one.times[index - 1] if index else 0.0
            since_any = at - last_read if np.isfinite(last_read) else 0.0
            renewed = int(np.sum((changed[which] >= at - since_same) & (changed[which] < at)))
            gap = Gap(since_any, since_same, index, renewed)
            branches[t] = unlogged(
                layout.size, dynamics.levels, which, dynamics.taken, gap, usual[which], layout.lacking
            )
            readings[which].append(t)
            last_read = at
        elif what == _STEPPED:
            ways = [dynamics.levels, *(layout.ramps + slot for slot, _ in slots.get(index, ()))]
            model.F[t, ways[1:], :] = 0.0
            demand_step = demand_steps[index]
            branches[t] = logged(np.eye(layout.size)[ways], demand_step.sizes(demand))
        elif what == _RENEWED:
            _renew(model, t, which, accounts[which].renewals[index], layout, series[which].last_before(at))
        else:
            model.F[t, layout.pumps + 2 * index : layout.pumps + 2 * index + 2, :] = 0.0
    _begin(model, layout, series, factor_errors, spread)
    places = tuple(np.array(r, dtype=np.intp) for r in readings)
    return Course(times, model, tuple(branches), places, layout, dynamics, settling)


def _laid_out(core: int, factors: int, series: Sequence[Series], ramps: int, pumps: int) -> Layout:
    """The layout of a state with so many numbers of the dynamics, factors, ramps and pumps."""
    ends = [core + factors]
    for one in series:
        ends.append(ends[-1] + len(one.offsets))
    worn = ends[-1] + ramps
    return Layout(core, tuple(ends[:-1]), ends[-1], worn, worn + 2 * pumps)


def _begin(
    model: Model, layout: Layout, series: Sequence[Series], factor_errors: Sequence[float], spread: Array
) -> None:
    """Write down what is known before the first reading; levels start at it."""
    core = layout.factors
    for level, one in enumerate(series):
        model.start[level] = one.values[0] if len(one.values) else 0.0
    model.spread[:core, :core] = spread
    still = np.square([*factor_errors, *(offset for one in series for offset in one.offsets)])
    model.spread[core : layout.ramps, core : layout.ramps] = np.diag(still)
    model.spread[layout.lacking, layout.lacking] = UNWORN**2


def _rows(
    series: Sequence[Series],
    accounts: Sequence[Account],
    demand_steps: Sequence[DemandStep],
    pumps: Sequence[Sequence[float]],
    first: float,
    until: float,
) -> list[tuple[float, int, int, int]]:
    """All that happens in order of time: when, what, of which level, and its place among its own."""
    rows = [(float(t), _READ, level, i) for level, s in enumerate(series) for i, t in enumerate(s.times)]
    rows += [(o.at, _STEPPED, 0, i) for i, o in enumerate(demand_steps) if first < o.at <= until]
    for level, account in enumerate(accounts):
        rows += [(r.at, _RENEWED, level, i) for i, r in enumerate(account.renewals) if first <= r.at < until]
    rows += [(at, _MEASURED, 0, i) for i, measured in enumerate(pumps) for at in measured if first <= at < until]
    return sorted(rows)


def _moving(
    dynamics: Moving,
    accounts: Sequence[Account],
    settling: Sequence[tuple[float, int, float]],
    times: Array,
    layout: Layout,
) -> Model:
    """The model of how the state moves into each moment, nothing read yet."""
    T, core, n, gaps = len(times), dynamics.size, layout.size, np.diff(times)
    F, c = np.tile(np.eye(n), (T, 1, 1)), np.zeros((T, n))
    drift, fixed = np.zeros((T, n, n)), np.zeros((T, n, n))
    F[:, :core, :core], drift[:, :core, :core], fixed[:, :core, :core] = dynamics.moving(
        np.diff(times, prepend=times[0])
    )
    for level, account in enumerate(accounts):
        count = layout.kits[0] - layout.factors
        paid = np.diff(account.paid_before(times, count + len(layout.lacking)), axis=0)
        c[1:, level] = paid[:, 0]
        # More water than declared makes every payment count for less.
        F[1:, level, layout.factors] = -paid[:, 0]
        F[1:, level, layout.factors + 1 : layout.factors + count] = paid[:, 1:count]
        for place, given in zip(layout.lacking, paid[:, count:].T, strict=True):
            F[1:, level, place], F[1:, level, place + 1] = -given, -given * gaps / 2.0
    for place in layout.lacking:
        F[1:, place, place + 1] = gaps
    for begun, place, days in settling:
        come, taken = _come_about(times - begun, days)
        F[1:, dynamics.levels, place] += np.diff(come)
        lasting = np.diff(taken) - come[:-1] * gaps
        F[1:, : dynamics.levels, place] -= lasting[:, None] * dynamics.taken
    return Model(
        F, c, drift, fixed, np.zeros((T, n)), np.full(T, np.nan), np.ones(T), np.zeros(T), np.zeros(n), np.zeros((n, n))
    )


def _come_about(since: Array, days: float) -> tuple[Array, Array]:
    """What share of a step has come about so long after it began (T,), and that share's integral."""
    at = np.clip(since, 0.0, days)
    return at / days, at**2 / (2.0 * days) + np.maximum(since - days, 0.0)


def _slots(demand_steps: Sequence[DemandStep], first: float) -> tuple[Slots, int]:
    """Which numbers of the state hold the step of each demand step that settles, by days; and how many there are."""
    free = [-np.inf] * (MOST_SETTLING * len(SETTLING))
    found: Slots = {}
    for index, demand_step in sorted(enumerate(demand_steps), key=lambda pair: pair[1].at):
        days = [each for each in SETTLING if each <= demand_step.settles]
        places = [place for place, end in enumerate(free) if end <= demand_step.at][: len(days)]
        if days and len(places) == len(days) and demand_step.at > first:
            found[index] = list(zip(places, days, strict=True))
            for place, each in found[index]:
                free[place] = demand_step.at + each
    return found, 1 + max((place for ways in found.values() for place, _ in ways), default=-1)


def _renew(model: Model, t: int, level: int, renewal: Renewal, layout: Layout, last: Array) -> None:
    """A share of the water replaced, after all else that leads into the moment; `last` holds the reading before it."""
    left = 1.0 - renewal.fraction
    model.F[t, level, :] *= left
    model.c[t, level] = left * model.c[t, level] + renewal.fraction * renewal.level
    if len(last):
        # More water than declared makes the share smaller.
        model.F[t, level, layout.factors] -= renewal.fraction * (renewal.level - last[0])
    for noise in (model.drift, model.fixed):
        noise[t, level, :] *= left
        noise[t, :, level] *= left
    model.fixed[t, level, level] += (renewal.fraction * renewal.error) ** 2
