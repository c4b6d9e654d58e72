"""Linear Gaussian filtering and smoothing at irregular times, for several candidate noises at once.

State x (n numbers) moves by x <- F x + c + w and is read, one number at a time, as y = h.x + e.
Everything is carried for G candidates side by side, the last index: candidate g has moving noise
``drift * q2[g] + fixed`` and reading noise ``noise * r2[g] + widened``.

Source: Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4 (filter,
state smoothing without inverting the state's variance) and 7.5 (deletion and shock residuals, after
de Jong & Penzer 1998, JASA 93:796-806). The results are those of a Rauch-Tung-Striebel smoother.
"""

from collections.abc import Mapping
from functools import cached_property

import numpy as np
from msgspec import Struct

from generator.reckon.estimate.uncertainty import Array, Ints


class Candidates(Struct, frozen=True):
    """Noises to average over: variance factors of moving (q2) and reading (r2), and log prior weights, each (G,)."""

    q2: Array
    r2: Array
    log_prior: Array


def posterior_weights(log_likelihood: Array, candidates: Candidates) -> Array:
    """Each candidate's posterior weight (G,)."""
    log_posterior = log_likelihood + candidates.log_prior
    weight = np.exp(log_posterior - log_posterior.max())
    return np.asarray(weight / weight.sum())


def mixed(mean: Array, variance: Array, weights: Array) -> tuple[Array, Array]:
    """Mean (T, n) and variance (T, n, n) over candidates: what each says, and how far apart they are.

    Of `mean` (T, n, G) and `variance` (T, n, n, G).
    """
    middle = mean @ weights
    apart = mean - middle[:, :, None]
    return middle, (variance + apart[:, :, None] * apart[:, None]) @ weights


class Transition(Struct, frozen=True):
    """x <- F x + c + noise, where the noise's variance is ``drift * q2 + fixed``."""

    F: Array
    c: Array
    drift: Array
    fixed: Array

    def then(self, later: "Transition") -> "Transition":
        """This transition, and after it another."""
        F = later.F
        return Transition(
            F @ self.F, F @ self.c + later.c, F @ self.drift @ F.T + later.drift, F @ self.fixed @ F.T + later.fixed
        )


def stay(n: int) -> Transition:
    """The transition that changes nothing."""
    return Transition(np.eye(n), np.zeros(n), np.zeros((n, n)), np.zeros((n, n)))


LOG_TWO_PI = float(np.log(2.0 * np.pi))


class Model(Struct, frozen=True, dict=True):
    """T moments of n-number state: shapes F, drift, fixed (T, n, n); c, h (T, n); y, noise, widened (T,).

    `y` is NaN where nothing was read. `start` and `spread` are the mean (n) and variance (n, n)
    before the first move.
    """

    F: Array
    c: Array
    drift: Array
    fixed: Array
    h: Array
    y: Array
    noise: Array
    widened: Array
    start: Array
    spread: Array

    @cached_property
    def reads(self) -> tuple[bool, ...]:
        """Whether something is read at each moment."""
        return tuple((~np.isnan(self.y)).tolist())

    @cached_property
    def moves(self) -> tuple[bool, ...]:
        """Whether any state may change into each moment."""
        return tuple(np.any(np.eye(self.F.shape[1]) != self.F, axis=(1, 2)).tolist())

    @cached_property
    def reach(self) -> int:
        """The number of states that drift: only the states before this index do."""
        drifts = np.any(self.drift != 0.0, axis=(0, 1)) | np.any(self.fixed != 0.0, axis=(0, 1))
        return int(np.flatnonzero(drifts).max(initial=-1)) + 1

    def moved(self, variance: Array, noise: Array, t: int) -> Array:
        """The variance (n, n, G) of states carried into a moment, `noise` (G,) the factor of the drift on the way."""
        variance, reach = _both_sides(self.F[t], variance) if self.moves[t] else variance.copy(), self.reach
        variance[:reach, :reach] += noise * self.drift[t, :reach, :reach, None] + self.fixed[t, :reach, :reach, None]
        return variance

    def back(self, score: Array, precision: Array, t: int) -> tuple[Array, Array]:
        """What the readings after a moment tell of the state (n, G), (n, n, G), carried back before its move."""
        if not self.moves[t]:
            return score, precision
        return self.F[t].T @ score, _both_sides(self.F[t].T, precision)


def _both_sides(F: Array, P: Array) -> Array:
    """F P F' of each P (n, n, G), which is its own transpose."""
    return np.asarray(F @ (F @ P.reshape(len(F), -1)).reshape(P.shape))


class Happened(Struct, frozen=True):
    """What happened in each candidate's own story: by moment what moved the state (n, G) and its variance (n, n, G).

    `widened` (T, G) is variance added to the readings'; `pace` (T, G) multiplies the drift.
    """

    moved: Mapping[int, tuple[Array, Array]]
    widened: Array
    pace: Array


class Smoothed(Struct, frozen=True):
    """Per moment and candidate: what all readings tell of the state, and diagnostics.

    `log_likelihood` (G) leaves out the first `n` readings' share no more than any other: the start is
    proper, if wide. `deletion` and `deletion_variance` (T, G): the reading minus what all others led
    to expect, and its variance with the reading's own noise (NaN where nothing was read).
    `shock` (T, n, G) and `shock_information` (T, n, n, G): score and information of a jump of the state on the
    way into the moment; along one direction g of which nothing was known the jump's estimate is
    g.shock / g.information.g, with variance 1 / g.information.g.
    """

    forward: "Filtered"
    log_likelihood: Array
    deletion: Array
    deletion_variance: Array
    shock: Array
    shock_information: Array

    def along(self, combination: Array, at: Ints | slice = slice(None)) -> tuple[Array, Array]:
        """Mean and variance (T, G) of a linear combination (n,) of the state at some moments (or all)."""
        states = combination.nonzero()[0]
        counts = combination[states, None]
        seen = (self.forward.spread[at][:, states] * counts[:, None]).sum(axis=1)
        mean = (self.forward.mean[at][:, states] * counts).sum(axis=1) + (seen * self.shock[at]).sum(axis=1)
        told = np.einsum("tig,tijg,tjg->tg", seen, self.shock_information[at], seen)
        return mean, (seen[:, states] * counts).sum(axis=1) - told


class Filtered(Struct, frozen=True):
    """Per moment and candidate, from the readings up to it alone.

    `mean` (T, n, G) and `spread` (T, n, n, G) before the moment's own reading; `surprise`, `total`
    (T, G) and `gain` (T, n, G) are that reading's innovation, its variance, and its weight.
    """

    mean: Array
    spread: Array
    surprise: Array
    total: Array
    gain: Array

    def after(self, h: Array) -> tuple[Array, Array]:
        """Mean and variance with the moment's own reading, `h` (T, n) as in the model."""
        seen = (self.spread * h[:, :, None, None]).sum(axis=1)
        return self.mean + self.gain * self.surprise[:, None], self.spread - self.gain[:, :, None] * seen[:, None]


def smooth(
    model: Model, q2: Array, r2: Array, happened: Happened | None = None, start: Array | None = None
) -> Smoothed:
    """Filter forward and smooth backward under each candidate (q2, r2: shape (G,); `start` of each: (n, G))."""
    T, n = model.c.shape
    G = len(q2)
    forward = filter_forward(model, q2, r2, happened, start)
    deletion, deletion_variance = np.full((2, T, G), np.nan)
    scores, precisions = np.empty((T, n, G)), np.empty((T, n, n, G))
    score, precision = np.zeros((n, G)), np.zeros((n, n, G))
    for t in range(T - 1, -1, -1):
        if t < T - 1:
            score, precision = model.back(score, precision, t + 1)
        if model.reads[t]:
            h, k, total = model.h[t], forward.gain[t], forward.total[t]
            weighed = (precision * k).sum(axis=1)
            weight = 1.0 / total + (k * weighed).sum(axis=0)
            news = forward.surprise[t] / total - (k * score).sum(axis=0)
            deletion[t], deletion_variance[t] = news / weight, 1.0 / weight
            # (1 - k h')' P (1 - k h') + h h' / total, where h has few numbers that are not nought.
            score = score + h[:, None] * news
            for place in h.nonzero()[0]:
                precision[place] -= h[place] * weighed
                precision[:, place] -= h[place] * weighed
                precision[place] += h[:, None] * (h[place] * weight)
        scores[t], precisions[t] = score, precision
    total, surprise = forward.total[list(model.reads)], forward.surprise[list(model.reads)]
    likelihood = -0.5 * np.sum(LOG_TWO_PI + np.log(total) + surprise**2 / total, axis=0)
    return Smoothed(forward, likelihood, deletion, deletion_variance, scores, precisions)


def filter_forward(
    model: Model, q2: Array, r2: Array, happened: Happened | None = None, start: Array | None = None
) -> Filtered:
    """Filter under each candidate (q2, r2: shape (G,); `start` of each: (n, G)), forward only."""
    noise = model.noise[:, None] * r2 + model.widened[:, None]
    if happened is not None:
        noise = noise + happened.widened
    T, n = model.c.shape
    G = len(q2)
    mean, gain = np.empty((T, n, G)), np.zeros((T, n, G))
    spread = np.empty((T, n, n, G))
    surprise, total = np.zeros((T, G)), np.ones((T, G))
    pace = np.tile(q2, (T, 1)) if happened is None else q2 * happened.pace
    a = np.repeat(model.start[:, None], G, axis=1) if start is None else start
    P = np.repeat(model.spread[:, :, None], G, axis=2)
    for t in range(T):
        a = model.F[t] @ a + model.c[t][:, None]
        P = model.moved(P, pace[t], t)
        if happened is not None and t in happened.moved:
            a, P = a + happened.moved[t][0], P + happened.moved[t][1]
        mean[t], spread[t] = a, P
        if model.reads[t]:
            h = model.h[t]
            seen = (h @ P.reshape(n, -1)).reshape(n, G)
            surprise[t] = model.y[t] - h @ a
            total[t] = h @ seen + noise[t]
            gain[t] = seen / total[t]
            a = a + gain[t] * surprise[t]
            P -= gain[t][:, None] * seen
    return Filtered(mean, spread, surprise, total, gain)
