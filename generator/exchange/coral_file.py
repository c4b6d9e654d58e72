"""The text of a new coral's file, from what its plan records."""

import json
from collections.abc import Iterator

from generator.records.coral import Coral
from generator.units.quantity import Quantity


def coral_file(coral: Coral) -> str:
    """The text of the file of a coral that has just arrived, with all that its record holds."""
    return "\n".join(_lines(coral)) + "\n"


def _lines(coral: Coral) -> Iterator[str]:
    yield f"name: {_quoted(coral.name)}"
    yield f"species: {_quoted(coral.species)}"
    yield f"line: {coral.line}"
    yield f"form: {coral.form}"
    arrival = coral.arrival
    yield f"arrival: {_mapping(at=str(arrival.at), how=arrival.how, partner=arrival.partner, trade=arrival.trade)}"
    if (origin := coral.origin) is not None:
        told = {"region": origin.region, "permit": origin.permit}
        texts = {key: _quoted(text) for key, text in told.items() if text}
        year = str(origin.year) if origin.year is not None else None
        yield f"origin: {_mapping(**texts, year=year, source_code=origin.source_code, appendix=origin.appendix)}"
    rows = {
        "placements": [
            _mapping(since=str(each.since), system=each.system, place=each.place, x=_q(each.x), y=_q(each.y))
            for each in coral.placements
        ],
        "sizes": [
            _mapping(at=str(each.at), length=_q(each.length), width=_q(each.width), height=_q(each.height))
            for each in coral.sizes
        ],
        "weighings": [
            _mapping(at=str(each.at), mass=_q(each.mass), resolution=_q(each.resolution)) for each in coral.weighings
        ],
    }
    for what, told_of in rows.items():
        if told_of:
            yield f"{what}:"
            yield from (f"  - {row}" for row in told_of)


def _mapping(**parts: str | None) -> str:
    return "{" + ", ".join(f"{key}: {value}" for key, value in parts.items() if value is not None) + "}"


def _q(quantity: Quantity | None) -> str | None:
    return str(quantity) if quantity is not None else None


def _quoted(text: str) -> str:
    # A JSON string is a double-quoted YAML scalar.
    return json.dumps(text, ensure_ascii=False)
