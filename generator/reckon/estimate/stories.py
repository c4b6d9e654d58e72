"""Several stories of one series, told side by side until the readings decide: a multi-process model.

At each moment every story may branch: nothing happens, the reading is wild, a state jumps. Each branch is
filtered by the reading; those that explain it best live on, and those that have come to say the same are
merged. Everything is carried for all stories at once.

In a process that lives on, a course that begins like one before goes on from where the two part (`KEPT_COURSES`).

Source: Harrison & Stevens 1976, J. R. Stat. Soc. B 38:205-247; West & Harrison 1997, Bayesian Forecasting
and Dynamic Models, 2nd ed., ch. 12 (both from memory).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from generator.reckon.estimate.kalman import LOG_TWO_PI
from generator.reckon.estimate.kept_courses import KEPT_COURSES, Checkpoint
from generator.reckon.estimate.multiprocess import Branches, Cast, Followed, Joined, Posterior, Process, Turn
from generator.reckon.estimate.uncertainty import Array, Ints

# A story e^-12 times as likely as the best is dropped, and at most so many are told at once.
LEAST_LOG_WEIGHT = -12.0
MOST_STORIES = 60
# Two stories of the same kind say the same where their states lie so near, in squared standard deviations, and
# are nearly as sure (ratio of variances).
SAME_WITHIN = 0.1
SAME_WIDTH = 1.3
# The variance of a state that is known.
NO_SPREAD = 1e-18
# What happened longer ago than so many days no longer keeps two stories apart.
REMEMBERED = 30.0
# A rate stepped since the reading before where it did in the so many days up to the last one.
STEPPED_WITHIN = 0.5
# So many of the heaviest stories are kept of every moment, to tell later what was predicted then.
KEPT = 12
# The rows of a cast's `last`.
HAPPENED, CHANGED, STEPPED = range(3)
HALF_LOG_TWO_PI = 0.5 * LOG_TWO_PI


def follow(process: Process) -> Followed:
    """Tell all stories forward from the first moment to the last."""
    T, reads = len(process.branches), process.model.reads
    turns: list[Turn] = []
    after: list[Posterior] = []
    checkpoints: list[Checkpoint] = []
    now, kept = Checkpoint(0, _begin(process), 0.0, -np.inf), KEPT_COURSES.places(T)
    if begun := KEPT_COURSES.begun(process):
        followed, checkpoints = begun
        now = checkpoints.pop()
        turns, after = list(followed.turns[: now.place]), list(followed.after[: now.place])
    cast, likelihood, read = now.cast, now.likelihood, now.read
    for t in range(now.place, T):
        if t in kept:
            checkpoints.append(Checkpoint(t, cast, likelihood, read))
        branches = process.branches[t]
        cast, pace = _moved(process, cast, t)
        if branches is None:
            none = np.zeros(len(cast.weight))
            turns.append(Turn(np.arange(len(none)), none.astype(np.intp), none, none, none, pace))
        else:
            cast, turn, explained = _branched(process, cast, branches, t, pace)
            if len(cast.weight) > MOST_STORIES // 2:
                cast, turn = _merged(cast, turn, process)
            turns.append(turn)
            likelihood += explained
        if reads[t]:
            read = process.times[t]
        after.append(_posterior(process, cast, read, KEPT))
    found = Followed(process, _posterior(process, cast, read), tuple(after), tuple(turns), likelihood)
    KEPT_COURSES.add(found, checkpoints)
    return found


def _begin(process: Process) -> Cast:
    """The stories before the first moment: one of each candidate noise."""
    candidate = np.argsort(-process.log_prior, kind="stable")
    G = len(candidate)
    return Cast(
        weight=process.log_prior[candidate] - _log_sum(process.log_prior),
        mean=np.repeat(process.model.start[:, None], G, axis=1),
        variance=np.repeat(process.model.spread[:, :, None], G, axis=2),
        candidate=candidate,
        mark=np.zeros(G, dtype=np.int64),
        last=np.full((3, G), -np.inf),
        sort=candidate,
    )


def _moved(process: Process, cast: Cast, t: int) -> tuple[Cast, Array]:
    """The stories carried into a moment, and the pace of each on the way."""
    model, pace = process.model, process.pace(cast.mean[process.rate])
    mean = model.F[t] @ cast.mean + model.c[t][:, None]
    variance = model.moved(cast.variance, process.q2[cast.candidate] * pace, t)
    return Cast(cast.weight, mean, variance, cast.candidate, cast.mark, cast.last, cast.sort), pace


def _branched(process: Process, cast: Cast, branches: Branches, t: int, pace: Array) -> tuple[Cast, Turn, float]:
    """The stories after a moment at which things may have happened, and its reading's log-likelihood over all."""
    model, now = process.model, process.times[t]
    rate = process.counted(cast.mean[process.rate])
    read = _read(process, cast, branches, t, rate) if model.reads[t] else None
    score = cast.weight + branches.log_odds[:, None]
    lately = cast.last[CHANGED] > now - REMEMBERED
    if lately.any():
        score += branches.again[:, None] * lately
    if read:
        score -= 0.5 * (np.log(read.total) + read.surprise**2 / read.total)
    explained = _log_sum(score)
    told, branch, parent, sort = _heaviest(process, cast, branches, score)
    unit = np.where(branches.by_rate[branch], rate[parent], 1.0)
    shift, added = branches.mean[branch] * unit, (branches.spread[branch] * unit) ** 2
    vague = (branches.blur[branch] * rate[parent]) ** 2
    way = branches.direction.T.take(branch, axis=1)
    mean, variance = cast.mean.take(parent, axis=1), cast.variance.take(parent, axis=2)
    mean += shift * way
    # What may have happened moves few of the states.
    states = (branches.direction.any(axis=0) | (branches.blurred != 0.0)).nonzero()[0]
    ways, blurred = way[states], branches.blurred[states, None]
    variance[states[:, None], states] += added * ways[:, None] * ways + vague * (blurred[:, None] * blurred)
    if read:
        seen = read.seen.take(parent, axis=1) + added * read.along[branch] * way
        seen += vague * read.blurred * branches.blurred[:, None]
        error = np.sqrt(read.total.take(told))
        seen /= error
        learned = seen[:, None] * seen
        learned[process.considered, process.considered] = 0.0
        variance -= learned
        seen[process.considered] = 0.0
        seen *= read.surprise.take(told) / error
        mean += seen
    marked = np.array([branches.kind > 0, branches.direction[:, process.rate] != 0.0, branches.by_rate])
    last = np.where(marked.take(branch, axis=1), now, cast.last.take(parent, axis=1))
    kind, mark = branches.kind[branch], cast.mark[parent]
    mark = np.where(kind > 0, mark * 1000003 + 64 * t + kind, mark)
    mark[last[HAPPENED] < now - REMEMBERED] = 0
    left = Cast(score.take(told) - explained, mean, variance, cast.candidate[parent], mark, last, sort)
    likelihood = explained - HALF_LOG_TWO_PI if read else explained
    return left, Turn(parent, branch, shift, added, vague, pace[parent]), likelihood


class _Read(NamedTuple):
    """What a reading says of each story (H) by each branch (B).

    `seen` (n, H) is the covariance of the state with it, `along` (B,) and `blurred` how one unit of each branch and of
    its blur moves it; `surprise` and `total` (B, H) are its innovation and the variance of that.
    """

    seen: Array
    along: Array
    blurred: float
    surprise: Array
    total: Array


def _read(process: Process, cast: Cast, branches: Branches, t: int, rate: Array) -> _Read:
    model, h = process.model, process.model.h[t]
    seen = (h @ cast.variance.reshape(len(h), -1)).reshape(cast.mean.shape)
    along, blurred = branches.direction @ h, float(branches.blurred @ h)
    by_rate, spread = branches.by_rate, (branches.spread * along) ** 2
    of_rate = np.where(by_rate, spread, 0.0) + (branches.blur * blurred) ** 2
    total = h @ seen + model.noise[t] * process.r2[cast.candidate]
    total = total + (branches.widened + np.where(by_rate, 0.0, spread))[:, None] + of_rate[:, None] * rate**2
    moved, surprise = branches.mean * along, model.y[t] - h @ cast.mean
    surprise = surprise - np.where(by_rate, 0.0, moved)[:, None] - np.where(by_rate, moved, 0.0)[:, None] * rate
    return _Read(seen, along, blurred, surprise, total)


def _posterior(process: Process, cast: Cast, read: float, most: int | None = None) -> Posterior:
    """The stories, or the heaviest of them alone; something was read last at a time."""
    found = np.exp(cast.weight[:most] - cast.weight[0])
    weights = believed = found / found.sum()
    stepped = cast.last[STEPPED, :most] > read - STEPPED_WITHIN
    if stepped.any():
        believed = np.where(stepped, process.fresh, 1.0) * found
        believed = believed / believed.sum()
    # Copies, so that nothing is kept of the stories that are not told.
    mean, variance = cast.mean[:, :most].T.copy(), cast.variance[:, :, :most].transpose(2, 0, 1).copy()
    return Posterior(weights, mean, variance, cast.candidate[:most].copy(), believed)


def _log_sum(logs: Array) -> float:
    most = logs.max()
    return float(most + np.log(np.exp(logs - most).sum()))


def _heaviest(process: Process, cast: Cast, branches: Branches, score: Array) -> tuple[Ints, Ints, Ints, Ints]:
    """The places (in the flat score) of the stories to tell on, the heaviest first; branch, parent and sort of each."""
    flat, H = score.ravel(), score.shape[1]
    told = (flat > flat.max() + LEAST_LOG_WEIGHT).nonzero()[0]
    told = told[(-flat[told]).argsort(kind="stable")]
    branch = told // H
    parent = told - H * branch
    sort, apart = cast.candidate[parent], process.apart
    if len(apart):
        moved = _as_number(cast.variance[apart, apart] > 0.0)[parent]
        sort += len(process.q2) * (moved | _as_number(branches.direction.T[apart] != 0.0)[branch])
    if len(told) > 2 * MOST_STORIES:
        most = _most(sort, 2 * MOST_STORIES)
        told, branch, parent, sort = told[most], branch[most], parent[most], sort[most]
    return told, branch, parent, sort


def _as_number(marked: NDArray[np.bool_]) -> Ints:
    """A number for each column (k, R) by what is marked in it."""
    return np.asarray(2 ** np.arange(len(marked)) @ marked)


def _most(sort: Ints, most: int) -> Ints:
    """The first so many places, and the first of every sort as well, since later readings may favour that sort."""
    best = np.zeros(sort.max() + 1, dtype=np.intp)
    places = np.arange(len(sort))
    # Of several that are written to one place the last one stays: from the lightest on, that is the heaviest.
    best[sort[::-1]] = places[::-1]
    live = places < most
    live[best] = True
    return live.nonzero()[0]


def _sames(cast: Cast, telling: Ints) -> Ints:
    """For each story the first one that says the same (itself, where none before it does)."""
    mean, own = cast.mean[telling], np.arange(len(cast.weight))
    spread = np.maximum(cast.variance[telling, telling], NO_SPREAD)
    kind = 8 * cast.mark + cast.candidate
    pairs = (kind[:, None] == kind).ravel().nonzero()[0]
    first = pairs // len(own)
    second = pairs - len(own) * first
    earlier = first < second
    first, second = first[earlier], second[earlier]
    apart, wide = mean.take(first, axis=1) - mean.take(second, axis=1), spread.take(first, axis=1)
    near = ((apart * apart / wide).sum(axis=0) < SAME_WITHIN).nonzero()[0]
    first, second = first[near], second[near]
    ratio = wide.take(near, axis=1) / spread.take(second, axis=1)
    near = ((ratio < SAME_WIDTH) & (ratio > 1.0 / SAME_WIDTH)).all(axis=0)
    found = own.copy()
    np.minimum.at(found, second[near], first[near])
    # One that joins a story which itself joins another stays by itself.
    return np.where(found[found] == found, found, own)


def _merged(cast: Cast, turn: Turn, process: Process) -> tuple[Cast, Turn]:
    """The stories left, each with the weight, mean and variance of all that say the same; the heaviest alone."""
    sames, mean, variance = _sames(cast, process.telling), cast.mean, cast.variance
    alone = sames == np.arange(len(sames))
    weight = np.exp(cast.weight - cast.weight[0])
    whole = np.bincount(sames, weight, len(sames))
    if not alone.all():
        several = np.zeros(len(sames), dtype=np.bool_)
        several[sames[~alone]] = True
        firsts, members = several.nonzero()[0], several[sames].nonzero()[0]
        of = firsts.searchsorted(sames[members])
        shares = np.where(of[:, None] == np.arange(len(firsts)), weight[members, None], 0.0) / whole[firsts]
        each = mean.take(members, axis=1)
        middle = each @ shares
        each -= middle.take(of, axis=1)
        spread = variance.take(members, axis=2)
        spread += each[:, None] * each
        mean[:, firsts] = middle
        variance[:, :, firsts] = spread @ shares
    kept = np.argsort(-whole, kind="stable")
    kept = kept[alone[kept]]
    if len(kept) > MOST_STORIES:
        kept = kept[_most(cast.sort[kept], MOST_STORIES)]
    left = Cast(
        weight=np.log(whole[kept]) + cast.weight[0],
        mean=mean.take(kept, axis=1),
        variance=variance.take(kept, axis=2),
        candidate=cast.candidate[kept],
        mark=cast.mark[kept],
        last=cast.last.take(kept, axis=1),
        sort=cast.sort[kept],
    )
    place = np.full(len(sames), -1)
    place[kept] = np.arange(len(kept))
    into = place[sames]
    told = (into >= 0).nonzero()[0]
    joined = Joined(turn.parent[told], turn.branch[told], into[told], (weight / whole[sames])[told])
    done = turn.mean[kept], turn.variance[kept], turn.blur[kept], turn.pace[kept]
    return left, Turn(turn.parent[kept], turn.branch[kept], *done, joined)
