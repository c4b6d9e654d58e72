"""Everything read so far, before the checks: what the checks look at."""

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from generator.read.yaml_lines import Document, Mark, Starts
from generator.records.coral import Coral
from generator.records.journal import Entry
from generator.records.log import LogEntry, SystemLog
from generator.records.planned import Newcomer, Planned
from generator.records.settings import Settings
from generator.records.source import Source
from generator.records.system import System
from generator.records.trade import Partner, Trade, Travel


def _nowhere(_: str) -> Starts:
    return {}


@dataclass(slots=True)
class Draft:
    """The valid records, the names of the others, and the position of everything.

    `names` has every id that has a file, by kind: other records may refer to a record that has errors. `written` has
    the entries of each system's log as they are in the files. `starts` gives where the records of a file start.
    `today` is the day of `now` where the keeper lives.
    """

    now: datetime
    today: date
    zone: ZoneInfo
    settings: Settings | None = None
    systems: Mapping[str, System] = field(default_factory=dict)
    corals: Mapping[str, Coral] = field(default_factory=dict)
    trades: Mapping[str, Trade] = field(default_factory=dict)
    plans: Mapping[str, Planned] = field(default_factory=dict)
    partners: Mapping[str, Partner] = field(default_factory=dict)
    entries: Mapping[str, Entry] = field(default_factory=dict)
    log_files: Mapping[str, Sequence[str]] = field(default_factory=dict)
    written: Mapping[str, Sequence[LogEntry]] = field(default_factory=dict)
    logs: Mapping[str, SystemLog] = field(default_factory=dict)
    names: Mapping[str, Collection[str]] = field(default_factory=dict)
    photos: Collection[str] = ()
    received: Collection[str] = ()
    starts: Callable[[str], Starts] = _nowhere

    def newcomers(self) -> Iterator[Newcomer]:
        """Every colony that a plan brings."""
        for plan in self.plans.values():
            yield from plan.coming

    def of_a_species(self) -> Iterator[Coral | Newcomer]:
        """Every coral, and every colony that is only planned."""
        yield from self.corals.values()
        yield from (new for new in self.newcomers() if new.coral not in self.corals)

    def journeys(self) -> Iterator[Travel]:
        """Every journey that a trade or a plan records, each once."""
        records: tuple[Trade | Planned, ...] = (*self.trades.values(), *self.plans.values())
        yield from {record.travel.source: record.travel for record in records if record.travel}.values()

    def at(self, record: Source, *path: str | int, of_key: bool = False) -> Source:
        """The position of a part of a record, from the position of the record."""
        mark = self.mark(record)
        if mark is None:
            return record
        place = Document(None, mark).place(path, of_key)
        return Source(record.file, place.line, place.column)

    def mark(self, record: Source) -> Mark | None:
        """The position of a record and of its parts."""
        return self.starts(record.file).get((record.line, record.column))
