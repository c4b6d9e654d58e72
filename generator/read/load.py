"""From a folder to a journal: read every file, check them together, report every problem at once."""

import gc
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields
from datetime import date, datetime
from functools import partial
from itertools import chain
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door, grouped, parts_of
from generator.read.checks import CHECKS, LOG_BY_LOG, MONTH_BY_MONTH, RECORD_BY_RECORD, Check
from generator.read.discover import discover, sort_in
from generator.read.draft import Draft
from generator.read.files import Faults, files, kind_of
from generator.read.recovery import Remains, problems_of_remains, with_remains
from generator.records.coral import Coral, by_file
from generator.records.journal import Journal
from generator.records.log import LogEntry
from generator.records.source import Problem, Source, in_order

# A message has so many letters at the most.
_LONG = 240


def _itself(record: Source, *_: str | int) -> Source:
    return record


class Loaded(Struct, frozen=True):
    """The journal, if nothing is wrong, and every problem by file and line.

    `sound` is the journal without its mistakes, for further checks; None without journal.yaml.
    `at` gives the place of a field from its record's. `marked` is asked for a file before it is opened, so that who
    asks is asked again when the file changes.
    """

    journal: Journal | None
    problems: tuple[Problem, ...]
    sound: Journal | None = None
    at: Callable[..., Source] = _itself
    marked: Callable[[str], object] = str

    @property
    def errors(self) -> tuple[Problem, ...]:
        """The problems that keep the journal from being used."""
        return tuple(problem for problem in self.problems if problem.severity == "error")


def load(
    folder: Path, now: datetime | date, instead: Mapping[str, str] | None = None, door: Door | None = None
) -> Loaded:
    """Read the journal in a folder. No content of the folder raises an error.

    `now` is the moment after which nothing can have happened yet, without an offset on the keeper's own clock; a
    date stands for the end of that day where the keeper lives. `instead` are texts of
    files, by their paths, that count instead of those in the folder: what the journal would be with them.
    Through a `door` that remembers, only what has changed is read and checked.
    """
    door = door or Door()
    with _without_garbage_collection():
        found = discover(folder, door.was)
        for file in instead or {}:
            if not (folder / file).is_file():
                sort_in(file, found)
        if found.settings is None:
            return Loaded(None, tuple(in_order([_on_one_line(problem) for problem in found.problems])))
        read = files(door, folder, found, instead or {}, now)
        later = [problem for problem in read.faults["journal.yaml"].problems if problem.kind == "later-format"]
        if later:  # what else seems wrong may only be new
            return Loaded(None, tuple(later))
        draft = read.draft
        in_parts = (*RECORD_BY_RECORD, *MONTH_BY_MONTH, *LOG_BY_LOG)
        checks = {check.__qualname__: check for check in CHECKS if check not in in_parts}
        across = across_records(draft, door)
        checked = door.each("check", lambda: checks, lambda name: tuple(map(_on_one_line, checks[name](across))))
        of_log, apart = _log_by_log(draft, door), _record_by_record(draft, read.records, door)
        remains = door.one("remains", lambda: _remains(read.faults))

        def all_of_them() -> tuple[Problem, ...]:
            told = read.disk.problems()
            told += [problem for faults in read.faults.values() for problem in faults.problems]
            told += problems_of_remains(draft, remains())
            checks = [problem for problems in (*checked.values(), *of_log.values(), apart()) for problem in problems]
            return tuple(in_order([*map(_on_one_line, told), *checks]))

        problems = door.one("problems", all_of_them)()
        wrong = any(problem.severity == "error" for problem in problems)
        sound = _journal(door, with_remains(draft, remains()) if remains() else draft)
        return Loaded(None if wrong else sound, problems, sound, draft.at, read.disk.mark)


# Most that is written of a coral later; no check that looks at several records at once needs it.
_LATER: dict[str, Any] = {"sizes": (), "weighings": (), "photos": (), "story": ""}


def across_records(draft: Draft, door: Door) -> Draft:
    """The draft for checks that look at several records at once: a coral measured again has nothing new for them.

    They find the lines of a coral's parts by their path in its file (`draft.at`).
    """

    def across(id: str) -> Coral:
        return by_file(replace(draft.corals[id], **_LATER), "placements", "touches", "cuttings", "health")

    corals = door.each("coral across records", lambda: draft.corals, across)
    return door.view(Draft, **(parts_of(draft) | {"corals": lambda: corals}))


def _log_by_log(draft: Draft, door: Door) -> Mapping[str, tuple[Problem, ...]]:
    """What is wrong in each system's log."""

    def found(id: str) -> tuple[Problem, ...]:
        def only(part: str) -> dict[str, object]:
            every: Mapping[str, object] = getattr(draft, part)
            return {id: every[id]} if id in every else {}

        instead: dict[str, Callable[[], Any]] = {part: partial(only, part) for part in ("logs", "written", "log_files")}
        of_one = door.view(Draft, **(parts_of(draft) | instead))
        return tuple(_on_one_line(problem) for check in LOG_BY_LOG for problem in check(of_one))

    return door.each("checks of log", lambda: dict.fromkeys((*draft.log_files, *draft.logs)), found)


def _record_by_record(
    draft: Draft, records: Callable[[str], Sequence[LogEntry]], door: Door
) -> Callable[[], Iterable[Problem]]:
    """What is wrong in records one by one, in files of logs, and in all that is none of these.

    `records` gives those of a file.
    """

    def found(
        some: Mapping[str, Mapping[str, object]], checks: Sequence[Check] = RECORD_BY_RECORD
    ) -> tuple[Problem, ...]:
        instead: dict[str, Callable[[], Any]] = {kind: partial(dict, of) for kind, of in some.items()}
        part = door.view(Draft, **(parts_of(draft) | instead))
        return tuple(_on_one_line(problem) for check in checks for problem in check(part))

    def of_some(kind: str, ids: Sequence[str]) -> tuple[Problem, ...]:
        every: Mapping[str, object] = getattr(draft, kind)
        return found({**none, "plans": {}, kind: {id: every[id] for id in ids}})

    def of_months(files: Sequence[str]) -> tuple[Problem, ...]:
        written = grouped((file.split("/")[1], each) for file in files for each in records(file))
        of_each = found({**none, "plans": {}, "written": written})
        return of_each + found({"written": written}, MONTH_BY_MONTH)

    kinds: tuple[str, ...] = ("corals", "trades", "entries")
    none: dict[str, Mapping[str, object]] = {kind: {} for kind in (*kinds, "written")}
    rest = door.one("checks of the rest", lambda: found(none))
    parts = [
        door.in_parts(f"checks of some {kind}", partial(getattr, draft, kind), partial(of_some, kind)) for kind in kinds
    ]
    parts.append(door.in_parts("checks of some months", lambda: chain(*draft.log_files.values()), of_months))
    # What is wrong in a system is found with each part.
    return lambda: dict.fromkeys([*rest(), *(problem for part in parts for some in part() for problem in some)])


@contextmanager
def _without_garbage_collection() -> Iterator[None]:
    # Reading makes many small objects and no garbage. Collecting garbage meanwhile more than doubles the time.
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _on_one_line(problem: Problem) -> Problem:
    """The problem with the keeper's own text in it cut to one line that any terminal can show."""
    cut = (text if len(text) <= _LONG else f"{text[:_LONG]}…" for text in (problem.wrong, problem.remedy))
    wrong, remedy = ("".join(c if c.isprintable() else " " for c in text) for text in cut)
    return replace(problem, wrong=wrong, remedy=remedy)


def _remains(faults: Mapping[str, Faults]) -> Mapping[str, tuple[Remains, ...]]:
    """What remains of the records with mistakes, by kind."""
    return grouped((kind_of(file), each) for file, wrong in faults.items() for each in wrong.remains)


def _journal(door: Door, draft: Draft) -> Journal | None:
    if draft.settings is None:
        return None
    not_yet = door.one("not yet", lambda: tuple(_unsound(draft)))
    parts = {part.name: partial(getattr, draft, part.name) for part in fields(Journal) if part.name != "not_yet"}
    return door.view(Journal, not_yet=not_yet, **parts)


def _unsound(draft: Draft) -> Iterator[tuple[str, str]]:
    """The (kind, id) of every file without a valid record."""
    kinds: tuple[tuple[str, str, Mapping[str, object]], ...] = (
        ("system", "systems", draft.systems),
        ("coral", "corals", draft.corals),
        ("trade", "trades", draft.trades),
        ("entry", "entries", draft.entries),
    )
    yield from ((kind, id) for kind, folder, records in kinds for id in sorted({*draft.names[folder]} - records.keys()))
