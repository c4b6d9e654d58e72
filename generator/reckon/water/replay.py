"""A water's own past replayed: what was predicted of each reading from the lines before it, and what was read."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

import numpy as np

from generator.reckon.estimate.multiprocess import Branches, Ints, Process
from generator.reckon.estimate.uncertainty import Array, Mixture
from generator.reckon.water.dynamics import LOGGED, READ_BEFORE_STEP
from generator.reckon.water.findings import Replayed
from generator.reckon.water.ledger import Evidence
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import as_estimate
from generator.records.log import Reading
from generator.units.kinds import KINDS
from generator.units.quantity import LEVEL, Estimate

# Days ahead that are replayed. A prediction made more than twice as long before says nothing of that horizon.
HORIZONS = (1.0, 3.0, 7.0)
_LATEST = 2.0
# A moment's heaviest stories that are carried forward; the others together weigh next to nothing.
_STORIES = 6
# Beyond so many standard errors a chance is no longer told apart from nought or one.
_FAR = 6.0

_NORMAL = NormalDist()


def replay(evidence: Evidence, found: StateEstimate | None) -> tuple[Replayed, ...]:
    """Every reading that something was predicted of, by time and days ahead.

    A prediction uses the readings up to so many days before and the doses, water changes and arrivals in the log.
    The first readings of a water, by which its uptake is still being found, are left out.
    """
    told = list(_predictions(found)) if found else []
    if not told:
        return ()
    values = evidence.values[[each.place for each in told]]
    weights, mean, sd = (np.array([getattr(each, part) for each in told]) for part in ("weights", "mean", "sd"))
    read = found.moments[[each.place for each in told]] if found else mean
    mixture = Mixture(weights, mean, sd).wider(evidence.times_as_wide(read))
    edge = _NORMAL.cdf(-_FAR)
    chances = np.clip(mixture.cdf(values), edge, 1.0 - edge)
    unit = KINDS[evidence.kind].canonical
    return tuple(
        Replayed(
            evidence.readings[each.place], float(value), each.days, as_estimate(ends, unit), _NORMAL.inv_cdf(chance)
        )
        for each, value, chance, ends in zip(told, values, chances, zip(*mixture.interval(), strict=True), strict=True)
    )


@dataclass(frozen=True, slots=True)
class _Told:
    """What was predicted of a reading, by its place, so many days ahead: a mixture of `_STORIES` normals."""

    place: int
    days: float
    weights: Array
    mean: Array
    sd: Array


@dataclass
class _Carried:
    """The stories of one moment on their way forward: weights (H,), mean (H, n), variance (H, n, n), noises (H,)."""

    until: int
    weights: Array
    mean: Array
    variance: Array
    q2: Array
    r2: Array


def _predictions(found: StateEstimate) -> Iterator[_Told]:
    """What was predicted of each reading, in one pass forward."""
    times, model, process = found.laid.times, found.laid.model, found.followed.process
    wanted = _wanted(times, found.readings)
    until: dict[int, int] = {}
    for place, _, start in wanted:
        until[start] = max(until.get(start, 0), int(found.readings[place]))
    at_moment: dict[int, list[tuple[int, float, int]]] = {}
    for place, days, start in wanted:
        at_moment.setdefault(int(found.readings[place]), []).append((place, days, start))
    carried: dict[int, _Carried] = {}
    for t in range(len(times)):
        step = model.F[t], model.c[t], model.drift[t], model.fixed[t]
        for each in carried.values():
            each.mean, each.variance = process.moved(each.mean, each.variance, each.q2, *step)
        branches = found.laid.branches[t]
        if branches is not None and branches.kind[0] >= LOGGED:
            for each in carried.values():
                _step(each, branches, process)
        for place, days, start in at_moment.get(t, ()):
            each = carried[start]
            noise = model.noise[t] * each.r2
            level = each.mean @ found.stands
            spread = each.variance[:, found.level, found.level] + noise
            none = (0, _STORIES - len(level))
            yield _Told(
                place, days, np.pad(each.weights, none), np.pad(level, none), np.pad(np.sqrt(spread), none, "edge")
            )
        carried = {start: each for start, each in carried.items() if each.until > t}
        if t in until:
            now = found.followed.after[t].heaviest(_STORIES)
            q2, r2 = process.q2[now.candidate], process.r2[now.candidate]
            carried[t] = _Carried(until[t], now.weights, now.mean, now.variance, q2, r2)


def _wanted(times: Array, readings: Ints) -> list[tuple[int, float, int]]:
    """Each reading's place, the days ahead, and the moment from which that is predicted."""
    found = []
    for place in range(READ_BEFORE_STEP + 1, len(readings)):
        at = times[readings[place]]
        for days in HORIZONS:
            start = int(np.searchsorted(times, at - days, side="right")) - 1
            known = start >= readings[READ_BEFORE_STEP]
            if known and at - times[start] <= _LATEST * days:
                found.append((place, days, start))
    return found


def _step(each: _Carried, branches: Branches, process: Process) -> None:
    """A logged change, by all the ways in which it may come about."""
    odds = np.exp(branches.log_odds)
    rate = np.clip(np.abs(each.mean[:, process.rate]), process.least, process.most)
    for place, unit in enumerate(rate):
        units = np.where(branches.by_rate, unit, 1.0)
        ways = (branches.mean * units)[:, None] * branches.direction
        middle = odds @ ways
        apart = ways - middle
        spread = np.einsum("b,bi,bj->ij", odds * (branches.spread * units) ** 2, branches.direction, branches.direction)
        each.mean[place] += middle
        each.variance[place] += spread + np.einsum("b,bi,bj->ij", odds, apart, apart)


@dataclass(frozen=True, slots=True)
class Record:
    """How predictions of one quantity have held: of `of` readings `inside` fell in their 90 % interval.

    `days` is how far ahead; None counts each reading once, by its nearest prediction. `factor` is by how much the
    intervals would have to be wider to hold nine in ten (below one: narrower), with its own 90 % interval; None where
    there are fewer than `ENOUGH`.
    """

    kind: str
    days: float | None
    of: int
    inside: int
    factor: Estimate | None

    @property
    def clear(self) -> bool:
        """Whether the intervals are clearly too narrow or too wide."""
        return self.factor is not None and not self.factor.low <= 1.0 <= self.factor.high


# From so many readings on, a factor for the intervals is told.
ENOUGH = 40
# A record looks back over so many readings, so that it tells of the forecasts as they are now.
LATELY = 60


def nearest(replayed: Sequence[Replayed]) -> list[Replayed]:
    """Each reading once, by its nearest prediction, in order of time."""
    found: dict[tuple[str, Reading], Replayed] = {}
    for each in replayed:
        key = (each.reading.kind, each.reading)
        if key not in found or each.days < found[key].days:
            found[key] = each
    return sorted(found.values(), key=lambda each: each.reading.at)


def track_records(replayed: Sequence[Replayed]) -> tuple[Record, ...]:
    """The record of each quantity, all horizons together and each by itself, over the last `LATELY` readings."""
    found = []
    for kind in dict.fromkeys(each.reading.kind for each in replayed):
        of_kind = [each for each in replayed if each.reading.kind == kind]
        found.append(_record(kind, None, nearest(of_kind)))
        for days in HORIZONS:
            found.append(_record(kind, days, [each for each in of_kind if each.days == days]))
    return tuple(record for record in found if record.of)


def _record(kind: str, days: float | None, replayed: list[Replayed]) -> Record:
    last = sorted(replayed, key=lambda each: each.reading.at)[-LATELY:]
    return Record(kind, days, len(last), sum(each.inside for each in last), factor([each.score for each in last]))


def factor(scores: Sequence[float]) -> Estimate | None:
    """By how much intervals would have to be wider for nine in ten of these scores to lie inside.

    The ninth decile of the scores' sizes over that of the normal distribution, with the distribution-free interval
    of a quantile by order statistics. Source: David & Nagaraja 2003, Order Statistics, 3rd ed., 7.1 (from memory).
    """
    n = len(scores)
    if n < ENOUGH:
        return None
    sizes = sorted(abs(score) for score in scores)
    half = _NORMAL.inv_cdf(0.5 + LEVEL / 2.0)
    spread = half * sqrt(n * LEVEL * (1.0 - LEVEL))
    low, high = (min(max(round(n * LEVEL + side * spread), 1), n) - 1 for side in (-1.0, 1.0))
    value = float(np.quantile(sizes, LEVEL))
    return Estimate(value / half, sizes[low] / half, sizes[high] / half, "1")
