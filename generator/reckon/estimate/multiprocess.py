"""The shapes of a multi-process model: what may happen, what is followed, and what is left of all stories.

Source: Harrison & Stevens 1976, J. R. Stat. Soc. B 38:205-247; West & Harrison 1997, Bayesian Forecasting
and Dynamic Models, 2nd ed., ch. 12 (both from memory).
"""

from collections.abc import Sequence
from functools import cached_property
from math import sqrt
from typing import NamedTuple

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from generator.reckon.estimate.kalman import Happened, Model, Smoothed, smooth
from generator.reckon.estimate.uncertainty import Array, Ints, Mixture

# The past is told by so many of the heaviest stories.
TOLD = 12


class Branches(Struct, frozen=True):
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


class Process(Struct, frozen=True, dict=True):
    """What is followed: the model of the state, and at each moment the branches (None: nothing can happen).

    `q2`, `r2` and `log_prior` (G,) are candidate noises as in `kalman`, a story each to begin with. `rate` is the
    state that counts as a story's own rate, which for this is taken between `least` and `most`: steps, and what the
    model's `drift` says for a rate of `scale`, go by it. Readings do not teach the states in `considered`, whose
    uncertainty is only carried along (Schmidt 1966, Adv. Control Syst. 3:293-340: from memory). Two stories say
    the same only where they do so of the states `telling`. Whether anything moved each of the states `apart`, which
    stand still until then, tells stories of another sort: the best of every sort live on. A rate that changed by
    a share of itself since the reading before counts for the value only `fresh` times as much as for its interval.
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
    telling: Ints
    apart: Ints
    fresh: float = 1.0

    def counted(self, rate: Array) -> Array:
        """What the rate of each story (…) counts for: it is taken between `least` and `most`."""
        return np.minimum(np.maximum(np.abs(rate), self.least), self.most)

    def pace(self, rate: Array) -> Array:
        """By how much more its noise moves each story (…) than the drift says: a rate drifts by a share of itself."""
        return (self.counted(rate) / self.scale) ** 2


class Posterior(Struct, frozen=True):
    """H stories after a moment, the heaviest first: weights (H,), mean (H, n), variance (H, n, n), candidate (H,).

    `believed` (H,) are the weights for the middle of what they tell.
    """

    weights: Array
    mean: Array
    variance: Array
    candidate: Ints
    believed: Array

    def of(self, combination: Array, least: float = -np.inf) -> Mixture:
        """The distribution of a linear combination (n,) of the state."""
        spread = np.einsum("i,hij,j->h", combination, self.variance, combination)
        return Mixture(self.weights, self.mean @ combination, np.sqrt(np.maximum(spread, 1e-18)), least, self.believed)

    def moments(self) -> tuple[Array, Array]:
        """Mean (n,) and variance (n, n) over all stories."""
        middle = self.weights @ self.mean
        apart = self.mean - middle
        spread = self.variance + apart[:, :, None] * apart[:, None, :]
        return middle, np.tensordot(self.weights, spread, 1)

    def heaviest(self, most: int) -> "Posterior":
        """The heaviest of the stories alone."""
        weights, believed = self.weights[:most], self.believed[:most]
        return Posterior(
            weights / weights.sum(),
            self.mean[:most],
            self.variance[:most],
            self.candidate[:most],
            believed / believed.sum(),
        )


class Joined(NamedTuple):
    """M stories of a moment before those that say the same were made one.

    For each its parent's place, its branch, the place of the story it went into, and its share of that one's weight.
    """

    parent: Ints
    branch: Ints
    into: Ints
    share: Array


class Turn(Struct, frozen=True):
    """What became of the stories at a moment: for each its parent's place, its branch, and what that added.

    `pace` is by how much more its noise moved it on the way there than the model's drift says. A story that several
    went into (`joined`; None: no moment to join any) goes on with the past of the heaviest.
    """

    parent: Ints
    branch: Ints
    mean: Array
    variance: Array
    blur: Array
    pace: Array
    joined: Joined | None = None


PARTS = ("parent", "branch", "mean", "variance", "blur", "pace")


class Followed(Struct, frozen=True, dict=True):
    """The stories forward through all moments: those after the last, a few after each, and where they came from.

    `log_likelihood` is that of all readings, over all stories.
    """

    process: Process
    last: Posterior
    after: tuple[Posterior, ...]
    turns: tuple[Turn, ...]
    log_likelihood: float

    @cached_property
    def histories(self) -> Turn:
        """Each last story's past, as in `turns` but (T, H), from the heaviest on."""
        shape = (len(self.turns), len(self.last.weights))
        places, sizes = np.zeros((2, *shape), dtype=np.intp), np.zeros((4, *shape))
        past = Turn(places[0], places[1], sizes[0], sizes[1], sizes[2], sizes[3])
        place = np.arange(shape[1])
        for t in range(shape[0] - 1, -1, -1):
            turn = self.turns[t]
            for name in PARTS:
                getattr(past, name)[t] = getattr(turn, name)[place]
            place = turn.parent[place]
        return past

    @cached_property
    def kinds(self) -> Ints:
        """The kind of event at each moment in the past of each last story (T, H); 0 means none."""
        found = np.zeros_like(self.histories.branch)
        for t, branches in enumerate(self.process.branches):
            if branches is not None:
                found[t] = branches.kind[self.histories.branch[t]]
        return found

    def odds(self, kind: int) -> Array:
        """The probability of a kind of event at each moment (T,), by all readings."""
        pairs = zip(self.process.branches, self._chances, strict=True)
        return np.array(
            [0.0 if branches is None else chances[branches.kind == kind].sum() for branches, chances in pairs]
        )

    @cached_property
    def _chances(self) -> list[Array]:
        """The probability of each branch of each moment.

        The weights of the stories left are handed back to all that went into them. By the past of the heaviest of
        these alone, what is a little less likely than not would count as nothing.
        """
        found: list[Array] = []
        weights = self.last.weights
        for t in range(len(self.turns) - 1, -1, -1):
            turn, branches = self.turns[t], self.process.branches[t]
            parent, branch = turn.parent, turn.branch
            if turn.joined is not None:
                parent, branch, into, share = turn.joined
                weights = weights[into] * share
            found.append(np.asarray(np.bincount(branch, weights, 1 if branches is None else len(branches.kind)), float))
            weights = np.asarray(np.bincount(parent, weights, len(self.turns[t - 1].parent)), float)
        return found[::-1]

    @cached_property
    def weights(self) -> Array:
        """Of the heaviest stories, by which the past is told (G,)."""
        weights = self.last.weights[:TOLD]
        return np.asarray(weights / weights.sum())

    @cached_property
    def smoothed(self) -> Smoothed:
        """The past under each of the heaviest stories, all readings counted, what is `considered` as it began.

        After the stories comes the heaviest again for each state considered, that being off by its standard deviation.
        """
        model, factors, stories = self.process.model, self.process.considered, len(self.weights)
        places = np.append(np.arange(stories), np.zeros(factors.stop - factors.start, dtype=np.intp))
        candidate = self.last.candidate[places]
        start, spread = np.repeat(model.start[:, None], len(places), axis=1), model.spread.copy()
        for column, place in enumerate(range(factors.start, factors.stop), start=stories):
            start[place, column] = sqrt(spread[place, place])
        spread[factors, factors] = 0.0
        q2, r2 = self.process.q2[candidate], self.process.r2[candidate]
        return smooth(replace(model, spread=spread), q2, r2, self._happened_to(places), start)

    @cached_property
    def happened(self) -> Happened:
        """What happened in each of the heaviest stories."""
        return self._happened_to(np.arange(len(self.weights)))

    def _happened_to(self, places: Ints) -> Happened:
        past = self.histories
        branch = past.branch[:, places]
        moved, widened = {}, np.zeros(branch.shape)
        for t, branches in enumerate(self.process.branches):
            if branches is not None and (branch[t].any() or branches.kind[0]):
                way, blurred = branches.direction[branch[t]].T, branches.blurred[:, None]
                added = past.variance[t, places] * (way[:, None] * way)
                added += past.blur[t, places] * (blurred * branches.blurred)[:, :, None]
                moved[t] = (past.mean[t, places] * way, added)
                widened[t] = branches.widened[branch[t]]
        return Happened(moved, widened, past.pace[:, places])


class Cast(Struct, frozen=True):
    """H stories at a moment, the heaviest first: logarithm of the weight (H,), mean (n, H), variance (n, n, H).

    `mark` (H,) tells stories apart by what lately happened in them; `last` (3, H) is when something last did, when the
    rate last changed, and when it did by a share of itself. `sort` (H,) numbers its candidate noise with which of the
    states `apart` have moved.
    """

    weight: Array
    mean: Array
    variance: Array
    candidate: Ints
    mark: NDArray[np.int64]
    last: Array
    sort: Ints
