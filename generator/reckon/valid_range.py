"""Where a published formula of nature holds; outside of it there is no answer."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


class OutsideRange(ValueError):
    """A formula was asked for something its source does not cover, or for what is not a number."""


@dataclass(frozen=True, slots=True)
class ValidRange:
    """From where to where a quantity may go in a formula, both ends inside; who says so."""

    quantity: str
    unit: str
    low: float
    high: float
    source: str

    def holds(self, value: float) -> bool:
        """Whether a value lies inside; what is not a number never does."""
        return self.low <= value <= self.high

    def check(self, value: ArrayLike) -> None:
        """Raise `OutsideRange` for any value outside, or not a number."""
        values = np.asarray(value, float)
        # What is not a number is in no range.
        outside = values[~((values >= self.low) & (values <= self.high))]
        if outside.size:
            unit = f" {self.unit}" if self.unit else ""
            raise OutsideRange(
                f"{self.quantity} of {outside.flat[0]:g}{unit} lies outside {self.low:g} to {self.high:g}{unit}, "
                f"where {self.source} holds"
            )
