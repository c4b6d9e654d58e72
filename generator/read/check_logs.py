"""Checks of the logs: times, duplicates, impossible values."""

from collections.abc import Collection, Iterator
from datetime import datetime

from generator.door.door import grouped
from generator.read.draft import Draft, kit_for
from generator.read.messages import did_you_mean, listed_names
from generator.read.plausible import implausible, warn
from generator.records.log import ABOUT_PAIRS, ALERTS_ABOUT, LogEntry
from generator.records.source import Problem, Source
from generator.units.kinds import WATER_KINDS

# Entries of one moment, at most: common practice, no source.
_MOST_AT_ONCE = 5


def _entries(draft: Draft) -> Iterator[tuple[str, LogEntry]]:
    for system, log in draft.written.items():
        for entry in log:
            yield system, entry


def _said(draft: Draft, moment: datetime) -> str:
    return f"{moment.astimezone(draft.zone):%Y-%m-%d %H:%M}"


def logs_of_no_system(draft: Draft) -> Iterator[Problem]:
    """A folder of logs whose system has no file."""
    known = sorted(draft.names["systems"])
    for system, files in draft.log_files.items():
        if system not in known:
            remedy = did_you_mean(system, known, f"make systems/{system}.yaml, or rename the folder")
            yield Problem(Source(files[0], 1, 0), "unknown-reference", f"there is no system '{system}'", remedy)


def entries_in_the_wrong_month(draft: Draft) -> Iterator[Problem]:
    """An entry in the file of another month."""
    for _, entry in _entries(draft):
        folder, _, name = entry.source.file.rpartition("/")
        month = f"{entry.at.astimezone(draft.zone):%Y-%m}"
        if month != name.removesuffix(".yaml"):
            wrong = f"an entry of {month} is in the file of {name.removesuffix('.yaml')}"
            remedy = f"correct its date, or move it to {folder}/{month}.yaml"
            yield Problem(draft.at(entry.source, "at"), "wrong-month", wrong, remedy)


def entries_in_the_future(draft: Draft) -> Iterator[Problem]:
    """An entry later than now."""
    for _, entry in _entries(draft):
        if entry.at > draft.now:
            wrong = f"{_said(draft, entry.at)} is in the future; it is now {_said(draft, draft.now)}"
            yield Problem(draft.at(entry.source, "at"), "future", wrong, "correct the date")


def entries_before_the_system(draft: Draft) -> Iterator[Problem]:
    """An entry from before the day the system started."""
    for id, entry in _entries(draft):
        system = draft.systems.get(id)
        if system and system.started and entry.at.astimezone(draft.zone).date() < system.started:
            wrong = f"{_said(draft, entry.at)} is before the system started on {system.started}"
            source, also = draft.at(entry.source, "at"), draft.at(system.source, "started")
            yield warn(source, "before-start", wrong, "correct one of the two", also)


def one_moment_twice(draft: Draft) -> Iterator[Problem]:
    """The same dose, pump or water change recorded twice at one moment, or two entries that could be one."""
    seen: dict[tuple[str, datetime], list[LogEntry]] = {}
    crowds = _crowds(draft)
    for system, entry in _entries(draft):
        if (system, entry.at) in crowds:
            continue
        for first in seen.setdefault((system, entry.at), []):
            shared = [part for part in _parts(entry) if part in _parts(first)]
            for path in shared:
                source = draft.at(entry.source, *path, of_key=True)
                also = draft.at(first.source, *path, of_key=True)
                what = " ".join(path).replace("_", " ")
                yield Problem(
                    source,
                    "duplicate",
                    f"'{what}' is recorded twice at {_said(draft, entry.at)}",
                    "keep one of the two",
                    also,
                )
            if not shared and entry.kit == first.kit and _can_be_one(entry, first):
                source, also = draft.at(entry.source, "at"), draft.at(first.source, "at")
                wrong = f"{_said(draft, entry.at)} has two entries"
                yield warn(source, "moment-twice", wrong, "join them, or correct the time", also)
        seen[system, entry.at].append(entry)


def _crowds(draft: Draft) -> dict[tuple[str, datetime], tuple[LogEntry, ...]]:
    """The entries of each system and moment that has more than any keeper makes at once."""
    found = grouped(((system, entry.at), entry) for system, entry in _entries(draft))
    return {moment: entries for moment, entries in found.items() if len(entries) > _MOST_AT_ONCE}


def crowded_moments(draft: Draft) -> Iterator[Problem]:
    """Many entries of one moment, made by a program or copied lines: one message for all of them."""
    for (_, at), entries in _crowds(draft).items():
        wrong = f"{len(entries)} entries have the time {_said(draft, at)}"
        source, also = draft.at(entries[1].source, "at"), draft.at(entries[0].source, "at")
        yield Problem(source, "moment-twice", wrong, "correct their times", also)


def _parts(entry: LogEntry) -> list[tuple[str, ...]]:
    parts: list[tuple[str, ...]] = [("doses", name) for name in entry.doses]
    parts += [("pumps", name) for name in entry.pumps] + [("filled", name) for name in entry.filled]
    parts += [("measured_rate", name) for name in entry.measured_rate]
    parts += [(name,) for name in ("water_change", "top_off", "reactor") if getattr(entry, name)]
    return parts


def _can_be_one(entry: LogEntry, other: LogEntry) -> bool:
    """Whether one entry could hold both: it has room for one note, one event, and one reading of a quantity."""
    a, b = entry.readings, other.readings
    twice = (entry.note and other.note) or (entry.event and other.event) or entry.private != other.private
    return not twice and not (a and b and any(a.of(kind) and b.of(kind) for kind in WATER_KINDS))


def the_same_reading_twice(draft: Draft) -> Iterator[Problem]:
    """One quantity read twice at one moment with one kit."""
    seen: dict[tuple[str, str, datetime, str | None], LogEntry] = {}
    crowds = _crowds(draft)
    for id, entry in _entries(draft):
        system = draft.systems.get(id)
        for kind in WATER_KINDS if entry.readings and (id, entry.at) not in crowds else ():
            if entry.readings is None or entry.readings.of(kind) is None:
                continue
            kit = kit_for(kind, entry.kit, system) if system else entry.kit
            first = seen.setdefault((id, kind, entry.at, kit), entry)
            if first is not entry:
                source = draft.at(entry.source, "readings", kind, of_key=True)
                also = draft.at(first.source, "readings", kind, of_key=True)
                wrong = f"{kind} is recorded twice at {_said(draft, entry.at)}"
                yield Problem(source, "duplicate", wrong, "keep one, correct the time, or name the kit of each", also)


def implausible_readings(draft: Draft) -> Iterator[Problem]:
    """A value that is impossible in a living reef: a typing mistake or a wrong unit."""
    for log in draft.logs.values():
        for reading in log.readings:
            found = implausible(reading.value)
            if found:
                yield Problem(reading.source, "implausible", *found)


def kits_that_do_not_read_it(draft: Draft) -> Iterator[Problem]:
    """A kit named for readings that it has no precision for."""
    for id, entry in _entries(draft):
        system = draft.systems.get(id)
        kit = system.kits.get(entry.kit) if system and entry.kit else None
        if kit is None or entry.readings is None:
            continue
        read = [kind for kind in WATER_KINDS if entry.readings.of(kind)]
        if read and not any(kit.precision.of(kind) for kind in read):
            wrong = f"the kit '{entry.kit}' has no precision for {listed_names(read)}"
            source = draft.at(entry.source, "kit")
            yield warn(source, "kit", wrong, "name another kit, or add its precision", kit.source)


def empty_entries(draft: Draft) -> Iterator[Problem]:
    """An entry with a time and nothing else."""
    for _, entry in _entries(draft):
        read = entry.readings and any(entry.readings.of(kind) for kind in WATER_KINDS)
        if not (read or _parts(entry) or entry.event or entry.dismiss or entry.note):
            wrong = f"the entry of {_said(draft, entry.at)} is empty"
            yield warn(entry.source, "empty-entry", wrong, "write what you measured or did, or delete it")


def more_water_changed_than_there_is(draft: Draft) -> Iterator[Problem]:
    """A water change larger than the whole system: most likely a wrong unit."""
    for id, log in draft.logs.items():
        system = draft.systems.get(id)
        for change in log.water_changes if system else ():
            if system and change.volume.canonical() > system.water.volume.canonical():
                wrong = f"{change.volume} of new water is more than the system's {system.water.volume}"
                source = draft.at(change.source, "volume")
                yield warn(source, "water-change", wrong, "correct one of the two", system.water.source)


def overfilled_containers(draft: Draft) -> Iterator[Problem]:
    """A container filled with more than it can hold."""
    for id, log in draft.logs.items():
        system = draft.systems.get(id)
        for filling in log.fillings if system else ():
            solution = system.solutions.get(filling.solution) if system else None
            if solution and solution.stock and filling.amount.canonical() > solution.stock.canonical() * (1.0 + 1e-9):
                wrong = f"{filling.amount} of '{filling.solution}' is more than its container holds, {solution.stock}"
                yield warn(
                    filling.source, "filled", wrong, "write how much is in it now, or correct 'stock'", solution.source
                )


Wrong = tuple[str, str]


def dismissals_of_unknown_alerts(draft: Draft) -> Iterator[Problem]:
    """A dismissed alert of an unknown kind, of another system, or about an unknown quantity, coral, line or trade."""
    for system, log in draft.written.items():
        for dismissed in (entry for entry in log if entry.dismiss):
            assert dismissed.dismiss is not None
            if wrong := _wrong(draft, system, dismissed.dismiss.alert):
                source = draft.at(dismissed.source, "dismiss", "alert")
                yield warn(source, "dismissal", *wrong)


def _wrong(draft: Draft, system: str, written: str) -> Wrong | None:
    kind, *rest = written.split("/")
    if kind not in ALERTS_ABOUT:
        form = f"write {kind}/{system}/QUANTITY/MARK, as the day's page shows it"
        return f"there is no kind of alert '{kind}'", did_you_mean(kind, ALERTS_ABOUT, form)
    what = ALERTS_ABOUT[kind]
    # An alert that belongs to no system, such as a promise, can be dismissed in any log.
    anywhere = what != "quantity"
    form = f"write {kind}/{system}/{what.upper()}/MARK, as the day's page shows it"
    if len(rest) != 3 or not rest[1] or not rest[2] or not (rest[0] or anywhere):
        return f"'{written}' is not an alert", form
    if rest[0] not in (system, ""):
        return f"'{written}' belongs to another system", f"dismiss it in the log of '{rest[0]}'"
    known = _known(draft, what)
    named = rest[1].split("+") if kind in ABOUT_PAIRS else [rest[1]]
    for name in named:
        if name not in known:
            wrong = f"no alert can be about '{name}'" if what == "quantity" else f"there is no {what} '{name}'"
            return wrong, did_you_mean(name, known, form)
    if kind in ABOUT_PAIRS and len(named) != 2:
        return f"'{written}' must name two corals", f"write {kind}/{system}/CORAL+CORAL/{rest[2]}"
    return None


def _known(draft: Draft, what: str) -> Collection[str]:
    match what:
        case "line":
            return {coral.line for coral in draft.corals.values()}
        case "coral":
            return draft.names["corals"]
        case "trade" | "plan":
            return draft.names[f"{what}s"]
        case _:
            return WATER_KINDS
