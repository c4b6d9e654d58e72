"""A forger's tools: mend every digest after a change, as anyone could who has the published rules."""

import copy
import json
from typing import Any

from generator.exchange.document import canonical, digest

Json = Any


def steps(value: Json, at: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The path of every part of a value, itself left out."""
    found: list[tuple[str | int, ...]] = []
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, part in inside:
        found += [(*at, name), *steps(part, (*at, name))]
    return found


def at(value: Json, path: tuple[str | int, ...]) -> Json:
    for step in path:
        value = value[step]
    return value


def changed(value: Json, path: tuple[str | int, ...], new: Json) -> Json:
    """A copy with another value at a path."""
    made = copy.deepcopy(value)
    at(made, path[:-1])[path[-1]] = new
    return made


def without(value: Json, path: tuple[str | int, ...]) -> Json:
    made = copy.deepcopy(value)
    del at(made, path[:-1])[path[-1]]
    return made


def sealed(document: Json) -> Json:
    """The document with its own digest right."""
    return {**document, "digest": digest({name: part for name, part in document.items() if name != "digest"})}


def relisted(document: Json) -> Json:
    """The document with every tie, list and digest mended after records were changed; signatures stay as they are."""
    made = copy.deepcopy(document)
    before = json.loads(json.dumps(document["records"]))
    renamed: dict[str, str] = {}
    listed = made["handovers"][-1]["listed"]
    # Ancestors stand last, so their new digests are known when their cuttings need them.
    for index in reversed(range(len(made["records"]))):
        record = made["records"][index]
        if "previous" in record:
            record["previous"] = renamed.get(record["previous"], record["previous"])
        if "parent" in record:
            record["parent"]["record"] = renamed.get(record["parent"]["record"], record["parent"]["record"])
        old = listed[index] if index < len(listed) else digest(before[index])
        renamed[old] = digest(record)
    for handover in made["handovers"]:
        for name in ("about", "listed"):
            handover[name] = [renamed.get(each, each) for each in handover[name]]
    return rechained(made)


def rechained(document: Json) -> Json:
    """The document with the handovers' digests of each other mended, and its own."""
    made = copy.deepcopy(document)
    renamed: dict[str, str] = {}
    for old, handover in zip(document["handovers"], made["handovers"], strict=True):
        handover["earlier"] = [renamed.get(each, each) for each in handover["earlier"]]
        renamed[digest(old)] = digest(handover)
    return sealed(made)


def raw(document: Json) -> bytes:
    return canonical(document)
