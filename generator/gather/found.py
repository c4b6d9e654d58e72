"""What reading a spreadsheet gives: facts, doubts by row, and questions; and when its rows were written."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import cast, get_args
from zoneinfo import ZoneInfo

from generator.gather.cells import DateOrder, clock_in, days_in, moment_in, serial_day
from generator.gather.layout import Layout
from generator.shorthand.finish import Change, Known


@dataclass(frozen=True, slots=True)
class Question:
    """What the file leaves open: the key of its answer, the question, how an answer looks, and what it can be."""

    key: str
    text: str
    example: str
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Doubt:
    """A row, or a part of it, that was not taken, and why."""

    where: str
    why: str

    def __str__(self) -> str:
        return f"{self.where}: {self.why}"


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact for a system's log; `timed` if its row has an hour."""

    system: str
    change: Change
    where: str
    timed: bool = True


@dataclass(slots=True)
class Gathered:
    """What a file was understood to say. `columns` are (sheet, heading, meaning)."""

    columns: list[tuple[str, str, str]] = field(default_factory=list)
    facts: list[Fact] = field(default_factory=list)
    doubts: list[Doubt] = field(default_factory=list)
    questions: dict[str, Question] = field(default_factory=dict)

    def ask(self, key: str, text: str, example: str, *choices: str) -> None:
        """Ask a question once."""
        self.questions.setdefault(key, Question(key, text, example, choices))


@dataclass(slots=True)
class Reader:
    """What all tables of a file are read with: what the journal knows, and what the keeper answered."""

    known: Known
    answers: Mapping[str, str]
    found: Gathered
    order: DateOrder | None = None
    decimal: str = ""

    @property
    def told(self) -> dict[str, str]:
        """What the keeper said that headings and labels mean, by their text."""
        return {key.removeprefix("is:"): value for key, value in self.answers.items() if key.startswith("is:")}


# The hour of a row that has none.
NOON = "12:00"
# A day: how many hours later than usual the last row of it counts, and what was taken at that hour.
Times = dict[date, tuple[int, set[tuple[str, ...]]]]


def order_of(layouts: Sequence[Layout], reader: Reader) -> DateOrder | None:
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


def moment_of(
    said: str, hour: str, where: str, taken: set[tuple[str, ...]], reader: Reader, times: Times
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
            reader.found.doubts.append(Doubt(where, f"'{said}' is not a day"))
        return None
    if hour and clock is None:
        reader.found.doubts.append(Doubt(where, f"'{hour}' is not an hour"))
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
        reader.found.doubts.append(Doubt(where, f"{moment:%Y-%m-%d %H:%M} {wrong}"))
        return None
    return moment, clock is not None
