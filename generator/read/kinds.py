"""Which record each kind of file holds, how its text becomes that record, and the JSON Schema of such files."""

import ast
import json
import re
from collections.abc import Callable
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

from msgspec import Struct

from generator.read.draft import FROM_THE_FILE, Fault, FieldShape, shape_of
from generator.read.messages import say
from generator.read.recovery import Remains, remains
from generator.read.yaml_lines import Mark, Parsed
from generator.records.coral import Coral
from generator.records.journal import Entry
from generator.records.log import LogEntry
from generator.records.settings import Settings
from generator.records.source import FromFile, Problem, Source
from generator.records.system import System
from generator.records.trade import Partner, Planned, Trade
from generator.units.kinds import ANY_OTHER_NAME, WATER_KINDS, unit_said_by

if TYPE_CHECKING:
    from pydantic import TypeAdapter

# Kind of file -> the record it holds; a log holds a list of them.
KINDS_OF_FILE: dict[str, type[FromFile]] = {
    "journal": Settings,
    "systems": System,
    "logs": LogEntry,
    "corals": Coral,
    "trades": Trade,
    "plans": Planned,
    "partners": Partner,
    "entries": Entry,
}
# Kind of file that holds a list -> how each of its items begins.
LISTS = {"logs": "at"}


_BARE = re.compile(r"<?\s*\d+(\.\d+)?")
# A message repeats at most so many letters of what was written.
_LONG = 80


class Meaning(Struct, frozen=True):
    """What bare text means in this journal: the keeper's zone, and the unit of each bare number."""

    zone: ZoneInfo
    units: dict[str, str]


@cache
def _adapter(record: Any) -> "TypeAdapter[Any]":
    from pydantic import TypeAdapter

    return TypeAdapter(record)


class RecordsRead(NamedTuple):
    """The valid records of a file, what remains of the others, and every problem."""

    records: list[Any]
    remains: list[Remains]
    problems: list[Problem]


def records_in(kind: str, document: Parsed, file: str, meaning: Meaning) -> RecordsRead:
    """The records of a file.

    What the file's name or its Markdown adds (`id`, `story`, `body`) must be in `document` already.
    """
    record = KINDS_OF_FILE[kind]
    outcome = RecordsRead([], [], [])
    if kind not in LISTS:
        _validate(record, document, (), file, meaning, outcome)
    elif not isinstance(document.value, list):
        wrong, remedy = "this file must be a list of entries", f"start each entry with '- {LISTS[kind]}: …'"
        outcome.problems.append(Problem(_source(file, document.mark), "shape", wrong, remedy))
    else:
        for index in range(len(document.value)):
            _validate(record, document, (index,), file, meaning, outcome)
    return outcome


def _validate(
    record: type[FromFile],
    document: Parsed,
    at: tuple[str | int, ...],
    file: str,
    meaning: Meaning,
    outcome: RecordsRead,
) -> None:
    from pydantic import ValidationError

    shape, adapter, place = shape_of(record), _adapter(record), document.place(at)
    value = document.value[at[0]] if at else document.value
    context = {"zone": meaning.zone, "units": meaning.units}
    torn = (place.line, place.column) in document.torn
    _put_sources(value, place, shape, file, outcome.problems)
    try:
        found = adapter.validate_python(value, context=context)
    except ValidationError as error:
        for each in error.errors(include_url=False):
            problem = _problem(dict(each), document, at, shape, file)
            outcome.problems.extend([problem] if problem else [])
        rest = remains(adapter, value, shape, error, context, _place(document, at)) if isinstance(value, dict) else None
        outcome.remains.extend([rest._replace(torn=torn)] if rest else [])
        return
    if torn:
        outcome.remains.append(Remains(found, torn=True))
    else:
        outcome.records.append(found)


def _place(document: Parsed, at: tuple[str | int, ...]) -> Callable[[tuple[str | int, ...]], Mark]:
    return lambda path: document.place((*at, *path))


def _put_sources(value: Any, mark: Mark, shape: FieldShape, file: str, problems: list[Problem]) -> None:
    """Give every record its position, and refuse fields that only the reader sets."""
    if shape.form == "record" and isinstance(value, dict):
        for name in FROM_THE_FILE.intersection(mark.inside):
            wrong, remedy = f"'{name}' cannot be set here", "delete the line; it comes from the file itself"
            problems.append(Problem(_source(file, mark.inside[name][0]), "unknown-key", wrong, remedy))
        _by_their_fields(value, mark, shape)
        for name, inner in value.items():
            below = shape.fields.get(name)
            if below is not None and below.holds_records and name in mark.inside:
                _put_sources(inner, mark.inside[name][1], below, file, problems)
        value["source"] = _source(file, mark)
    elif shape.item is not None and shape.item.holds_records:
        if shape.form == "list" and isinstance(value, list):
            for inner, inner_mark in zip(value, mark.inside, strict=True):
                _put_sources(inner, inner_mark, shape.item, file, problems)
        elif shape.form == "mapping" and isinstance(value, dict):
            for name, inner in value.items():
                _put_sources(inner, mark.inside[name][1], shape.item, file, problems)


def _by_their_fields(value: dict[str, Any], mark: Mark, shape: FieldShape) -> None:
    """Put quantities that are written by another name (`KH: 8.1`) under their fields' names, with their marks."""
    for name in [name for name in value if name not in shape.fields or name in shape.former]:
        field = shape.field_meant(name)
        if field is not None and field not in value:
            value[field] = with_unit_of_name(value.pop(name), name, field)
            mark.inside[field] = mark.inside.pop(name)


def with_unit_of_name(written: Any, name: str, kind: str) -> Any:
    """A bare number with the unit that its name implies: `KH: 8.1` is 8.1 dKH."""
    unit = unit_said_by(name, kind)
    bare = isinstance(written, str) and _BARE.fullmatch(written.strip())
    return f"{written.strip()} {unit}" if unit and bare else written


def _problem(
    error: dict[str, Any], document: Parsed, at: tuple[str | int, ...], shape: FieldShape, file: str
) -> Problem | None:
    of_key = error["loc"][-1:] == ("[key]",) or error["type"] == "extra_forbidden"
    path = tuple(step for step in error["loc"] if step != "[key]")
    absent = error["type"] == "missing"
    holder = document.place((*at, *path[:-1]))
    if absent and (holder.line, holder.column) in document.torn:
        return None  # it may be among the lines that could not be read
    if absent and isinstance(holder.inside, dict) and path[-1] in holder.inside:
        return None  # it is there and empty, which is reported already
    mark = document.place((*at, *path[:-1]), of_key=True) if absent else document.place((*at, *path), of_key=of_key)
    fault = Fault(
        kind=error["type"],
        name=next((str(step) for step in reversed(path) if isinstance(step, str)), ""),
        value=error.get("input"),
        wrong=error.get("ctx", {}).get("wrong", error["msg"]),
        remedy=error.get("ctx", {}).get("remedy", ""),
        shape=None if error["loc"][-1:] == ("[key]",) else shape.at(path),
        around=shape.at(path[:-1]),
    )
    kind, wrong, remedy = say(fault)
    if len(fault.text) > _LONG:
        wrong, remedy = (said.replace(fault.text, f"{fault.text[:_LONG]}…") for said in (wrong, remedy))
    return Problem(_source(file, mark), kind, wrong, remedy)


def _source(file: str, mark: Mark) -> Source:
    return Source(file, mark.line, mark.column)


_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_PLACES = {
    "journal": "journal.yaml",
    "systems": "systems/<system>.yaml",
    "logs": "logs/<system>/<year>-<month>.yaml",
    "corals": "corals/<coral>.yaml",
    "trades": "trades/<date>-<name>.yaml",
    "plans": "plans/<name>.yaml",
    "partners": "partners/<partner>.yaml",
    "entries": "the head of entries/<date>-<name>.md",
}


def schema_of(kind: str) -> dict[str, Any]:
    """The schema of one kind of file, as a keeper writes it."""
    record = KINDS_OF_FILE[kind]
    schema = _adapter(list[record] if kind in LISTS else record).json_schema()  # type: ignore[valid-type]
    _forget_what_the_file_adds(schema)
    for part in (schema, *schema.get("$defs", {}).values()):
        if part.get("title") in _docstrings():
            part["description"] = _docstrings()[part["title"]]
    return {"$schema": _DIALECT, **schema, "title": _PLACES[kind]}


@cache
def _docstrings() -> dict[str, str]:
    """What every class of records says of itself, from its source: `python -OO` leaves it out of the class."""
    modules = [path for path in files("generator.records").iterdir() if path.name.endswith(".py")]
    classes = [each for path in modules for each in ast.parse(path.read_bytes()).body if isinstance(each, ast.ClassDef)]
    return {each.name: text for each in classes if (text := ast.get_docstring(each))}


def schema_texts() -> dict[str, str]:
    """Every schema as a file's name and text."""
    return {
        f"{kind}.json": json.dumps(schema_of(kind), indent=1, ensure_ascii=False, sort_keys=True) + "\n"
        for kind in KINDS_OF_FILE
    }


def _forget_what_the_file_adds(schema: dict[str, Any]) -> None:
    schema.get("$defs", {}).pop("Source", None)
    for each in (schema, *schema.get("$defs", {}).values()):
        _forget_in(each)


def _forget_in(schema: dict[str, Any]) -> None:
    properties = schema.get("properties", {})
    if "source" not in properties:
        return
    if set(WATER_KINDS) <= set(properties):
        schema["patternProperties"] = {ANY_OTHER_NAME: {"type": ["string", "number"]}}
    for name in FROM_THE_FILE:
        properties.pop(name, None)
    schema["required"] = [name for name in schema.get("required", []) if name not in FROM_THE_FILE]
