"""Numbers of a spreadsheet as quantities: the unit of the cell, the column, an answer or the journal."""

from dataclasses import replace

from generator.gather.cells import Number, number_in
from generator.gather.found import Doubt, Reader
from generator.gather.headings import UNSURE, unit_of
from generator.read.plausible import implausible
from generator.units.kinds import KINDS
from generator.units.quantity import NotAQuantity, Quantity, parse_quantity


def level(where: str, of: str, unit: str, cell: str, reader: Reader) -> Quantity | None:
    """A possible level, or None and a doubt or a question. `of` is a kind, perhaps with its element: `phosphate P`."""
    kind, _, per = of.partition(" ")
    if unit in (UNSURE, "sg") or (unit == "" and per):
        return _ask_unit(kind, cell, reader)
    value = quantity(where, kind, unit, cell, reader, per)
    if value is None:
        return None
    if wrong := implausible(value):
        reader.found.doubts.append(Doubt(where, f"{wrong[0]} ({wrong[1]})"))
        return None
    return value


def same_level(one: Quantity, other: Quantity) -> bool:
    """Whether two levels are the same but for rounding, in whatever units."""
    try:
        first, second = one.canonical(), other.canonical()
    except ValueError:  # a unit without a factor, such as specific gravity
        return False
    return abs(first - second) <= 0.03 * max(abs(first), abs(second))


def _ask_unit(kind: str, cell: str, reader: Reader) -> Quantity | None:
    """Take the unit that was answered, or ask for it."""
    key = f"unit:{kind}"
    number = number_in(cell, reader.decimal)
    if (answer := reader.answers.get(key)) and number:
        return _made(number, kind, answer)
    units = [each.symbol for each in KINDS[kind].units]
    reader.found.ask(key, f"In which unit is {KINDS[kind].words}?", units[0], *units)
    return None


def quantity(where: str, kind: str, unit: str, cell: str, reader: Reader, per: str = "") -> Quantity | None:
    """The quantity in a cell, with the unit of the cell, the column, the answer or the journal."""
    number = number_in(cell, reader.decimal)
    if number is None:
        reader.found.doubts.append(Doubt(where, f"'{cell}' is not a number with a unit ({KINDS[kind].words})"))
        return None
    written = unit_of(kind, number.rest, per) if number.rest else None
    if number.rest and written is None:
        reader.found.doubts.append(Doubt(where, f"'{cell}': '{number.rest}' is not a unit of {KINDS[kind].words}"))
        return None
    used = written or unit or reader.answers.get(f"unit:{kind}") or reader.known.units.get(kind, "")
    if used in ("", "sg"):
        return _ask_unit(kind, number.digits, reader)
    value = _made(number, kind, used)
    if value is not None and number.other:
        other = _made(replace(number, digits=number.other), kind, used)
        fits = [each for each in (value, other) if each is not None and implausible(each) is None]
        if len(fits) != 1:
            reader.found.ask("decimal", f"Which sign begins the decimals, as in '{cell}'?", ".", ".", ",")
            return None
        value = fits[0]
    return value


def _made(number: Number, kind: str, unit: str) -> Quantity | None:
    try:
        return parse_quantity(f"{'<' if number.below else ''}{number.digits} {unit}", kind)
    except NotAQuantity:
        return None
