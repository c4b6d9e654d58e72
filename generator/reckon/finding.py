"""What a calculation returns: a number with its interval and its evidence, or 'cannot tell' with the reason."""

from collections.abc import Iterable
from dataclasses import dataclass

from generator.records.source import Source
from generator.units.quantity import Estimate


@dataclass(frozen=True, slots=True)
class UncertaintyPart:
    """One cause of an estimate's uncertainty: its words' id and its standard uncertainty in the estimate's unit."""

    cause: str
    standard: float


@dataclass(frozen=True, slots=True)
class Finding:
    """An estimate, the id of the method that made it, the lines it rests on, and what its uncertainty is made of."""

    estimate: Estimate
    method: str
    inputs: tuple[Source, ...] = ()
    parts: tuple[UncertaintyPart, ...] = ()


@dataclass(frozen=True, slots=True)
class CannotTell:
    """The data cannot tell. `why` and `what_would_tell` are ids in the catalogue of words; `numbers` fill them."""

    why: str
    what_would_tell: str
    numbers: tuple[tuple[str, str], ...] = ()
    inputs: tuple[Source, ...] = ()


Answer = Finding | CannotTell


def parts_of(causes: Iterable[tuple[str, float]]) -> tuple[UncertaintyPart, ...]:
    """The causes that give anything to an uncertainty, each with what it gives: a standard uncertainty."""
    return tuple(UncertaintyPart(cause, standard) for cause, standard in causes if standard)


def one_cause(cause: str, estimate: Estimate) -> tuple[UncertaintyPart, ...]:
    """All of an estimate's uncertainty as of one cause; nothing where it has none."""
    return parts_of([(cause, estimate.standard)])


def scaled_parts(parts: tuple[UncertaintyPart, ...], factor: float) -> tuple[UncertaintyPart, ...]:
    """The parts of an estimate that is a plain multiple of another."""
    return tuple(UncertaintyPart(part.cause, part.standard * abs(factor)) for part in parts)
