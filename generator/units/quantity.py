"""Numbers with their unit, as written and as calculated, and the bounds of what is possible in a living reef."""

import math
import re
from collections.abc import Sequence
from difflib import get_close_matches
from functools import cache
from math import hypot, inf, log
from statistics import NormalDist
from unicodedata import numeric

from msgspec import Struct

from generator.units.kinds import KINDS, WATER, Kind, Unit, kinds_of_unit

# Plain numbers that rooms hand to each other, by their unit. A `Quantity` is a number as it was written, an `Estimate`
# one with its interval; these are neither. In this room a number's unit is beside it.
Canonical = float  # in the canonical unit of the kind that is named beside it
InUnit = float  # in the unit that is named beside it
PerLitre = float  # meq of alkalinity, mg of all else, in a litre of a solution
Share = float  # of a whole, or a probability: 0 to 1
Factor = float  # without a unit
Cm = float
CmPerYear = float
SquareCm = float
Par = float  # µmol/m²/s
Litres = float
Kg = float
GramsPerLitre = float
Days = float
Seconds = float

# Density of seawater at S = 35 and 25 °C (TEOS-10), used where neither is logged; kg/L.
STANDARD_DENSITY = 1.0233

# No amount in a journal is larger, in any unit; this keeps a typing mistake from becoming infinite.
_GREATEST = 1e12
# Nor is any as long, in characters.
_LONGEST = 200

_NUMBER = re.compile(r"([<>]?)\s*([+-]?\d[\d_]*(?:\.\d+)?|[+-]?\.\d+)\s*(.*)", re.DOTALL)
_DECIMAL_COMMA = re.compile(r"\s*[<>]?\s*[+-]?\d+,\d+")
_THOUSANDS = re.compile(r"\s*[+-]?[1-9]\d{0,2},\d{3}(?!\d)")
_UPPER_END = re.compile(r"(?:-|\u2013|to)\s*(\d+(?:\.\d+)?)")
_SIDES = re.compile(r"([\d.]+)[^\d.x×*]*[x×*]\s*([\d.]+)[^\d.x×*]*(?:[x×*]\s*([\d.]+)\s*)?([a-z\"″]*)", re.IGNORECASE)
_HALVED = re.compile(r"(?:(\d{1,3})(?:\s+|(?=[¼-¾⅛-⅞])))?(\d/[248]|[¼-¾⅛-⅞])\s*([a-z\"].*)", re.IGNORECASE)
_UNIT_START = re.compile(r"[^\W\d_]|[°\u00b5\u03bc‰\"]")


def sides_in(text: str) -> str | None:
    """A size on one line ('40 x 30 cm') as a file has it: 'length: 40 cm, width: 30 cm'; None if it is none."""
    sides = _SIDES.fullmatch(text)
    if sides is None:
        return None
    unit, each = f" {sides[4]}" if sides[4] else "", zip(("length", "width", "height"), sides.groups(), strict=False)
    return ", ".join(f"{name}: {side}{unit}" for name, side in each if side)


def share_of(fraction: str) -> Share:
    """A fraction, in one letter ('½') or three ('1/2')."""
    if len(fraction) == 1:
        return numeric(fraction)
    upper, lower = map(int, fraction.split("/"))
    return upper / lower


class NotAQuantity(ValueError):
    """Text that cannot be read as a quantity of the kind wanted.

    `wrong` says what is wrong in words, `remedy` what to write instead.
    """

    def __init__(self, wrong: str, remedy: str) -> None:
        super().__init__(f"{wrong} ({remedy})")
        self.wrong = wrong
        self.remedy = remedy


class NoUnit(NotAQuantity):
    """A bare number without a unit, where the journal sets none."""


class Quantity(Struct, frozen=True):
    """A number as written: `digits` counts its decimals; `below` is true for '<0.02'."""

    value: float
    unit: str
    kind: str
    digits: int = 0
    below: bool = False

    def __str__(self) -> str:
        return f"{'<' if self.below else ''}{self.value:z.{self.digits}f} {self.unit}"

    @property
    def has_factor(self) -> bool:
        """Whether a factor leads to the canonical unit. Specific gravity, conductivity and total pH have none."""
        unit = KINDS[self.kind].unit(self.unit)
        return unit is not None and not unit.form

    def to(self, unit: str, density: float = STANDARD_DENSITY) -> float:
        """The value in another unit of the same kind; `density` (kg/L) serves units per kilogram."""
        return convert(self.value, self.kind, self.unit, unit, density)

    def canonical(self, density: float = STANDARD_DENSITY) -> float:
        """The value in its kind's canonical unit. Raises `ValueError` without a factor (see `has_factor`)."""
        unit = KINDS[self.kind].canonical
        return self.value if self.unit == unit else self.to(unit, density)


# The share of cases that the interval of an estimate holds, unless it says otherwise.
LEVEL = 0.90


@cache
def coverage_factor(level: float = LEVEL) -> float:
    """How many standard uncertainties to each side hold a normal variable with probability `level`.

    Source: JCGM 100:2008 (GUM), 6.2 and table G.1.
    """
    return NormalDist().inv_cdf((1.0 + level) / 2.0)


def spread_of_range(low: float, high: float, level: float = LEVEL) -> float:
    """Standard deviation of the logarithm when `level` of all cases lie between `low` and `high`."""
    return log(high / low) / 2.0 / coverage_factor(level)


class Estimate(Struct, frozen=True):
    """A calculated number with the ends of its interval (`LEVEL` of the cases unless `level` says otherwise)."""

    value: float
    low: float
    high: float
    unit: str
    level: float = LEVEL

    @classmethod
    def normal(cls, value: float, standard: float, unit: str, least: float = -inf) -> "Estimate":
        """A normal variable with this standard uncertainty; its low end is never below `least`."""
        half = coverage_factor() * standard
        return cls(value, max(value - half, least), value + half, unit)

    @classmethod
    def exact(cls, value: float, unit: str) -> "Estimate":
        """A number without an interval."""
        return cls(value, value, value, unit)

    @property
    def standard(self) -> float:
        """The standard uncertainty of a normal variable with this interval."""
        return (self.high - self.low) / 2.0 / coverage_factor(self.level)

    def scaled(self, factor: float, unit: str) -> "Estimate":
        """The same estimate in another unit that is a plain multiple of this one."""
        low, high = sorted((self.low * factor, self.high * factor))
        return Estimate(self.value * factor, low, high, unit, self.level)

    def moved(self, by: float) -> "Estimate":
        """As much more, and as unsure."""
        return Estimate(self.value + by, self.low + by, self.high + by, self.unit, self.level)

    @property
    def size(self) -> "Estimate":
        """How large it is, whichever its sign."""
        return self if self.value >= 0.0 else self.scaled(-1.0, self.unit)

    def at_least_zero(self) -> "Estimate":
        """What cannot be negative, as far as the interval leaves room for that."""
        value, low = (max(end, 0.0) if self.high > 0.0 else end for end in (self.value, self.low))
        return Estimate(value, low, self.high, self.unit, self.level)

    @property
    def is_clear(self) -> bool:
        """Whether the interval tells a change from none, that is, does not hold zero."""
        return not self.low <= 0.0 <= self.high


def sum_of_estimates(parts: Sequence[Estimate]) -> Estimate:
    """The sum of estimates that err each by itself, of one unit."""
    value = sum(each.value for each in parts)
    below, above = (hypot(*(getattr(each, end) - each.value for each in parts)) for end in ("low", "high"))
    return Estimate(value, value - below, value + above, parts[0].unit)


def convert(value: float, kind: str, unit: str, to: str, density: float = STANDARD_DENSITY) -> float:
    """A value of one kind from one unit to another.

    Raises `ValueError` for a unit the kind does not have, or whose conversion is not a factor
    (see `Unit.form`).
    """
    if unit == to:
        return value
    source, target = _factor_unit(kind, unit), _factor_unit(kind, to)
    return (value * _factor(source, density) + source.offset - target.offset) / _factor(target, density)


def per_day(value: float, kind: str, unit: str, to: str, density: float = STANDARD_DENSITY) -> float:
    """A change (per day) of a kind from one unit to another: offsets cancel, so only factors count."""
    return value * _factor(_factor_unit(kind, unit), density) / _factor(_factor_unit(kind, to), density)


@cache
def unit_for(kind: str, wanted: str) -> str:
    """The unit written as `wanted`, or the canonical one where that is none of this kind or no line leads to it."""
    unit = KINDS[kind].unit(wanted)
    return unit.symbol if unit and unit.has_line else KINDS[kind].canonical


def level_in(kind: str, canonical: Canonical, unit: str) -> InUnit:
    """A value in the canonical unit, in one to show it in: of specific gravity by a straight line (see `Unit.form`)."""
    named = _unit_with_line(kind, unit)
    return (canonical - named.offset) / _factor(named, STANDARD_DENSITY)


def change_in(kind: str, canonical: Canonical, unit: str) -> InUnit:
    """A difference or a rate in the canonical unit, in one to show it in (no offset)."""
    return canonical / _factor(_unit_with_line(kind, unit), STANDARD_DENSITY)


@cache
def _unit_with_line(kind: str, name: str) -> Unit:
    unit = KINDS[kind].unit(name)
    if unit is None or not unit.has_line:
        raise ValueError(f"no straight line leads from {KINDS[kind].canonical} to {kind} in {name!r}")
    return unit


@cache
def _factor_unit(kind: str, name: str) -> Unit:
    unit = KINDS[kind].unit(name)
    if unit is None or unit.form:
        raise ValueError(f"{kind} in {name!r} has no factor to {KINDS[kind].canonical}")
    return unit


def _factor(unit: Unit, density: float) -> float:
    return unit.factor * density if unit.per_kg else unit.factor


def parse_quantity(text: str, kind_id: str, bare_unit: str | None = None) -> Quantity:
    """Read text such as ``8.1 dKH`` or ``<0.02 mg/L``; a bare number takes `bare_unit` if given.

    Raises `NotAQuantity` with a message for the keeper.
    """
    kind, text = KINDS[kind_id], text.strip()
    match = _NUMBER.fullmatch(text) if len(text) <= _LONGEST else None
    unit = match and kind.unit(match[3].strip() or bare_unit or "")
    value = float(match[2].replace("_", "")) if match else inf
    if match is None or unit is None or abs(value) > _GREATEST or (match[1] and (match[1] == ">" or kind not in WATER)):
        raise _refusal(text, kind, match, bare_unit)
    return Quantity(value, unit.symbol, kind.id, len(match[2].partition(".")[2]), match[1] == "<")


def _refusal(text: str, kind: Kind, match: re.Match[str] | None, bare_unit: str | None) -> NotAQuantity:
    """What is wrong with a text that is not a quantity of a kind."""
    example = f"write for example {kind.example}"
    if len(text) > _LONGEST:
        return NotAQuantity(f"a text of {len(text)} characters is not a number with a unit", example)
    if _DECIMAL_COMMA.match(text):
        point, none = text.replace(",", ".", 1), text.replace(",", "", 1)
        remedy = f"write '{none}', or '{point}'" if _THOUSANDS.match(text) else f"write '{point}', with a point"
        return NotAQuantity(f"'{text}' has a comma in its number", remedy)
    if kind.id == "length" and (sides := sides_in(text)) is not None:
        return NotAQuantity(f"'{text}' has several sides", f"write {sides}, each in its own line")
    if halved := _HALVED.fullmatch(text):
        whole = int(halved[1] or 0) + share_of(halved[2])
        return NotAQuantity(f"'{text}' has a fraction", f"write '{whole:g} {halved[3]}'")
    if match and match[3].startswith("%"):
        return NotAQuantity(f"'{text}' is a share, not an amount", f"write the amount, for example {kind.example}")
    if match is not None and (upper := _UPPER_END.match(match[3])) is not None:
        remedy = "write the lower end here and the upper end as light_to" if kind.id == "light" else "write one value"
        return NotAQuantity(f"'{text}' is a range from {match[2]} to {upper[1]}", remedy)
    if match is None or (match[3] and not _UNIT_START.match(match[3])):
        return NotAQuantity(f"'{text}' is not a number with a unit", example)
    sign, number, unit_name = match.groups()
    if sign == ">":
        remedy = "dilute and test again, or write the highest value the kit shows"
        return NotAQuantity(f"'{text}' is a lower bound", remedy)
    if sign == "<" and kind not in WATER:
        return NotAQuantity(f"'{text}' is an upper bound", f"write one value, for example {kind.example}")
    if abs(float(number.replace("_", ""))) > _GREATEST:
        return NotAQuantity(f"'{text}' is too large", "check the number")
    if not (unit_name := unit_name.strip() or bare_unit):
        return NoUnit(f"'{text}' has no unit", example)
    return _wrong_unit(f"{sign}{number}", unit_name, kind)


def negative(text: str, value: InUnit, kind: str, unit: str) -> tuple[str, str]:
    """What is wrong with a negative number, as written, and what to write instead, if without its sign it can be."""
    named = KINDS[kind].unit(unit)
    low, high = bounds(kind, named.symbol) if named else (-inf, inf)
    return f"'{text}' is negative", f"write '{text.lstrip('-')}'" if low <= -value <= high else "check the number"


def _wrong_unit(number: str, name: str, kind: Kind) -> NotAQuantity:
    folded = name.replace(" ", "").lower()
    if folded == "ppm" and kind.id == "alkalinity":
        return NotAQuantity("'ppm' does not say of what", "write 'mg/L CaCO3', if that is what your kit shows")
    if kind.id == "salinity" and folded in ("sg", "s.g."):
        return NotAQuantity(
            "specific gravity without reference temperatures leaves salinity uncertain by 2 psu",
            f"write '{number} sg 25/25' or '{number} sg 20/4', as your instrument says",
        )
    others = kinds_of_unit(name)
    allowed = ", ".join(unit.symbol for unit in kind.units)
    if others:
        what = kind.words or kind.id
        what = what if kind in WATER else f"a {what}"
        return NotAQuantity(f"{what} is not measured in {name}, a unit of {_family(others)}", f"write {allowed}")
    first, _, rest = name.partition(" ")
    if rest and (unit := kind.unit(first)):
        remedy = f"write '{number} {unit.symbol}', and the rest in a note"
        return NotAQuantity(f"'{rest}' comes after the unit", remedy)
    names = {alias: unit.symbol for unit in kind.units for alias in (unit.symbol, *unit.aliases)}
    close = get_close_matches(name, names, n=1, cutoff=0.5)
    remedy = f"did you mean {names[close[0]]}?" if close else f"write {allowed}"
    return NotAQuantity(f"unknown unit '{name}'", remedy)


def _family(kinds: tuple[Kind, ...]) -> str:
    """What a unit measures, in words: many dissolved things share theirs."""
    if len(kinds) == 1:
        return kinds[0].words or kinds[0].id
    return "dissolved substances"


# Bounds for units whose conversion is not a factor, in that unit: those of the kind, a salinity of 5 to 42, by
# TEOS-10 and the Practical Salinity Scale 1978. No calculation of the water holds outside them.
BY_UNIT = {
    "sg 25/25": (1.0038, 1.0316),
    "sg 20/20": (1.0039, 1.0319),
    "sg 60F/60F": (1.0039, 1.0322),
    "sg 20/4": (1.0021, 1.0301),
    "mS/cm": (9.0, 62.3),
    "total": (6.5, 9.5),
}

# The most a solution may change the water at once, and a pump or a reactor in a day, in canonical units.
# Corals take up less than 5 dKH a day in the densest tanks. Common practice, no source.
AT_ONCE = {"alkalinity": 1.8, "calcium": 100.0, "magnesium": 250.0, "potassium": 150.0, "strontium": 20.0}
A_DAY = {"alkalinity": 2.9, "calcium": 80.0, "magnesium": 80.0, "potassium": 80.0, "strontium": 5.0}


def bounds(kind: str, unit: str) -> tuple[float, float]:
    """What a quantity can be in a living reef, in one of its units."""
    if unit in BY_UNIT:
        return BY_UNIT[unit]
    low, high = KINDS[kind].plausible or (-math.inf, math.inf)
    return convert(low, kind, KINDS[kind].canonical, unit), convert(high, kind, KINDS[kind].canonical, unit)
