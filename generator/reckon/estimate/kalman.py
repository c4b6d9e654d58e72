"""Linear Gaussian filtering and smoothing at irregular times, for several candidate noises at once.

State x (n numbers) moves by x <- F x + c + w and is read, one number at a time, as y = h.x + e.
Everything is carried for G candidates side by side: candidate g has moving noise
``drift * q2[g] + fixed`` and reading noise ``noise * r2[g] + widened``.

Source: Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4 (filter,
state smoothing without inverting the state's variance) and 7.5 (deletion and shock residuals, after
de Jong & Penzer 1998, JASA 93:796-806). The results are those of a Rauch-Tung-Striebel smoother.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from generator.reckon.estimate.uncertainty import Array


@dataclass(frozen=True, slots=True)
class Candidates:
    """Noises to average over: moving (q2) and reading (r2) variance factors, and log prior weight (G,)."""

    q2: Array
    r2: Array
    log_prior: Array


def posterior_weights(log_likelihood: Array, candidates: Candidates) -> Array:
    """Each candidate's weight once the readings have spoken (G,)."""
    log_posterior = log_likelihood + candidates.log_prior
    weight = np.exp(log_posterior - log_posterior.max())
    return np.asarray(weight / weight.sum())


def mixed(mean: Array, variance: Array, weights: Array) -> tuple[Array, Array]:
    """Mean (T, n) and variance (T, n, n) over candidates: what each says, and how far apart they are."""
    middle = np.einsum("g,tgi->ti", weights, mean)
    apart = mean - middle[:, None, :]
    return middle, np.einsum("g,tgij->tij", weights, variance + apart[..., :, None] * apart[..., None, :])


@dataclass(frozen=True, slots=True)
class Transition:
    """x <- F x + c + noise, where the noise's variance is ``drift * q2 + fixed``."""

    F: Array
    c: Array
    drift: Array
    fixed: Array

    def then(self, later: "Transition") -> "Transition":
        """This transition, and after it another."""
        F = later.F
        return Transition(
            F @ self.F,
            F @ self.c + later.c,
            F @ self.drift @ F.T + later.drift,
            F @ self.fixed @ F.T + later.fixed,
        )


def stay(n: int) -> Transition:
    """The transition that changes nothing."""
    return Transition(np.eye(n), np.zeros(n), np.zeros((n, n)), np.zeros((n, n)))


LOG_TWO_PI = float(np.log(2.0 * np.pi))


@dataclass(frozen=True, slots=True)
class Model:
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


@dataclass(frozen=True, slots=True)
class Happened:
    """What happened in each candidate's own story: by moment what moved the state (G, n) and its variance (G, n, n).

    `widened` (T, G) is variance added to the readings'; `pace` (T, G) multiplies the drift.
    """

    moved: Mapping[int, tuple[Array, Array]]
    widened: Array
    pace: Array


@dataclass(frozen=True, slots=True)
class Smoothed:
    """Per moment and candidate: smoothed mean (T, G, n) and variance (T, G, n, n), and diagnostics.

    `log_likelihood` (G) leaves out the first `n` readings' share no more than any other: the start is
    proper, if wide. `deletion` and `deletion_variance` (T, G): the reading minus what all others led
    to expect, and its variance with the reading's own noise (NaN where nothing was read).
    `shock` (T, G, n) and `shock_information` (T, G, n, n): score and information of a jump of the state on the
    way into the moment; along one direction g of which nothing was known the jump's estimate is
    g.shock / g.information.g, with variance 1 / g.information.g.
    """

    mean: Array
    variance: Array
    log_likelihood: Array
    deletion: Array
    deletion_variance: Array
    shock: Array
    shock_information: Array


@dataclass(frozen=True, slots=True)
class Filtered:
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
    spread, surprise, total, gain = forward.spread, forward.surprise, forward.total, forward.gain
    deletion = np.full((T, G), np.nan)
    deletion_variance = np.full((T, G), np.nan)
    scores = np.empty((T, G, n))
    precisions = np.empty((T, G, n, n))
    score = np.zeros((G, n))
    precision = np.zeros((G, n, n))
    whole = np.eye(n)
    for t in range(T - 1, -1, -1):
        if t < T - 1:
            F = model.F[t + 1]
            score = score @ F
            precision = F.T @ precision @ F
        if read[t]:
            h, k = model.h[t], gain[t]
            share = surprise[t] / total[t]
            weighed = (precision @ k[:, :, None])[:, :, 0]
            weight = 1.0 / total[t] + np.sum(k * weighed, axis=1)
            deletion[t] = (share - np.sum(k * score, axis=1)) / weight
            deletion_variance[t] = 1.0 / weight
            keep = whole - k[:, :, None] * h
            keep_t = keep.transpose(0, 2, 1)
            score = h * share[:, None] + (keep_t @ score[:, :, None])[:, :, 0]
            precision = h[:, None] * h / total[t][:, None, None] + keep_t @ precision @ keep
        scores[t], precisions[t] = score, precision
    mean = forward.mean + (spread @ scores[..., None])[..., 0]
    variance = spread - spread @ precisions @ spread
    likelihood = -0.5 * np.sum((LOG_TWO_PI + np.log(total[read]) + surprise[read] ** 2 / total[read]), axis=0)
    return Smoothed(mean, variance, likelihood, deletion, deletion_variance, scores, precisions)


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
        F = model.F[t]
        a = a @ F.T + model.c[t]
        P = F @ P @ F.T + model.drift[t] * pace[t][:, None, None] + model.fixed[t]
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
