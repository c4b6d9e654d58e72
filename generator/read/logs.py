"""A system's log entries, split into one small record for each fact, each with its line."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from generator.read.yaml_lines import Mark
from generator.records.log import (
    Dismissal,
    Dose,
    Effluent,
    Event,
    Filling,
    LogEntry,
    MeasuredRate,
    Note,
    PumpRate,
    Reading,
    SystemLog,
    TopOff,
    WaterChange,
)
from generator.records.source import Source
from generator.records.system import System
from generator.units.kinds import WATER_KINDS


class Written(NamedTuple):
    """One entry of a log, and the position of its parts."""

    entry: LogEntry
    mark: Mark


@dataclass(slots=True)
class _Facts:
    """A log while it is being gathered, in the order of writing."""

    readings: list[Reading] = field(default_factory=list)
    doses: list[Dose] = field(default_factory=list)
    pumps: list[PumpRate] = field(default_factory=list)
    measured_rates: list[MeasuredRate] = field(default_factory=list)
    fillings: list[Filling] = field(default_factory=list)
    water_changes: list[WaterChange] = field(default_factory=list)
    top_offs: list[TopOff] = field(default_factory=list)
    effluents: list[Effluent] = field(default_factory=list)
    events: list[Event] = field(default_factory=list)
    dismissals: list[Dismissal] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)


def spread(system_id: str, system: System | None, entries: Iterable[Written]) -> SystemLog:
    """One system's log, in order of time, from all its files' entries."""
    facts = _Facts()
    for written in entries:
        _water_facts(written, system, facts)
        _other_facts(written, facts)
    return SystemLog(
        system=system_id, **{name: tuple(sorted(getattr(facts, name), key=_time)) for name in _Facts.__slots__}
    )


def kit_for(kind: str, named: str | None, system: System | None) -> str | None:
    """The kit a reading was made with: the one named if it reads that quantity, else the first that does."""
    kits = system.kits if system else {}
    able = [id for id, kit in kits.items() if kit.precision.of(kind) is not None]
    return named if named in able else next(iter(able), None)


def _water_facts(written: Written, system: System | None, facts: _Facts) -> None:
    entry, mark = written
    file, at = entry.source.file, entry.at
    if entry.readings is not None:
        lines = mark.inside["readings"][1].inside
        for kind in WATER_KINDS:
            value = entry.readings.of(kind)
            if value is not None:
                source = _key_source(file, lines[kind])
                kit = kit_for(kind, entry.kit, system)
                facts.readings.append(Reading(source=source, at=at, kind=kind, value=value, kit=kit))
    for solution, amount in entry.doses.items():
        source = _key_source(file, mark.inside["doses"][1].inside[solution])
        facts.doses.append(Dose(source=source, at=at, solution=solution, amount=amount))
    for solution, rate in entry.pumps.items():
        source = _key_source(file, mark.inside["pumps"][1].inside[solution])
        facts.pumps.append(PumpRate(source=source, at=at, solution=solution, rate=rate))
    for solution, rate in entry.measured_rate.items():
        source = _key_source(file, mark.inside["measured_rate"][1].inside[solution])
        facts.measured_rates.append(MeasuredRate(source=source, at=at, solution=solution, rate=rate))
    for solution, amount in entry.filled.items():
        source = _key_source(file, mark.inside["filled"][1].inside[solution])
        facts.fillings.append(Filling(source=source, at=at, solution=solution, amount=amount))


def _other_facts(written: Written, facts: _Facts) -> None:
    entry, mark = written
    file, at = entry.source.file, entry.at
    if change := entry.water_change:
        source = _key_source(file, mark.inside["water_change"])
        facts.water_changes.append(WaterChange(source=source, at=at, volume=change.volume, mix=change.mix))
    if top_off := entry.top_off:
        source = _key_source(file, mark.inside["top_off"])
        facts.top_offs.append(TopOff(source=source, at=at, rate=top_off.rate, solution=top_off.solution))
    if reactor := entry.reactor:
        source = _key_source(file, mark.inside["reactor"])
        facts.effluents.append(
            Effluent(
                source=source,
                at=at,
                flow=reactor.flow,
                alkalinity=reactor.alkalinity,
                calcium=reactor.calcium,
                magnesium=reactor.magnesium,
            )
        )
    if event := entry.event:
        source = _key_source(file, mark.inside["event"])
        facts.events.append(Event(source=source, at=at, what=event.what, coral=event.coral, text=event.text))
    if dismiss := entry.dismiss:
        source = _key_source(file, mark.inside["dismiss"])
        facts.dismissals.append(Dismissal(source=source, at=at, alert=dismiss.alert, reason=dismiss.reason))
    if entry.note:
        source = _key_source(file, mark.inside["note"])
        facts.notes.append(Note(source=source, at=at, text=entry.note, private=entry.private))


def _key_source(file: str, marks: tuple[Mark, Mark]) -> Source:
    key = marks[0]
    return Source(file, key.line, key.column)


def _time(fact: Any) -> Any:
    return fact.at
