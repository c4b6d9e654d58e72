"""Several stories of one series, told side by side until the readings decide: a multi-process model.

At each moment every story may branch: nothing happens, the reading is wild, a state jumps. Each branch is
filtered by the reading; those that explain it best live on, and those that have come to say the same are
merged. Everything is carried for all stories at once.

Source: Harrison & Stevens 1976, J. R. Stat. Soc. B 38:205-247; West & Harrison 1997, Bayesian Forecasting
and Dynamic Models, 2nd ed., ch. 12 (both from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from generator.reckon.estimate.kalman import Model
from generator.reckon.estimate.mixture import Array, Mixture

Ints = NDArray[np.intp]

# A story e^-12 times as likely as the best is told no longer, nor more than so many at once.
LEAST_LOG_WEIGHT = -12.0
MOST_STORIES = 60
# Two stories of the same kind say the same where their states lie so near, in squared standard deviations, and
# are nearly as sure (ratio of variances).
SAME_WITHIN = 0.1
SAME_WIDTH = 1.3
# What happened longer ago than so many days no longer keeps two stories apart.
REMEMBERED = 30.0
# So many of the heaviest stories are kept of every moment, to tell later what was predicted then.
KEPT = 12


@dataclass(frozen=True, slots=True)
class Branches:
    """B things that may have happened on the way into a moment; the first of them is: nothing.

    `direction` (B, n) is how one unit moves the state, `mean` and `spread` (B,) how many units, as multiples of
    the story's own rate where `by_rate` (B,) is true; `blur` (B,) so many of `blurred` (n,), independent of it, for
    when it happened. `widened` (B,) is variance added to the reading's. `kind` (B,) names it; `log_odds` (B,)
    before any reading, to which comes `again` (B,) in a story whose rate changed within `REMEMBERED` days.
    """

    kind: Ints
    log_odds: Array
    again: Array
    direction: Array
    mean: Array
    spread: Array
    by_rate: NDArray[np.bool_]
    blur: Array
    blurred: Array
    widened: Array


@dataclass(frozen=True, slots=True)
class Process:
    """What is followed: the model of the state, and at each moment the branches (None: nothing can happen).

    `q2`, `r2` and `log_prior` (G,) are candidate noises as in `kalman`, a story each to begin with. `rate` is the
    state that counts as a story's own rate, which for this is taken between `least` and `most`: steps, and what the
    model's `drift` says for a rate of `scale`, go by it. Readings do not teach the states in `considered`, whose
    uncertainty is only carried along (Schmidt 1966, Adv. Control Syst. 3:293-340: from memory).
    """

    model: Model
    branches: Sequence[Branches | None]
    times: Array
    q2: Array
    r2: Array
    log_prior: Array
    rate: int
    least: float
    most: float
    scale: float
    considered: slice


@dataclass(frozen=True, slots=True)
class Posterior:
    """H stories after a moment, the heaviest first: weights (H,), mean (H, n), variance (H, n, n), candidate (H,)."""

    weights: Array
    mean: Array
    variance: Array
    candidate: Ints

    def of(self, combination: Array, least: float = -np.inf) -> Mixture:
        """The distribution of a linear combination (n,) of the state."""
        spread = np.einsum("i,hij,j->h", combination, self.variance, combination)
        return Mixture(self.weights, self.mean @ combination, np.sqrt(np.maximum(spread, 1e-18)), least)

    def moments(self) -> tuple[Array, Array]:
        """Mean (n,) and variance (n, n) over all stories."""
        middle = self.weights @ self.mean
        apart = self.mean - middle
        spread = self.variance + apart[:, :, None] * apart[:, None, :]
        return middle, np.tensordot(self.weights, spread, 1)

    def heaviest(self, most: int) -> "Posterior":
        """The heaviest of the stories alone."""
        weights = self.weights[:most]
        return Posterior(weights / weights.sum(), self.mean[:most], self.variance[:most], self.candidate[:most])


@dataclass(frozen=True, slots=True)
class _Turn:
    """What became of the stories at a moment: for each its parent's place, its branch, and what that added.

    `pace` is by how much more its noise moved it on the way there than the model's drift says.
    """

    parent: Ints
    branch: Ints
    mean: Array
    variance: Array
    blur: Array
    pace: Array


@dataclass(frozen=True)
class Followed:
    """The stories forward through all moments: those after the last, a few after each, and where they came from.

    `log_likelihood` is that of all readings, over all stories.
    """

    process: Process
    last: Posterior
    after: tuple[Posterior, ...]
    turns: tuple[_Turn, ...]
    log_likelihood: float

    @cached_property
    def histories(self) -> _Turn:
        """Each last story's past, as in `turns` but (T, H), from the heaviest on."""
        shape = (len(self.turns), len(self.last.weights))
        places, sizes = np.zeros((2, *shape), dtype=np.intp), np.zeros((4, *shape))
        past = _Turn(places[0], places[1], sizes[0], sizes[1], sizes[2], sizes[3])
        place = np.arange(shape[1])
        for t in range(shape[0] - 1, -1, -1):
            turn = self.turns[t]
            for name in ("parent", "branch", "mean", "variance", "blur", "pace"):
                getattr(past, name)[t] = getattr(turn, name)[place]
            place = turn.parent[place]
        return past

    @cached_property
    def kinds(self) -> Ints:
        """What kind of thing happened at each moment in each last story (T, H); 0 is nothing."""
        found = np.zeros_like(self.histories.branch)
        for t, branches in enumerate(self.process.branches):
            if branches is not None:
                found[t] = branches.kind[self.histories.branch[t]]
        return found

    def odds(self, kind: int) -> Array:
        """The chance of a kind of thing at each moment (T,), by the stories that are left."""
        return np.asarray((self.kinds == kind) @ self.last.weights)


def follow(process: Process) -> Followed:
    """Tell all stories forward from the first moment to the last."""
    model, q2, r2 = process.model, process.q2, process.r2
    T, n = model.c.shape
    read = ~np.isnan(model.y)
    cast = np.arange(len(q2))
    mean, variance = np.tile(model.start, (len(q2), 1)), np.tile(model.spread, (len(q2), 1, 1))
    weight = process.log_prior - _log_sum(process.log_prior)
    mark, since = np.zeros(len(q2), dtype=np.int64), np.full(len(q2), -np.inf)
    changed = since
    likelihood, turns, after = 0.0, [], []
    for t in range(T):
        F, branches = model.F[t], process.branches[t]
        pace = (np.clip(np.abs(mean[:, process.rate]), process.least, process.most) / process.scale) ** 2
        mean = mean @ F.T + model.c[t]
        half = (variance.reshape(-1, n) @ F.T).reshape(-1, n, n).transpose(0, 2, 1)
        variance = (half.reshape(-1, n) @ F.T).reshape(-1, n, n)
        variance += (q2[cast] * pace)[:, None, None] * model.drift[t] + model.fixed[t]
        if branches is None:
            none = np.zeros(len(cast))
            turns.append(_Turn(np.arange(len(cast)), none.astype(np.intp), none, none, none, pace))
            after.append((weight, mean, variance, cast))
            continue
        rate = np.clip(np.abs(mean[:, process.rate]), process.least, process.most)
        units = np.where(branches.by_rate[:, None], rate, 1.0)
        moved, spread = branches.mean[:, None] * units, (branches.spread[:, None] * units) ** 2
        blur = (branches.blur[:, None] * rate) ** 2
        lately = changed > process.times[t] - REMEMBERED
        score = weight + branches.log_odds[:, None] + np.where(lately, branches.again[:, None], 0.0)
        if read[t]:
            h = model.h[t]
            seen, along = variance @ h, branches.direction @ h
            blurs = float(branches.blurred @ h)
            total = seen @ h + model.noise[t] * r2[cast] + spread * along[:, None] ** 2 + branches.widened[:, None]
            total += blur * blurs**2
            surprise = model.y[t] - mean @ h - moved * along[:, None]
            score = score - 0.5 * (np.log(2.0 * np.pi * total) + surprise**2 / total)
        all_of_them = _log_sum(score)
        likelihood += all_of_them
        kept = _heaviest(score - all_of_them, cast, 2 * MOST_STORIES)
        branch, parent = np.divmod(kept, len(cast))
        weight, cast = (score - all_of_them)[branch, parent], cast[parent]
        shift, added, way = moved[branch, parent], spread[branch, parent], branches.direction[branch]
        vague, pace = blur[branch, parent], pace[parent]
        mean, variance = mean[parent] + shift[:, None] * way, variance[parent]
        variance = variance + added[:, None, None] * (way[:, :, None] * way[:, None, :])
        variance += vague[:, None, None] * np.outer(branches.blurred, branches.blurred)
        if read[t]:
            seen = seen[parent] + (added * along[branch])[:, None] * way + (vague * blurs)[:, None] * branches.blurred
            gain = seen / total[branch, parent][:, None]
            told = gain[:, :, None] * seen[:, None, :]
            told[:, process.considered, process.considered] = 0.0
            gain[:, process.considered] = 0.0
            mean = mean + gain * surprise[branch, parent][:, None]
            variance -= told
        happened = branches.kind[branch] > 0
        mark, since = mark[parent], np.where(happened, process.times[t], since[parent])
        mark = np.where(happened, mark * 1000003 + 64 * t + branches.kind[branch], mark)
        changed = np.where(branches.direction[branch, process.rate] != 0.0, process.times[t], changed[parent])
        mark = np.where(since < process.times[t] - REMEMBERED, 0, mark)
        if len(weight) > MOST_STORIES // 2:
            sames = _sames(mean, variance, cast, mark, process.rate + 1)
            own, weight, mean, variance = _merged(sames, weight, mean, variance)
            own = own[:MOST_STORIES]
            weight, mean, variance = weight[: len(own)], mean[: len(own)], variance[: len(own)]
            parent, branch, shift, added = parent[own], branch[own], shift[own], added[own]
            cast, mark, since, changed = cast[own], mark[own], since[own], changed[own]
            vague, pace = vague[own], pace[own]
        turns.append(_Turn(parent, branch, shift, added, vague, pace))
        after.append((weight, mean, variance, cast))
    told = tuple(_posterior(*each).heaviest(KEPT) for each in after)
    return Followed(process, _posterior(*after[-1]), told, tuple(turns), likelihood)


def _posterior(weight: Array, mean: Array, variance: Array, candidate: Ints) -> Posterior:
    order = np.argsort(-weight, kind="stable")
    found = np.exp(weight[order] - weight[order[0]])
    return Posterior(found / found.sum(), mean[order], variance[order], candidate[order])


def _log_sum(logs: Array) -> float:
    most = logs.max()
    return float(most + np.log(np.exp(logs - most).sum()))


def _heaviest(score: Array, cast: Ints, most: int) -> Ints:
    """The places (in the flat score) of the stories to tell on, the heaviest first."""
    flat = score.ravel()
    kept = np.flatnonzero(flat > flat.max() + LEAST_LOG_WEIGHT)
    kept = kept[np.argsort(-flat[kept], kind="stable")]
    if len(kept) <= most:
        return kept
    # The best story of every candidate noise lives on as well: what it is good for may be yet to come.
    candidate = cast[kept % score.shape[1]]
    _, best = np.unique(candidate, return_index=True)
    return kept[np.union1d(np.arange(most), best)]


def _sames(mean: Array, variance: Array, cast: Ints, mark: NDArray[np.int64], levels: int) -> Ints:
    """For each story the first one that says the same (itself, where none before it does)."""
    spread = np.einsum("hii->hi", variance)[:, :levels]
    alike = (cast[:, None] == cast) & (mark[:, None] == mark)
    first, second = np.nonzero(np.triu(alike, 1))
    apart = np.sum((mean[first, :levels] - mean[second, :levels]) ** 2 / spread[first], axis=1)
    ratio = spread[first] / spread[second]
    near = (apart < SAME_WITHIN) & np.all((ratio < SAME_WIDTH) & (ratio > 1.0 / SAME_WIDTH), axis=1)
    found = np.arange(len(cast))
    np.minimum.at(found, second[near], first[near])
    # One that joins a story which itself joins another goes there too, or else stays by itself.
    return np.where(found[found] == found, found, np.arange(len(cast)))


def _merged(sames: Ints, weight: Array, mean: Array, variance: Array) -> tuple[Ints, Array, Array, Array]:
    """The stories left, each with the weight, mean and variance of all that joined it; the heaviest first."""
    own = np.flatnonzero(sames == np.arange(len(sames)))
    if len(own) == len(sames):
        return own, weight, mean, variance
    place = np.searchsorted(own, sames)
    share = np.exp(weight - weight.max())
    whole = np.zeros(len(own))
    np.add.at(whole, place, share)
    middle = np.zeros((len(own), mean.shape[1]))
    np.add.at(middle, place, share[:, None] * mean)
    middle /= whole[:, None]
    apart = mean - middle[place]
    spread = np.zeros((len(own), *variance.shape[1:]))
    np.add.at(spread, place, share[:, None, None] * (variance + apart[:, :, None] * apart[:, None, :]))
    spread /= whole[:, None, None]
    logs = np.log(whole) + weight.max()
    order = np.argsort(-logs, kind="stable")
    return own[order], logs[order], middle[order], spread[order]
