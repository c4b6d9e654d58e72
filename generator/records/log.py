"""logs/<system>/<yyyy-mm>.yaml: readings, doses, changes and events, moment by moment.

A `LogEntry` is what the keeper writes at one moment. The reader splits it into one small record for each
fact, with its line in the file.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from itertools import chain, groupby
from operator import attrgetter
from typing import Any, Literal, get_args

from msgspec import Struct, field

from generator.records.fields import Alkalinity, Calcium, Flag, Id, Magnesium, Rate, Text, Volume, When
from generator.records.source import FromFile, Source
from generator.records.system import Levels
from generator.units.quantity import Quantity

_time = attrgetter("at")
_DAY = timedelta(days=1)
EventKind = Literal["arrival", "cutting", "loss", "light", "equipment", "feeding", "other"]
# The kinds of alert on the day's page. A keeper dismisses one by its name, kind/system/quantity/mark.
AlertKind = Literal[
    "out-of-band",
    "leaving-band",
    "doubtful-reading",
    "two-explanations",
    "unexplained-shift",
    "unexplained-uptake",
    "pump-gives-less",
    "pump-to-mend",
    "no-reading",
    "missed-dose",
    "trend",
    "uptake-changed",
    "aragonite-saturation",
    "salinity-in-doubt",
    "salt-out-of-balance",
    "phosphate-short",
    "temperature-swing",
    "growth-fell",
    "ailing",
    "neighbours-touch",
    "too-close",
    "outgrows-place",
    "light-step-up",
    "line-at-risk",
    "owed",
    "state-check",
    "planned",
    "predicted",
]
# What an alert names. Two corals are joined by a plus sign.
ALERTS_ABOUT: dict[AlertKind, Literal["quantity", "coral", "line", "trade", "plan"]] = {
    **dict.fromkeys(get_args(AlertKind), "quantity"),
    "growth-fell": "coral",
    "ailing": "coral",
    "neighbours-touch": "coral",
    "too-close": "coral",
    "outgrows-place": "coral",
    "light-step-up": "coral",
    "line-at-risk": "line",
    "owed": "trade",
    "state-check": "coral",
    "planned": "plan",
    "predicted": "coral",
}
# Those that name two corals.
ABOUT_PAIRS: tuple[AlertKind, ...] = ("neighbours-touch", "too-close")


class WaterChangeEntry(FromFile, frozen=True, kw_only=True):
    """A water change: the volume of new water, and which of the system's `mixes` it was."""

    source: Source
    volume: Volume
    mix: Id | None = None


class TopOffEntry(FromFile, frozen=True, kw_only=True):
    """From this moment on: evaporated water is replaced at this rate, with plain water or a solution."""

    source: Source
    rate: Rate
    solution: Id | None = None


class ReactorEntry(FromFile, frozen=True, kw_only=True):
    """From this moment on: a calcium reactor's effluent at this flow and strength.

    A flow of 0 turns it off; with an event `equipment` in the same entry it is gone.
    """

    source: Source
    flow: Rate
    alkalinity: Alkalinity
    calcium: Calcium | None = None
    magnesium: Magnesium | None = None


class EventEntry(FromFile, frozen=True, kw_only=True):
    """Something that can change uptake, or that explains a reading."""

    source: Source
    what: EventKind
    coral: Id | None = None
    text: Text | None = None


class DismissEntry(FromFile, frozen=True, kw_only=True):
    """An alert of the day's page that the keeper dismissed. It stays away until it changes."""

    source: Source
    alert: Text
    reason: Text


class LogEntry(FromFile, frozen=True, kw_only=True):
    """One moment in a system's log.

    `doses` are amounts given once. `pumps` are rates from this moment until the next rate. `measured_rate`
    is what a pump was found to give at its set rate, measured with a cylinder and a clock. `filled` is how much
    of a solution its container held after filling. The readings of an entry count as taken before its doses and
    changes.
    """

    source: Source
    at: When
    readings: Levels | None = None
    kit: Id | None = None
    doses: dict[Id, Volume] = field(default_factory=dict)
    pumps: dict[Id, Rate] = field(default_factory=dict)
    measured_rate: dict[Id, Rate] = field(default_factory=dict)
    filled: dict[Id, Volume] = field(default_factory=dict)
    water_change: WaterChangeEntry | None = None
    top_off: TopOffEntry | None = None
    reactor: ReactorEntry | None = None
    event: EventEntry | None = None
    dismiss: DismissEntry | None = None
    note: Text | None = None
    private: Flag = False


class LogFact(Struct, frozen=True, kw_only=True):
    """One fact of a log: where it is written, and its moment."""

    source: Source
    at: datetime


class Reading(LogFact, frozen=True, kw_only=True):
    """A reading. `kit` is the kit's id, or None if the system lists no kit for the quantity."""

    kind: str
    value: Quantity
    kit: str | None = None


class Dose(LogFact, frozen=True, kw_only=True):
    """An amount of a solution given at once."""

    solution: str
    amount: Quantity


class PumpRate(LogFact, frozen=True, kw_only=True):
    """A solution's dose rate, from `at` until the next `PumpRate` of the same solution."""

    solution: str
    rate: Quantity


class MeasuredRate(LogFact, frozen=True, kw_only=True):
    """What a solution's pump was found to give at the rate it was set to until then."""

    solution: str
    rate: Quantity


class Filling(LogFact, frozen=True, kw_only=True):
    """A solution's container was filled: how much it held then."""

    solution: str
    amount: Quantity


class WaterChange(LogFact, frozen=True, kw_only=True):
    """New water of a mix (None: not known) for the same volume of old."""

    volume: Quantity
    mix: str | None


class TopOff(LogFact, frozen=True, kw_only=True):
    """Evaporation replaced at a rate from `at` on, with a solution, or with plain water (None)."""

    rate: Quantity
    solution: str | None


class Effluent(LogFact, frozen=True, kw_only=True):
    """A calcium reactor's effluent, from `at` on."""

    flow: Quantity
    alkalinity: Quantity
    calcium: Quantity | None
    magnesium: Quantity | None


class Event(LogFact, frozen=True, kw_only=True):
    """Something seen or done that can change uptake, or explain a reading."""

    what: EventKind
    coral: str | None
    text: str | None


class Dismissal(LogFact, frozen=True, kw_only=True):
    """An alert of the day's page that the keeper dismissed, and why."""

    alert: str
    reason: str


class Note(LogFact, frozen=True, kw_only=True):
    """A note in the log."""

    text: str
    private: bool


class SystemLog(Struct, frozen=True):
    """All of one system's log, each list in order of time."""

    system: str
    readings: tuple[Reading, ...] = ()
    doses: tuple[Dose, ...] = ()
    pumps: tuple[PumpRate, ...] = ()
    measured_rates: tuple[MeasuredRate, ...] = ()
    fillings: tuple[Filling, ...] = ()
    water_changes: tuple[WaterChange, ...] = ()
    top_offs: tuple[TopOff, ...] = ()
    effluents: tuple[Effluent, ...] = ()
    events: tuple[Event, ...] = ()
    dismissals: tuple[Dismissal, ...] = ()
    notes: tuple[Note, ...] = ()

    @property
    def lists(self) -> dict[str, tuple[Any, ...]]:
        """Each of its lists, by name."""
        return {name: getattr(self, name) for name in self.__struct_fields__ if name != "system"}

    def units(self) -> dict[str, str]:
        """The unit in which each quantity was last read."""
        return {reading.kind: reading.value.unit for reading in self.readings}

    def until(self, moment: datetime) -> "SystemLog":
        """The log up to a moment."""
        if not any(facts and facts[-1].at > moment for facts in self.lists.values()):
            return self
        cut = {name: facts[: bisect_right(facts, moment, key=_time)] for name, facts in self.lists.items()}
        return SystemLog(self.system, **cut)

    def by_month(self) -> dict[str, "SystemLog"]:
        """The log of each month of UTC, as `2026-11`, in order."""
        months: dict[str, dict[str, tuple[Any, ...]]] = {}
        for name, facts in self.lists.items():
            for month, some in groupby(facts, key=lambda fact: month_of(fact.at)):
                months.setdefault(month, {})[name] = tuple(some)
        return {month: SystemLog(self.system, **months[month]) for month in sorted(months)}

    def followed_by(self, later: Sequence["SystemLog"]) -> "SystemLog":
        """This log with later ones."""
        lists = {name: (facts, *(log.lists[name] for log in later)) for name, facts in self.lists.items()}
        return SystemLog(self.system, **{name: tuple(chain.from_iterable(facts)) for name, facts in lists.items()})

    def readings_about(self, first: date, last: date) -> tuple[Reading, ...]:
        """The readings of some days, and a few of those beside them: no zone is further away than a day."""
        begin, end = (datetime.combine(day, time(), UTC) for day in (first, last))
        start = bisect_left(self.readings, begin - _DAY, key=_time)
        return self.readings[start : bisect_left(self.readings, end + 2 * _DAY, start, key=_time)]


def month_of(at: datetime) -> str:
    """The month of UTC of a moment, as `2026-11`."""
    at = at.astimezone(UTC)
    return f"{at.year:04}-{at.month:02}"


# Lines that stand alone before so long a pause are of a time in which nobody kept the journal; our own choice.
_PAUSE = timedelta(days=365)
# The first and the last line of a time without such a pause.
Spell = tuple[datetime, datetime]


def spells(log: SystemLog) -> tuple[Spell, ...]:
    """The times in which a log was kept, in order. A line at its end changes no more than the end of the last one."""
    return _joined((fact.at, fact.at) for facts in log.lists.values() for fact in facts)


def _joined(spells: Iterable[Spell]) -> tuple[Spell, ...]:
    found: list[Spell] = []
    for first, last in sorted({*spells}):
        if found and first - found[-1][1] <= _PAUSE:
            found[-1] = found[-1][0], max(last, found[-1][1])
        else:
            found.append((first, last))
    return tuple(found)


def first_day(logs: Iterable[Iterable[Spell]], zone: tzinfo) -> date | None:
    """The day from which a journal was kept, on its keeper's clock: the first line since its last year without any.

    `logs` are the spells of each of its logs.
    """
    every = _joined(chain.from_iterable(logs))
    return every[-1][0].astimezone(zone).date() if every else None
