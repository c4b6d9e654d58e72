"""A system's log entries, split into one small record for each fact, each with its line."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields
from operator import attrgetter
from typing import Any

from generator.read.yaml_lines import Mark, Starts
from generator.records import log
from generator.records.source import Source
from generator.records.system import System
from generator.units.kinds import WATER_KINDS

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
Facts = Mapping[str, list[Any]]


def facts_of(entries: Iterable[log.LogEntry], starts: Starts, system: System | None) -> Facts:
    """The facts of a file's entries; `starts` has where each entry starts, and where its parts are."""
    lists: dict[str, list[Any]] = {}
    for entry in entries:
        for name, fact in _facts(entry, starts[entry.source.line, entry.source.column], system):
            lists.setdefault(name, []).append(fact)
    return lists


def one_log(system: str, months: Iterable[Facts]) -> log.SystemLog:
    """One system's log, in order of time, from the facts of all its files."""
    lists: dict[str, list[Any]] = {each.name: [] for each in fields(log.SystemLog) if each.name != "system"}
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
            values = {each.name: getattr(part, each.name) for each in fields(part) if each.name != "source"}
            yield into, fact(source=_key(file, mark.inside[name]), at=at, **values)
    if entry.note:
        yield "notes", log.Note(source=_key(file, mark.inside["note"]), at=at, text=entry.note, private=entry.private)


def _key(file: str, marks: tuple[Mark, Mark]) -> Source:
    return Source(file, marks[0].line, marks[0].column)
