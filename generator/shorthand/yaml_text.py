"""Facts as YAML, how they enter a text that someone wrote, a text in the house form; and the files of corals."""

import json
import re
from collections.abc import Collection, Iterator, Mapping
from typing import Any, NamedTuple

from generator.read.draft import FieldShape, shape_of
from generator.read.kinds import KINDS_OF_FILE, LISTS, with_unit_of_name
from generator.read.recovery import read_yaml
from generator.read.yaml_lines import Mark, Parsed
from generator.records.coral import Coral, Cutting, End, Health, Photo, Placement, Size, Weighing
from generator.records.settings import FORMAT
from generator.records.source import FromFile
from generator.shorthand.finish import Fact, Value
from generator.units.kinds import KINDS, kind_named
from generator.units.quantity import Quantity

Fields = Mapping[str, "str | Mapping[str, str]"]

_PLAIN = re.compile(r"[A-Za-z0-9<][\w.<>/%°µ+ -]*(?<! )")
_PLAIN_WORDS = re.compile(r"[^\W\d_][^:#\"\\]*(?<! )")
_EMPTY = ("null", "~", "")


class CannotExtend(ValueError):
    """A text into which nothing can be put without changing the rest of it."""


def written(value: Value) -> str:
    """A value as the files write it, fit for a mapping between braces."""
    if isinstance(value, Quantity | int):
        return str(value)
    if isinstance(value, tuple):
        return f"[{', '.join(map(str, value))}]"
    text = " ".join(value.split())
    return text if _PLAIN.fullmatch(text) and text.lower() not in _EMPTY else json.dumps(text, ensure_ascii=False)


def words(text: str) -> str:
    """A keeper's own words as a value on a line of its own: plain if they can be."""
    one_line = " ".join(text.split())
    plain = _PLAIN_WORDS.fullmatch(one_line) and one_line.lower() not in _EMPTY
    return one_line if plain else json.dumps(one_line, ensure_ascii=False)


def braces(parts: Mapping[str, str]) -> str:
    """A mapping on one line."""
    return "{" + ", ".join(f"{key}: {value}" for key, value in parts.items()) + "}"


def newline_of(text: str) -> str:
    """How the lines of a text end."""
    return "\r\n" if "\r\n" in text else "\n"


def lines_of(text: str) -> list[str]:
    """The lines of a text as YAML counts them, each with its own end: a file may have both kinds."""
    return re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+", text)


def without_mark(text: str) -> tuple[str, str]:
    """The byte order mark that some editors begin a text with, and the rest, by which YAML counts columns."""
    return (text[:1], text[1:]) if text.startswith("\ufeff") else ("", text)


def put_first(text: str, mark: Mark, entry: str) -> str:
    """A text with an entry added as the first of the mapping at a mark."""
    start, text = without_mark(text)
    lines = lines_of(text)
    line = lines[mark.line - 1]
    before, after = line[: mark.column - 1], line[mark.column - 1 :]
    if after.startswith("{"):
        inner = after[1:].lstrip(" ")
        lines[mark.line - 1] = f"{before}{{{entry}{'' if inner.startswith('}') else ', '}{inner}"
    else:
        lines[mark.line - 1] = f"{before}{entry}{newline_of(text)}{' ' * len(before)}{after}"
    return start + "".join(lines)


def put_lines(text: str, after: int, new: list[str]) -> str:
    """A text with lines added after its line number `after` (0: at its start)."""
    start, text = without_mark(text)
    end, lines = newline_of(text), lines_of(text)
    if lines and not lines[-1].endswith(("\n", "\r")):
        lines[-1] += end
    return start + "".join([*lines[:after], *(f"{line}{end}" for line in new), *lines[after:]])


def yaml_document(text: str, file: str) -> Parsed:
    """What a text says. Raises `CannotExtend` if it has mistakes that YAML itself knows."""
    document, problems = read_yaml(text, file)
    if document is None or problems:
        raise CannotExtend(
            f"{file} cannot be extended (correct it first: {problems[0] if problems else 'it is empty'})"
        )
    return document


def last_line(text: str, mark: Mark, following: int | None) -> int:
    """The last line of what stands at a mark, before the line where something else follows; not its comments."""
    lines = lines_of(text)
    last = (following or len(lines) + 1) - 1
    while last > mark.line and (not lines[last - 1].strip() or _is_comment(lines[last - 1], mark)):
        last -= 1
    return last


def _is_comment(line: str, mark: Mark) -> bool:
    stripped = line.lstrip(" \ufeff")
    return stripped.startswith("#") and len(line) - len(stripped) < mark.column


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
    document = yaml_document(text, file)
    shape = shape_of(KINDS_OF_FILE[kind])
    whole = FieldShape("list", {}, shape, holds_records=True) if kind in LISTS else shape
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


def _edits(value: Any, mark: Mark, shape: FieldShape) -> Iterator[Edit]:
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


SCHEMA = "# yaml-language-server: $schema=../.schemas/corals.json"

_RECORDS: dict[str, type[FromFile]] = {
    "weighings": Weighing,
    "sizes": Size,
    "placements": Placement,
    "cuttings": Cutting,
    "end": End,
    "health": Health,
    "photos": Photo,
}
_SIZE = ("length", "width", "height")
_NUMBERED = re.compile(r"(.*?)[ -]?(\d+)")


def with_fact(text: str, change: Fact, file: str, into: Collection[str] = ()) -> str:
    """A coral's text with one fact more. `into` are the frags of a cutting that have files.

    Raises `CannotExtend` for a text that cannot be extended, or a coral that has ended already.
    """
    day = {"since" if change.into == "placements" else "at": str(change.at.day)}
    said = {name: written(value) for name, value in change.values.items()}
    if into:
        said["into"] = f"[{', '.join(into)}]"
    parts = day | {name: said[name] for name in _RECORDS[change.into].__struct_fields__ if name in said}
    item = braces(parts)
    document = yaml_document(text, file)
    if not isinstance(document.value, dict):
        raise CannotExtend(f"{file} is not a coral's file (start it with 'name: …')")
    expected = dict(document.value)
    (plain,) = yaml_document(f"- {item}", file).value
    lines = lines_of(text)
    if change.into == "end":
        if "end" in expected:
            raise CannotExtend(f"{file} has an end already (correct that line)")
        new, expected["end"] = put_lines(text, len(lines), [f"end: {item}"]), plain
    elif change.into not in expected:
        new = put_lines(text, len(lines), [f"{change.into}:", f"  - {item}"])
        expected[change.into] = [plain]
    else:
        _, mark = document.mark.inside[change.into]
        old = expected[change.into]
        if not isinstance(old, list) or not mark.inside or "- " not in lines[mark.inside[-1].line - 1]:
            raise CannotExtend(f"{file}: {change.into} is not a list, line by line (start each item with '- ')")
        last = mark.inside[-1]
        indent = lines[last.line - 1].partition("- ")[0]
        following = min((key.line for key, _ in document.mark.inside.values() if key.line > last.line), default=None)
        new = put_lines(text, last_line(text, last, following), [f"{indent}- {item}"])
        expected[change.into] = [*old, plain]
    if yaml_document(new, file).value != expected:
        raise CannotExtend(f"{file} is written in a way that cannot be extended (add the line by hand)")
    return new


def new_coral(change: Fact, system: str, corals: Mapping[str, Coral]) -> str:
    """The text of the file of a coral that has come, for `system` if the line names no place."""
    values = change.values
    parent = corals.get(str(values.get("parent", "")))
    line = str(values.get("line", parent.line if parent else line_of(change.coral)))
    arrival: dict[str, Value] = {"at": str(change.at.day), "how": values["how"]}
    arrival |= {name: values[name] for name in ("partner", "note") if name in values}
    return _file(
        name=str(values["name"]),
        species=str(values["species"]),
        line=line,
        form=str(values["form"]),
        parent=parent.id if parent else None,
        arrival=arrival,
        placement={"system": values.get("system", system)} | {n: values[n] for n in ("place",) if n in values},
        size={name: values[name] for name in _SIZE if name in values},
    )


def frags_of(change: Fact, corals: Mapping[str, Coral]) -> dict[str, str]:
    """The files of the frags that a cutting makes, by their ids: the next numbers of the name it has.

    A frag cut from it that day has its file already if no cutting names it yet: its text here is "".
    """
    parent, count = corals[change.coral], change.values["frags"]
    if "nameless" in change.values or not isinstance(count, int):
        return {}
    home = parent.placement_on(change.at.day)
    match = _NUMBERED.fullmatch(parent.name)
    name, stem = (match[1] if match else parent.name), line_of(parent.id)
    taken = [int(m[2]) for id in corals if (m := _NUMBERED.fullmatch(id)) and m[1] == stem]
    named = {id for cutting in parent.cuttings for id in cutting.into}
    there = [id for id, coral in corals.items() if id not in named and _cut_from(coral, parent, change)][:count]
    first = max([*taken, 1]) + 1
    return dict.fromkeys(there, "") | {
        f"{stem}-{number}": _file(
            name=f"{name} {number}",
            species=parent.species,
            line=parent.line,
            form=parent.form,
            parent=parent.id,
            arrival={"at": str(change.at.day), "how": "cutting"},
            placement={"system": home.system} if home else {},
            size={},
        )
        for number in range(first, first + count - len(there))
    }


def _cut_from(coral: Coral, parent: Coral, change: Fact) -> bool:
    """Whether a coral is a frag cut from another on the day of a change."""
    return coral.parent == parent.id and coral.arrival.how == "cutting" and coral.arrival.at == change.at.day


def line_of(id: str) -> str:
    """The line of a coral that no parent and nobody's word gives one: its id without its number."""
    match = _NUMBERED.fullmatch(id)
    return match[1] if match and match[1] else id


def _file(
    *,
    name: str,
    species: str,
    line: str,
    form: str,
    parent: str | None,
    arrival: Mapping[str, Value],
    placement: Mapping[str, Value],
    size: Mapping[str, Value],
) -> str:
    day = str(arrival["at"])
    lines = [SCHEMA, f"name: {written(name)}", f"species: {written(species)}", f"line: {line}", f"form: {form}"]
    lines += [f"parent: {parent}"] if parent else []
    lines.append(f"arrival: {_braces(arrival)}")
    if placement:
        lines += ["placements:", f"  - {_braces({'since': day, **placement})}"]
    if size:
        lines += ["sizes:", f"  - {_braces({'at': day, **size})}"]
    return "\n".join(lines) + "\n"


def _braces(parts: Mapping[str, Value]) -> str:
    return braces({name: written(value) for name, value in parts.items()})
