"""Facts from a spreadsheet's rows: what was done at a moment, and corals that are new to the journal."""

import re
from collections.abc import Iterator, Mapping
from datetime import datetime, time

from msgspec.structs import replace

from generator.gather.found import SheetFact, SheetReader, Times, moment_in_cells
from generator.gather.headings import UNSURE, Number, empty, number_in, unit_of
from generator.gather.layout import Block
from generator.read.plausible import implausible
from generator.shorthand.finish import Fact, Stamp, Value, id_of
from generator.shorthand.grammar import understood
from generator.shorthand.scanner import folded_text, word_tables
from generator.shorthand.yaml_text import line_of
from generator.units.kinds import KINDS
from generator.units.quantity import NotAQuantity, Quantity, parse_quantity

_SPECIES = re.compile(r"[A-Z][a-z]+ +(?:(?:cf|aff)\. +)?(?:[a-z]+(?:-[a-z]+)?|sp\.)")


def coral_facts(block: Block, reader: SheetReader) -> None:
    """Take the corals of a table. One that the journal has already is passed over."""
    explain_columns(block, reader)
    lines: dict[str, str] = {}
    for line in block.lines:
        where = f"{block.sheet}, {line.where}" if block.sheet else line.where
        cells = {
            head.of if head.role == "field" else head.role: (cell, head.unit)
            for head, cell in zip(block.headings, line.cells, strict=False)
            if not empty(cell)
        }
        said = {name: cell for name, (cell, _) in cells.items()}
        id = said.get("id") or id_of(said.get("name", ""))
        if id and id in reader.known.names.get("coral", {}).values():
            lines[id] = said.get("line") or line_of(id)
            continue
        wrong = _wrong(said, id)
        arrived = None if wrong else moment_in_cells(said["day"], "", where, set(), reader, {})
        if wrong:
            reader.doubt(where, wrong)
        elif arrived and (system := reader.system(said.get("system") or block.label, "Which system are they in?")):
            values = _values(said, _sized(cells, reader), lines, where, reader)
            lines[id] = str(values.get("line", id))
            change = Fact("new", values, Stamp(arrived[0].date(), time()), said["name"], id)
            reader.found.facts.append(SheetFact(system, change, where))


def explain_columns(block: Block, reader: SheetReader) -> None:
    """Say what each column of a table of corals means, and ask about those that nobody can know."""
    for place, head in enumerate(block.headings):
        if head.text and any(not empty(line.cells[place]) for line in block.lines):
            reader.found.columns.append((block.sheet, head.text, head.of or head.role))
            if head.role == "unknown":
                text = f"What is in the column '{head.text}'?"
                reader.found.ask(f"is:{folded_text(head.text)}", text, "note, or ignore")


def _wrong(said: Mapping[str, str], id: str) -> str:
    """Why a row makes no coral, or ""."""
    forms, ways = word_tables().choices["form"], word_tables().choices["how"]
    if not said.get("name") or not id:
        return "no name"
    if not _SPECIES.fullmatch(said.get("species", "")):
        return f"'{said.get('species', '')}' is not a species (write for example Acropora millepora, or Acropora sp.)"
    if folded_text(said.get("form", "")) not in forms:
        return f"'{said.get('form', '')}' is not a growth form (write {', '.join(sorted(set(forms.values())))})"
    if said.get("how") and folded_text(said["how"]) not in ways:
        return f"'{said['how']}' is not a way to arrive (write {', '.join(sorted(set(ways.values())))})"
    if said.get("living", "").casefold() in ("false", "no", "0"):
        return "it is no longer alive (write its file by hand, with its end)"
    return "" if said.get("day") else "no day of arrival"


def _values(
    said: Mapping[str, str], cells: "_Cells", lines: Mapping[str, str], where: str, reader: SheetReader
) -> dict[str, Value]:
    """The parts of a new coral. It is of its parent's line, unless the sheet says otherwise."""
    choices = word_tables().choices
    values: dict[str, Value] = {
        "name": said["name"],
        "species": " ".join(said["species"].split()),
        "form": choices["form"][folded_text(said["form"])],
        "how": choices["how"][folded_text(said.get("how", "unknown"))],
    }
    known = reader.known.names.get("coral", {})
    if parent := said.get("parent"):
        values["parent"] = known.get(folded_text(parent)) or id_of(parent)
    line = said.get("line") or lines.get(str(values.get("parent", "")))
    values["line"] = id_of(line) if line else line_of(said.get("id") or id_of(said["name"]))
    values |= {name: said[name] for name in ("place", "note") if name in said}
    if giver := said.get("partner"):
        partner = reader.known.names.get("partner", {}).get(folded_text(giver))
        values |= (
            {"partner": partner}
            if partner
            else {"note": "; ".join([*filter(None, [said.get("note")]), f"from {giver}"])}
        )
    for name in _SIDES:
        cell, unit = cells.get(name, ("", ""))
        if cell and (side := _number(where, name, cell, unit, reader)):
            values[name] = parse_quantity(side, "length")
    return values


def _sized(cells: "_Cells", reader: SheetReader) -> "_Cells":
    """The cells with the sides that one cell of a size holds: `12 x 10 x 8 cm`."""
    size, unit = cells.get("size", ("", ""))
    sides = re.split(r"\s*[x×*]\s*", size, flags=re.IGNORECASE)
    last = number_in(sides[-1], reader.decimal)
    unit = last.rest if last and last.rest else unit
    # More sides than three are no size: `_number` says so of the whole cell.
    found = zip(_SIDES, sides if len(sides) <= len(_SIDES) else [size], strict=False)
    return {**{name: (side, unit) for name, side in found}, **cells} if size else cells


def level(where: str, of: str, unit: str, cell: str, reader: SheetReader) -> Quantity | None:
    """A possible level, or None and a doubt or a question. `of` is a kind, perhaps with its element: `phosphate P`."""
    kind, _, per = of.partition(" ")
    if unit in (UNSURE, "sg") or (unit == "" and per):
        return _ask_unit(kind, cell, reader)
    value = quantity(where, kind, unit, cell, reader, per)
    if value is None:
        return None
    if wrong := implausible(value):
        reader.doubt(where, f"{wrong[0]} ({wrong[1]})")
        return None
    return value


def same_level(one: Quantity, other: Quantity) -> bool:
    """Whether two levels are the same but for rounding, in whatever units."""
    try:
        first, second = one.canonical(), other.canonical()
    except ValueError:  # a unit without a factor, such as specific gravity
        return False
    return abs(first - second) <= 0.03 * max(abs(first), abs(second))


def _ask_unit(kind: str, cell: str, reader: SheetReader) -> Quantity | None:
    """Take the unit that was answered, or ask for it."""
    key = f"unit:{kind}"
    number = number_in(cell, reader.decimal)
    if (answer := reader.answers.get(key)) and number:
        return _made(number, kind, answer)
    units = [each.symbol for each in KINDS[kind].units]
    reader.found.ask(key, f"In which unit is {KINDS[kind].words}?", units[0], *units)
    return None


def quantity(where: str, kind: str, unit: str, cell: str, reader: SheetReader, per: str = "") -> Quantity | None:
    """The quantity in a cell, with the unit of the cell, the column, the answer or the journal."""
    number = number_in(cell, reader.decimal)
    if number is None:
        reader.doubt(where, f"'{cell}' is not a number with a unit ({KINDS[kind].words})")
        return None
    written = unit_of(kind, number.rest, per) if number.rest else None
    if number.rest and written is None:
        reader.doubt(where, f"'{cell}': '{number.rest}' is not a unit of {KINDS[kind].words}")
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


# What can hold a keeper's words, and the field that does.
_NOTED = {"cuttings": "note", "health": "note", "end": "cause"}
_SIDES = ("length", "width", "height")
_Cells = Mapping[str, tuple[str, str]]


def event_facts(block: Block, reader: SheetReader) -> None:
    """Take the weighings, sizes, moves, cuttings and other events of a table."""
    explain_columns(block, reader)
    name = ""
    for line in block.lines:
        where = f"{block.sheet}, {line.where}" if block.sheet else line.where
        cells = {
            head.of if head.role == "event" else head.role: (cell, head.unit)
            for head, cell in zip(block.headings, line.cells, strict=False)
            if not empty(cell) and head.role not in ("unknown", "ignore")
        }
        if not cells:
            continue
        name = cells.get("coral", (name, ""))[0]
        known = reader.known.names.get("coral", {})
        id = known.get(folded_text(name)) or known.get(folded_text(id_of(name)))
        day = cells.get("day", (block.day, ""))[0]
        if id is None or not day:
            wrong = f"there is no coral '{name}' (make its file first)" if day else "no day"
            reader.doubt(where, wrong)
        elif at := moment_in_cells(day, "", where, set(), reader, Times()):
            for change in _changes(where, id, cells, at[0], reader):
                reader.found.facts.append(SheetFact(reader.known.homes.get(id, "corals"), change, where))


def _changes(where: str, id: str, cells: _Cells, at: datetime, reader: SheetReader) -> Iterator[Fact]:
    """The events of a row; a doubt for each part that says none."""
    known = replace(reader.known, coral=id)
    note, made = cells.get("note", ("", ""))[0], list[Fact]()
    for said in _said(where, cells, reader):
        tried = [understood(text, known) for text in (said, f"health {said}")]
        sound = (each for each in tried if not each.refusals and all(one.coral == id for one in each.changes))
        found = next(sound, None)
        if found is None:
            wrong = (
                tried[0].refusals[0]
                if tried[0].refusals
                else f"'{said}' says nothing of a coral (write for example moved, cut, lost or tissue loss)"
            )
            reader.doubt(where, str(wrong))
            continue
        made += [replace(change, at=Stamp(at.date(), time())) for change in found.changes]
    if note:
        place = next(
            (n for n, change in enumerate(made) if _NOTED.get(change.into, "") not in ("", *change.values)), None
        )
        if place is None:
            reader.doubt(where, f"'{note}' has no place in a coral's file (write it into its story)")
        else:
            made[place] = replace(made[place], values={**made[place].values, _NOTED[made[place].into]: note})
    yield from made


def _said(where: str, cells: _Cells, reader: SheetReader) -> Iterator[str]:
    """The events of a row, each as the shorthand says it."""
    numbers = {
        name: _number(where, name, *cells[name], reader) for name in ("mass", "holder", *_SIDES) if name in cells
    }
    if mass := numbers.get("mass"):
        yield f"weighed {mass}{f' holder {holder}' if (holder := numbers.get('holder')) else ''}"
    if sides := [side for name in _SIDES if (side := numbers.get(name))]:
        yield f"measured {' x '.join(sides)}"
    what, frags, place = (cells.get(name, ("", ""))[0] for name in ("what", "frags", "place"))
    if what or frags or place:
        verb = what or ("cut" if frags else "moved to")
        yield " ".join(filter(None, (verb, f"{frags} frags" if frags else "", place)))


def _number(where: str, name: str, cell: str, unit: str, reader: SheetReader) -> str:
    """A mass or a length with its unit, or "" and a doubt."""
    kind = "length" if name in _SIDES else "mass"
    number = number_in(cell, reader.decimal)
    found = number and KINDS[kind].unit(number.rest or unit or reader.known.units.get(kind, KINDS[kind].canonical))
    if not number or not found or number.below:
        reader.doubt(where, f"'{cell}' is not a {kind} with a unit ({name})")
        return ""
    return f"{number.digits} {found.symbol}"
