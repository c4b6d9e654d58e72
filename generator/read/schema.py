"""JSON Schemas (draft 2020-12) of the files a keeper writes, from the same classes that read them."""

import ast
import json
from functools import cache
from importlib.resources import files
from typing import Any

from pydantic import TypeAdapter

from generator.read.kinds import KINDS_OF_FILE, LISTS
from generator.read.shape import FROM_THE_FILE
from generator.units.kinds import WATER_KINDS
from generator.units.names import ANY_OTHER_NAME

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
    schema = TypeAdapter(list[record] if kind in LISTS else record).json_schema()  # type: ignore[valid-type]
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
