"""Sizes and masses as people write them on a command line: 60x40x25, 24 x 18 x 11 in, 60×40×25 cm, 6.3 kg."""

import re
from collections.abc import Mapping

_SIDE = r"(\d+(?:\.\d+)?)\s*(cm|mm|m|inches|inch|in|\"|″)?"
_BY = r"\s*(?:x|×|\*|by)\s*"
_SIZE = re.compile(rf"\s*{_SIDE}{_BY}{_SIDE}(?:{_BY}{_SIDE})?\s*", re.IGNORECASE)

# No side is longer, in any unit.
_LONGEST = 1e5


def sides(text: str, units: Mapping[str, str]) -> tuple[float, ...] | None:
    """Length, width and, if given, height in cm; None if the text is not a size.

    A unit after the last side is the unit of all sides. Without one it is the journal's (`units`), or cm.
    Raises `LookupError` for a side of 0.
    """
    from generator.units.quantity import convert

    found = _SIZE.fullmatch(text)
    if found is None:
        return None
    numbers, named = found.groups()[::2], found.groups()[1::2]
    given = [(float(number), unit) for number, unit in zip(numbers, named, strict=True) if number]
    if not all(0.0 < value <= _LONGEST for value, _ in given):
        wrong = "a side of 0" if any(value <= 0.0 for value, _ in given) else "too long a side"
        raise LookupError(f"'{text[:80]}' has {wrong} (write length, width and height, such as 31x27x24 cm)")
    usual = given[-1][1] or units.get("length", "cm")
    return tuple(convert(value, "length", _unit(unit or usual), "cm") for value, unit in given)


def _unit(name: str) -> str:
    from generator.units.kinds import KINDS

    found = KINDS["length"].unit(name.lower().replace("″", '"'))
    return found.symbol if found else name


def say_length(units: Mapping[str, str], cm: float, digits: int = 0) -> str:
    """A length in the journal's unit; inches have one decimal."""
    from generator.units.quantity import convert

    unit = units.get("length", "cm")
    return f"{convert(cm, 'length', 'cm', unit):.{max(digits, 1) if unit in ('in', 'm') else digits}f} {unit}"
