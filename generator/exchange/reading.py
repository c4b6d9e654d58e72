"""From a stranger's bytes to a record of origin that holds together, or a refusal, before anything large is built."""

import json
import re
from collections.abc import Iterator
from typing import Any, NoReturn

from generator.exchange.canonical import GREATEST_INTEGER
from generator.exchange.chain import check_chain
from generator.exchange.document import Document, document_of
from generator.exchange.refusal import Refused, check_text, shown
from generator.exchange.schema import check_shape, context


def read_document(raw: bytes) -> Document:
    """The record of origin in a stranger's bytes.

    Raises `Refused` for anything else, and for a wrong digest or a broken chain (`chain.RULES`).
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
    check_chain(document)
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
_BRACKET = re.compile(rb"[\[\]{},]")


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
    depth = nodes = 0
    for found in _BRACKET.finditer(_STRING.sub(b"", raw)):
        mark = found[0]
        nodes += mark not in b"]}"
        depth += (mark in b"[{") - (mark in b"]}")
        if depth > MAX_DEPTH:
            raise Refused("too-deep", f"the file has more than {MAX_DEPTH} nested levels", _ASK)
        if nodes > MAX_NODES:
            raise Refused("too-many", f"the file has more than {MAX_NODES} values", _ASK)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, value in pairs:
        if name in made:
            raise Refused("twice", f"'{shown(name)}' is given twice in one object", _ASK)
        made[name] = value
    return made


def _integer(text: str) -> int:
    if len(text) > len(str(GREATEST_INTEGER)) + 1 or abs(int(text)) > GREATEST_INTEGER:
        raise Refused("number", f"{shown(text, 20)} is too large a number", _ASK)
    return int(text)


def _not_an_integer(text: str) -> NoReturn:
    raise Refused("number", f"{shown(text, 20)} is not a whole number", _ASK)
