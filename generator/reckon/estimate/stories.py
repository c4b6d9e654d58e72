"""Several stories of one series, told side by side until the readings decide: a multi-process model.

At each moment every story may branch: nothing happens, the reading is wild, a state jumps. Each branch is
filtered by the reading; those that explain it best live on, and those that have come to say the same are
merged. Everything is carried for all stories at once.

Source: Harrison & Stevens 1976, J. R. Stat. Soc. B 38:205-247; West & Harrison 1997, Bayesian Forecasting
and Dynamic Models, 2nd ed., ch. 12 (both from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
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


_TURN = ("parent", "branch", "mean", "variance", "blur", "pace")


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
            for name in _TURN:
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
    G = len(process.q2)
    cast = _Cast(
        weight=process.log_prior - _log_sum(process.log_prior),
        mean=np.tile(process.model.start, (G, 1)),
        variance=np.tile(process.model.spread, (G, 1, 1)),
        candidate=np.arange(G),
        mark=np.zeros(G, dtype=np.int64),
        happened=np.full(G, -np.inf),
        changed=np.full(G, -np.inf),
    )
    likelihood, turns, after = 0.0, [], []
    for t, branches in enumerate(process.branches):
        cast, pace = _moved(process, cast, t)
        if branches is None:
            none = np.zeros(len(cast.weight))
            turns.append(_Turn(np.arange(len(none)), none.astype(np.intp), none, none, none, pace))
        else:
            cast, turn, explained = _branched(process, cast, branches, t, pace)
            if len(cast.weight) > MOST_STORIES // 2:
                cast, turn = _merged(cast, turn, process.rate + 1)
            turns.append(turn)
            likelihood += explained
        after.append(cast)
    told = tuple(_posterior(each).heaviest(KEPT) for each in after)
    return Followed(process, _posterior(after[-1]), told, tuple(turns), likelihood)


@dataclass(frozen=True, slots=True)
class _Cast:
    """The stories at a moment, the heaviest first.

    `weight` is its logarithm, `mark` tells stories apart by what lately happened in them, `happened` and `changed`
    are when something last did, and when the rate last changed.
    """

    weight: Array
    mean: Array
    variance: Array
    candidate: Ints
    mark: NDArray[np.int64]
    happened: Array
    changed: Array


def _moved(process: Process, cast: _Cast, t: int) -> tuple[_Cast, Array]:
    """The stories carried into a moment, and the pace of each on the way."""
    model, n = process.model, cast.mean.shape[1]
    F = model.F[t]
    pace = (np.clip(np.abs(cast.mean[:, process.rate]), process.least, process.most) / process.scale) ** 2
    # F P F' as two plain products, P being its own transpose.
    half = (cast.variance.reshape(-1, n) @ F.T).reshape(-1, n, n).transpose(0, 2, 1)
    variance = (half.reshape(-1, n) @ F.T).reshape(-1, n, n)
    variance += (process.q2[cast.candidate] * pace)[:, None, None] * model.drift[t] + model.fixed[t]
    return replace(cast, mean=cast.mean @ F.T + model.c[t], variance=variance), pace


def _branched(process: Process, cast: _Cast, branches: Branches, t: int, pace: Array) -> tuple[_Cast, _Turn, float]:
    """The stories after a moment at which things may have happened, and its reading's log-likelihood over all."""
    model, now = process.model, process.times[t]
    rate = np.clip(np.abs(cast.mean[:, process.rate]), process.least, process.most)
    units = np.where(branches.by_rate[:, None], rate, 1.0)
    moved, spread = branches.mean[:, None] * units, (branches.spread[:, None] * units) ** 2
    blur = (branches.blur[:, None] * rate) ** 2
    lately = cast.changed > now - REMEMBERED
    score = cast.weight + branches.log_odds[:, None] + np.where(lately, branches.again[:, None], 0.0)
    read = not np.isnan(model.y[t])
    if read:
        h = model.h[t]
        seen, along, blurs = cast.variance @ h, branches.direction @ h, float(branches.blurred @ h)
        total = seen @ h + model.noise[t] * process.r2[cast.candidate]
        total = total + spread * along[:, None] ** 2 + blur * blurs**2 + branches.widened[:, None]
        surprise = model.y[t] - cast.mean @ h - moved * along[:, None]
        score = score - 0.5 * (np.log(2.0 * np.pi * total) + surprise**2 / total)
    explained = _log_sum(score)
    branch, parent = np.divmod(_heaviest(score - explained, cast.candidate, 2 * MOST_STORIES), len(cast.weight))
    shift, added, vague = moved[branch, parent], spread[branch, parent], blur[branch, parent]
    way = branches.direction[branch]
    mean = cast.mean[parent] + shift[:, None] * way
    variance = cast.variance[parent] + added[:, None, None] * (way[:, :, None] * way[:, None, :])
    variance += vague[:, None, None] * np.outer(branches.blurred, branches.blurred)
    if read:
        seen = seen[parent] + (added * along[branch])[:, None] * way + (vague * blurs)[:, None] * branches.blurred
        gain = seen / total[branch, parent][:, None]
        told = gain[:, :, None] * seen[:, None, :]
        told[:, process.considered, process.considered] = 0.0
        gain[:, process.considered] = 0.0
        mean = mean + gain * surprise[branch, parent][:, None]
        variance -= told
    kind, steps = branches.kind[branch], branches.direction[branch, process.rate] != 0.0
    happened = np.where(kind > 0, now, cast.happened[parent])
    mark = np.where(kind > 0, cast.mark[parent] * 1000003 + 64 * t + kind, cast.mark[parent])
    left = _Cast(
        weight=(score - explained)[branch, parent],
        mean=mean,
        variance=variance,
        candidate=cast.candidate[parent],
        mark=np.where(happened < now - REMEMBERED, 0, mark),
        happened=happened,
        changed=np.where(steps, now, cast.changed[parent]),
    )
    return left, _Turn(parent, branch, shift, added, vague, pace[parent]), explained


def _posterior(cast: _Cast) -> Posterior:
    order = np.argsort(-cast.weight, kind="stable")
    found = np.exp(cast.weight[order] - cast.weight[order[0]])
    return Posterior(found / found.sum(), cast.mean[order], cast.variance[order], cast.candidate[order])


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


def _sames(cast: _Cast, levels: int) -> Ints:
    """For each story the first one that says the same (itself, where none before it does)."""
    mean, spread = cast.mean[:, :levels], np.einsum("hii->hi", cast.variance)[:, :levels]
    alike = (cast.candidate[:, None] == cast.candidate) & (cast.mark[:, None] == cast.mark)
    first, second = np.nonzero(np.triu(alike, 1))
    apart = np.sum((mean[first] - mean[second]) ** 2 / spread[first], axis=1)
    ratio = spread[first] / spread[second]
    near = (apart < SAME_WITHIN) & np.all((ratio < SAME_WIDTH) & (ratio > 1.0 / SAME_WIDTH), axis=1)
    found = np.arange(len(mean))
    np.minimum.at(found, second[near], first[near])
    # One that joins a story which itself joins another stays by itself.
    return np.where(found[found] == found, found, np.arange(len(mean)))


def _merged(cast: _Cast, turn: _Turn, levels: int) -> tuple[_Cast, _Turn]:
    """The stories left, each with the weight, mean and variance of all that say the same; the heaviest alone."""
    sames = _sames(cast, levels)
    own = np.flatnonzero(sames == np.arange(len(sames)))
    place = np.searchsorted(own, sames)
    share = np.exp(cast.weight - cast.weight.max())
    whole = np.zeros(len(own))
    np.add.at(whole, place, share)
    mean = np.zeros((len(own), cast.mean.shape[1]))
    np.add.at(mean, place, share[:, None] * cast.mean)
    mean /= whole[:, None]
    apart = cast.mean - mean[place]
    variance = np.zeros((len(own), *cast.variance.shape[1:]))
    np.add.at(variance, place, share[:, None, None] * (cast.variance + apart[:, :, None] * apart[:, None, :]))
    variance /= whole[:, None, None]
    order = np.argsort(-whole, kind="stable")[:MOST_STORIES]
    kept = own[order]
    left = _Cast(
        weight=np.log(whole[order]) + cast.weight.max(),
        mean=mean[order],
        variance=variance[order],
        candidate=cast.candidate[kept],
        mark=cast.mark[kept],
        happened=cast.happened[kept],
        changed=cast.changed[kept],
    )
    return left, _Turn(*(getattr(turn, name)[kept] for name in _TURN))
