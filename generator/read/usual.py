"""What is usual in a keeper's own numbers, and which slip of the hand would explain one that is not."""

from collections.abc import Callable, Iterator, Sequence
from math import inf, log
from statistics import median
from typing import NamedTuple

from generator.records.problem import Problem
from generator.records.source import Source
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity, convert

# With fewer numbers beside it, nothing is usual yet.
ENOUGH = 4
# How many numbers before and after one are its history.
_BEFORE, _AFTER = 10, 6
# Makes the median deviation of normal errors a standard deviation (Rousseeuw & Croux 1993, JASA 88:1273).
_MAD = 1.4826


class Usual(NamedTuple):
    """The median of a history, its spread as a standard deviation, and its smallest and largest number."""

    middle: float
    spread: float
    low: float
    high: float


def usual_beside(values: Sequence[float], index: int, enough: int = ENOUGH) -> Usual | None:
    """What is usual around a number of a series, without that number; None without enough history."""
    others = [*values[max(0, index - _BEFORE) : index], *values[index + 1 : index + 1 + _AFTER]]
    if len(others) < enough:
        return None
    middle = median(others)
    return Usual(middle, _MAD * median(abs(each - middle) for each in others), min(others), max(others))


def usual_if_not(values: Sequence[float], index: int, enough: int = ENOUGH) -> Usual | None:
    """What is usual around a positive number that is several times larger or smaller; None if it is like the others.

    Supply starts small and rises, so only a number with enough of them before it can be too small.
    """
    usual, value = usual_beside(values, index, enough), values[index]
    if usual is None or usual.middle <= 0.0:
        return None
    above = value >= 5.0 * usual.middle and value >= 2.5 * usual.high
    below = index >= enough and value * 8.0 <= usual.middle and value * 2.5 <= usual.low
    return usual if above or below else None


def warn(source: Source, kind: str, wrong: str, remedy: str, also: Source | None = None) -> Problem:
    """A doubt about a number."""
    return Problem(source, kind, wrong, remedy, also, severity="warning")


Fits = Callable[[Quantity], bool]


def within(low: float, high: float) -> Fits:
    """Whether a value is between two of its canonical unit, and not 0."""
    return lambda meant: meant.value > 0.0 and low <= amount(meant) <= high


def likely(
    written: Quantity, fits: Fits, near: float | None = None, otherwise: str = "check the number and its unit"
) -> str:
    """The cure for an odd value: what a slip of the hand makes of it and fits, closest to what is usual if known."""
    meant = [each for each in _meant(written) if fits(each)]
    if near:
        meant.sort(key=lambda each: abs(log(amount(each) / near)) if amount(each) > 0.0 else inf)
    return f"did you mean {meant[0]}?" if meant else otherwise


def or_noted(cure: str) -> str:
    """A cure, and how to say that the value is right."""
    return f"{cure}{'' if cure.endswith('?') else '.'} If it is right, repeat it in a note"


def slipped(written: Quantity, fits: Fits) -> bool:
    """Whether a slip of the hand explains a value."""
    return any(fits(each) for each in _meant(written))


def _meant(written: Quantity) -> Iterator[Quantity]:
    """The point moved, two digits swapped, one digit too many, or the same digits in another unit."""
    value, digits, kind = written.value, written.digits, KINDS[written.kind]
    whole = value % 10.0 == 0.0 and not digits
    yield Quantity(value / 10.0, written.unit, kind.id, 0 if whole else digits + 1)
    yield Quantity(value * 10.0, written.unit, kind.id, max(digits - 1, 0))
    text = f"{value:.{digits}f}"
    plain = text.replace(".", "")
    others = [plain[:i] + plain[i + 1] + plain[i] + plain[i + 2 :] for i in range(len(plain) - 1)]
    others += [plain[:i] + plain[i + 1 :] for i in range(len(plain))] if len(plain) > 1 else []
    for each in others:
        if each != plain and each.isdigit():
            yield Quantity(int(each) / 10.0**digits, written.unit, kind.id, digits)
    for unit in kind.units:
        if unit.symbol != written.unit and not unit.form:
            yield Quantity(value, unit.symbol, kind.id, digits)
    yield Quantity(value / 100.0, written.unit, kind.id, digits + 2)
    yield Quantity(value * 100.0, written.unit, kind.id, max(digits - 2, 0))


def shown(value: float, like: Quantity) -> str:
    """A value in the canonical unit of a quantity, to three digits in the unit the keeper wrote."""
    here = convert(value, like.kind, KINDS[like.kind].canonical, like.unit) if like.has_factor else value
    return f"{float(f'{here:.3g}'):g} {like.unit}"


def amount(quantity: Quantity) -> float:
    """The value in its kind's canonical unit; as written where that needs more than a factor."""
    return quantity.canonical() if quantity.has_factor else quantity.value


def times(value: float, middle: float) -> str:
    """How many times one value is another, in words for a message."""
    ratio = value / middle
    return f"{float(f'{ratio:.2g}'):g} times" if ratio >= 1.0 else f"1/{float(f'{1.0 / ratio:.2g}'):g} of"
