"""From a folder to a journal: read every file, check them together, report every problem at once."""

import gc
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter, ValidationError

from generator.read.checks import CHECKS
from generator.read.discover import FOLDERS, Found, discover, sort_in
from generator.read.draft import Draft
from generator.read.kinds import Meaning, records_in
from generator.read.logs import Written, spread
from generator.read.near import did_you_mean
from generator.read.recovery import read_yaml
from generator.read.remains import Remains, problems_of_remains, with_remains
from generator.read.syntax import unreadable_lines
from generator.read.text_file import post_parts, read_text
from generator.read.yaml_lines import Document
from generator.records.carried_out import Told, told_with
from generator.records.journal import Journal
from generator.records.problem import Problem, in_order
from generator.records.settings import Units, Zone
from generator.records.source import Source


def _itself(record: Source, *_: str | int) -> Source:
    return record


@dataclass(frozen=True, slots=True)
class Loaded:
    """The journal, if nothing is wrong, and every problem by file and line.

    `sound` is the journal without its mistakes, for further checks; None without journal.yaml.
    `at` gives the place of a field from its record's.
    """

    journal: Journal | None
    problems: tuple[Problem, ...]
    sound: Journal | None = None
    at: Callable[..., Source] = _itself

    @property
    def errors(self) -> tuple[Problem, ...]:
        """The problems that keep the journal from being used."""
        return tuple(problem for problem in self.problems if problem.severity == "error")

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """The warnings, with which the journal can still be used."""
        return tuple(problem for problem in self.problems if problem.severity == "warning")


def load(folder: Path, now: datetime | date, instead: Mapping[str, str] | None = None) -> Loaded:
    """Read the journal in a folder. No content of the folder raises an error.

    `now` is the moment after which nothing can have happened yet, without an offset on the keeper's own clock; a
    date stands for the end of that day where the keeper lives. `instead` are texts of
    files, by their paths, that count instead of those in the folder: what the journal would be with them.
    """
    with _without_garbage_collection():
        found = discover(folder)
        for file in instead or {}:
            if not (folder / file).is_file():
                sort_in(file, found)
        reader = _Reader(folder, found, instead or {})
        draft = reader.read(now)
        later = [problem for problem in reader.problems if problem.kind == "later-format"]
        if later:  # what else seems wrong may only be new
            return Loaded(None, tuple(later))
        problems = [*found.problems, *reader.problems]
        if draft is not None:
            for check in CHECKS:
                problems += check(draft)
            problems += problems_of_remains(draft, reader.remains)
        ordered = tuple(in_order([_on_one_line(problem) for problem in problems]))
        sound = None if draft is None else _journal(with_remains(draft, reader.remains))
        wrong = any(problem.severity == "error" for problem in ordered)
        return Loaded(None if wrong else sound, ordered, sound, draft.at if draft else _itself)


@contextmanager
def _without_garbage_collection() -> Iterator[None]:
    # Reading makes many small objects and no garbage. Collecting in between more than doubles the time.
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


class _Reader:
    """Reads the files found into a draft, gathering problems."""

    def __init__(self, folder: Path, found: Found, instead: Mapping[str, str]) -> None:
        self.folder = folder
        self.found = found
        self.instead = instead
        self.problems: list[Problem] = []
        self.documents: dict[str, Document] = {}
        self.remains: dict[str, list[Remains]] = {}

    def read(self, now: datetime | date) -> Draft | None:
        """The draft of the journal; None without a journal.yaml that can be read."""
        if self.found.settings is None:
            return None
        settings, meaning = self._settings(self.found.settings)
        draft = Draft(now=_moment(now, meaning.zone), zone=meaning.zone, settings=settings, documents=self.documents)
        draft.photos, draft.received = tuple(self.found.photos), tuple(self.found.received)
        draft.log_files = self.found.logs
        for kind in FOLDERS:
            files = [file for file in self.found.records[kind] if kind == "entries" or file.endswith(".yaml")]
            draft.names[kind] = {_stem(file) for file in files}
            records = (record for file in files for record in self._file(kind, file, meaning))
            setattr(draft, kind, {record.id: record for record in records})
        for system, files in self.found.logs.items():
            draft.written[system] = [written for file in files for written in self._log(file, meaning)]
            draft.logs[system] = spread(system, draft.systems.get(system), draft.written[system])
        self.problems += self._stories_of_no_coral()
        _carry_out(draft)
        return draft

    def _settings(self, file: str) -> tuple[Any, Meaning]:
        fallback = Meaning(ZoneInfo("UTC"), {})
        document = self._yaml(file)
        if document is None:
            return None, fallback
        written = dict(document.value) if isinstance(document.value, dict) else {}
        # If only other settings are wrong, the zone and the units may still be right: with them
        # this file and the others are checked as they are meant.
        zone = _salvaged(Zone, written.get("time_zone")) or fallback.zone
        units_written = written.get("units")
        units: dict[str, str] = {}
        for kind, unit in units_written.items() if isinstance(units_written, dict) else ():
            units |= _salvaged(Units, {kind: unit}) or {}
        meaning = Meaning(zone, units)
        return next(iter(self._records("journal", document, file, meaning)), None), meaning

    def _text(self, file: str) -> str | None:
        if file in self.instead:
            return self.instead[file]
        text, problems = read_text(self.folder, file)
        self.problems += problems
        return text

    def _yaml(self, file: str) -> Document | None:
        text = self._text(file)
        return None if text is None else self._document(text, file)

    def _document(self, text: str, file: str, lines_before: int = 0) -> Document | None:
        document, problems = read_yaml(text, file, lines_before)
        self.problems += problems
        if document is not None:
            self.documents[file] = document
        return document

    def _file(self, kind: str, file: str, meaning: Meaning) -> list[Any]:
        """The records of a file that are sound: of most kinds of file one, or none."""
        from_markdown: dict[str, Any] = {}
        if kind == "entries":
            document, from_markdown = self._post(file)
        else:
            document = self._yaml(file)
        if document is None:
            return []
        if isinstance(document.value, dict):
            story = f"corals/{_stem(file)}.md"
            if kind == "corals" and story in self.found.records["corals"]:
                from_markdown["story"] = self._text(story) or ""
                self.problems += unreadable_lines(from_markdown["story"], story)
            document.value.update(from_markdown, id=_stem(file))
        return self._records(kind, document, file, meaning)

    def _records(self, kind: str, document: Document, file: str, meaning: Meaning) -> list[Any]:
        outcome = records_in(kind, document, file, meaning)
        self.problems += outcome.problems
        self.remains.setdefault(kind, []).extend(outcome.remains)
        return outcome.records

    def _post(self, file: str) -> tuple[Document | None, dict[str, Any]]:
        text = self._text(file)
        if text is None:
            return None, {}
        parts, problems = post_parts(text, file)
        self.problems += problems
        if parts is None:
            return None, {}
        document = self._document(parts.head, file, parts.head_line - 1)
        self.problems += unreadable_lines(parts.body, file, parts.body_line)
        return document, {"body": parts.body, "body_line": parts.body_line}

    def _log(self, file: str, meaning: Meaning) -> list[Written]:
        document = self._yaml(file)
        if document is None:
            return []
        entries = self._records("logs", document, file, meaning)
        marks = {(mark.line, mark.column): mark for mark in document.mark.inside} if entries else {}
        return [Written(entry, marks[entry.source.line, entry.source.column]) for entry in entries]

    def _stories_of_no_coral(self) -> Iterator[Problem]:
        corals = {_stem(file) for file in self.found.records["corals"] if file.endswith(".yaml")}
        for file in self.found.records["corals"]:
            if file.endswith(".md") and _stem(file) not in corals:
                remedy = did_you_mean(_stem(file), corals, f"make corals/{_stem(file)}.yaml, or delete this story")
                yield Problem(Source(file, 1, 0), "unknown-reference", f"there is no coral '{_stem(file)}'", remedy)


def _carry_out(draft: Draft) -> None:
    """Add to the draft what comes of the plans that are done, in the order they were."""
    told = Told(draft.corals, draft.trades, draft.logs)
    done = [(plan.arrived, plan) for plan in draft.plans.values() if plan.arrived and not plan.dropped]
    for when, plan in sorted(done, key=lambda each: (each[0].day, each[1].id)):
        if when.come_by(draft.now, draft.zone):
            told = told_with(told, plan, when)
    draft.corals, draft.trades, draft.logs = told
    draft.names["corals"] |= draft.corals.keys()
    draft.names["trades"] |= draft.trades.keys()


def _on_one_line(problem: Problem, at_most: int = 240) -> Problem:
    """The problem with the keeper's own text in it cut to one line that any terminal can show."""
    wrong, remedy = (
        "".join(c if c.isprintable() else " " for c in (text if len(text) <= at_most else f"{text[:at_most]}…"))
        for text in (problem.wrong, problem.remedy)
    )
    return replace(problem, wrong=wrong, remedy=remedy)


def _stem(file: str) -> str:
    return file.rpartition("/")[2].rpartition(".")[0]


def _salvaged(kind: Any, written: Any) -> Any:
    try:
        return TypeAdapter(kind).validate_python(written)
    except ValidationError:
        return None


def _moment(now: datetime | date, zone: ZoneInfo) -> datetime:
    if isinstance(now, datetime):
        return (now if now.tzinfo else now.replace(tzinfo=zone)).astimezone(UTC)
    return (datetime.combine(now + timedelta(days=1), time(), zone) - timedelta(microseconds=1)).astimezone(UTC)


def _journal(draft: Draft) -> Journal | None:
    if draft.settings is None:
        return None
    return Journal(
        settings=draft.settings,
        systems=draft.systems,
        logs=draft.logs,
        corals=draft.corals,
        trades=draft.trades,
        plans=draft.plans,
        partners=draft.partners,
        entries=draft.entries,
        photos=draft.photos,
        received=draft.received,
        not_yet=frozenset(_unsound(draft)),
    )


def _unsound(draft: Draft) -> Iterator[tuple[str, str]]:
    """The (kind, id) of every file without a valid record."""
    kinds: tuple[tuple[str, str, Mapping[str, object]], ...] = (
        ("system", "systems", draft.systems),
        ("coral", "corals", draft.corals),
        ("trade", "trades", draft.trades),
        ("entry", "entries", draft.entries),
    )
    yield from ((kind, id) for kind, folder, records in kinds for id in draft.names[folder] - records.keys())
