"""A number told by several stories at once: a weighted mixture of normal distributions."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

# Halvings of the bracket in which a quantile is sought: a billionth of its width is left.
_HALVINGS = 30
# A bracket of so many standard deviations to each side of every part holds all quantiles anybody asks for.
_REACH = 8.0


def normal_cdf(z: Array) -> Array:
    """The standard normal distribution function, to 1.5e-7.

    Source: Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 7.1.26.
    """
    x = np.abs(z) * 0.7071067811865476
    t = 1.0 / (1.0 + 0.3275911 * x)
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    tail = 0.5 * series * np.exp(-x * x)
    return np.where(z > 0.0, 1.0 - tail, tail)


@dataclass(frozen=True, slots=True)
class Mixture:
    """Normal distributions side by side: `weights` (H,) or (..., H), `mean` and `sd` (..., H).

    One mixture a leading index.
    `weights` sum to one. `least` cuts off what the number cannot be: the mixture given that it is above.
    """

    weights: Array
    mean: Array
    sd: Array
    least: float = -np.inf

    def cdf(self, x: Array | float) -> Array:
        """The chance of a value up to x (shape ...)."""
        at = np.asarray(x, dtype=float)
        below = self._below(np.maximum(at, self.least))
        if self.least == -np.inf:
            return below
        cut = self._below(np.full(at.shape, self.least))
        inside: Array = (below - cut) / np.maximum(1.0 - cut, 1e-9)
        return inside

    def quantile(self, chance: float) -> Array:
        """The value that is not passed with a chance (shape ...)."""
        low = np.maximum(np.min(self.mean - _REACH * self.sd, axis=-1), self.least)
        high = np.maximum(np.max(self.mean + _REACH * self.sd, axis=-1), low)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2.0
            above = self.cdf(middle) < chance
            low, high = np.where(above, middle, low), np.where(above, high, middle)
        return np.asarray((low + high) / 2.0)

    def moments(self) -> tuple[Array, Array]:
        """Mean and standard deviation, of the whole mixture where something is cut off (shape ...)."""
        middle = self.mean @ self.weights
        spread = (self.sd**2 + (self.mean - middle[..., None]) ** 2) @ self.weights
        return middle, np.sqrt(spread)

    def interval(self, level: float = 0.90) -> tuple[Array, Array, Array]:
        """Median, and the ends that leave equal chances on either side."""
        tail = (1.0 - level) / 2.0
        return self.quantile(0.5), self.quantile(tail), self.quantile(1.0 - tail)

    def _below(self, x: Array) -> Array:
        found: Array = np.sum(normal_cdf((x[..., None] - self.mean) / self.sd) * self.weights, axis=-1)
        return found
