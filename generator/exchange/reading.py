"""From a stranger's bytes to a record of origin that holds together, or a refusal."""

from collections.abc import Iterator
from typing import Any

from generator.exchange.chain import check_chain
from generator.exchange.document import Document, document_of
from generator.exchange.refusal import Refused
from generator.exchange.safe_text import check_text
from generator.exchange.schema import check_shape, context
from generator.exchange.strict_json import parse


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
