"""A file's text in the house form: quantities by their fields' names, units as the table has them. Comments stay."""

import re
from collections.abc import Iterator
from typing import Any, NamedTuple

from generator.read.kinds import KINDS_OF_FILE, LISTS, with_unit_of_name
from generator.read.shape import Shape, shape_of
from generator.read.yaml_lines import Mark
from generator.records.settings import FORMAT
from generator.shorthand.yaml_text import document_of, lines_of, put_first, without_mark
from generator.units.kinds import KINDS
from generator.units.names import kind_named

_PARTS = re.compile(r"([<>]?\s*[+-]?[\d_.]+)\s*(.*)")


class Edit(NamedTuple):
    """Words at a place of a text (line and column from 1), and what replaces them."""

    line: int
    column: int
    old: str
    new: str

    def __str__(self) -> str:
        return f"{self.old} → {self.new}" if self.old else self.new


def house_form(text: str, kind: str, file: str) -> tuple[str, list[Edit]]:
    """The text of a file of a kind (logs, systems …) in the house form, and what that changed, in order.

    Raises `CannotExtend` for a text that is no sound YAML.
    """
    start, text = without_mark(text)
    document = document_of(text, file)
    shape = shape_of(KINDS_OF_FILE[kind])
    whole = Shape("list", {}, shape, holds_records=True) if kind in LISTS else shape
    lines, made = lines_of(text), []
    edits = sorted(_edits(document.value, document.mark, whole))
    for edit in reversed(edits):
        line, at = lines[edit.line - 1], edit.column - 1
        at += line[at : at + 1] in ("'", '"')
        if line[at:].startswith(edit.old):  # a value that goes over several lines stays as it is
            lines[edit.line - 1] = f"{line[:at]}{edit.new}{line[at + len(edit.old) :]}"
            made.append(edit)
    tidied, newest = "".join(lines), f"format: {FORMAT}"
    if kind == "journal" and isinstance(document.value, dict) and "format" not in document.value:
        tidied = put_first(tidied, document.mark, newest)
        made.append(Edit(document.mark.line, document.mark.column, "", newest))
    return start + tidied, made[::-1]


def _edits(value: Any, mark: Mark, shape: Shape) -> Iterator[Edit]:
    if isinstance(value, dict) and shape.form in ("record", "mapping"):
        for name, inner in value.items():
            field = shape.field_meant(name) if shape.form == "record" else None
            key, at = mark.inside[name]
            if field is not None and field not in value:
                yield Edit(key.line, key.column, name, field)
                if with_unit_of_name(inner, name, field) != inner:
                    yield Edit(at.line, at.column, inner, with_unit_of_name(inner, name, field))
            elif name == "units" and shape.form == "record":
                yield from _units(inner, at)
            elif name == "format" and shape.form == "record" and inner in map(str, range(1, FORMAT)):
                yield Edit(at.line, at.column, inner, str(FORMAT))
            below = shape.fields.get(field or name) if shape.form == "record" else shape.item
            if below is not None:
                yield from _edits(inner, at, below)
    elif isinstance(value, list) and shape.item is not None:
        for inner, at in zip(value, mark.inside, strict=True):
            yield from _edits(inner, at, shape.item)
    elif isinstance(value, str) and shape.quantity:
        parts = _PARTS.fullmatch(value)
        unit = KINDS[shape.quantity].unit(parts[2]) if parts and parts[2] else None
        if parts and unit and f"{parts[1]} {unit.symbol}" != value:
            yield Edit(mark.line, mark.column, value, f"{parts[1]} {unit.symbol}")


def _units(value: Any, mark: Mark) -> Iterator[Edit]:
    """The names and units of `units` in journal.yaml."""
    for name, written in value.items() if isinstance(value, dict) else ():
        key, at = mark.inside[name]
        kind = kind_named(name) or name
        unit = KINDS[kind].unit(str(written)) if kind in KINDS else None
        if kind != name and kind not in value:
            yield Edit(key.line, key.column, name, kind)
        if unit and unit.symbol != written:
            yield Edit(at.line, at.column, written, unit.symbol)
