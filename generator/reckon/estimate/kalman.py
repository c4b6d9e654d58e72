"""Linear Gaussian filtering and smoothing at irregular times, for several candidate noises at once.

State x (n numbers) moves by x <- F x + c + w and is read, one number at a time, as y = h.x + e.
Everything is carried for G candidates side by side: candidate g has moving noise
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
    """Mean (T, n) and variance (T, n, n) over candidates: what each says, and how far apart they are."""
    middle = np.einsum("g,tgi->ti", weights, mean)
    apart = mean - middle[:, None, :]
    return middle, np.einsum("g,tgij->tij", weights, variance + apart[..., :, None] * apart[..., None, :])


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
    def moving(self) -> tuple[Ints, ...]:
        """The states that may change into each moment."""
        moves = np.any(np.eye(self.F.shape[1]) != self.F, axis=2)
        return tuple(each.nonzero()[0] for each in moves)

    @cached_property
    def reach(self) -> int:
        """The number of states that drift: only the states before this index do."""
        drifts = np.any(self.drift != 0.0, axis=(0, 1)) | np.any(self.fixed != 0.0, axis=(0, 1))
        return int(np.flatnonzero(drifts).max(initial=-1)) + 1

    def moved(self, variance: Array, noise: Array, t: int) -> Array:
        """The variance (n, n, G) of states carried into a moment, `noise` (G,) the factor of the drift on the way."""
        variance, rows, reach = variance.copy(), self.moving[t], self.reach
        # F P F' where F is not the identity alone, P being its own transpose.
        if k := len(rows):
            (n, _, G), way = variance.shape, self.F[t, rows]
            half = (way @ variance.reshape(n, -1)).reshape(k, n, G)
            half[:, rows] = way @ half
            variance[rows] = half
            variance[:, rows] = half.transpose(1, 0, 2)
        variance[:reach, :reach] += noise * self.drift[t, :reach, :reach, None] + self.fixed[t, :reach, :reach, None]
        return variance

    def back(self, score: Array, precision: Array, t: int) -> tuple[Array, Array]:
        """What the readings after a moment tell of the state (G, n), (G, n, n), carried back before its move."""
        rows = self.moving[t]
        if not len(rows):
            return score, precision
        change = self.F[t, rows] - np.eye(self.F.shape[1])[rows]
        # F' P F = P + X + X', P being its own transpose.
        own = precision[:, rows]
        half = own + 0.5 * (own[:, :, rows].reshape(-1, len(rows)) @ change).reshape(own.shape)
        added = (half.transpose(0, 2, 1).reshape(-1, len(rows)) @ change).reshape(precision.shape)
        return score + score[:, rows] @ change, precision + added + added.transpose(0, 2, 1)


class Happened(Struct, frozen=True):
    """What happened in each candidate's own story: by moment what moved the state (G, n) and its variance (G, n, n).

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
    `shock` (T, G, n) and `shock_information` (T, G, n, n): score and information of a jump of the state on the
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
        seen = self.forward.spread[at] @ combination
        mean = self.forward.mean[at] @ combination + np.sum(seen * self.shock[at], axis=2)
        told = np.sum(seen * (self.shock_information[at] @ seen[..., None])[..., 0], axis=2)
        return mean, seen @ combination - told


class Filtered(Struct, frozen=True):
    """Per moment and candidate, from the readings up to it alone.

    `mean` (T, G, n) and `spread` (T, G, n, n) before the moment's own reading; `surprise`, `total`
    (T, G) and `gain` (T, G, n) are that reading's innovation, its variance, and its weight.
    """

    mean: Array
    spread: Array
    surprise: Array
    total: Array
    gain: Array

    def after(self, h: Array) -> tuple[Array, Array]:
        """Mean and variance with the moment's own reading, `h` (T, n) as in the model."""
        mean = self.mean + self.gain * self.surprise[..., None]
        seen = np.einsum("tgij,tj->tgi", self.spread, h)
        return mean, self.spread - self.gain[..., :, None] * seen[..., None, :]


def smooth(
    model: Model, q2: Array, r2: Array, happened: Happened | None = None, start: Array | None = None
) -> Smoothed:
    """Filter forward and smooth backward under each candidate (q2, r2: shape (G,); `start` of each: (G, n))."""
    T, n = model.c.shape
    G = len(q2)
    read = ~np.isnan(model.y)
    forward = filter_forward(model, q2, r2, happened, start)
    surprise, total, gain = forward.surprise, forward.total, forward.gain
    deletion = np.full((T, G), np.nan)
    deletion_variance = np.full((T, G), np.nan)
    scores = np.empty((T, G, n))
    precisions = np.empty((T, G, n, n))
    score = np.zeros((G, n))
    precision = np.zeros((G, n, n))
    for t in range(T - 1, -1, -1):
        if t < T - 1:
            score, precision = model.back(score, precision, t + 1)
        if read[t]:
            h, k = model.h[t], gain[t]
            share = surprise[t] / total[t]
            weighed = (precision @ k[:, :, None])[:, :, 0]
            weight = 1.0 / total[t] + np.sum(k * weighed, axis=1)
            news = share - np.sum(k * score, axis=1)
            deletion[t], deletion_variance[t] = news / weight, 1.0 / weight
            # (1 - k h')' P (1 - k h') + h h' / total, where h has few numbers that are not nought.
            score = score + h * news[:, None]
            precision = precision.copy()
            for place in np.flatnonzero(h):
                precision[:, place] -= h[place] * weighed
                precision[:, :, place] -= h[place] * weighed
                precision[:, place] += (h[place] * weight)[:, None] * h
        scores[t], precisions[t] = score, precision
    likelihood = -0.5 * np.sum((LOG_TWO_PI + np.log(total[read]) + surprise[read] ** 2 / total[read]), axis=0)
    return Smoothed(forward, likelihood, deletion, deletion_variance, scores, precisions)


def filter_forward(
    model: Model, q2: Array, r2: Array, happened: Happened | None = None, start: Array | None = None
) -> Filtered:
    """Filter under each candidate (q2, r2: shape (G,)), forward only."""
    read = ~np.isnan(model.y)
    noise = model.noise[:, None] * r2 + model.widened[:, None]
    if happened is not None:
        noise = noise + happened.widened
    T, n = model.c.shape
    G = len(q2)
    mean = np.empty((T, G, n))
    spread = np.empty((T, G, n, n))
    surprise = np.zeros((T, G))
    total = np.ones((T, G))
    gain = np.zeros((T, G, n))
    pace = np.tile(q2, (T, 1)) if happened is None else q2 * happened.pace
    a = np.broadcast_to(model.start if start is None else start, (G, n))
    P = np.broadcast_to(model.spread, (G, n, n))
    for t in range(T):
        a = a @ model.F[t].T + model.c[t]
        P = model.moved(P.transpose(1, 2, 0), pace[t], t).transpose(2, 0, 1)
        if happened is not None and t in happened.moved:
            a, P = a + happened.moved[t][0], P + happened.moved[t][1]
        mean[t], spread[t] = a, P
        if read[t]:
            h = model.h[t]
            Ph = P @ h
            surprise[t] = model.y[t] - a @ h
            total[t] = Ph @ h + noise[t]
            k = gain[t] = Ph / total[t][:, None]
            a = a + k * surprise[t][:, None]
            P = P - k[:, :, None] * Ph[:, None, :]
    return Filtered(mean, spread, surprise, total, gain)
