"""What the tables of a spreadsheet mean for the logs: facts, doubts by row, and the questions that are left."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from generator.gather.events import coral_facts, event_facts, level, quantity, same_level
from generator.gather.found import Gathered, SheetFact, SheetReader, Times, is_day, moment_in_cells, order_of
from generator.gather.headings import Heading, decimal_sign, empty, heading, poured
from generator.gather.layout import Block, SheetLine, layout, system_named
from generator.gather.opening import Sheet
from generator.shorthand.finish import Fact, Stamp, Terms
from generator.shorthand.scanner import folded_text
from generator.units.quantity import Quantity


def gathered(sheets: Sequence[Sheet], known: Terms, answers: Mapping[str, str]) -> Gathered:
    """What sheets say. `known` is what the journal knows; `answers` are those of the questions asked before."""
    reader = SheetReader(known, answers, Gathered())
    # With one sheet, its name says nothing that the keeper needs.
    layouts = [(sheet, layout(sheet, known.names, reader.told, alone=len(sheets) == 1)) for sheet in sheets]
    cells = [cell for sheet in sheets for row in sheet.rows for cell in row]
    reader.decimal = answers.get("decimal") or decimal_sign(cells)
    reader.order = order_of([each for _, each in layouts], reader)
    if not cells:
        reader.doubt(" and ".join(sheet.name for sheet in sheets), "there is nothing in it")
    for sheet, each in layouts:
        if any(sheet.rows) and not each.blocks:
            reader.doubt(sheet.name, "no row with headings, such as Date and Alkalinity")
        for stray in each.strays:
            said = " ".join(cell for cell in stray.cells if cell)
            reader.doubt(_at(sheet.name if len(sheets) > 1 else "", stray.where), f"'{said}' is in no table")
        for block in each.blocks:
            if any(head.role == "field" for head in block.headings):
                coral_facts(block, reader)
            elif any(head.role == "event" for head in block.headings):
                event_facts(block, reader)
            else:
                _read(block, reader)
    return reader.found


def _at(sheet: str, where: str) -> str:
    return f"{sheet}, {where}" if sheet else where


def _read(block: Block, reader: SheetReader) -> None:
    """Take the facts of one table."""
    _explain(block, reader)
    long = {"name", "value"} <= {head.role for head in block.headings}
    day_columns = [place for place, head in enumerate(block.headings) if head.role == "day"]
    spans = zip(day_columns or [0], [*day_columns[1:], len(block.headings)], strict=True)
    parts = [(day, range(0 if number == 0 else day, end)) for number, (day, end) in enumerate(spans)]
    for day_column, places in parts:
        last, system, times = "", "", Times()
        for line in block.lines:
            where = _at(block.sheet, line.where)
            cells = {place: line.cells[place] for place in places if _says(block.headings[place], line.cells[place])}
            if not cells:
                continue
            last = cells.get(day_column, last) if day_columns else block.day or reader.answers.get("day", "")
            system = next((cells[p] for p in cells if block.headings[p].role == "system"), system)
            row = _Row(block, line, where, cells, last, system)
            facts = list(_long(row, reader) if long else _wide(row, reader))
            reader.found.facts += _timed(facts, row, reader, times)
            if not facts and day_columns and cells.keys() <= {day_column} and not is_day(last):
                reader.doubt(where, f"'{last}' is not a day")


def _says(head: Heading, cell: str) -> bool:
    # What stands for nothing among numbers is a keeper's word among notes.
    return bool(cell) if head.role == "note" else not empty(cell)


class _Row(Struct, frozen=True):
    block: Block
    line: SheetLine
    where: str
    cells: Mapping[int, str]
    day: str
    system: str

    def of(self, role: str) -> str:
        """The first cell under a heading of a role."""
        return next((cell for place, cell in self.cells.items() if self.block.headings[place].role == role), "")

    def all_of(self, *roles: str) -> Iterator[tuple[Heading, str]]:
        """Every heading of some roles, with its cell."""
        for place, cell in self.cells.items():
            if self.block.headings[place].role in roles:
                yield self.block.headings[place], cell


_Part = tuple[str, Fact]


def _explain(block: Block, reader: SheetReader) -> None:
    """Say what each column means, and ask about those that nobody can know."""
    for place, head in enumerate(block.headings):
        used = any(not empty(line.cells[place]) for line in block.lines)
        if not head.text.strip() or not used:
            continue
        if head.role == "unknown":
            asks = f"What is in the column '{head.text}'?"
            if solution := poured(head.text):
                systems = sorted(set(reader.known.names.get("system", {}).values()))
                system = reader.answers.get("system") or next(iter(systems), "reef")
                line = f"corallite note {system} 'solution {solution} Na2CO3 60 g/L'"
                asks += f" If a solution, say first what is in it, with your own compound and strength: {line}"
            reader.found.ask(f"is:{folded_text(head.text)}", asks, "nitrate mg/L, or ignore")
        unit = head.unit or reader.answers.get(f"unit:{head.of}") or reader.known.units.get(head.of, "")
        means = {
            "level": f"{head.of}, {unit}",
            "dose": f"dose of {head.of}",
            "pump": f"pump of {head.of}",
            "change": "water change",
        }
        why = "left out: not a quantity of the journal" if head.of == "element" else "left out"
        entry = (block.sheet, head.text, means.get(head.role, why if head.role == "ignore" else head.role))
        if entry not in reader.found.columns:
            reader.found.columns.append(entry)


def _wide(row: _Row, reader: SheetReader) -> Iterator[_Part]:
    before: dict[tuple[str, str], Quantity] = {}
    for head, cell in row.all_of("level"):
        system = _system(row, head, reader)
        if (value := level(row.where, head.of, head.unit, cell, reader)) and system:
            first = before.setdefault((system, value.kind), value)
            if first is not value and same_level(first, value):
                continue  # the same reading, in another unit
            yield system, _change("readings", {value.kind: value}, cell)
    for head, cell in row.all_of("dose", "change"):
        value = quantity(row.where, "volume", head.unit, cell, reader)
        if value and (system := _system(row, head, reader)):
            into, part = ("doses", head.of) if head.role == "dose" else ("water_change", "volume")
            yield system, _change(into, {part: value}, cell)
    for head, cell in row.all_of("pump"):
        rate = quantity(row.where, "rate", head.unit, cell, reader)
        if rate and (system := _system(row, head, reader)):
            yield system, _change("pumps", {head.of: rate}, cell)
    notes = [cell for _, cell in row.all_of("note")]
    if notes and (system := _system(row, Heading("", "note"), reader)):
        yield system, _change("note", {"note": "; ".join(notes)}, notes[0])


def _long(row: _Row, reader: SheetReader) -> Iterator[_Part]:
    name, cell = row.of("name"), row.of("value")
    if not name or not cell:
        return
    unit = row.of("unit") or next(head.unit for head, _ in row.all_of("value"))
    head = heading(f"{name} {unit}", reader.known.names, reader.told)
    if head.role == "ignore" and head.of == "element":
        entry = (row.block.sheet, name, "left out: not a quantity of the journal")
        if entry not in reader.found.columns:
            reader.found.columns.append(entry)
        return
    if head.role != "level":
        reader.doubt(row.where, f"'{name}' is not a quantity of the journal")
        return
    if row.of("below").casefold() in ("true", "1", "yes") and not cell.startswith("<"):
        cell = f"<{cell}"
    value, system = level(row.where, head.of, head.unit, cell, reader), _system(row, Heading("", "value"), reader)
    if value and system:
        yield system, _change("readings", {value.kind: value}, cell)
        if note := row.of("note"):
            yield system, _change("note", {"note": note}, note)


def _change(into: str, values: Mapping[str, Quantity | str], said: str) -> Fact:
    return Fact(into, values, Stamp(date.min), said)


def _system(row: _Row, head: Heading, reader: SheetReader) -> str | None:
    """The system of a cell: its column's, its row's, its table's, the answer, or the only one there is."""
    for label in filter(None, (head.label, row.system, row.block.label)):
        if found := system_named(label, reader.known.names, reader.told):
            return found
        if reader.told.get(folded_text(label)) == "ignore":
            return None
        if label != head.label or _several(row.block, head):
            return reader.system(label, "", "ignore")
    return reader.system("", f"Whose water is {row.block.sheet or 'this'}?")


def _several(block: Block, head: Heading) -> bool:
    """Whether a table has the same quantity more than once, so that labels must tell the tanks apart."""
    return head.role == "level" and [each.of for each in block.headings if each.role == "level"].count(head.of) > 1


def _timed(facts: list[_Part], row: _Row, reader: SheetReader, times: Times) -> Iterator[SheetFact]:
    """The facts of a row at its moment."""
    if not facts:
        return
    if not row.day:
        if any(head.role == "day" for head in row.block.headings):
            reader.doubt(row.where, "no day here or above")
        else:
            reader.found.ask("day", "On which day was this tested?", "2026-03-02")
        return
    taken = {(system, change.into, *change.values) for system, change in facts}
    found = moment_in_cells(row.day, row.of("clock"), row.where, taken, reader, times)
    if found is not None:
        at = Stamp(found[0].date(), found[0].time())
        yield from (SheetFact(system, replace(change, at=at), row.where, timed=found[1]) for system, change in facts)
