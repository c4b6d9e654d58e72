"""A water's level and uptake as all stories tell them; which stories compete to explain it, which test parts them."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from generator.reckon.estimate.kalman import Model
from generator.reckon.estimate.multiprocess import Followed, Posterior
from generator.reckon.estimate.uncertainty import Array, Ints, Mixture
from generator.reckon.water.account import Account
from generator.reckon.water.dynamics import JUMP, STEP, STOP, STRAY
from generator.reckon.water.findings import Story, StoryKind
from generator.reckon.water.ledger import Evidence, in_days
from generator.reckon.water.process import Course
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, coverage_factor


class Told(Struct, frozen=True):
    """Something told of the way to a reading (its place among its level's): its kind, odds, and what it did.

    `size` and `error` are mean and standard deviation of what it did to the level (a jump) or to what is taken up
    a day (a step).
    """

    kind: int
    index: int
    odds: float
    size: float
    error: float


class StateEstimate(Struct, frozen=True, dict=True):
    """One level of a water at each of its readings and at the end, as told by all stories that are left.

    `demand` is the scale the drift was tried on, `usual_error` that of its readings before any was learned.
    `times_as_wide` as calculated are the ranges shown now.
    """

    laid: Course
    accounts: tuple[Account, ...]
    followed: Followed
    level: int
    demand: float
    usual_error: float
    times_as_wide: float = 1.0

    @property
    def now(self) -> Posterior:
        """All stories at the end."""
        return self.followed.last

    @cached_property
    def drift(self) -> float:
        """The drift found, a day per square root of a day."""
        return float(np.sqrt(self.now.weights @ self.followed.process.q2[self.now.candidate])) * self.demand

    @cached_property
    def error_factor(self) -> float:
        """How many times the errors given the readings were found to stray (1 where they were declared)."""
        return float(np.sqrt(self.now.weights @ self.followed.process.r2[self.now.candidate]))

    @property
    def kit_error(self) -> float:
        """The usual error of a reading, one standard deviation."""
        return self.error_factor * self.usual_error

    @property
    def readings(self) -> Ints:
        """The places of the level's readings among the moments of the course (N,)."""
        return self.laid.readings[self.level]

    @property
    def moments(self) -> Array:
        """Times of the level's readings and of the end, days (N + 1,)."""
        return np.asarray(self.laid.times[np.append(self.readings, -1)])

    @property
    def values(self) -> Array:
        """What was read (N,)."""
        return self.laid.model.y[self.readings]

    @cached_property
    def takes(self) -> Array:
        """The combination of the state that is what is taken up of this level a day."""
        own = self.laid.dynamics.takes(self.level)
        return np.concatenate([own, np.zeros(self.laid.layout.size - len(own))])

    @cached_property
    def stands(self) -> Array:
        """The combination of the state that is this level."""
        return np.asarray(np.eye(self.laid.layout.size)[self.level])

    @cached_property
    def uptake(self) -> Mixture:
        """What is taken up a day, at the end."""
        return self.now.of(self.takes)

    def worn(self, pump: int) -> NDArray[np.bool_]:
        """Which of the stories at the end tell that a pump wears (H,)."""
        grows = self.laid.layout.lacking[pump] + 1
        return np.asarray(self.now.variance[:, grows, grows] > 0.0)

    def lacks(self, pump: int) -> Mixture:
        """The share that a pump lacks of what it is set to, at the end."""
        return self.now.of(np.eye(self.laid.layout.size)[self.laid.layout.lacking[pump]])

    def along(self, combination: Array) -> Mixture:
        """A combination of the state at each reading, by all readings, and at the end (N + 1, G)."""
        at, stories = np.append(self.readings, -1), len(self.followed.weights)
        told, variance = self.followed.smoothed.along(combination, at)
        of_factors = np.sum((told[:, stories:] - told[:, :1]) ** 2, axis=1, keepdims=True)
        spread = np.sqrt(np.maximum(variance[:, :stories] + of_factors, 1e-18))
        return Mixture(self.followed.weights, told[:, :stories], spread)

    def middle(self, combination: Array) -> Array:
        """The mean of a combination of the state at each reading and at the end (N + 1,)."""
        return self.along(combination).moments()[0]

    @cached_property
    def reading_variance(self) -> Array:
        """The variance each reading was given in the end (N,): its kit's, and what wildness added."""
        noise = self._own + self.followed.happened.widened[self.readings]
        return np.asarray(1.0 / ((1.0 / noise) @ self.followed.weights))

    @cached_property
    def wild(self) -> Array:
        """The chance that each reading is wild (N,)."""
        return np.asarray(self.followed.odds(STRAY)[self.readings])

    def expected(self) -> tuple[Array, Array, Array]:
        """What all others led to expect of each reading, its error, and the reading's surprise in standard errors."""
        at, smoothed, widened = self.readings, self.followed.smoothed, self.followed.happened.widened[self.readings]
        counts = (widened > 0.0) | ~np.any(widened > 0.0, axis=1, keepdims=True)
        weights = counts * self.followed.weights
        weights = weights / weights.sum(axis=1, keepdims=True)
        told = self.values[:, None] - smoothed.deletion[at, : len(self.followed.weights)]
        mean = np.sum(weights * told, axis=1)
        spread = np.maximum(smoothed.deletion_variance[at, : len(self.followed.weights)] - self._own - widened, 0.0)
        variance = np.sum(weights * (spread + (told - mean[:, None]) ** 2), axis=1)
        surprise = (self.values - mean) / np.sqrt(variance + np.sum(weights * self._own, axis=1))
        return mean, np.sqrt(variance), surprise

    def told(self, kinds: Sequence[int], since: float, least: float) -> tuple[Told, ...]:
        """What the stories tell of some kinds on the way to each reading since a time, where its odds reach `least`."""
        likely, found = {kind: self.followed.odds(kind) for kind in kinds}, []
        for index in np.flatnonzero(self.laid.times[self.readings] >= since):
            t = int(self.readings[index])
            for kind in kinds:
                odds = float(likely[kind][t])
                if odds >= least and (size := self._size(t, kind)) is not None:
                    found.append(Told(kind, int(index), odds, *size))
        return tuple(found)

    def _size(self, t: int, kind: int) -> tuple[float, float] | None:
        """Mean and standard deviation of what a kind of thing did on the way to a moment, where it happened.

        None where none of the heaviest stories tells it.
        """
        past, branches = self.followed.histories, self.laid.branches[t]
        told = np.flatnonzero(self.followed.kinds[t, : len(self.followed.weights)] == kind)
        if branches is None or not len(told):
            return None
        weights = self.followed.weights[told] / self.followed.weights[told].sum()
        way = branches.direction[past.branch[t, told]]
        seen = way @ (self.stands if kind == JUMP else self.takes)
        mean, variance = past.mean[t, told], past.variance[t, told]
        score = np.einsum("gi,ig->g", way, self.followed.smoothed.shock[t][:, told])
        precision = np.einsum("gi,ijg,gj->g", way, self.followed.smoothed.shock_information[t][:, :, told], way)
        mean = (mean + variance * score) * seen
        variance = np.maximum(variance - variance**2 * precision, 0.0) * seen**2
        middle = float(weights @ mean)
        return middle, float(np.sqrt(weights @ (variance + (mean - middle) ** 2)))

    def ahead(self, days: Array, accounts: Sequence[Account] | None = None) -> Mixture:
        """The level so many days after the end, by what the accounts (or others) then pay in (T, H)."""
        times = self.laid.times[-1] + np.append(0.0, days)
        model = self.laid.ahead(self.accounts if accounts is None else accounts, times)
        mean, process, moments = self.now.mean, self.followed.process, len(days)
        means, paces = np.empty((moments, *mean.shape)), np.empty((moments, len(mean)))
        for t in range(moments):
            paces[t] = process.pace(mean[:, process.rate])
            means[t] = mean = mean @ model.F[t + 1].T + model.c[t + 1]
        noises = process.q2[self.now.candidate] * paces
        spread = np.sqrt(np.maximum(_variance_ahead(model, self.now.variance, noises, self.stands), 1e-18))
        return Mixture(self.now.weights, means @ self.stands, spread, believed=self.now.believed)

    @property
    def _noises(self) -> tuple[Array, Array]:
        candidate = self.now.candidate[: len(self.followed.weights)]
        return self.followed.process.q2[candidate], self.followed.process.r2[candidate]

    @property
    def _own(self) -> Array:
        """The variance of each reading's kit under each of the heaviest stories (N, G)."""
        return np.asarray(self.laid.model.noise[self.readings][:, None] * self._noises[1])


def _variance_ahead(model: Model, variance: Array, noises: Array, combination: Array) -> Array:
    """The variance (T, H) of a combination (n,) of the state after each of a model's T moves from its first moment.

    From stories of a `variance` (H, n, n), drifting on the way by `noises` (T, H). Backward from every moment at once,
    by how much a unit of each state before a move counts in the combination later.
    """
    moments, reach = len(noises), model.reach
    counts, drifts, fixed = np.zeros((moments, len(combination))), np.zeros((moments, moments)), np.zeros(moments)
    for t in range(moments - 1, -1, -1):
        counts[t] = combination
        own = counts[t:, :reach]
        drifts[t:, t] = np.sum((own @ model.drift[t + 1, :reach, :reach]) * own, axis=1)
        fixed[t:] += np.sum((own @ model.fixed[t + 1, :reach, :reach]) * own, axis=1)
        counts[t:] = counts[t:] @ model.F[t + 1]
    return np.asarray(np.sum((counts @ variance) * counts, axis=2).T + drifts @ noises + fixed[:, None])


# Stories of so many days compete; one told with odds below the least is not worth a word, and one with the
# highest is as good as sure.
COMPETE_FOR = timedelta(days=21)
LEAST_ODDS = 0.10
SURE = 0.95
# Where it is likelier than this that nothing happened at all, nothing is said.
QUIET = 0.70
# Two stories are parted by a reading that they expect so many of its standard errors apart: 1 in 10 is told wrongly.
PARTED = 2.5
# When a test may part them, days from now: within the hour, tonight, tomorrow and so on.
WHEN: Array = np.array([1.0 / 24.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0, 14.0])

_NAMES: dict[int, StoryKind] = {STRAY: "wrong-reading", JUMP: "shift", STOP: "stop"}


class Competing(Struct, frozen=True):
    """The stories that compete, the likeliest first, and when a reading parts the two likeliest (None: none soon)."""

    stories: tuple[Story, ...]
    parted_by: datetime | None


def competing(evidence: Evidence, found: StateEstimate, as_of: datetime) -> Competing:
    """What competes to explain the last weeks; nothing where what happened is as good as sure."""
    groups: defaultdict[tuple[StoryKind, int], list[Told]] = defaultdict(list)
    for each in found.told((STRAY, JUMP, STEP, STOP), in_days(as_of - COMPETE_FOR), LEAST_ODDS / 10.0):
        name = _NAMES.get(each.kind) or ("more" if each.size > 0.0 else "less")
        # A reading and a shift are each their own; when a demand changed is part of the same story.
        groups[name, each.index if each.kind in (STRAY, JUMP) else -1].append(each)
    told = [(_story(evidence, found, name, each), _told_by(found, each)) for (name, _), each in groups.items()]
    told += _worn(evidence, found)
    told = sorted((pair for pair in told if pair[0].odds >= LEAST_ODDS), key=lambda pair: -pair[0].odds)
    happened = np.any([who for _, who in told], axis=0) if told else np.zeros(1, dtype=bool)
    quiet = not told or 1.0 - float(found.now.weights[happened].sum()) > QUIET
    if quiet or all(story.odds >= SURE for story, _ in told):
        return Competing((), None)
    return Competing(tuple(story for story, _ in told), _parted_by(found, [who for _, who in told], as_of))


def _story(evidence: Evidence, found: StateEstimate, name: StoryKind, told: list[Told]) -> Story:
    """One story of what differs only in when it happened."""
    best = max(told, key=lambda each: each.odds)
    unit = KINDS[evidence.kind].canonical
    size, error = best.size, best.error
    if name == "wrong-reading":
        expected, errors, _ = found.expected()
        size, error = float(evidence.values[best.index] - expected[best.index]), float(errors[best.index])
    elif name != "shift":
        unit = f"{unit}/day"
    first, last = min(each.index for each in told), max(each.index for each in told)
    ends = evidence.readings[max(first - 1, 0)], evidence.readings[last]
    odds = min(sum(each.odds for each in told), 1.0)
    half = coverage_factor() * error
    return Story(
        name,
        ends[0].at,
        ends[1].at,
        odds,
        Estimate(size, size - half, size + half, unit),
        tuple(e.source for e in ends),
    )


def _worn(evidence: Evidence, found: StateEstimate) -> Iterator[tuple[Story, NDArray[np.bool_]]]:
    """Of each pump for the quantity that may wear the story that it does, and which of the stories tell it."""
    for place in range(len(found.laid.layout.lacking)):
        pump, who = evidence.deliveries.pumps[place], found.worn(place)
        given = evidence.pumped(pump.solution)
        if given and who.any():
            first, weights = evidence.readings[0].at, found.now.weights[who]
            lacks = found.lacks(place)
            ends = Mixture(weights / weights.sum(), lacks.mean[who], lacks.sd[who]).interval()
            value, low, high = (100.0 * float(each) for each in ends)
            size = Estimate(value, low, high, "%")
            yield Story("worn-pump", first, first, float(weights.sum()), size, (given[-1],), pump.solution), who


def _told_by(found: StateEstimate, told: list[Told]) -> NDArray[np.bool_]:
    """Which of the stories at the end tell any of some things (H,)."""
    rows = [found.followed.kinds[found.readings[each.index]] == each.kind for each in told]
    return np.asarray(np.any(rows, axis=0))


def _parted_by(found: StateEstimate, told_by: list[NDArray[np.bool_]], as_of: datetime) -> datetime | None:
    """The first of `WHEN` at which the two likeliest, or the one and none of it, expect readings far enough apart."""
    ahead, weights = found.ahead(WHEN), found.now.weights
    first = told_by[0]
    second = told_by[1] & ~first if len(told_by) > 1 else ~first
    if not second.any() or not first.any():
        return None
    middles, spreads = [], []
    for who in (first, second):
        share = np.where(who, weights, 0.0) / weights[who].sum()
        middle = ahead.mean @ share
        middles.append(middle)
        spreads.append((ahead.sd**2 + (ahead.mean - middle[:, None]) ** 2) @ share)
    apart = np.abs(middles[0] - middles[1]) / np.sqrt((spreads[0] + spreads[1]) / 2.0 + found.kit_error**2)
    parted = np.flatnonzero(apart >= PARTED)
    return as_of + timedelta(days=float(WHEN[parted[0]])) if len(parted) else None
