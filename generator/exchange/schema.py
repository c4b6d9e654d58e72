"""The published context and JSON Schema of a record of origin, and a check of a value against the schema.

The schema is the one declaration of the shape. The check below reads it, so we accept exactly what others
validate. It knows only the JSON Schema keywords that this schema uses.
"""

import importlib.resources
import json
import re
from collections.abc import Iterator
from functools import cache
from typing import Any

from generator.exchange.refusal import Refused, shown
from generator.exchange.safe_text import check_text, plain

_TYPES: dict[str, type] = {"object": dict, "array": list, "string": str, "integer": int}
_NOTES = {"$schema", "$defs", "title", "description"}
_RULES_OF_VALUES = {"$ref", "type", "const", "enum", "pattern", "maxLength", "minimum", "maximum"}
_RULES_OF_PARTS = {"items", "minItems", "maxItems", "uniqueItems", "properties", "required", "additionalProperties"}
_KNOWN = _NOTES | _RULES_OF_VALUES | _RULES_OF_PARTS
_REMEDY = "ask for a record that follows the published schema"


@cache
def context() -> dict[str, Any]:
    """The JSON-LD context every record carries: what its short names stand for."""
    return _load("context.json")


@cache
def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a record of origin."""
    return _load("record_of_origin.schema.json")


def published() -> dict[str, str]:
    """The schema and the context as files to give to others, by name."""
    return {
        "record-of-origin.json": _text("record_of_origin.schema.json"),
        "record-of-origin-context.json": _text("context.json"),
    }


def _load(name: str) -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(_text(name))
    return loaded


def _text(name: str) -> str:
    return (importlib.resources.files("generator.exchange") / name).read_text(encoding="utf-8")


def check_own_text(text: str, name: str) -> None:
    """Raise `Refused` for our own text that no record can hold; `name` is that of its field."""
    rule = "name" if name in ("keeper", "name", "public_name") else "words"
    for _, wrong in _faults(plain(text), schema()["$defs"][rule], ""):
        raise Refused("own-text", wrong, _REMEDY)
    check_text(plain(text), "")


def check_shape(value: Any) -> None:
    """Raise `Refused` at the first place where a value is not of the schema's shape."""
    for where, wrong in _faults(value, schema(), ""):
        raise Refused("shape", wrong, _REMEDY, where or "the record")


def _faults(value: Any, rule: dict[str, Any], where: str) -> Iterator[tuple[str, str]]:
    assert rule.keys() <= _KNOWN, rule.keys() - _KNOWN
    if "$ref" in rule:
        yield from _faults(value, schema()["$defs"][rule["$ref"].removeprefix("#/$defs/")], where)
        return
    wanted = rule.get("type")
    if wanted and (not isinstance(value, _TYPES[wanted]) or isinstance(value, bool)):
        yield where, f"{_told(value)} must be of type {wanted}"
    elif "const" in rule and not _same(value, rule["const"]):
        yield where, f"{_told(value)} is not {json.dumps(rule['const'])}"
    elif "enum" in rule and not any(_same(value, one) for one in rule["enum"]):
        yield where, f"{_told(value)} is not one of {', '.join(rule['enum'])}"
    elif isinstance(value, str):
        yield from _faults_of_text(value, rule, where)
    elif isinstance(value, int) and not rule.get("minimum", value) <= value <= rule.get("maximum", value):
        yield where, f"{value} is outside {rule.get('minimum')} to {rule.get('maximum')}"
    elif isinstance(value, list) and "const" not in rule:
        yield from _faults_of_list(value, rule, where)
    elif isinstance(value, dict):
        yield from _faults_of_object(value, rule, where)


def _faults_of_text(value: str, rule: dict[str, Any], where: str) -> Iterator[tuple[str, str]]:
    if len(value) > rule.get("maxLength", len(value)):
        yield where, f"the text has {len(value)} characters; at most {rule['maxLength']} are allowed"
    # In Python `$` would also match before a last line end.
    elif "pattern" in rule and not re.search(rule["pattern"].removesuffix("$") + r"\Z", value):
        yield where, f"{_told(value)} has the wrong format"


def _faults_of_list(value: list[Any], rule: dict[str, Any], where: str) -> Iterator[tuple[str, str]]:
    if not rule.get("minItems", 0) <= len(value) <= rule.get("maxItems", len(value)):
        yield where, f"it has {len(value)} items; {rule.get('minItems', 0)} to {rule.get('maxItems')} are allowed"
        return
    for index, item in enumerate(value):
        yield from _faults(item, rule["items"], f"{where}[{index}]")
    if rule.get("uniqueItems") and len({json.dumps(item) for item in value}) < len(value):
        yield where, "the same item is listed twice"


def _faults_of_object(value: dict[str, Any], rule: dict[str, Any], where: str) -> Iterator[tuple[str, str]]:
    properties = rule.get("properties", {})
    for name in rule.get("required", ()):
        if name not in value:
            yield where, f"'{name}' is missing"
    for name, inner in value.items():
        below = f"{where}.{name}" if where else name
        if name in properties:
            yield from _faults(inner, properties[name], below)
        elif rule.get("additionalProperties") is False:
            yield where, f"a record of origin has no '{shown(name)}'"


def _same(value: Any, wanted: Any) -> bool:
    return type(value) is type(wanted) and bool(value == wanted)


def _told(value: Any) -> str:
    return f"'{shown(value)}'" if isinstance(value, str) else shown(json.dumps(value))
