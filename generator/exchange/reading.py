"""From a stranger's bytes to a record of origin that holds together, or a refusal, before anything large is built.

The published schema is the one declaration of the shape, so we accept exactly what others validate.
"""

import importlib.resources
import json
import re
from collections.abc import Callable, Iterator
from functools import cache
from graphlib import CycleError, TopologicalSorter
from typing import TYPE_CHECKING, Any, NoReturn

from generator.exchange.document import (
    GREATEST_INTEGER,
    Document,
    Refused,
    check_text,
    document_of,
    plain_letters,
    safe_and_short,
)

if TYPE_CHECKING:
    from jsonschema import ValidationError

_SHAPE = "ask for a record that follows the published schema"


@cache
def context() -> dict[str, Any]:
    """The JSON-LD context every record carries: what its short names stand for."""
    return _load("context.json")


@cache
def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a record of origin."""
    return _load("record_of_origin.schema.json")


def published_schemas() -> dict[str, str]:
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
    said = plain_letters(text)
    if len(said) > rule["maxLength"]:
        raise Refused("own-text", f"it has more than {rule['maxLength']} characters", _SHAPE)
    if not re.search(rule["pattern"], said):
        raise Refused("own-text", f"'{safe_and_short(said)}' has the wrong format", _SHAPE)
    check_text(said, "")


@cache
def _validator() -> Any:
    """The schema's validator, with one for each part of it: the library's own makes them anew for every value."""
    from jsonschema import Draft202012Validator
    from jsonschema.validators import extend

    parts: dict[int, Any] = {}

    def errors(rule: Any, value: Any) -> "Iterator[ValidationError]":
        part = parts.get(id(rule)) or parts.setdefault(id(rule), kind(rule))
        yield from part.iter_errors(value)

    def inside(name: str | int, rule: Any, value: Any) -> "Iterator[ValidationError]":
        for error in errors(rule, value):
            error.path.appendleft(name)
            yield error

    def properties(_: Any, rules: Any, value: Any, __: Any) -> "Iterator[ValidationError]":
        for name in rules if isinstance(value, dict) else ():
            if name in value:
                yield from inside(name, rules[name], value[name])

    def items(_: Any, rule: Any, value: Any, __: Any) -> "Iterator[ValidationError]":
        for index, item in enumerate(value if isinstance(value, list) else ()):
            yield from inside(index, rule, item)

    def definition(_: Any, name: str, value: Any, __: Any) -> "Iterator[ValidationError]":
        yield from errors(schema()["$defs"][name.removeprefix("#/$defs/")], value)

    kind = extend(Draft202012Validator, {"properties": properties, "items": items, "$ref": definition})
    return kind(schema())


def check_shape(value: Any) -> None:
    """Raise `Refused` at the first place where a value is not of the schema's shape."""
    for error in _validator().iter_errors(value):
        raise Refused("shape", _wrong(error), _SHAPE, error.json_path.removeprefix("$").lstrip(".") or "the record")


def _wrong(error: "ValidationError") -> str:
    """What is wrong, in our own words: the library's would repeat all of a stranger's value."""
    value, rule = error.instance, error.validator_value
    said = f"'{safe_and_short(value)}'" if isinstance(value, str) else safe_and_short(json.dumps(value))
    match error.validator:
        case "required":
            return f"'{next(name for name in rule if name not in value)}' is missing"
        case "additionalProperties":
            known = error.schema.get("properties", {})
            return f"a record of origin has no '{safe_and_short(next(name for name in value if name not in known))}'"
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


_LEAVE = "do not take it in; ask where it comes from"


def _handover_lists_its_records(document: Document) -> None:
    if document.last.listed != tuple(document.records):
        raise Refused("listed", "the last handover lists other records", _LEAVE, "records")
    strangers = set(document.last.about) - set(document.records)
    if strangers:
        raise Refused("about", "the record that was handed over is missing", _LEAVE, "handovers")


def _handovers_follow_each_other(document: Document) -> None:
    seen: set[str] = set()
    for index, handover in enumerate(document.handovers):
        where = f"handovers[{index}]"
        if not set(handover.earlier) <= seen:
            raise Refused("handovers", "a handover before this one is missing or changed", _LEAVE, where)
        if not set(handover.about) <= set(handover.listed):
            raise Refused("about", "the handover does not list its own record", _LEAVE, where)
        seen.add(handover.digest)
    # No list names a thing twice, so this refuses a handover that is given twice as well.
    if document.last.earlier != tuple(handover.digest for handover in document.handovers[:-1]):
        raise Refused("handovers", "the last handover names other handovers", _LEAVE, "handovers")


def _ties_lead_to_the_right_record(document: Document) -> None:
    for index, record in enumerate(document.records.values()):
        where = f"records[{index}]"
        for tie in (record.parent, record.previous):
            if tie is not None and tie not in document.records:
                raise Refused("truncated", f"an earlier record of '{record.name}' is missing or changed", _LEAVE, where)
        if record.parent and document.records[record.parent].identity != record.parent_identity:
            raise Refused("parent", f"the parent's record of '{record.name}' describes another coral", _LEAVE, where)
        if record.previous and document.records[record.previous].identity != record.identity:
            raise Refused("parent", f"the earlier record of '{record.name}' describes another coral", _LEAVE, where)


def _one_family_tree(document: Document) -> None:
    parents: dict[str, str] = {}
    for index, record in enumerate(document.records.values()):
        if record.parent_identity is None:
            continue
        if parents.setdefault(record.identity, record.parent_identity) != record.parent_identity:
            wrong = f"'{record.name}' has two parents in the same chain"
            raise Refused("parent", wrong, _LEAVE, f"records[{index}]")
    try:
        TopologicalSorter({coral: [parent] for coral, parent in parents.items()}).prepare()
    except CycleError:
        raise Refused("cycle", "a coral is its own ancestor", _LEAVE, "records") from None


def _nothing_is_left_over(document: Document) -> None:
    reached = {record.digest for about in document.last.about for record in document.chain(about)}
    for index, record in enumerate(document.records.values()):
        if record.digest not in reached:
            wrong = f"'{record.name}' is not an ancestor of any coral handed over"
            raise Refused("left-over", wrong, _LEAVE, f"records[{index}]")


def _each_record_left_by_its_keeper(document: Document) -> None:
    given = {(handover.giver, record) for handover in document.handovers for record in handover.listed}
    for index, record in enumerate(document.records.values()):
        if (record.keeper, record.digest) not in given:
            wrong = f"the keeper who describes '{record.name}' never handed it over"
            raise Refused("keeper", wrong, _LEAVE, f"records[{index}]")


def _days_in_their_order(document: Document) -> None:
    """A frag is not older than its parent, and came to a keeper before they handed it over.

    Handovers may overlap: a record can be made some days after its coral left.
    """
    for index, record in enumerate(document.records.values()):
        where = f"records[{index}].date"
        before = document.records.get(record.previous or record.parent or "")
        if before is not None and record.at < before.at:
            wrong = f"'{record.name}' came on {record.at}, before its earlier record '{before.name}', {before.at}"
            raise Refused("days", wrong, _LEAVE, where)
        left = min(
            each.at for each in document.handovers if each.giver == record.keeper and record.digest in each.listed
        )
        if record.at > left:
            raise Refused(
                "days", f"'{record.name}' came on {record.at}, after it was handed over on {left}", _LEAVE, where
            )


# Every digest is found, no coral is its own ancestor, and no record is unused.
RULES: tuple[Callable[[Document], None], ...] = (
    _handover_lists_its_records,
    _handovers_follow_each_other,
    _ties_lead_to_the_right_record,
    _one_family_tree,
    _nothing_is_left_over,
    _each_record_left_by_its_keeper,
    _days_in_their_order,
)


def read_document(raw: bytes) -> Document:
    """The record of origin in a stranger's bytes.

    Raises `Refused` for anything else, and for a wrong digest or a broken chain (`RULES`).
    """
    value = parse(raw)
    if not isinstance(value, dict):
        raise Refused("shape", "the file is not a record of origin", "give the file your partner handed over")
    if value.get("@context") != context():
        wrong = "the context is not the published context of a record of origin"
        raise Refused("context", wrong, "ask for a record with the published context; none is fetched from the network")
    check_shape(value)
    for where, text in _texts({name: part for name, part in value.items() if name != "@context"}, ""):
        check_text(text, where)
    document = document_of(value)
    for rule in RULES:
        rule(document)
    return document


def _texts(value: Any, where: str) -> Iterator[tuple[str, str]]:
    if isinstance(value, str):
        yield where, value
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _texts(inner, f"{where}[{index}]")
    elif isinstance(value, dict):
        for name, inner in value.items():
            if name != "signature":  # armour, whose lines the schema knows
                yield from _texts(inner, f"{where}.{name}" if where else name)


# A chain takes 1 to 3 kB for each keeper; ten generations of a hundred corals fit easily.
MAX_BYTES = 1_000_000
MAX_DEPTH = 12
MAX_NODES = 40_000

_ASK = "ask for the record again"
# An unclosed string runs to the end: without the last alternative the search would be quadratic.
_STRING = re.compile(rb'"[^"\\]*(?:\\.[^"\\]*)*(?:"|\\?\Z)', re.DOTALL)
_BRACKET = re.compile(rb"[\[\]{}]")


def parse(raw: bytes) -> Any:
    """The JSON value in a stranger's bytes.

    Raises `Refused` for what is too large, too deep or not UTF-8, for names given twice in one object,
    and for every number but integers a double can hold.
    """
    if len(raw) > MAX_BYTES:
        raise Refused(
            "too-large", f"the file has {len(raw) / 1e6:.1f} MB", f"a record has at most {MAX_BYTES / 1e6:.0f} MB"
        )
    if raw.startswith(b"\xef\xbb\xbf"):
        raise Refused(
            "encoding", "the file starts with a byte-order mark", "save it as UTF-8 without a byte-order mark"
        )
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        raise Refused("encoding", f"byte {error.start + 1} is not UTF-8", _ASK) from None
    _measure(raw)
    try:
        return json.loads(
            text,
            object_pairs_hook=_object,
            parse_int=_integer,
            parse_float=_not_an_integer,
            parse_constant=_not_an_integer,
        )
    except json.JSONDecodeError as error:
        raise Refused("not-json", f"line {error.lineno} is not JSON: {error.msg}", _ASK) from None
    except RecursionError:
        raise Refused("too-deep", "the file has too many nested levels", _ASK) from None


def _measure(raw: bytes) -> None:
    """Refuse depth and number of parts by their brackets and commas, before they become objects."""
    bare, depth = _STRING.sub(b"", raw), 0
    for found in _BRACKET.finditer(bare):
        depth += 1 if found[0] in b"[{" else -1
        if depth > MAX_DEPTH:
            raise Refused("too-deep", f"the file has more than {MAX_DEPTH} nested levels", _ASK)
    if sum(map(bare.count, (b"[", b"{", b","))) > MAX_NODES:
        raise Refused("too-many", f"the file has more than {MAX_NODES} values", _ASK)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, value in pairs:
        if name in made:
            raise Refused("twice", f"'{safe_and_short(name)}' is given twice in one object", _ASK)
        made[name] = value
    return made


def _integer(text: str) -> int:
    if len(text) > len(str(GREATEST_INTEGER)) + 1 or abs(int(text)) > GREATEST_INTEGER:
        raise Refused("number", f"{safe_and_short(text, 20)} is too large a number", _ASK)
    return int(text)


def _not_an_integer(text: str) -> NoReturn:
    raise Refused("number", f"{safe_and_short(text, 20)} is not a whole number", _ASK)
