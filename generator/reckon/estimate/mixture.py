"""A number told by several stories at once: a weighted mixture of normal distributions."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from generator.units.quantity import LEVEL

Array = NDArray[np.float64]

# A quantile is sought until a step is so small a share of the bracket it must lie in, or for so many steps.
_CLOSE = 1e-10
_STEPS = 60
# A bracket of so many standard deviations to each side of every part holds all quantiles anybody asks for.
_REACH = 8.0


def normal_cdf(z: Array) -> Array:
    """The standard normal distribution function, to 1.5e-7.

    Source: Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 7.1.26.
    """
    return _normal(z)[0]


def _normal(z: Array) -> tuple[Array, Array]:
    """The standard normal distribution function, and its density."""
    bell = np.exp(-0.5 * z * z)
    t = 1.0 / (1.0 + 0.3275911 * 0.7071067811865476 * np.abs(z))
    series = t * (0.254829592 + t * (-0.284496736 + t * (1.421413741 + t * (-1.453152027 + t * 1.061405429))))
    tail = 0.5 * series * bell
    return np.where(z > 0.0, 1.0 - tail, tail), bell * 0.3989422804014327


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
        return np.asarray(self.quantiles(chance)[0])

    def quantiles(self, *chances: float) -> Array:
        """The values that are not passed with each of some chances (K, ...).

        Newton's steps, or halvings of the bracket where those lead out of it or hardly on. Source: Press et al. 2007,
        Numerical Recipes, 3rd ed., 9.4 (from memory).
        """
        low = np.maximum(np.min(self.mean - _REACH * self.sd, axis=-1), self.least)
        high = np.maximum(np.max(self.mean + _REACH * self.sd, axis=-1), low)
        low, high = (np.repeat(end[None], len(chances), axis=0) for end in (low, high))
        wanted = np.reshape(chances, (len(chances), *(1,) * (low.ndim - 1)))
        if self.least > -np.inf:
            cut = self._below(np.full(low.shape, self.least))
            wanted = cut + wanted * np.maximum(1.0 - cut, 1e-9)
        at: Array = (low + high) / 2.0
        close, last = _CLOSE * (high - low), high - low
        for _ in range(_STEPS):
            z = (at[..., None] - self.mean) / self.sd
            below, density = _normal(z)
            over = np.sum(below * self.weights, axis=-1) - wanted
            low, high = np.where(over < 0.0, at, low), np.where(over < 0.0, high, at)
            step = over / np.maximum(np.sum(density * self.weights / self.sd, axis=-1), 1e-300)
            there = np.abs(step) <= close
            if there.all():
                break
            to = at - step
            on = there | ((to > low) & (to < high) & (np.abs(step) < last / 2.0))
            to = np.where(on, to, (low + high) / 2.0)
            last, at = np.abs(to - at), to
        return at

    def wider(self, times: Array | float) -> "Mixture":
        """The same about its mean, so many times as wide (a number, or one a leading index)."""
        middle, by = self.moments()[0][..., None], np.asarray(times)[..., None]
        return Mixture(self.weights, middle + by * (self.mean - middle), by * self.sd, self.least)

    def moments(self) -> tuple[Array, Array]:
        """Mean and standard deviation, of the whole mixture where something is cut off (shape ...)."""
        middle = np.sum(self.mean * self.weights, axis=-1)
        spread = np.sum((self.sd**2 + (self.mean - middle[..., None]) ** 2) * self.weights, axis=-1)
        return middle, np.sqrt(spread)

    def interval(self, level: float = LEVEL) -> tuple[Array, Array, Array]:
        """Median, and the ends that leave equal chances on either side."""
        tail = (1.0 - level) / 2.0
        middle, low, high = self.quantiles(0.5, tail, 1.0 - tail)
        return middle, low, high

    def _below(self, x: Array) -> Array:
        found: Array = np.sum(normal_cdf((x[..., None] - self.mean) / self.sd) * self.weights, axis=-1)
        return found
