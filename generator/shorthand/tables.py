"""The tables of the shorthand, read once: what begins a fact, and what may follow."""

import importlib.resources
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Any, get_args

import yaml

from generator.records.coral import Arrival, Form, Health
from generator.records.log import EventKind
from generator.shorthand.scanner import folded
from generator.units.compounds import COMPOUNDS
from generator.units.names import names_of_quantities


@dataclass(frozen=True, slots=True)
class Slot:
    """One part of a fact: its name in the files, what it is, the words of which one must come before it.

    `units` are words that may follow a count. `with_unit`: the unit of a number must be written.
    """

    name: str
    kind: str
    after: tuple[str, ...] = ()
    may: bool = False
    units: tuple[str, ...] = ()
    with_unit: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """One kind of fact: the words that begin it (longest first), its slots, and the field it becomes."""

    into: str
    words: tuple[str, ...]
    slots: tuple[Slot, ...]
    set: Mapping[str, str] = field(default_factory=dict)
    bare: bool = False
    of_coral: bool = False


@dataclass(frozen=True, slots=True)
class Tables:
    """All that the grammar knows by heart. `quantities` maps each name of a quantity to its kind."""

    rows: tuple[Row, ...]
    choices: Mapping[str, Mapping[str, str]]
    quantities: Mapping[str, str]
    fillers: tuple[str, ...]
    signs: tuple[str, ...]
    between: tuple[str, ...]
    days: Mapping[str, int]
    weekdays: Mapping[str, int]
    months: Mapping[str, int]
    hours: Mapping[str, int]
    ago: Mapping[str, int]

    def openings(self) -> tuple[str, ...]:
        """Every word that begins a fact."""
        return (*self.quantities, *(word for row in self.rows for word in row.words))


def plain_tables() -> dict[str, Any]:
    """The tables as plain data, for whoever reads the same shorthand elsewhere."""
    text = (importlib.resources.files("generator.shorthand") / "words.yaml").read_text(encoding="utf-8")
    # Every scalar stays text: elsewhere YAML takes `on` for true.
    found: dict[str, Any] = yaml.load(text, Loader=yaml.BaseLoader)
    return found | {"quantities": names_of_quantities()}


@cache
def tables() -> Tables:
    """The tables of the shorthand."""
    plain = plain_tables()
    own: dict[str, tuple[str, ...]] = {
        "how": get_args(Arrival.__annotations__["how"]),
        "form": get_args(Form),
        "event": get_args(EventKind),
        "compound": tuple(COMPOUNDS),
        "health": get_args(Health.__annotations__["what"]),
    }
    rows = [_row(row, of_coral=part == "coral") for part in ("log", "coral") for row in plain[part]]
    return Tables(
        rows=tuple(rows),
        choices={kind: _folded(words | {each: each for each in own[kind]}) for kind, words in plain["choices"].items()},
        quantities=_folded(plain["quantities"]),
        fillers=tuple(map(folded, plain["fillers"])),
        signs=tuple(map(folded, plain["signs"])),
        between=tuple(map(folded, plain["between"])),
        days=_counts(plain["days"]),
        weekdays=_with_short(plain["weekdays"], 0),
        months=_with_short(plain["months"], 1),
        hours=_counts(plain["hours"]),
        ago=_counts(plain["ago"]),
    )


def _row(row: dict[str, Any], of_coral: bool) -> Row:
    slots = tuple(
        Slot(
            each["name"],
            each["is"],
            tuple(map(folded, each.get("after", ()))),
            bool(each.get("may")),
            tuple(map(folded, each.get("units", ()))),
            bool(each.get("with_unit")),
        )
        for each in row["slots"]
    )
    return Row(
        row["into"],
        tuple(map(folded, row["words"])),
        slots,
        row.get("set", {}),
        bool(row.get("bare")),
        of_coral,
    )


def _folded(words: Mapping[str, Any]) -> dict[str, Any]:
    return {folded(word): meant for word, meant in words.items()}


def _counts(words: Mapping[str, str]) -> dict[str, int]:
    return {folded(word): int(number) for word, number in words.items()}


def _with_short(names: list[str], first: int) -> dict[str, int]:
    """Names by their number, and by their first three letters."""
    return {each: number for number, name in enumerate(names, first) for each in (name, name[:3])}
