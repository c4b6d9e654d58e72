"""Why this number: a figure with its interval, its method, the parts of its uncertainty and the lines behind it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Protocol

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.methods import METHODS
from generator.records.log import SystemLog
from generator.records.source import Source
from generator.render import links
from generator.render.numbers import (
    Display,
    Shown,
    say_amount,
    say_deviation,
    say_moment,
    say_per_day,
    say_written,
)
from generator.render.pages.desk import Desk, Link
from generator.render.words import Words

# A reader who doubts a number looks at the newest lines first; the rest are named by file and line.
_LINES_IN_WORDS = 8


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the keeper's files, and what it says."""

    source: str
    text: str


@dataclass(frozen=True, slots=True)
class FileLines:
    """More lines of one file, by number."""

    file: str
    lines: str


@dataclass(frozen=True, slots=True)
class Part:
    """One cause of the uncertainty, and how much it would make alone."""

    cause: str
    share: str


@dataclass(frozen=True, slots=True)
class Why:
    """What stands behind a figure."""

    method: Link | None
    parts: tuple[Part, ...]
    count: str
    newest: tuple[Line, ...]
    older: tuple[FileLines, ...]


@dataclass(frozen=True, slots=True)
class Cannot:
    """Why there is no figure, and what would make one."""

    reason: str
    remedy: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A number the reader asked for: shown with its interval and reasons, or an honest 'cannot tell'."""

    label: str
    shown: Shown | None
    why: Why | None
    cannot: Cannot | None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Evidence:
    """What the lines of one system's log say, by where they stand."""

    by_source: dict[Source, str]

    def lines(self, sources: Sequence[Source]) -> tuple[tuple[Line, ...], tuple[FileLines, ...]]:
        """The newest lines in words, and the older ones by file and number."""
        ordered = sorted(set(sources), reverse=True)
        newest = tuple(Line(str(source), self.by_source.get(source, "")) for source in ordered[:_LINES_IN_WORDS])
        older = [
            FileLines(file, ", ".join(str(source.line) for source in sorted(group)))
            for file, group in groupby(ordered[_LINES_IN_WORDS:], key=lambda source: source.file)
        ]
        return newest, tuple(older)


class _Timed(Protocol):
    @property
    def at(self) -> datetime: ...


def evidence(log: SystemLog, display: Display, words: Words) -> Evidence:
    """What each line of a log says, in the words of the site."""
    return Evidence(dict(_told(log, display, words)))


def _told(log: SystemLog, display: Display, words: Words) -> Iterator[tuple[Source, str]]:
    def at(record: _Timed) -> str:
        return say_moment(display, words, record.at).text

    for reading in log.readings:
        blanks = {"quantity": words(f"quantities.{reading.kind}"), "value": say_written(words, reading.value)}
        yield reading.source, words("lines.reading", at=at(reading), **blanks)
    for dose in log.doses:
        yield dose.source, words("lines.dose", at=at(dose), amount=say_written(words, dose.amount), of=dose.solution)
    for pump in log.pumps:
        yield pump.source, words("lines.pump", at=at(pump), rate=say_written(words, pump.rate), of=pump.solution)
    for change in log.water_changes:
        mix = change.mix or words("lines.unknown_mix")
        yield (
            change.source,
            words("lines.water_change", at=at(change), volume=say_written(words, change.volume), mix=mix),
        )
    for top in log.top_offs:
        of = top.solution or words("lines.plain_water")
        yield top.source, words("lines.top_off", at=at(top), rate=say_written(words, top.rate), of=of)
    for effluent in log.effluents:
        blanks = {"flow": say_written(words, effluent.flow), "alkalinity": say_written(words, effluent.alkalinity)}
        yield effluent.source, words("lines.reactor", at=at(effluent), **blanks)
    for event in log.events:
        yield event.source, words("lines.event", at=at(event), what=words(f"events.{event.what}"))


def why(desk: Desk, found: Finding, told: Evidence, unit: str, factor: float) -> Why:
    """What stands behind a finding; `factor` takes its own unit to `unit`, in which the parts are shown."""
    method = METHODS[found.method]
    newest, older = told.lines(found.inputs)
    parts = tuple(
        Part(desk.words(f"causes.{part.cause}"), say_deviation(part.standard * factor, unit)) for part in found.parts
    )
    return Why(
        desk.link(f"{links.METHODS}#{method.id}", method.name),
        parts,
        desk.words("why.lines", n=len(set(found.inputs))),
        newest,
        older,
    )


def cannot(words: Words, answer: CannotTell) -> Cannot:
    """An honest 'cannot tell' in words."""
    blanks = dict(answer.numbers)
    return Cannot(
        words(f"cannot.{answer.why}", **blanks),
        words(f"remedies.{answer.what_would_tell}", **blanks),
    )


def lines_why(desk: Desk, sources: Sequence[Source], told: Evidence) -> Why:
    """The lines alone, for what needs no method."""
    newest, older = told.lines(sources)
    return Why(None, (), desk.words("why.lines", n=len(set(sources))), newest, older)


def per_day_figure(desk: Desk, label: str, kind: str, answer: Answer, told: Evidence, note: str = "") -> Figure:
    """A figure of a change per day in the quantity's shown unit."""
    if isinstance(answer, CannotTell):
        return Figure(label, None, None, cannot(desk.words, answer), note)
    unit = desk.words("numbers.per_day", unit=desk.words.unit(desk.display.unit(kind)))
    factor = desk.display.change(kind, 1.0)
    shown = say_per_day(desk.display, desk.words, kind, answer.estimate)
    return Figure(label, shown, why(desk, answer, told, unit, factor), None, note)


def amount_figure(desk: Desk, label: str, answer: Answer, told: Evidence, note: str = "") -> Figure:
    """A figure of an amount a day in the whole system, in the unit the answer carries."""
    if isinstance(answer, CannotTell):
        return Figure(label, None, None, cannot(desk.words, answer), note)
    unit = desk.words("numbers.per_day", unit=desk.words.unit(answer.estimate.unit.removesuffix("/day")))
    return Figure(label, say_amount(desk.words, answer.estimate), why(desk, answer, told, unit, 1.0), None, note)
