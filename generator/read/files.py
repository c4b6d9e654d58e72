"""From a journal's files to a draft: each file is a step, read again only if it has changed."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door
from generator.read.discover import FOLDERS, Found, HeadAndBody, post_parts, read_text
from generator.read.draft import Draft, Facts, facts_of, one_log
from generator.read.kinds import Meaning, records_in
from generator.read.messages import did_you_mean
from generator.read.recovery import Remains, read_yaml, without_tabs
from generator.read.syntax import unreadable_lines
from generator.read.yaml_lines import Parsed
from generator.records.carried_out import Affected, told_with
from generator.records.log import SystemLog
from generator.records.settings import Units, Zone
from generator.records.source import Problem, Source
from generator.records.trade import Planned

# Kind of record with a file of its own -> the ending of the file.
ENDINGS = {kind: ".md" if kind == "entries" else ".yaml" for kind in FOLDERS}
# What a plan that is carried out changes.
_TOUCHED = ("corals", "trades", "logs")


class Faults(NamedTuple):
    """What is wrong in a file, and what remains of its records with mistakes."""

    problems: tuple[Problem, ...] = ()
    remains: tuple[Remains, ...] = ()


class _File(NamedTuple):
    """All that is in a file."""

    records: tuple[Any, ...]
    faults: Faults
    document: Parsed | None


# The head and the text of an entry, and what is wrong with these.
_Parted = tuple[HeadAndBody | None, list[Problem]]


class Files(Struct, frozen=True):
    """A journal's files: the draft of the journal, the records of each file, and what is wrong in it, by its path."""

    draft: Draft
    records: Callable[[str], tuple[Any, ...]]
    faults: Mapping[str, Faults]
    disk: "Disk"


class Disk:
    """The files of a folder, each opened when it is asked for."""

    def __init__(self, door: Door, folder: Path, found: Found, instead: Mapping[str, str]) -> None:
        self.folder = folder
        self.instead = instead
        self.mark = door.given("file", dict.fromkeys(found.marks), found.marks)
        self._sorted = door.given("files", {"": replace(found, marks={})})
        self.logs = door.each("log files", lambda: self._sorted("").logs, lambda id: tuple(self._sorted("").logs[id]))
        self.stories = door.each("stories", lambda: map(_stem, self.of_kind("corals", ".md")), str, shared=True)
        self.photos = door.each("photo files", lambda: self._sorted("").photos, str, shared=True)
        self.received = door.each("received files", lambda: self._sorted("").received, str, shared=True)

    def text(self, file: str) -> tuple[str | None, list[Problem]]:
        """The text of a file, or what keeps it from being read."""
        if file in self.instead:
            return self.instead[file], []
        self.mark(file)
        return read_text(self.folder, file)

    def of_kind(self, kind: str, ending: str) -> list[str]:
        """The files of one kind with an ending."""
        return [file for file in self._sorted("").records[kind] if file.endswith(ending)]

    def problems(self) -> list[Problem]:
        """What is wrong with files as such, and stories of no coral."""
        corals = set(map(_stem, self.of_kind("corals", ".yaml")))
        return [*self._sorted("").problems, *(_of_no_coral(id, corals) for id in self.stories if id not in corals)]

    def with_records(self) -> Iterator[str]:
        """Every file that has records."""
        yield "journal.yaml"
        for kind, ending in ENDINGS.items():
            yield from self.of_kind(kind, ending)
        for system in self.logs:
            yield from self.logs[system]


def files(door: Door, folder: Path, found: Found, instead: Mapping[str, str], now: datetime | date) -> Files:
    """The files found in a folder with a journal.yaml; `instead` are texts that count instead of theirs."""
    disk = Disk(door, folder, found, instead)
    clock = door.given("now", {"": now})
    meaning = door.one("meaning", lambda: _meaning(disk))
    moment = door.one("moment of reading", lambda: _moment(clock(""), meaning().zone))
    parted = door.shared("parts of entry", lambda file: _parted(disk, file))
    # Nearly all that changes in an entry is its text: its head is read again only if it is another.
    head = door.step("head of entry", lambda file: _head(parted(file)), keep=False)
    headed = door.step("what a head says", lambda file: _headed(head(file), file, meaning()))
    whole = door.shared("whole file", lambda file: _file(disk, file, meaning(), parted, headed))
    starts = door.shared("starts", lambda file: document.starts if (document := whole(file).document) else {})
    records = door.step("records", lambda file: whole(file).records)
    read = {kind: _by_id(door, disk, kind, records) for kind in ENDINGS}

    def facts_in(file: str) -> Facts:
        return facts_of(records(file), starts(file), read["systems"].get(file.split("/")[1]))

    facts = door.step("facts", facts_in)

    def log_of(system: str) -> SystemLog:
        return one_log(system, map(facts, disk.logs[system]))

    read["logs"] = door.each("logs", lambda: disk.logs, log_of)
    done = door.one("plans carried out", lambda: _carried_out(read, moment(), meaning().zone))

    def after_plans(kind: str) -> Mapping[str, Any]:
        def ids() -> Iterable[str]:
            return sorted({*read[kind], *done()[kind]}) if done()[kind] else read[kind]

        return door.each(f"{kind} after plans", ids, lambda id: done()[kind].get(id) or read[kind][id], shared=True)

    def names(kind: str) -> Mapping[str, str]:
        def ids() -> Iterable[str]:
            return dict.fromkeys([*map(_stem, disk.of_kind(kind, ENDINGS[kind])), *done().get(kind, ())])

        return door.each(f"{kind}: names", ids, str, shared=True)

    parts = {kind: after_plans(kind) if kind in _TOUCHED else read[kind] for kind in read}
    named = {kind: names(kind) for kind in ENDINGS}
    written = door.each(
        "written", lambda: disk.logs, lambda id: [each for file in disk.logs[id] for each in records(file)], shared=True
    )
    draft = door.view(
        Draft,
        now=moment,
        today=door.one("day of reading", lambda: moment().astimezone(meaning().zone).date()),
        zone=lambda: meaning().zone,
        settings=lambda: next(iter(records("journal.yaml")), None),
        **{kind: partial(parts.__getitem__, kind) for kind in parts},
        log_files=lambda: disk.logs,
        written=lambda: written,
        names=lambda: named,
        photos=lambda: disk.photos,
        received=lambda: disk.received,
        starts=lambda: starts,
    )
    return Files(draft, records, door.each("faults", disk.with_records, lambda file: whole(file).faults), disk)


def _of_no_coral(id: str, corals: set[str]) -> Problem:
    remedy = did_you_mean(id, corals, f"make corals/{id}.yaml, or delete this story")
    return Problem(Source(f"corals/{id}.md", 1, 0), "unknown-reference", f"there is no coral '{id}'", remedy)


def _by_id(door: Door, disk: Disk, kind: str, records: Callable[[str], Any]) -> Mapping[str, Any]:
    """The valid records of one kind."""
    ending = ENDINGS[kind]
    sound = door.step(f"{kind}: sound", lambda file: bool(records(file)))
    return door.each(
        kind,
        lambda: [_stem(file) for file in disk.of_kind(kind, ending) if sound(file)],
        lambda id: records(f"{kind}/{id}{ending}")[0],
        shared=True,
    )


def _carried_out(read: Mapping[str, Mapping[str, Any]], now: datetime, zone: ZoneInfo) -> Mapping[str, dict[str, Any]]:
    """What comes of the plans that are done, in the order they were: the records that are new or changed."""
    plans: Iterable[Planned] = read["plans"].values()
    done = [(plan.arrived, plan) for plan in plans if plan.arrived and not plan.dropped]
    before = Affected({**read["corals"]}, {**read["trades"]}, {**read["logs"]}) if done else Affected({}, {}, {})
    told = before
    for when, plan in sorted(done, key=lambda each: (each[0].day, each[1].id)):
        if when.come_by(now, zone):
            told = told_with(told, plan, when)
    both: Iterable[tuple[Mapping[str, Any], Mapping[str, Any]]] = zip(before, told, strict=True)
    new = [{id: each for id, each in after.items() if was.get(id) is not each} for was, after in both]
    return dict(zip(_TOUCHED, new, strict=True))


def _meaning(disk: Disk) -> Meaning:
    """The zone and the units of a journal. If only other settings are wrong, these may still be right."""
    text, _ = disk.text("journal.yaml")
    document, wrong = read_yaml(text or "", "journal.yaml")
    if any(problem.kind == "tab" for problem in wrong):
        tries = (read_yaml(each, "journal.yaml") for each in without_tabs(text or ""))
        document, _ = min(tries, key=lambda each: len(each[1]), default=(document, wrong))
    written = dict(document.value) if document and isinstance(document.value, dict) else {}
    zone = _salvaged(Zone, written.get("time_zone")) or ZoneInfo("UTC")
    units_written = written.get("units")
    units: dict[str, str] = {}
    for kind, unit in units_written.items() if isinstance(units_written, dict) else ():
        units |= _salvaged(Units, {kind: unit}) or {}
    return Meaning(zone, units)


def _salvaged(kind: Any, written: Any) -> Any:
    from pydantic import TypeAdapter, ValidationError

    try:
        return TypeAdapter(kind).validate_python(written)
    except ValidationError:
        return None


def _file(
    disk: Disk, file: str, meaning: Meaning, parted: Callable[[str], _Parted], headed: Callable[[str], _File]
) -> _File:
    is_entry = kind_of(file) == "entries"
    return _entry(parted(file), file, headed(file), meaning) if is_entry else _whole(disk, file, meaning)


def _whole(disk: Disk, file: str, meaning: Meaning) -> _File:
    """A YAML file's valid records, what is wrong in it, and the position of everything."""
    text, problems = disk.text(file)
    if text is None:
        return _File((), Faults(tuple(problems)), None)
    return _untabbed(_told(disk, file, text, meaning), problems, text, lambda each: _told(disk, file, each, meaning))


def _untabbed(found: _File, problems: list[Problem], text: str, told: Callable[[str], _File]) -> _File:
    """What was found in a text; where a tab keeps it from being read, what is `told` by most of it without tabs.

    With `problems`, which were found before.
    """
    tabs = [problem for problem in found.faults.problems if problem.kind == "tab"][:1]
    if tabs:
        found = min(map(told, without_tabs(text)), key=lambda each: len(each.faults.problems), default=found)
    every = tuple(dict.fromkeys((*problems, *tabs, *found.faults.problems)))
    return found._replace(faults=found.faults._replace(problems=every))


def _told(disk: Disk, file: str, text: str, meaning: Meaning) -> _File:
    """What a file's text says."""
    kind = kind_of(file)
    document, problems = read_yaml(text, file)
    if document is None:
        return _File((), Faults(tuple(problems)), None)
    if kind not in ("journal", "logs") and isinstance(document.value, dict):
        if kind == "corals" and _stem(file) in disk.stories:
            story = f"corals/{_stem(file)}.md"
            told, unreadable = disk.text(story)
            document.value["story"] = told or ""
            problems += [*unreadable, *unreadable_lines(told or "", story)]
        document.value["id"] = _stem(file)
    return _records(kind, document, problems, file, meaning)


def _records(kind: str, document: Parsed, problems: list[Problem], file: str, meaning: Meaning) -> _File:
    outcome = records_in(kind, document, file, meaning)
    faults = Faults((*problems, *outcome.problems), tuple(outcome.remains))
    return _File(tuple(outcome.records), faults, document)


def _parted(disk: Disk, file: str) -> _Parted:
    """The head and the text of an entry, or what is wrong with it."""
    text, problems = disk.text(file)
    parts, wrong = (None, []) if text is None else post_parts(text, file)
    return parts, [*problems, *wrong]


def _head(parted: _Parted) -> tuple[str, int] | None:
    """The head of an entry and its first line; None where there is none."""
    parts, _ = parted
    return parts and (parts.head, parts.head_line)


def _headed(head: tuple[str, int] | None, file: str, meaning: Meaning) -> _File:
    """What the head of an entry says, without its text."""
    if head is None:
        return _File((), Faults(), None)
    text, first = head
    document, problems = read_yaml(text, file, first - 1)
    if document is None:
        return _File((), Faults(tuple(problems)), None)
    if isinstance(document.value, dict):
        # What a keeper wrongly writes for its text in the head is named as a mistake, and only once.
        document.value.update(id=_stem(file), body="", body_line=1)
    return _records("entries", document, problems, file, meaning)


def _entry(parted: _Parted, file: str, headed: _File, meaning: Meaning) -> _File:
    """An entry: what its head says, and its text."""
    parts, problems = parted
    if parts is None:
        return _File((), Faults(tuple(problems)), None)
    problems = [*problems, *unreadable_lines(parts.body, file, parts.body_line)]
    found = _untabbed(headed, problems, parts.head, lambda head: _headed((head, parts.head_line), file, meaning))
    body, faults = {"body": parts.body, "body_line": parts.body_line}, found.faults
    remains = tuple(each._replace(record=replace(each.record, **body)) for each in faults.remains)
    return _File(
        tuple(replace(each, **body) for each in found.records), faults._replace(remains=remains), found.document
    )


def kind_of(file: str) -> str:
    """The kind of records in a file."""
    return file.partition("/")[0] if "/" in file else "journal"


def _stem(file: str) -> str:
    return file.rpartition("/")[2].rpartition(".")[0]


def _moment(now: datetime | date, zone: ZoneInfo) -> datetime:
    if isinstance(now, datetime):
        return (now if now.tzinfo else now.replace(tzinfo=zone)).astimezone(UTC)
    return (datetime.combine(now + timedelta(days=1), time(), zone) - timedelta(microseconds=1)).astimezone(UTC)
