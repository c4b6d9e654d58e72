"""Where the tables of a sheet are, and which way they run: wide, long, turned on their side, side by side, stacked."""

import json
from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from generator.gather.headings import Heading, days_in, empty, heading, number_in, table_of
from generator.gather.opening import Row, Sheet
from generator.read.recovery import read_yaml
from generator.shorthand.scanner import folded_text
from generator.units.kinds import kinds_of_unit

Names = Mapping[str, Mapping[str, str]]
_ASIDE = ("system", "tank", "aquarium", "becken")


class SheetLine(Struct, frozen=True):
    """One row of a table, with the words by which the keeper finds it: `row 7`, or `column C` of a turned table."""

    where: str
    cells: Row


class Block(Struct, frozen=True):
    """A table: its headings, its lines, and what stands above it: the label of a tank, the text of a day."""

    sheet: str
    headings: tuple[Heading, ...]
    lines: tuple[SheetLine, ...]
    label: str = ""
    day: str = ""


class SheetLayout(Struct, frozen=True):
    """The tables of a sheet, and the lines that belong to none."""

    blocks: tuple[Block, ...]
    strays: tuple[SheetLine, ...]


class _Above(Struct):
    """What was read above the next table."""

    label: str = ""
    day: str = ""
    labels: Row = ()


def layout(sheet: Sheet, names: Names, told: Mapping[str, str], alone: bool = False) -> SheetLayout:
    """Find the tables of a sheet. The sheet may be named after a tank; `alone`: it is the only one of its file."""
    rows, blocks, strays, above, at = sheet.rows, [], [], _Above(), 0
    if system_named(sheet.name, names, told):
        above.label = sheet.name
    sheet = Sheet("" if alone else sheet.name, rows)
    headings: tuple[Heading, ...] = ()
    while at < len(rows):
        start = 0
        if turned := _turned(sheet, at, names, told, above):
            block, at = turned
            blocks.append(block)
            continue
        if found := _headings_at(rows, at, names, told):
            headings, start = _labelled(found[0], above), found[1]
        elif not _look_above(rows[at], rows, at, names, told, above):
            if blocks and any(not empty(cell) for cell in rows[at]):
                strays.append(SheetLine(f"row {at + 1}", rows[at]))
        elif headings and above.label and _data_next(rows, at + 1, names, told):
            start = at + 1  # another tank, under the same headings
        if start:
            lines, at = _lines(rows, headings, start, names, told)
            blocks.append(_dated(Block(sheet.name, headings, lines, above.label, above.day), names, told))
            above.labels = ()
        else:
            at += 1
    return SheetLayout(tuple(blocks), tuple(strays))


def _dated(block: Block, names: Names, told: Mapping[str, str]) -> Block:
    """A table with its days: in a column of nothing but days, whatever its heading; or told in a line of a report."""
    roles = [head.role for head in block.headings]
    if "day" in roles or block.day:
        return block
    if {"name", "value"} <= set(roles):
        name, value = roles.index("name"), roles.index("value")
        told_in = [line for line in block.lines if heading(line.cells[name], names, told).role == "day"]
        day = next((line.cells[value] for line in told_in if days_in(line.cells[value])), "")
        return replace(block, day=day, lines=tuple(line for line in block.lines if not day or line not in told_in))
    for place, head in enumerate(block.headings):
        cells = [line.cells[place] for line in block.lines if not empty(line.cells[place])]
        if head.role == "unknown" and sum(bool(days_in(cell)) for cell in cells) * 2 >= len(cells) > 0:
            dated = replace(head, role="day")
            return replace(block, headings=(*block.headings[:place], dated, *block.headings[place + 1 :]))
    return block


def _headings_at(
    rows: tuple[Row, ...], at: int, names: Names, told: Mapping[str, str]
) -> tuple[tuple[Heading, ...], int] | None:
    """The headings of a row, or of it and the next one together, and where the lines below begin."""
    row = rows[at]
    if not any(row) or _has_data(row):
        return None
    table = table_of(row)
    single = tuple(heading(cell, names, told, table) for cell in row)
    if not table and at + 1 < len(rows) and any(rows[at + 1]) and not _has_data(rows[at + 1]):
        width = max(len(row), len(rows[at + 1]))
        top, bottom = _padded(row, width), _padded(rows[at + 1], width)
        if any(kinds_of_unit(cell.strip("()[] ")) for cell in bottom if cell) and _is_head(single):
            both = tuple(heading(f"{a} {b}".strip(), names, told) for a, b in zip(top, bottom, strict=True))
            if _is_head(both):
                return both, at + 2
    return (single, at + 1) if _is_head(single) else None


def _is_head(headings: tuple[Heading, ...]) -> bool:
    roles = [each.role for each in headings]
    levels = sum(role in ("level", "dose", "pump", "change") for role in roles)
    of_corals = any((each.role, each.of) in (("field", "species"), ("event", "coral")) for each in headings)
    return of_corals or levels >= 2 or (levels >= 1 and "day" in roles) or {"name", "value"} <= set(roles)


def _has_data(row: Row) -> bool:
    return any(number_in(cell) or days_in(cell) for cell in row)


def _padded(row: Row, width: int) -> Row:
    return (*row, *[""] * (width - len(row)))


def _labelled(headings: tuple[Heading, ...], above: _Above) -> tuple[Heading, ...]:
    """The headings with the merged labels above them, each of which counts up to the next."""
    if not above.labels:
        return headings
    found, label = [], ""
    for each, over in zip(headings, _padded(above.labels, len(headings)), strict=False):
        label = over or label
        found.append(replace(each, label=label) if each.role not in ("day", "clock") else each)
    return tuple(found)


def _lines(
    rows: tuple[Row, ...], headings: tuple[Heading, ...], start: int, names: Names, told: Mapping[str, str]
) -> tuple[tuple[SheetLine, ...], int]:
    """The lines below headings, up to the next headings, to labels above those, or to the name of another tank."""
    lines, at = [], start
    while at < len(rows):
        row = rows[at]
        alone = [cell for cell in row if cell]
        if _headings_at(rows, at, names, told) or _labels_next(rows, at, names, told):
            break
        if len(alone) == 1 and system_named(alone[0], names, told):
            break
        if any(not empty(cell) for cell in row):
            lines.append(SheetLine(f"row {at + 1}", _padded(row, len(headings))))
        at += 1
    return tuple(lines), at


def system_named(text: str, names: Names, told: Mapping[str, str]) -> str | None:
    """The id of the system that a text names, with or without the word tank."""
    words = folded_text(told.get(folded_text(text), text)).replace(":", " ").split()
    known = names.get("system", {})
    rest = words[1:] if words and words[0] in _ASIDE else words
    return known.get(" ".join(words)) or known.get(" ".join(rest))


def _labels_next(rows: tuple[Row, ...], at: int, names: Names, told: Mapping[str, str]) -> bool:
    """Whether a row has only labels, for the headings right below it."""
    row = rows[at]
    return (
        any(row) and not _has_data(row) and at + 1 < len(rows) and _headings_at(rows, at + 1, names, told) is not None
    )


def _data_next(rows: tuple[Row, ...], at: int, names: Names, told: Mapping[str, str]) -> bool:
    """Whether the next row that says anything is one of data."""
    following = next((place for place in range(at, len(rows)) if any(rows[place])), None)
    return following is not None and _has_data(rows[following]) and _headings_at(rows, following, names, told) is None


def _look_above(row: Row, rows: tuple[Row, ...], at: int, names: Names, told: Mapping[str, str], above: _Above) -> bool:
    """Take what a row above a table says: a tank, a day, or labels; whether it said any."""
    said = [cell for cell in row if cell]
    if not said:
        return True
    first, _, rest = said[0].partition(":")
    cells = [rest.strip(), *said[1:]] if rest else said[1:]
    if folded_text(first) in _ASIDE and cells:
        above.label = cells[0]
    elif heading(first, names, told).role == "day" and (day := next((cell for cell in cells if days_in(cell)), None)):
        above.day = day
    elif _labels_next(rows, at, names, told) and (len(said) > 1 or row.index(said[0]) > 0):
        above.labels = row
    elif len(said) == 1 and system_named(said[0], names, told):
        above.label = said[0]
    else:
        return False
    return True


def _turned(sheet: Sheet, at: int, names: Names, told: Mapping[str, str], above: _Above) -> tuple[Block, int] | None:
    """A table whose days stand side by side and whose quantities stand one below the other, turned upright."""
    rows, row = sheet.rows, sheet.rows[at]
    days = [place for place, cell in enumerate(row) if days_in(cell)]
    first = heading(row[0], names, told).role if row else "unknown"
    if not days or days[0] == 0 or (len(days) < 2 and first != "name") or (row[0] and first not in ("name", "day")):
        return None
    end = at + 1
    while end < len(rows) and any(rows[end]):
        end += 1
    units = next((place for place, cell in enumerate(row) if heading(cell, names, told).role == "unit"), None)
    body = [_padded(each, len(row)) for each in rows[at + 1 : end]]
    heads = [heading(f"{each[0]} {each[units]}" if units else each[0], names, told) for each in body]
    if not any(each.role == "level" for each in heads):
        return None
    lines = [SheetLine(f"column {_letter(place)}", (row[place], *(each[place] for each in body))) for place in days]
    return Block(sheet.name, (Heading("", "day"), *heads), tuple(lines), above.label, above.day), end


def _letter(place: int) -> str:
    """What a spreadsheet calls a column."""
    before, last = divmod(place, 26)
    return f"{_letter(before - 1) if before else ''}{chr(65 + last)}"


FILE = ".gather.yaml"
_ABOUT = "# What you told `corallite gather` about spreadsheets, by their headings. You may correct or delete it.\n"
# What is true of one file only.
_ONCE = ("day",)


def signature(sheets: Sequence[Sheet], names: Names) -> str:
    """What files of one shape have in common: the headings of their first table."""
    for sheet in sheets:
        for block in layout(sheet, names, {}).blocks:
            return " | ".join(head.text for head in block.headings if head.text)
    return sheets[0].name if sheets else ""


def kept(text: str) -> dict[str, dict[str, str]]:
    """The answers in a file's text, by signature. Raises `ValueError` for a text that has none."""
    document, problems = read_yaml(text, FILE) if text.strip() else (None, ())
    if problems:
        raise ValueError(str(problems[0]))
    found = document.value if document is not None else {}
    if not isinstance(found, dict) or not all(isinstance(each, dict) for each in found.values()):
        raise ValueError(f"{FILE} is not a list of answers by headings (delete it, and answer again)")
    return {str(headings): {str(k): str(v) for k, v in each.items()} for headings, each in found.items()}


def with_answers(text: str, headings: str, answers: Mapping[str, str]) -> str:
    """A file's text with the answers for some headings in place of those before."""
    every = {**kept(text), headings: {key: value for key, value in answers.items() if key not in _ONCE}}
    lines = [_ABOUT]
    for name, each in sorted((name, each) for name, each in every.items() if each):
        lines.append(f"{_text(name)}:\n")
        lines += [f"  {_text(key)}: {_text(value)}\n" for key, value in sorted(each.items())]
    return "".join(lines) if len(lines) > 1 else ""


def _text(said: str) -> str:
    return json.dumps(said, ensure_ascii=False)
