"""The published context and JSON Schema of a record of origin, and a check of a value against the schema.

The schema is the one declaration of the shape, so we accept exactly what others validate.
"""

import importlib.resources
import json
import re
from functools import cache
from typing import TYPE_CHECKING, Any

from generator.exchange.refusal import Refused, check_text, plain, shown

if TYPE_CHECKING:
    from jsonschema import Draft202012Validator, ValidationError

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
    rule = schema()["$defs"]["name" if name in ("keeper", "name", "public_name") else "words"]
    said = plain(text)
    if len(said) > rule["maxLength"]:
        raise Refused("own-text", f"it has more than {rule['maxLength']} characters", _REMEDY)
    if not re.search(rule["pattern"], said):
        raise Refused("own-text", f"'{shown(said)}' has the wrong format", _REMEDY)
    check_text(said, "")


@cache
def _validator() -> "Draft202012Validator":
    from jsonschema import Draft202012Validator

    return Draft202012Validator(schema())


def check_shape(value: Any) -> None:
    """Raise `Refused` at the first place where a value is not of the schema's shape."""
    for error in _validator().iter_errors(value):
        raise Refused("shape", _wrong(error), _REMEDY, error.json_path.removeprefix("$").lstrip(".") or "the record")


def _wrong(error: "ValidationError") -> str:
    """What is wrong, in our own words: the library's would repeat all of a stranger's value."""
    value, rule = error.instance, error.validator_value
    said = f"'{shown(value)}'" if isinstance(value, str) else shown(json.dumps(value))
    match error.validator:
        case "required":
            return f"'{next(name for name in rule if name not in value)}' is missing"
        case "additionalProperties":
            known = error.schema.get("properties", {})
            return f"a record of origin has no '{shown(next(name for name in value if name not in known))}'"
        case "maxLength":
            return f"the text has {len(value)} characters; at most {rule} are allowed"
        case "minItems" | "maxItems":
            ends = "at least" if error.validator == "minItems" else "at most"
            return f"it has {len(value)} items; {ends} {rule} are allowed"
        case "uniqueItems":
            return "the same item is listed twice"
        case "type":
            return f"{said} must be of type {rule}"
        case "enum":
            return f"{said} is not one of {', '.join(rule)}"
        case "const":
            return f"{said} is not {json.dumps(rule)}"
        case "pattern":
            return f"{said} has the wrong format"
        case _:
            return f"{said} is outside what is allowed"
