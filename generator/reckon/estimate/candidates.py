"""Averaging over candidate noises by how well each explains the readings."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


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
