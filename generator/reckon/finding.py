"""What a calculation returns: a number with its interval and evidence, or 'cannot tell'; where it holds; if it held."""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from msgspec import Struct

from generator.door.door import later
from generator.records.source import Source
from generator.units.quantity import Estimate, Factor

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

with later():
    import numpy as np


class OutsideRange(ValueError):
    """A formula was asked for something its source does not cover, or for what is not a number."""


class ValidRange(Struct, frozen=True):
    """From where to where a quantity may go in a formula, both ends inside; who says so."""

    quantity: str
    unit: str
    low: float
    high: float
    source: str

    def holds(self, value: float) -> bool:
        """Whether a value lies inside the range; NaN never does."""
        return self.low <= value <= self.high

    def check(self, value: "ArrayLike") -> None:
        """Raise `OutsideRange` if any value is outside the range or NaN."""
        values = np.asarray(value, float)
        # What is not a number is in no range.
        outside = values[~((values >= self.low) & (values <= self.high))]
        if outside.size:
            unit = f" {self.unit}" if self.unit else ""
            raise OutsideRange(
                f"{self.quantity} of {outside.flat[0]:g}{unit} lies outside {self.low:g} to {self.high:g}{unit}, "
                f"where {self.source} holds"
            )


class UncertaintyPart(Struct, frozen=True):
    """One cause of an estimate's uncertainty: its words' id and its standard uncertainty in the estimate's unit."""

    cause: str
    standard: float


class Finding(Struct, frozen=True):
    """An estimate, the id of the method that made it, the lines it rests on, and what its uncertainty is made of."""

    estimate: Estimate
    method: str
    inputs: tuple[Source, ...] = ()
    parts: tuple[UncertaintyPart, ...] = ()


class CannotTell(Struct, frozen=True):
    """The data cannot tell. `why` and `what_would_tell` are ids in the catalogue of words; `numbers` fill them."""

    why: str
    what_would_tell: str
    numbers: tuple[tuple[str, str], ...] = ()
    inputs: tuple[Source, ...] = ()


Answer = Finding | CannotTell


def uncertainty_parts(causes: Iterable[tuple[str, float]]) -> tuple[UncertaintyPart, ...]:
    """The causes of an uncertainty, each with the standard uncertainty it adds; those that add nothing are left out."""
    return tuple(UncertaintyPart(cause, standard) for cause, standard in causes if standard)


def one_cause(cause: str, estimate: Estimate) -> tuple[UncertaintyPart, ...]:
    """All of an estimate's uncertainty from one cause; empty if it has none."""
    return uncertainty_parts([(cause, estimate.standard)])


def scaled_parts(parts: tuple[UncertaintyPart, ...], factor: Factor) -> tuple[UncertaintyPart, ...]:
    """The parts of an estimate that is a plain multiple of another."""
    return tuple(UncertaintyPart(part.cause, part.standard * abs(factor)) for part in parts)


class Held(Struct, frozen=True):
    """What was predicted and what was found, in one unit."""

    predicted: Estimate
    found: Estimate

    @property
    def agree(self) -> bool:
        """Whether both can be true: their 90 % intervals meet."""
        return self.predicted.low <= self.found.high and self.found.low <= self.predicted.high
