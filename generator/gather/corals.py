"""Corals from a spreadsheet: each row becomes a coral that is new to the journal."""

import re
from collections.abc import Mapping
from datetime import time

from generator.gather.cells import empty, number_in
from generator.gather.days import moment_of
from generator.gather.found import Doubt, Fact, Reader
from generator.gather.layout import Block, system_named
from generator.shorthand.finish import Change, Moment, Value, id_of
from generator.shorthand.scanner import folded
from generator.shorthand.tables import tables
from generator.units.kinds import KINDS
from generator.units.quantity import parse_quantity

_SPECIES = re.compile(r"[A-Z][a-z]+ (?:[a-z]+|sp\.)")
_SIZE = ("length", "width", "height")


def coral_facts(block: Block, reader: Reader) -> None:
    """Take the corals of a table. One that the journal has already is passed over."""
    explain(block, reader)
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
            lines[id] = said.get("line", id)
            continue
        wrong = _wrong(said, id)
        arrived = None if wrong else moment_of(said["day"], "", where, set(), reader, {})
        if wrong:
            reader.found.doubts.append(Doubt(where, wrong))
        elif arrived is not None and (system := _home(said, block, reader)) is not None:
            values = _values(said, cells, lines, reader)
            lines[id] = str(values.get("line", id))
            change = Change("new", values, Moment(arrived[0].date(), time()), said["name"], id)
            reader.found.facts.append(Fact(system, change, where))


def explain(block: Block, reader: Reader) -> None:
    """Say what each column of a table of corals means, and ask about those that nobody can know."""
    for place, head in enumerate(block.headings):
        if head.text and any(not empty(line.cells[place]) for line in block.lines):
            reader.found.columns.append((block.sheet, head.text, head.of or head.role))
            if head.role == "unknown":
                text = f"What is in the column '{head.text}'?"
                reader.found.ask(f"is:{folded(head.text)}", text, "note, or ignore")


def _wrong(said: Mapping[str, str], id: str) -> str:
    """Why a row makes no coral, or ""."""
    forms, ways = tables().choices["form"], tables().choices["how"]
    if not said.get("name") or not id:
        return "no name"
    if not _SPECIES.fullmatch(said.get("species", "")):
        return f"'{said.get('species', '')}' is not a species (write for example Acropora millepora, or Acropora sp.)"
    if folded(said.get("form", "")) not in forms:
        return f"'{said.get('form', '')}' is not a growth form (write {', '.join(sorted(set(forms.values())))})"
    if said.get("how") and folded(said["how"]) not in ways:
        return f"'{said['how']}' is not a way to arrive (write {', '.join(sorted(set(ways.values())))})"
    if said.get("living", "").casefold() in ("false", "no", "0"):
        return "it is no longer alive (write its file by hand, with its end)"
    return "" if said.get("day") else "no day of arrival"


def _home(said: Mapping[str, str], block: Block, reader: Reader) -> str | None:
    systems = sorted(set(reader.known.names.get("system", {}).values()))
    label = said.get("system") or block.label
    if label:
        if found := system_named(label, reader.known.names, reader.told):
            return found
        reader.found.ask(f"is:{folded(label)}", f"Which system is '{label}'?", systems[0], *systems)
        return None
    if (answer := reader.answers.get("system")) or len(systems) == 1:
        return answer or systems[0]
    reader.found.ask("system", "Which system are they in?", systems[0], *systems)
    return None


def _values(
    said: Mapping[str, str], cells: Mapping[str, tuple[str, str]], lines: Mapping[str, str], reader: Reader
) -> dict[str, Value]:
    """The parts of a new coral. It is of its parent's line, unless the sheet says otherwise."""
    choices = tables().choices
    values: dict[str, Value] = {
        "name": said["name"],
        "species": said["species"],
        "form": choices["form"][folded(said["form"])],
        "how": choices["how"][folded(said.get("how", "unknown"))],
    }
    known = reader.known.names.get("coral", {})
    if parent := said.get("parent"):
        values["parent"] = known.get(folded(parent)) or id_of(parent)
    line = said.get("line") or lines.get(str(values.get("parent", "")))
    values["line"] = id_of(line or said["name"])
    values |= {name: said[name] for name in ("place", "note") if name in said}
    for name in _SIZE:
        cell, unit = cells.get(name, ("", ""))
        number = number_in(cell, reader.decimal)
        if number is not None:
            symbol = KINDS["length"].unit(number.rest or unit or reader.known.units.get("length", "cm"))
            values[name] = parse_quantity(f"{number.digits} {symbol.symbol if symbol else 'cm'}", "length")
    return values
