"""Everything read so far, before the checks: what the checks look at."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from zoneinfo import ZoneInfo

from generator.read.logs import Written
from generator.read.yaml_lines import Document, Mark
from generator.records.coral import Coral
from generator.records.entry import Entry
from generator.records.log import SystemLog
from generator.records.planned import Newcomer, Planned
from generator.records.settings import Settings
from generator.records.source import Source
from generator.records.system import System
from generator.records.trade import Partner, Trade


@dataclass(slots=True)
class Draft:
    """The valid records, the names of the others, and the position of everything.

    `names` has every id that has a file, by kind: other records may refer to a record that has errors.
    `today` is the day of `now` where the keeper lives.
    """

    now: datetime
    zone: ZoneInfo
    settings: Settings | None = None
    systems: dict[str, System] = field(default_factory=dict)
    corals: dict[str, Coral] = field(default_factory=dict)
    trades: dict[str, Trade] = field(default_factory=dict)
    plans: dict[str, Planned] = field(default_factory=dict)
    partners: dict[str, Partner] = field(default_factory=dict)
    entries: dict[str, Entry] = field(default_factory=dict)
    log_files: dict[str, list[str]] = field(default_factory=dict)
    written: dict[str, list[Written]] = field(default_factory=dict)
    logs: dict[str, SystemLog] = field(default_factory=dict)
    names: dict[str, set[str]] = field(default_factory=dict)
    photos: tuple[str, ...] = ()
    received: tuple[str, ...] = ()
    documents: dict[str, Document] = field(default_factory=dict)
    _starts: dict[str, dict[tuple[int, int], Mark]] = field(default_factory=dict)

    @property
    def today(self) -> date:
        """The keeper's day."""
        return self.now.astimezone(self.zone).date()

    def newcomers(self) -> Iterator[Newcomer]:
        """Every colony that a plan brings."""
        for plan in self.plans.values():
            yield from plan.coming

    def of_a_species(self) -> Iterator[Coral | Newcomer]:
        """Every coral, and every colony that is only planned."""
        yield from self.corals.values()
        yield from (new for new in self.newcomers() if new.coral not in self.corals)

    def at(self, record: Source, *path: str | int, of_key: bool = False) -> Source:
        """The position of a part of a record, from the position of the record."""
        mark = self.mark(record)
        if mark is None:
            return record
        place = Document(None, mark).place(path, of_key)
        return Source(record.file, place.line, place.column)

    def mark(self, record: Source) -> Mark | None:
        """The position of a record and of its parts."""
        document = self.documents.get(record.file)
        if document is None:
            return None
        if record.file not in self._starts:
            self._starts[record.file] = dict(_starts(document.mark))
        return self._starts[record.file].get((record.line, record.column))


def _starts(mark: Mark) -> Iterator[tuple[tuple[int, int], Mark]]:
    """Every mapping below a mark, by where it starts."""
    if isinstance(mark.inside, dict):
        yield (mark.line, mark.column), mark
        for _, inner in mark.inside.values():
            yield from _starts(inner)
    elif isinstance(mark.inside, list):
        for inner in mark.inside:
            yield from _starts(inner)
