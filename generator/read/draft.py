"""What reading works on: which field of a record holds what, what validation found wrong, all that was read so far."""

import types
import typing
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import cache
from operator import attrgetter
from typing import Any, Literal, get_args, get_origin, get_type_hints
from zoneinfo import ZoneInfo

from msgspec import Struct

from generator.door.door import grouped
from generator.read.yaml_lines import Mark, Parsed, Starts
from generator.records import log
from generator.records.coral import Coral, Cutting
from generator.records.fields import Written, WrittenAs
from generator.records.journal import Entry
from generator.records.log import DismissEntry, LogEntry, SystemLog
from generator.records.settings import Offers, Settings
from generator.records.source import FromFile, Source
from generator.records.system import System
from generator.records.trade import Given, Newcomer, Partner, Planned, State, Trade, Travel
from generator.units.kinds import KINDS, WATER_KINDS, kind_named

# What the reader puts in itself, beside `source`: the file's name, and the Markdown.
FROM_THE_FILE = frozenset({"source", "id", "story", "body", "body_line"})

# The way forward from older formats of journals. A name of an older format is read as the field of today, and
# `corallite tidy` writes that field's name. A change that names alone cannot tell belongs here too, as a step between
# formats.
# Record -> name in format 1 -> the field's name since format 2.
FORMER: dict[type[FromFile], dict[str, str]] = {
    Cutting: {"pieces": "frags"},
    DismissEntry: {"item": "alert"},
    Given: {"pieces": "frags"},
    Offers: {"pieces_left": "corals_left"},
    State: {"state": "condition"},
    System: {"matters": "smallest_change"},
    Trade: {"states": "checks"},
}


class FieldShape(Struct, frozen=True):
    """One field: a record with its own `fields`, a list or a mapping of an `item`, or one value.

    `quantity` is the kind of quantity that a value is, "" for any other value.
    `former` leads from names of older formats to the fields of today.
    """

    form: Literal["record", "list", "mapping", "value"]
    fields: dict[str, "FieldShape"]
    item: "FieldShape | None" = None
    choices: tuple[str, ...] = ()
    example: str = ""
    holds_records: bool = False
    quantity: str = ""
    former: dict[str, str] = {}

    def field_meant(self, name: str) -> str | None:
        """The field that another name of its quantity (`KH`: alkalinity) or a name of an older format means."""
        if name in self.former:
            return self.former[name]
        kind = kind_named(name) if name not in self.fields else None
        return kind if kind in self.fields and self.fields[kind].quantity == kind else None

    def at(self, path: tuple[str | int, ...]) -> "FieldShape | None":
        """The shape of what stands at a path below this one, if the path is known."""
        shape: FieldShape | None = self
        for step in path:
            if shape is None:
                return None
            shape = shape.fields.get(str(step)) if shape.form == "record" else shape.item
        return shape


@cache
def shape_of(record: type[FromFile]) -> FieldShape:
    """The shape of a record as a keeper writes it: without what the reader itself puts in."""
    hints = get_type_hints(record, include_extras=True)
    inner = {name: _shape(hints[name]) for name in record.__struct_fields__ if name not in FROM_THE_FILE}
    return FieldShape("record", inner, holds_records=True, former=FORMER.get(record, {}))


def _shape(hint: Any) -> FieldShape:
    origin, arguments = get_origin(hint), get_args(hint)
    if origin in (types.UnionType, typing.Union):
        return _shape(next(each for each in arguments if each is not types.NoneType))
    if isinstance(hint, type) and issubclass(hint, FromFile):
        return shape_of(hint)
    if origin is tuple:
        item = _shape(arguments[0])
        return FieldShape("list", {}, item, holds_records=item.holds_records)
    if origin is dict:
        item = _shape(arguments[1])
        return FieldShape("mapping", {}, item, holds_records=item.holds_records)
    if origin is Literal:
        return FieldShape("value", {}, choices=tuple(map(str, arguments)))
    if hasattr(hint, "__metadata__") and get_origin(arguments[0]) is dict:
        return FieldShape("mapping", {}, FieldShape("value", {}))
    metadata = getattr(hint, "__metadata__", ())
    quantity = next((each.kind for each in metadata if isinstance(each, Written)), "")
    return FieldShape("value", {}, example=_example(metadata), quantity=quantity)


def _example(metadata: tuple[Any, ...]) -> str:
    for each in metadata:
        if isinstance(each, Written):
            return each.example or KINDS[each.kind].example
        if isinstance(each, WrittenAs):
            examples = each.schema.get("examples", [])
            return str(examples[0]) if examples else ""
    return ""


# The problem's kind, what is wrong, what to write instead.
Answer = tuple[str, str, str]


class Fault(Struct, frozen=True):
    """What validation found: its kind, the field's name, the value in the file, and the expected one.

    `shape` is that of the field, `around` that of its record, if they are known.
    """

    kind: str
    name: str
    value: Any
    wrong: str
    remedy: str
    shape: FieldShape | None
    around: FieldShape | None

    @property
    def text(self) -> str:
        """What was written, if it is text."""
        return self.value.strip() if isinstance(self.value, str) else ""


def _nowhere(_: str) -> Starts:
    return {}


@dataclass(slots=True)
class Draft:
    """The valid records, the names of the others, and the position of everything.

    `names` has every id that has a file, by kind: other records may refer to a record that has errors. `written` has
    the entries of each system's log as they are in the files. `starts` gives where the records of a file start.
    `today` is the day of `now` where the keeper lives.
    """

    now: datetime
    today: date
    zone: ZoneInfo
    settings: Settings | None = None
    systems: Mapping[str, System] = field(default_factory=dict)
    corals: Mapping[str, Coral] = field(default_factory=dict)
    trades: Mapping[str, Trade] = field(default_factory=dict)
    plans: Mapping[str, Planned] = field(default_factory=dict)
    partners: Mapping[str, Partner] = field(default_factory=dict)
    entries: Mapping[str, Entry] = field(default_factory=dict)
    log_files: Mapping[str, Sequence[str]] = field(default_factory=dict)
    written: Mapping[str, Sequence[LogEntry]] = field(default_factory=dict)
    logs: Mapping[str, SystemLog] = field(default_factory=dict)
    names: Mapping[str, Collection[str]] = field(default_factory=dict)
    photos: Collection[str] = ()
    received: Collection[str] = ()
    starts: Callable[[str], Starts] = _nowhere

    def newcomers(self) -> Iterator[Newcomer]:
        """Every colony that a plan brings."""
        for plan in self.plans.values():
            yield from plan.coming

    def of_a_species(self) -> Iterator[Coral | Newcomer]:
        """Every coral, and every colony that is only planned."""
        yield from self.corals.values()
        yield from (new for new in self.newcomers() if new.coral not in self.corals)

    def journeys(self) -> Iterator[Travel]:
        """Every journey that a trade or a plan records, each once."""
        records: tuple[Trade | Planned, ...] = (*self.trades.values(), *self.plans.values())
        yield from {record.travel.source: record.travel for record in records if record.travel}.values()

    def at(self, record: Source, *path: str | int, of_key: bool = False) -> Source:
        """The position of a part of a record, from the position of the record."""
        mark = self.mark(record)
        if mark is None:
            return record
        place = Parsed(None, mark).place(path, of_key)
        return Source(record.file, place.line, place.column)

    def mark(self, record: Source) -> Mark | None:
        """The position of a record and of its parts."""
        return self.starts(record.file).get((record.line, record.column))


# A field of an entry that names solutions -> the list of the log, the fact, and its field for the amount.
_BY_SOLUTION: dict[str, tuple[str, type, str]] = {
    "doses": ("doses", log.Dose, "amount"),
    "pumps": ("pumps", log.PumpRate, "rate"),
    "measured_rate": ("measured_rates", log.MeasuredRate, "rate"),
    "filled": ("fillings", log.Filling, "amount"),
}
# A field of an entry that is one fact -> the list of the log, and the fact, which has the same fields.
_SINGLE: dict[str, tuple[str, type]] = {
    "water_change": ("water_changes", log.WaterChange),
    "top_off": ("top_offs", log.TopOff),
    "reactor": ("effluents", log.Effluent),
    "event": ("events", log.Event),
    "dismiss": ("dismissals", log.Dismissal),
}


# The facts of some entries, by the list of the log that they belong to.
Facts = Mapping[str, Sequence[Any]]


def facts_of(entries: Iterable[log.LogEntry], starts: Starts, system: System | None) -> Facts:
    """The facts of a file's entries; `starts` has where each entry starts, and where its parts are."""
    marked = ((entry, starts[entry.source.line, entry.source.column]) for entry in entries)
    return grouped(fact for entry, mark in marked for fact in _facts(entry, mark, system))


def one_log(system: str, months: Iterable[Facts]) -> log.SystemLog:
    """One system's log, in order of time, from the facts of all its files."""
    lists: dict[str, list[Any]] = {name: [] for name in log.SystemLog.__struct_fields__ if name != "system"}
    for month in months:
        for name, facts in month.items():
            lists[name] += facts
    return log.SystemLog(system, **{name: tuple(sorted(facts, key=attrgetter("at"))) for name, facts in lists.items()})


def kit_for(kind: str, named: str | None, system: System | None) -> str | None:
    """The kit a reading was made with: the one named if it reads that quantity, else the first that does."""
    kits = system.kits if system else {}
    able = [id for id, kit in kits.items() if kit.precision.of(kind) is not None]
    return named if named in able else next(iter(able), None)


def _facts(entry: log.LogEntry, mark: Mark, system: System | None) -> Iterator[tuple[str, Any]]:
    """Every fact of an entry, with the list of the log that it belongs to; `mark` has where its parts are."""
    file, at = entry.source.file, entry.at
    if entry.readings is not None:
        lines = mark.inside["readings"][1].inside
        for kind in WATER_KINDS:
            value = entry.readings.of(kind)
            if value is not None:
                kit = kit_for(kind, entry.kit, system)
                yield "readings", log.Reading(source=_key(file, lines[kind]), at=at, kind=kind, value=value, kit=kit)
    for name, (into, fact, amount) in _BY_SOLUTION.items():
        for solution, quantity in getattr(entry, name).items():
            source = _key(file, mark.inside[name][1].inside[solution])
            yield into, fact(source=source, at=at, solution=solution, **{amount: quantity})
    for name, (into, fact) in _SINGLE.items():
        part = getattr(entry, name)
        if part is not None:
            values = {each: getattr(part, each) for each in part.__struct_fields__ if each != "source"}
            yield into, fact(source=_key(file, mark.inside[name]), at=at, **values)
    if entry.note:
        yield "notes", log.Note(source=_key(file, mark.inside["note"]), at=at, text=entry.note, private=entry.private)


def _key(file: str, marks: tuple[Mark, Mark]) -> Source:
    return Source(file, marks[0].line, marks[0].column)
