"""How level and uptake move between events.

Times are in days, levels in any one unit. The coral's uptake is a rate that grows with the coral and
drifts like a random walk: between events dC = (inflow - uptake) dt, d(uptake) = growth dt + q dW, and
the growth itself changes slowly. Solved exactly, so irregular times cost nothing.
"""

from dataclasses import dataclass, field
from math import sqrt
from typing import Protocol

import numpy as np

from generator.reckon.estimate.kalman import Transition
from generator.reckon.estimate.uncertainty import Array

# How fast the growth of demand changes: in a month by about 0.2 % of the demand a day. An assumption of ours.
GROWTH_CHANGE = 0.002 / sqrt(30.0)


class Dynamics(Protocol):
    """How the state moves: of its `size` numbers the first `levels` are levels, the next two uptake and its growth."""

    @property
    def size(self) -> int:
        """How many numbers the state has."""
        ...

    @property
    def levels(self) -> int:
        """How many of them are levels."""
        ...

    def moving(self, days: Array) -> tuple[Array, Array, Array]:
        """Over each stretch (T,) without inflow: F, and the noise's variance as ``drift * q2 + fixed`` (T, n, n)."""
        ...


class Moving(Dynamics, Protocol):
    """Dynamics that tell what of the state is taken up."""

    @property
    def taken(self) -> Array:
        """What a unit of uptake takes of each level."""
        ...

    def takes(self, level: int) -> Array:
        """The combination of the state (size,) that is all that is taken up of a level."""
        ...


def flows(dynamics: Dynamics, days: Array, inflow: Array) -> list[Transition]:
    """The transitions over stretches (T,) with constant inflows (T, levels)."""
    F, drift, fixed = dynamics.moving(days)
    c = np.zeros((len(days), dynamics.size))
    c[:, : dynamics.levels] = inflow * days[:, None]
    return [Transition(*each) for each in zip(F, c, drift, fixed, strict=True)]


@dataclass(frozen=True, slots=True)
class OneLevel:
    """State (level, uptake, growth of the uptake a day); q2 multiplies `scale` squared, `scale` being the demand."""

    scale: float
    size: int = field(default=3, init=False)
    levels: int = field(default=1, init=False)

    @property
    def taken(self) -> Array:
        """A unit of uptake takes a unit of the level."""
        return np.ones(1)

    def takes(self, level: int) -> Array:
        """The uptake itself, of the only level there is."""
        return np.array([[0.0, 1.0, 0.0]][level])

    def moving(self, days: Array) -> tuple[Array, Array, Array]:
        """Level falls by what is taken up, integrated exactly."""
        F = np.tile(np.eye(3), (len(days), 1, 1))
        F[:, 1, 2], F[:, 0, 1], F[:, 0, 2] = days, -days, -(days**2) / 2.0
        return F, *_noise(np.diag([-1.0, 1.0, 1.0]), self.scale, days)


@dataclass(frozen=True, slots=True)
class TwoLevels:
    """State (alkalinity, calcium, calcification, its growth, other uptake of alkalinity), in meq/L and mg/L.

    Calcification is in meq/L of alkalinity a day and moves as uptake does in `OneLevel`; it takes
    `calcium_per_meq` mg/L of calcium with each meq/L. The other uptake wanders about zero with standard
    deviation `other` and forgets itself over `memory` days (Ornstein-Uhlenbeck, integrated exactly).
    """

    scale: float
    calcium_per_meq: float
    other: float
    memory: float
    size: int = field(default=5, init=False)
    levels: int = field(default=2, init=False)

    @property
    def taken(self) -> Array:
        """A unit of calcification takes a unit of alkalinity and its share of calcium."""
        return np.array([1.0, self.calcium_per_meq])

    def takes(self, level: int) -> Array:
        """Of alkalinity calcification and the other uptake, of calcium what calcification takes."""
        return np.array([[0.0, 0.0, 1.0, 0.0, 1.0], [0.0, 0.0, self.calcium_per_meq, 0.0, 0.0]][level])

    def moving(self, days: Array) -> tuple[Array, Array, Array]:
        """Both levels fall with calcification, alkalinity also with the other uptake."""
        left = np.exp(-days / self.memory)
        F = np.tile(np.eye(5), (len(days), 1, 1))
        F[:, 2, 3] = days
        F[:, :2, 2] = -days[:, None] * self.taken
        F[:, :2, 3] = -(days**2)[:, None] / 2.0 * self.taken
        F[:, 0, 4], F[:, 4, 4] = -self.memory * (1.0 - left), left
        spread = np.zeros((5, 3))
        spread[:2, 0] = -self.taken
        spread[2, 1] = spread[3, 2] = 1.0
        drift, fixed = _noise(spread, self.scale, days)
        wandered = np.maximum(2.0 * days / self.memory - 3.0 + 4.0 * left - left**2, 0.0)
        fixed[:, 4, 4] += self.other**2 * (1.0 - left**2)
        fixed[:, 0, 0] += self.other**2 * self.memory**2 * wandered
        fixed[:, 0, 4] = fixed[:, 4, 0] = -(self.other**2) * self.memory * (1.0 - left) ** 2
        return F, drift, fixed


def _noise(spread: Array, scale: float, days: Array) -> tuple[Array, Array]:
    """Variances (T, n, n) that an uptake's walk (for q2) and its growth's own walk leave after some days (T,).

    `spread` (n, 3) says how each state follows what was taken up, the uptake and its growth, whose
    covariances are those of a Wiener process and its first and second integrals.
    """
    d, none = days, np.zeros(len(days))
    walk = np.array([[d**3 / 3.0, d**2 / 2.0, none], [d**2 / 2.0, d, none], [none, none, none]]).transpose(2, 0, 1)
    growth = np.array(
        [[d**5 / 20.0, d**4 / 8.0, d**3 / 6.0], [d**4 / 8.0, d**3 / 3.0, d**2 / 2.0], [d**3 / 6.0, d**2 / 2.0, d]]
    ).transpose(2, 0, 1)
    return (
        scale**2 * spread @ walk @ spread.T,
        (GROWTH_CHANGE * scale) ** 2 * spread @ growth @ spread.T,
    )
