"""Averaging over candidate noises, and finding the readings and jumps a model cannot explain."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from generator.reckon.estimate.kalman import Model, Smoothed, smooth

Array = NDArray[np.float64]

# A reading is doubtful beyond so many standard errors of what the others lead to expect: one in 80 by
# chance. A jump, looked for in every gap, must explain the readings so many times better than none; before
# the readings speak it may be as large as so many kit errors (one standard deviation).
DOUBTFUL = 2.5
JUMP_ODDS = 200.0
JUMP_SIZE = 10.0
# Readings so many apart no longer disturb each other's expectation, and can be judged in one pass.
APART = 20


@dataclass(frozen=True, slots=True)
class Candidates:
    """Noises to average over: moving (q2) and reading (r2) variance factors, and log prior weight (G,)."""

    q2: Array
    r2: Array
    log_prior: Array


@dataclass(frozen=True, slots=True)
class Jump:
    """A jump of the first state on the way into moment `index`: its size and standard error.

    `odds` says how many times better the readings are explained with it than without.
    """

    index: int
    size: float
    error: float
    odds: float

    @property
    def surprise(self) -> float:
        """Size in standard errors."""
        return self.size / self.error


@dataclass(frozen=True, slots=True)
class Averaged:
    """The state averaged over candidates: mean (T, n), variance (T, n, n), weights (G).

    `surprise` (T,) is each reading's distance from what all others led to expect, in standard errors
    (NaN where nothing was read or nothing else tells), `expected` and `expected_error` that
    expectation without the reading's own noise. `doubtful` marks readings whose noise was widened;
    `jumps` are level changes no input explains. `model` carries the widenings.
    """

    mean: Array
    variance: Array
    weights: Array
    surprise: Array
    expected: Array
    expected_error: Array
    doubtful: NDArray[np.bool_]
    jumps: tuple[Jump, ...]
    model: Model


def average(model: Model, candidates: Candidates, find_jumps: bool = True) -> Averaged:
    """Smooth under every candidate, widen what cannot be explained, and average by posterior weight.

    What cannot be explained is dealt with the most surprising first: a reading gets the noise that makes
    it one standard error off; a jump gets the variance that makes it no surprise. So a wild reading is
    kept, with the little weight it deserves. At most a quarter of the readings are widened: beyond that
    it is the model that is wrong, and the averages say so by their width.
    """
    doubtful = np.zeros(len(model.y), dtype=bool)
    jumps: list[Jump] = []
    first_surprise = np.full(len(model.y), np.nan)
    allowed = int(np.isfinite(model.y).sum()) // 4
    while True:
        smoothed = smooth(model, candidates.q2, candidates.r2)
        weights = posterior_weights(smoothed.log_likelihood, candidates)
        surprise, expected, error, reading_variance = _left_out(model, smoothed, weights, candidates)
        left = allowed - len(jumps) - int(doubtful.sum())
        if left <= 0:
            break
        distance = np.where(doubtful | np.isnan(surprise), 0.0, np.abs(surprise))
        odds = _jump_odds(model, smoothed, weights, jumps) if find_jumps else np.zeros((len(distance), 1))
        likely = odds.sum(axis=1) > JUMP_ODDS
        jump = _likeliest_jump(smoothed, odds) if likely.any() else None
        if jump is not None and abs(jump.surprise) > distance.max():
            jumps.append(jump)
            fixed = model.fixed.copy()
            fixed[jump.index, 0, 0] += jump.size**2
            model = replace(model, fixed=fixed)
            continue
        wild = _wild_readings(distance, likely)[:left]
        if not wild:
            break
        doubtful[wild] = True
        first_surprise[wild] = surprise[wild]
        widened = model.widened.copy()
        off = model.y[wild] - expected[wild]
        widened[wild] += np.maximum(off**2 - error[wild] ** 2 - reading_variance[wild], 0.0)
        model = replace(model, widened=widened)
    surprise = np.where(doubtful, first_surprise, surprise)
    mean, variance = mixed(smoothed.mean, smoothed.variance, weights)
    return Averaged(mean, variance, weights, surprise, expected, error, doubtful, tuple(jumps), model)


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


def _left_out(
    model: Model, smoothed: Smoothed, weights: Array, candidates: Candidates
) -> tuple[Array, Array, Array, Array]:
    """Each reading against the others, candidates weighted as they would be without that reading."""
    variance = smoothed.deletion_variance
    own = model.noise[:, None] * candidates.r2 + model.widened[:, None]
    density = np.exp(-0.5 * smoothed.deletion**2 / variance) / np.sqrt(variance)
    without = weights / np.maximum(density, 1e-300)
    without = without / without.sum(axis=1, keepdims=True)
    expected_g = model.y[:, None] - smoothed.deletion
    expected = np.sum(without * expected_g, axis=1)
    spread = np.sum(without * (np.maximum(variance - own, 0.0) + (expected_g - expected[:, None]) ** 2), axis=1)
    own_variance = np.sum(without * own, axis=1)
    surprise = (model.y - expected) / np.sqrt(spread + own_variance)
    return surprise, expected, np.sqrt(spread), own_variance


def _wild_readings(distance: Array, likely_jump: NDArray[np.bool_]) -> list[int]:
    """Readings beyond `DOUBTFUL`, each the most surprising for `APART` readings around it; the worst first.

    Where a jump may be the cause, only the worst of all counts.
    """
    worst = float(distance.max())
    wild = []
    for index in np.flatnonzero(distance > DOUBTFUL):
        around = slice(max(0, index - APART), index + APART + 1)
        alone = distance[index] == distance[around].max() and not likely_jump[around].any()
        if alone or distance[index] == worst:
            wild.append(int(index))
    return sorted(wild, key=lambda index: -float(distance[index]))


def _jump_odds(model: Model, smoothed: Smoothed, weights: Array, known: Sequence[Jump]) -> Array:
    """How many times better a jump into each moment explains the readings, by candidate's share (T, G).

    Looked for where two readings or more come before and after. With a single one behind it a jump cannot
    be told from a wild reading, and is called that. Each candidate noise is weighed as it would be with the
    jump allowed, so that a noise made large by the jump itself cannot hide it.
    """
    read = np.isfinite(model.y)
    after = np.cumsum(read[::-1])[::-1]
    before = np.cumsum(read) - read
    eligible = (after >= 2) & (before >= 2) & read
    eligible[[jump.index for jump in known]] = False
    score = smoothed.shock[:, :, 0]
    information = np.maximum(smoothed.shock_information[:, :, 0], 1e-300)
    allowed = (JUMP_SIZE**2) * float(np.median(model.noise[read]))
    gain = np.exp(0.5 * score**2 / (information + 1.0 / allowed)) / np.sqrt(1.0 + information * allowed)
    return np.where(eligible[:, None], gain * weights, 0.0)


def _likeliest_jump(smoothed: Smoothed, odds: Array) -> Jump:
    """The jump that best explains the readings, averaged over the candidates."""
    index = int(np.argmax(odds.sum(axis=1)))
    whole = float(odds[index].sum())
    score, information = smoothed.shock[index, :, 0], np.maximum(smoothed.shock_information[index, :, 0], 1e-300)
    sizes, variances = score / information, 1.0 / information
    size, variance = mixed(sizes[None, :, None], variances[None, :, None, None], odds[index] / whole)
    return Jump(index, float(size[0, 0]), float(np.sqrt(variance[0, 0, 0])), whole)
