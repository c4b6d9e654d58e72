"""What a spreadsheet gives: facts, doubts by row, questions; when its rows were written; what a journal lacks."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import cast, get_args
from zoneinfo import ZoneInfo

from msgspec import Struct, field

from generator.gather.headings import DateOrder, clock_in, days_in, moment_in, serial_day
from generator.gather.layout import SheetLayout, system_named
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.shorthand.finish import Fact, Terms, Value
from generator.shorthand.scanner import folded_text
from generator.units.quantity import Quantity


class Question(Struct, frozen=True):
    """What the file leaves open: the key of its answer, the question, how an answer looks, and what it can be."""

    key: str
    text: str
    example: str
    choices: tuple[str, ...] = ()


class Doubt(Struct, frozen=True):
    """A row, or a part of it, that was not taken, and why."""

    where: str
    why: str

    def __str__(self) -> str:
        return f"{self.where}: {self.why}"


class SheetFact(Struct, frozen=True):
    """One fact for a system's log; `timed` if its row has an hour."""

    system: str
    change: Fact
    where: str
    timed: bool = True


class Gathered(Struct):
    """What a file was understood to say. `columns` are (sheet, heading, meaning)."""

    columns: list[tuple[str, str, str]] = field(default_factory=list)
    facts: list[SheetFact] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)
    questions: dict[str, Question] = field(default_factory=dict)

    def ask(self, key: str, text: str, example: str, *choices: str) -> None:
        """Ask a question once."""
        self.questions.setdefault(key, Question(key, text, example, choices))


class SheetReader(Struct):
    """What all tables of a file are read with: what the journal knows, and what the keeper answered."""

    known: Terms
    answers: Mapping[str, str]
    found: Gathered
    order: DateOrder | None = None
    decimal: str = ""

    def doubt(self, where: str, why: str) -> None:
        """Leave out a row, or a part of it."""
        self.found.doubts.append(Doubt(where, why))

    def system(self, label: str, question: str, *more: str) -> str | None:
        """The system that a label names, the one answered, or the only one there is; else None and the question."""
        systems = sorted(set(self.known.names.get("system", {}).values()))
        if label:
            if found := system_named(label, self.known.names, self.told):
                return found
            self.found.ask(f"is:{folded_text(label)}", f"Which system is '{label}'?", systems[0], *systems, *more)
            return None
        if (answer := self.answers.get("system")) or len(systems) == 1:
            return answer or systems[0]
        self.found.ask("system", question, systems[0] if systems else "", *systems)
        return None

    @property
    def told(self) -> dict[str, str]:
        """What the keeper said that headings and labels mean, by their text."""
        return {key.removeprefix("is:"): value for key, value in self.answers.items() if key.startswith("is:")}


# The hour of a row that has none.
NOON = "12:00"
# A day: how many hours later than usual the last row of it counts, and what was taken at that hour.
Times = dict[date, tuple[int, set[tuple[str, ...]]]]


def order_of(layouts: Sequence[SheetLayout], reader: SheetReader) -> DateOrder | None:
    """The order of day and month: answered, or the only one in which all days exist, lie behind us and ascend."""
    if (answer := reader.answers.get("dates")) in get_args(DateOrder):
        return cast(DateOrder, answer)
    dots = False
    both: list[list[dict[DateOrder, date]]] = []
    for block in (block for each in layouts for block in each.blocks):
        columns = [place for place, head in enumerate(block.headings) if "day" in (head.role, head.of)]
        cells = [[line.cells[place] for line in block.lines] for place in columns] + [[block.day]]
        dots |= any("." in cell and len(days_in(cell)) > 1 for column in cells for cell in column)
        both += [[found for cell in column if (found := days_in(cell))] for column in cells]
    open_days = [days for column in both for days in column if "year-month-day" not in days]
    if not open_days or all(len(set(days.values())) == 1 and len(days) == 2 for days in open_days):
        return "day-month-year"
    today = reader.known.now.date()
    orders: tuple[DateOrder, ...] = ("day-month-year", "month-day-year")
    able = [order for order in orders if all(order in days for days in open_days)]
    if len(able) == 1:
        return able[0]
    if dots:
        return "day-month-year"
    past = [order for order in able if all(days[order] <= today for days in open_days)]
    rising = [order for order in past if all(_rises(column, order) for column in both)]
    for some in (past, rising):
        if len(some) == 1:
            return some[0]
    reader.found.ask("dates", "Which order have the dates?", "day-month-year", *orders)
    return None


def _rises(column: list[dict[DateOrder, date]], order: DateOrder) -> bool:
    days = [found.get(order, found.get("year-month-day", date.min)) for found in column]
    return days == sorted(days) or days == sorted(days, reverse=True)


def is_day(cell: str) -> bool:
    """Whether a cell begins with a day, in whatever order."""
    return bool(days_in(cell) or serial_day(cell))


def moment_in_cells(
    said: str, hour: str, where: str, taken: set[tuple[str, ...]], reader: SheetReader, times: Times
) -> tuple[datetime, bool] | None:
    """The local moment of a row from the texts of its day and its hour, and whether it has one; or None and a doubt.

    `taken` names what the row tells. Without an hour, what is told again of the same day comes an hour later.
    """
    zone = cast(ZoneInfo, reader.known.now.tzinfo)
    here, days = moment_in(said, zone), days_in(said)
    day = here.date() if here else days.get("year-month-day") or (days.get(reader.order) if reader.order else None)
    day = day or (None if days else serial_day(said))
    clock = here.time() if here else clock_in(hour) if hour else clock_in(said)
    if day is None:
        if not days or reader.order:
            reader.doubt(where, f"'{said}' is not a day")
        return None
    if hour and clock is None:
        reader.doubt(where, f"'{hour}' is not an hour")
        return None
    if clock is None:
        later, before = times.get(day, (0, set()))
        later, before = (later + 1, set()) if taken & before else (later, before)
        times[day] = later, before | taken
        usual = datetime.combine(day, clock_in(reader.answers.get("time", NOON)) or time(12))
        moment = min(usual + timedelta(hours=later), datetime.combine(day, time(23, 59)))
        if day == reader.known.now.date():
            moment = min(moment, reader.known.now.replace(tzinfo=None, second=0, microsecond=0))
    else:
        moment = datetime.combine(day, clock.replace(second=0, microsecond=0))
    local, wrong = moment.replace(tzinfo=zone), ""
    if local > reader.known.now:
        wrong = "has not come yet"
    elif local.astimezone(UTC).astimezone(zone).replace(tzinfo=None) != moment:
        wrong = "is an hour that the clocks left out"
    if wrong:
        reader.doubt(where, f"{moment:%Y-%m-%d %H:%M} {wrong}")
        return None
    return moment, clock is not None


# A fact's system or coral, moment, field and name.
_Key = tuple[str, datetime, str, str]


def not_yet_there(
    facts: Iterable[SheetFact], logs: Mapping[str, SystemLog], corals: Mapping[str, Coral], zone: ZoneInfo
) -> tuple[list[SheetFact], list[Doubt], int]:
    """The facts that are new, a doubt for each that contradicts what is written, and how many are there already.

    The same fact twice in the sheets is taken once; a row without an hour does not repeat what a log has of its day.
    """
    written = {key: (said, source) for log in logs.values() for key, said, source in _written(log)}
    written |= {key: (said, source) for coral in corals.values() for key, said, source in _of_coral(coral, zone)}
    of_days = {(key[0], key[1].astimezone(zone).date(), *key[2:], said) for key, (said, _) in written.items()}
    rates = {key: said for key, (said, _) in written.items() if key[2] == "pumps"}
    new, doubts, there = [], [], 0
    for fact in facts:
        if fact.change.into == "new":
            new.append(fact)
            continue
        at = datetime.combine(fact.change.at.day, fact.change.at.clock or time(), zone)
        if fact.change.coral:
            name = _MAIN[fact.change.into]
            value = fact.change.values[name]
            key = (fact.change.coral, at, fact.change.into, "")
        else:
            ((name, value),) = fact.change.values.items()
            key = (fact.system, at, fact.change.into, str(value) if fact.change.into == "note" else name)
        said = _plain(value)
        before, source = written.get(key, ("", ""))
        if fact.change.into == "pumps" and not before and _running(rates, key) == said:
            before = said  # a sheet repeats the rate of a pump each day; a log has it once
        if not fact.timed and (fact.system, at.date(), *key[2:], said) in of_days:
            there += 1
        elif not before:
            new.append(fact)
            written[key] = said, fact.where
            if fact.change.into == "pumps":
                rates[key] = said
        elif before == said:
            there += 1
        else:
            doubts.append(Doubt(fact.where, f"{name} of {value}, but {source} says {before} at that moment"))
    return new, doubts, there


def _running(rates: Mapping[_Key, str], key: _Key) -> str:
    """The rate that a pump has run at before a moment, "" if none is known."""
    before = [
        (at, said) for (of, at, *what), said in rates.items() if (of, *what) == (key[0], *key[2:]) and at <= key[1]
    ]
    return max(before, default=(key[1], ""))[1]


# What tells one fact of a kind about a coral from another of that day.
_MAIN = {
    "weighings": "mass",
    "sizes": "length",
    "placements": "system",
    "cuttings": "frags",
    "health": "what",
    "end": "how",
    "photos": "file",
}


def _of_coral(coral: Coral, zone: ZoneInfo) -> Iterator[tuple[_Key, str, str]]:
    for into, name in _MAIN.items():
        found = getattr(coral, into)
        for each in found if isinstance(found, tuple) else filter(None, (found,)):
            day = each.since if into == "placements" else each.at
            if day is not None:
                at = datetime.combine(day, time(), zone)
                yield (coral.id, at, into, ""), _plain(getattr(each, name)), str(each.source)


def _written(log: SystemLog) -> Iterator[tuple[_Key, str, str]]:
    for reading in log.readings:
        yield (log.system, reading.at, "readings", reading.kind), _plain(reading.value), str(reading.source)
    for dose in log.doses:
        yield (log.system, dose.at, "doses", dose.solution), _plain(dose.amount), str(dose.source)
    for rate in log.pumps:
        yield (log.system, rate.at, "pumps", rate.solution), _plain(rate.rate), str(rate.source)
    for change in log.water_changes:
        yield (log.system, change.at, "water_change", "volume"), _plain(change.volume), str(change.source)
    for note in log.notes:
        yield (log.system, note.at, "note", note.text), note.text, str(note.source)


def _plain(value: Value) -> str:
    """A value as it is compared: 8.10 dKH is 8.1 dKH."""
    return f"{'<' * value.below}{value.value:.10g} {value.unit}" if isinstance(value, Quantity) else str(value)
