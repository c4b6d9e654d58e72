"""How a state moves between two moments: steps that compose into one."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


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
