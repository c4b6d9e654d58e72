"""What is possible for water, a coral, a solution and a journey, what is usual in a keeper's own numbers, and which
slip of the hand would explain a number that is neither.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from math import inf, log
from statistics import median
from typing import NamedTuple

from generator.records.coral import Form
from generator.records.source import Problem, Source
from generator.units.kinds import KINDS
from generator.units.quantity import BY_UNIT, Quantity, convert, parse_quantity

# With fewer numbers beside it, nothing is usual yet.
ENOUGH = 4
# How many numbers before and after one are its history.
_BEFORE, _AFTER = 10, 6
# A cure that is off by no more than so many times the usual number is about the same.
_ABOUT = 3.0
# Makes the median deviation of normal errors a standard deviation (Rousseeuw & Croux 1993, JASA 88:1273).
_MAD = 1.4826


class Usual(NamedTuple):
    """The median of a history, its spread as a standard deviation, and its smallest and largest number."""

    middle: float
    spread: float
    low: float
    high: float

    def about(self, meant: Quantity) -> bool:
        """Whether a value is near the middle, within a factor of `_ABOUT`."""
        return within(self.middle / _ABOUT, self.middle * _ABOUT)(meant)


def numbers_beside(values: Sequence[float], index: int) -> list[float]:
    """The numbers of a series around one."""
    return [*values[max(0, index - _BEFORE) : index], *values[index + 1 : index + 1 + _AFTER]]


def usual_beside(values: Sequence[float], index: int, enough: int = ENOUGH) -> Usual | None:
    """What is usual around a number of a series, without that number; None without enough history."""
    others = numbers_beside(values, index)
    if len(others) < enough:
        return None
    middle = median(others)
    return Usual(middle, _MAD * median(abs(each - middle) for each in others), min(others), max(others))


def usual_if_not(values: Sequence[float], index: int, enough: int = ENOUGH) -> Usual | None:
    """What is usual around a positive number that is several times larger or smaller; None if it is like the others.

    What is given starts small and rises, so only a number with enough others before it can be too small.
    """
    usual, value = usual_beside(values, index, enough), values[index]
    if usual is None or usual.middle <= 0.0:
        return None
    above = value >= 5.0 * usual.middle and value >= 2.5 * usual.high
    below = index >= enough and value * 8.0 <= usual.middle and value * 2.5 <= usual.low
    return usual if above or below else None


def warn(source: Source, kind: str, wrong: str, remedy: str, also: Source | None = None) -> Problem:
    """A warning about an unusual number."""
    return Problem(source, kind, wrong, remedy, also, severity="warning")


Fits = Callable[[Quantity], bool]


def within(low: float, high: float) -> Fits:
    """Whether a value is between two of its canonical unit, and not 0."""
    return lambda meant: meant.value > 0.0 and low <= amount(meant) <= high


def likely(
    written: Quantity, fits: Fits, near: float | None = None, otherwise: str = "check the number and its unit"
) -> str:
    """The cure for an odd value: what a slip of the hand makes of it and fits, closest to what is usual if known."""
    meant = [each for each in _slips_of(written) if fits(each)]
    if near:
        meant.sort(key=lambda each: abs(log(amount(each) / near)) if amount(each) > 0.0 else inf)
    return f"did you mean {meant[0]}?" if meant else otherwise


def or_noted(cure: str) -> str:
    """A cure, and how to say that the value is right."""
    return f"{cure}{'' if cure.endswith('?') else '.'} If it is right, repeat it in a note"


def slipped(written: Quantity, fits: Fits) -> bool:
    """Whether a slip of the hand explains a value."""
    return any(fits(each) for each in _slips_of(written))


def _slips_of(written: Quantity) -> Iterator[Quantity]:
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
    here = kind.unit(written.unit)
    for unit in kind.units:
        if unit != here and not unit.form and (not unit.kitchen or (here and here.kitchen)):
            yield Quantity(value, unit.symbol, kind.id, digits)
    yield Quantity(value / 100.0, written.unit, kind.id, digits + 2)
    yield Quantity(value * 100.0, written.unit, kind.id, max(digits - 2, 0))


def as_written(value: float, like: Quantity) -> str:
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


# Mass (g) for each cm³ of the box around a colony. Aragonite weighs 2.93 g/cm³ and no skeleton is denser
# (CRC Handbook, from memory). The thinnest branching colonies fill a hundredth of their box; common
# practice, no source.
MOST_DENSE, LEAST_DENSE = 2.93, 0.01
# Height over the longer side seen from above, at least, where the height was not measured; common practice, no source.
FLATTEST: dict[Form, float] = {"encrusting": 0.02, "plating": 0.05, "tabling": 0.05}
FLATTEST_OTHERWISE = 0.1
# Extension of the fastest corals: branches of Acropora grow 10 to 20 cm a year, so a colony's side twice
# that (Pratchett et al. 2015, Oceanography and Marine Biology 53, from memory).
FASTEST_GROWTH = 40.0  # cm a year
# No keeper measures a side better than this; common practice, no source.
BETWEEN_HANDS = 4.0  # cm
# How far sweeper tentacles reach, cm: 5 to 30 in Galaxea and Euphyllia; common practice, no source.
LONGEST_TENTACLES = 50.0
# Sunlight at noon on a reef flat is near 2000 PAR; no lamp over a tank gives more.
MOST_LIGHT = 2000.0
# Shares of a system's water that evaporate in a day, fans and shallow trays included; common practice, no source.
EVAPORATES = (0.0003, 0.09)

# Grams of a compound that a litre of solution can hold at 20 °C: CRC Handbook of Chemistry and Physics,
# aqueous solubility of inorganic compounds (from memory), with the water of the crystals added for hydrates.
MOST_DISSOLVED = {
    "NaHCO3": 100.0,
    "Na2CO3": 220.0,
    "Na2CO3.10H2O": 600.0,
    "NaOH": 800.0,
    "KHCO3": 330.0,
    "Ca(OH)2": 1.8,
    "CaCO3": 0.02,
    "CaCl2": 800.0,
    "CaCl2.2H2O": 1000.0,
    "CaCl2.6H2O": 1300.0,
    "MgCl2": 500.0,
    "MgCl2.6H2O": 1100.0,
    "MgSO4": 350.0,
    "MgSO4.7H2O": 750.0,
    "KCl": 340.0,
    "SrCl2.6H2O": 850.0,
}

# The least of any water: 0, and what an instrument of specific gravity may show in pure water.
_LEAST_OF_WATER = dict.fromkeys(("sg 25/25", "sg 20/20", "sg 60F/60F", "sg 20/4"), 0.99)
# Of these there is never so little that a reading could end at a bound.
_NEVER_NOTHING = ("salinity", "temperature", "ph")


def implausible(written: Quantity) -> tuple[str, str] | None:
    """What is wrong with an impossible value, and what was likely meant; None if the value is possible."""
    if _possible(written) or (written.below and written.kind not in _NEVER_NOTHING):
        return None
    likely = min(_possibly(written), key=_distance, default=None)
    remedy = f"did you mean {likely}?" if likely else "check the number and its unit"
    if likely and likely.unit != written.unit and likely.unit in _LEAST_OF_WATER:  # only the instrument says which
        remedy = f"did you mean {likely}, or sg 20/4? Write what your instrument says"
    return f"{KINDS[written.kind].words} of {written} is impossible in a living reef", remedy


def impossible_water(written: Quantity) -> tuple[str, str] | None:
    """What is wrong with the salinity or temperature of water outside a system: 0 to 42 psu, 0 to 40 °C."""
    if _LEAST_OF_WATER.get(written.unit, 0.0) <= amount(written) <= _bounds(written)[1]:
        return None
    return f"{KINDS[written.kind].words} of {written} is impossible for water", "check the number and its unit"


def _bounds(written: Quantity) -> tuple[float, float]:
    """The bounds of `amount` in a living reef."""
    return BY_UNIT.get(written.unit) or KINDS[written.kind].plausible or (-math.inf, math.inf)


def _possible(written: Quantity) -> bool:
    low, high = _bounds(written)
    return low <= amount(written) <= high


def _possibly(written: Quantity) -> Iterator[Quantity]:
    """Possible values with the same digits in another unit, or with the point moved by one place."""
    value, digits, kind = written.value, written.digits, KINDS[written.kind]
    others = [Quantity(value, unit.symbol, kind.id, digits) for unit in kind.units if unit.symbol != written.unit]
    moved = [
        Quantity(value / 10, written.unit, kind.id, digits + 1),
        Quantity(value * 10, written.unit, kind.id, max(digits - 1, 0)),
    ]
    if value < 0:
        moved.append(Quantity(-value, written.unit, kind.id, digits))
    if kind.id == "salinity" and value > 1000:  # 1025 for 1.025
        moved.append(Quantity(value / 1000, written.unit, kind.id, digits + 3))
    yield from filter(_possible, (*moved, *others))


def _distance(meant: Quantity) -> float:
    """How far a value is from the kind's everyday one, as a ratio; other forms count as fitting well."""
    if not meant.has_factor:
        return 0.0
    usual = parse_quantity(KINDS[meant.kind].example, meant.kind).canonical()
    return abs(math.log(max(meant.canonical(), 1e-9) / usual))
