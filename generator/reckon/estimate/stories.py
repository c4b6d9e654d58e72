"""Several stories of one series, told side by side until the readings decide: a multi-process model.

At each moment every story may branch: nothing happens, the reading is wild, a state jumps. Each branch is
filtered by the reading; those that explain it best live on, and those that have come to say the same are
merged. Everything is carried for all stories at once.

In a process that lives on, a course that begins like one before goes on from where the two part (`KEPT_COURSES`). What
is followed is the same to the last bit: a reading added at the end of a long log takes the time of that reading alone.

Source: Harrison & Stevens 1976, J. R. Stat. Soc. B 38:205-247; West & Harrison 1997, Bayesian Forecasting
and Dynamic Models, 2nd ed., ch. 12 (both from memory).
"""

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from generator.reckon.estimate.multiprocess import PARTS, Branches, Cast, Followed, Joined, Posterior, Process, Turn
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


def follow(process: Process) -> Followed:
    """Tell all stories forward from the first moment to the last."""
    T = len(process.branches)
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
        if not np.isnan(process.model.y[t]):
            read = process.times[t]
        fresh = np.where(cast.stepped > read - STEPPED_WITHIN, process.fresh, 1.0)
        after.append(_posterior(cast, fresh, KEPT))
    found = Followed(process, _posterior(cast, fresh), tuple(after), tuple(turns), likelihood)
    KEPT_COURSES.add(found, checkpoints)
    return found


def _begin(process: Process) -> Cast:
    """The stories before the first moment: one of each candidate noise."""
    candidate = np.argsort(-process.log_prior, kind="stable")
    G = len(candidate)
    never = np.full(G, -np.inf)
    return Cast(
        weight=process.log_prior[candidate] - _log_sum(process.log_prior),
        mean=np.tile(process.model.start, (G, 1)),
        variance=np.tile(process.model.spread, (G, 1, 1)),
        candidate=candidate,
        mark=np.zeros(G, dtype=np.int64),
        happened=never,
        changed=never,
        stepped=never,
    )


def _moved(process: Process, cast: Cast, t: int) -> tuple[Cast, Array]:
    """The stories carried into a moment, and the pace of each on the way."""
    model, pace = process.model, process.pace(cast.mean)
    mean = cast.mean @ model.F[t].T + model.c[t]
    variance = model.moved(cast.variance, process.q2[cast.candidate] * pace, t)
    return replace(cast, mean=mean, variance=variance), pace


def _branched(process: Process, cast: Cast, branches: Branches, t: int, pace: Array) -> tuple[Cast, Turn, float]:
    """The stories after a moment at which things may have happened, and its reading's log-likelihood over all."""
    model, now = process.model, process.times[t]
    rate = np.minimum(np.maximum(np.abs(cast.mean[:, process.rate]), process.least), process.most)
    units = np.where(branches.by_rate[:, None], rate, 1.0)
    moved, spread = branches.mean[:, None] * units, (branches.spread[:, None] * units) ** 2
    blur = (branches.blur[:, None] * rate) ** 2
    score = cast.weight + branches.log_odds[:, None]
    lately = cast.changed > now - REMEMBERED
    if lately.any():
        score += np.where(lately, branches.again[:, None], 0.0)
    read = not np.isnan(model.y[t])
    if read:
        h = model.h[t]
        seen, along, blurs = cast.variance @ h, branches.direction @ h, float(branches.blurred @ h)
        total = seen @ h + model.noise[t] * process.r2[cast.candidate]
        total = total + spread * along[:, None] ** 2 + blur * blurs**2 + branches.widened[:, None]
        surprise = model.y[t] - cast.mean @ h - moved * along[:, None]
        score -= 0.5 * (np.log(2.0 * np.pi * total) + surprise**2 / total)
    explained = _log_sum(score)
    score -= explained
    begun = branches.direction[:, process.apart] != 0.0
    told = _heaviest(score, _sorts(cast, process, begun), 2 * MOST_STORIES)
    branch, parent = np.divmod(told, len(cast.weight))
    shift, added, vague = moved.ravel()[told], spread.ravel()[told], blur.ravel()[told]
    way = branches.direction[branch]
    mean = cast.mean[parent] + shift[:, None] * way
    variance = cast.variance[parent]
    # What may have happened moves few of the states.
    states = np.flatnonzero(branches.direction.any(axis=0) | (branches.blurred != 0.0))
    ways, blurred = way[:, states], branches.blurred[states]
    variance[:, states[:, None], states] += added[:, None, None] * (ways[:, :, None] * ways[:, None, :]) + vague[
        :, None, None
    ] * (blurred[:, None] * blurred)
    if read:
        seen = seen[parent] + (added * along[branch])[:, None] * way + (vague * blurs)[:, None] * branches.blurred
        gain = seen / total.ravel()[told][:, None]
        learned = gain[:, :, None] * seen[:, None, :]
        learned[:, process.considered, process.considered] = 0.0
        gain[:, process.considered] = 0.0
        mean += gain * surprise.ravel()[told][:, None]
        variance -= learned
    kind, steps = branches.kind[branch], branches.direction[branch, process.rate] != 0.0
    happened = np.where(kind > 0, now, cast.happened[parent])
    mark = np.where(kind > 0, cast.mark[parent] * 1000003 + 64 * t + kind, cast.mark[parent])
    left = Cast(
        weight=score.ravel()[told],
        mean=mean,
        variance=variance,
        candidate=cast.candidate[parent],
        mark=np.where(happened < now - REMEMBERED, 0, mark),
        happened=happened,
        changed=np.where(steps, now, cast.changed[parent]),
        stepped=np.where(branches.by_rate[branch], now, cast.stepped[parent]),
    )
    return left, Turn(parent, branch, shift, added, vague, pace[parent]), explained


def _posterior(cast: Cast, fresh: Array, most: int | None = None) -> Posterior:
    """The stories, or the heaviest of them alone; each counts for the middle so many times as much."""
    found = np.exp(cast.weight[:most] - cast.weight[0])
    believed = found * fresh[:most]
    # Copies, so that nothing is kept of the stories that are not told.
    mean, variance, candidate = cast.mean[:most].copy(), cast.variance[:most].copy(), cast.candidate[:most].copy()
    return Posterior(found / found.sum(), mean, variance, candidate, believed / believed.sum())


def _log_sum(logs: Array) -> float:
    most = logs.max()
    return float(most + np.log(np.exp(logs - most).sum()))


def _sorts(cast: Cast, process: Process, begun: NDArray[np.bool_] | None = None) -> Ints:
    """A number (H,) for each candidate noise with each of the states `apart` that moved.

    With `begun` (B, states), by which branch begins to move it: a number for each branch and story (B * H,).
    """
    if not len(process.apart):
        return cast.candidate if begun is None else np.tile(cast.candidate, len(begun))
    moved = _as_number(cast.variance[:, process.apart, process.apart] > 0.0)
    if begun is not None:
        moved = moved | _as_number(begun)[:, None]
    return np.asarray(cast.candidate + len(process.q2) * moved).ravel()


def _as_number(marked: NDArray[np.bool_]) -> Ints:
    """A number for each row (R, k) by what is marked in it."""
    return np.asarray(marked.astype(np.float64) @ 2.0 ** np.arange(marked.shape[1]), dtype=np.intp)


def _heaviest(score: Array, sort: Ints, most: int) -> Ints:
    """The places (in the flat score) of the stories to tell on, the heaviest first."""
    flat = score.ravel()
    kept = np.flatnonzero(flat > flat.max() + LEAST_LOG_WEIGHT)
    kept = kept[np.argsort(-flat[kept], kind="stable")]
    return kept if len(kept) <= most else kept[_most(sort[kept], most)]


def _most(sort: Ints, most: int) -> Ints:
    """The first so many places, and the first of every sort as well, since later readings may favour that sort."""
    best = np.zeros(sort.max() + 1, dtype=np.intp)
    places = np.arange(len(sort))
    # Of several that are written to one place the last one stays: from the lightest on, that is the heaviest.
    best[sort[::-1]] = places[::-1]
    live = places < most
    live[best] = True
    return np.flatnonzero(live)


def _sames(cast: Cast, telling: Ints) -> Ints:
    """For each story the first one that says the same (itself, where none before it does)."""
    mean, own = cast.mean[:, telling], np.arange(len(cast.mean))
    spread = np.maximum(cast.variance[:, telling, telling], NO_SPREAD)
    kind = 8 * cast.mark + cast.candidate
    first, second = np.divmod(np.flatnonzero(kind[:, None] == kind), len(own))
    earlier = first < second
    first, second = first[earlier], second[earlier]
    apart = mean[first] - mean[second]
    near = np.flatnonzero(np.einsum("pi,pi,pi->p", apart, apart, 1.0 / spread[first]) < SAME_WITHIN)
    first, second = first[near], second[near]
    ratio = spread[first] / spread[second]
    near = np.all((ratio < SAME_WIDTH) & (ratio > 1.0 / SAME_WIDTH), axis=1)
    found = own.copy()
    np.minimum.at(found, second[near], first[near])
    # One that joins a story which itself joins another stays by itself.
    return np.where(found[found] == found, found, own)


def _merged(cast: Cast, turn: Turn, process: Process) -> tuple[Cast, Turn]:
    """The stories left, each with the weight, mean and variance of all that say the same; the heaviest alone."""
    sames, mean, variance = _sames(cast, process.telling), cast.mean, cast.variance
    alone = sames == np.arange(len(sames))
    weight = np.exp(cast.weight - cast.weight.max())
    whole = np.bincount(sames, weight, len(sames))
    if not alone.all():
        several = np.zeros(len(sames), dtype=np.bool_)
        several[sames[~alone]] = True
        firsts, members = np.flatnonzero(several), np.flatnonzero(several[sames])
        of = np.searchsorted(firsts, sames[members])
        shares = np.where(of == np.arange(len(firsts))[:, None], weight[members], 0.0) / whole[firsts][:, None]
        middle = shares @ mean[members]
        apart = mean[members] - middle[of]
        spread = variance[members] + apart[:, :, None] * apart[:, None, :]
        mean, variance = mean.copy(), variance.copy()
        mean[firsts] = middle
        variance[firsts] = (shares @ spread.reshape(len(members), -1)).reshape(len(firsts), *spread.shape[1:])
    order = np.argsort(-whole, kind="stable")
    order = order[alone[order]]
    kept = order[_most(_sorts(cast, process)[order], MOST_STORIES)]
    left = Cast(
        weight=np.log(whole[kept]) + cast.weight.max(),
        mean=mean[kept],
        variance=variance[kept],
        candidate=cast.candidate[kept],
        mark=cast.mark[kept],
        happened=cast.happened[kept],
        changed=cast.changed[kept],
        stepped=cast.stepped[kept],
    )
    place = np.full(len(sames), -1)
    place[kept] = np.arange(len(kept))
    into = place[sames]
    told = np.flatnonzero(into >= 0)
    joined = Joined(turn.parent[told], turn.branch[told], into[told], (weight / whole[sames])[told])
    return left, replace(Turn(*(getattr(turn, name)[kept] for name in PARTS)), joined=joined)


# Stories are kept of every so many moments, and of so many before the end.
EVERY, LAST = 24, 24
_OF_MODEL = ("F", "c", "drift", "fixed", "h", "y", "noise")
_WHOLE = ("q2", "r2", "log_prior", "rate", "least", "most", "scale", "considered", "telling", "apart", "fresh")
_OF_BRANCHES = Branches.__struct_fields__


class Checkpoint(Struct, frozen=True):
    """The stories before a moment, by its place; the log-likelihood up to there, and when something was read last."""

    place: int
    cast: Cast
    likelihood: float
    read: float


class KeptCourses:
    """What was followed last, up to so many courses: none, unless a process asks for it."""

    def __init__(self) -> None:
        self._most = 0
        self._kept: list[tuple[Followed, list[Checkpoint]]] = []

    def keep(self, most: int) -> None:
        """Keep so many courses from now on, and forget what was kept."""
        self._most, self._kept = most, []

    def places(self, count: int) -> frozenset[int]:
        """The places, of so many moments, whose stories are to be kept."""
        return frozenset([*range(0, count, EVERY), *range(max(count - LAST, 0), count)] if self._most else ())

    def add(self, followed: Followed, checkpoints: list[Checkpoint]) -> None:
        """Keep what was followed, in place of the course that it went on from."""
        if self._most:
            first = checkpoints[0]
            others = [each for each in self._kept if each[1][0] is not first]
            self._kept = [(followed, checkpoints), *others[: self._most - 1]]

    def begun(self, process: Process) -> tuple[Followed, list[Checkpoint]] | None:
        """What was followed of the course that is longest like this one, with its checkpoints up to where they part."""
        best = None
        for followed, checkpoints in self._kept:
            alike = min(_alike(followed.process, process), len(process.times) - 1)
            before = [each for each in checkpoints if each.place <= alike]
            if before and (best is None or before[-1].place > best[1][-1].place):
                best = followed, before
        return best


def _alike(one: Process, other: Process) -> int:
    """At how many moments, from the first on, two courses are the same; -1 where they do not even begin alike."""
    if one.model.F.shape[1:] != other.model.F.shape[1:] or one.model.reach != other.model.reach:
        return -1
    begins = ((getattr(one.model, name), getattr(other.model, name)) for name in ("start", "spread"))
    wholes = ((getattr(one, name), getattr(other, name)) for name in _WHOLE)
    if not all(np.array_equal(*pair) for pair in (*begins, *wholes)):
        return -1
    parts: list[tuple[Array, Array]] = [(one.times, other.times)]
    parts += [(getattr(one.model, name), getattr(other.model, name)) for name in _OF_MODEL]
    count = min(len(one.times), len(other.times))
    same = np.ones(count, dtype=np.bool_)
    for mine, theirs in parts:
        equal = (mine[:count] == theirs[:count]) | (np.isnan(mine[:count]) & np.isnan(theirs[:count]))
        same &= equal.reshape(count, -1).all(axis=1)
    until = int(np.argmin(same)) if not same.all() else count
    return next((t for t in range(until) if not _same(one.branches[t], other.branches[t])), until)


def _same(one: Branches | None, other: Branches | None) -> bool:
    if one is None or other is None:
        return one is other
    return all(np.array_equal(getattr(one, name), getattr(other, name)) for name in _OF_BRANCHES)


KEPT_COURSES = KeptCourses()
