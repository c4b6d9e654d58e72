"""The whole journal: records by id, without rules."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from generator.records.coral import Coral
from generator.records.entry import Entry
from generator.records.log import SystemLog
from generator.records.planned import Planned
from generator.records.settings import Settings
from generator.records.system import System
from generator.records.trade import Partner, Trade


@dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """Everything read from one folder; mappings are by id, in order of id.

    `not_yet` has the (kind, id) of records that are in the files but not here: they are of a later day, or
    have errors. `photos` and `received` are paths of files, relative to the journal's folder; the files
    have not been opened.
    """

    settings: Settings
    systems: Mapping[str, System] = field(default_factory=dict)
    logs: Mapping[str, SystemLog] = field(default_factory=dict)
    corals: Mapping[str, Coral] = field(default_factory=dict)
    trades: Mapping[str, Trade] = field(default_factory=dict)
    plans: Mapping[str, Planned] = field(default_factory=dict)
    partners: Mapping[str, Partner] = field(default_factory=dict)
    entries: Mapping[str, Entry] = field(default_factory=dict)
    photos: Collection[str] = ()
    received: Collection[str] = ()
    not_yet: Collection[tuple[str, str]] = ()

    def log_of(self, system: str) -> SystemLog:
        """A system's log; an empty one if nothing is recorded."""
        return self.logs.get(system) or SystemLog(system=system)
