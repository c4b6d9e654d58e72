"""entries/<date>-<slug>.md: a journal post, with its header and its Markdown; and the whole journal, records by id."""

import dataclasses
from collections.abc import Collection, Mapping

from pydantic.dataclasses import dataclass

from generator.records.coral import Audience, Coral, Photo
from generator.records.fields import STRICT, Day, Id, Name, Text
from generator.records.log import SystemLog
from generator.records.planned import Planned
from generator.records.settings import Settings
from generator.records.source import Source
from generator.records.system import System
from generator.records.trade import Partner, Trade


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Entry:
    """A post. `body` is its Markdown text, `body_line` the line of the file where the text starts."""

    source: Source
    id: Id
    title: Name
    at: Day
    summary: Text | None = None
    systems: tuple[Id, ...] = ()
    corals: tuple[Id, ...] = ()
    photos: tuple[Photo, ...] = ()
    audience: Audience = "public"
    body: str = ""
    body_line: int = 1

    @property
    def body_source(self) -> Source:
        """The first line of its text."""
        return Source(self.source.file, self.body_line)


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """Everything read from one folder; mappings are by id, in order of id.

    `not_yet` has the (kind, id) of records that are in the files but not here: they are of a later day, or
    have errors. `photos` and `received` are paths of files, relative to the journal's folder; the files
    have not been opened.
    """

    settings: Settings
    systems: Mapping[str, System] = dataclasses.field(default_factory=dict)
    logs: Mapping[str, SystemLog] = dataclasses.field(default_factory=dict)
    corals: Mapping[str, Coral] = dataclasses.field(default_factory=dict)
    trades: Mapping[str, Trade] = dataclasses.field(default_factory=dict)
    plans: Mapping[str, Planned] = dataclasses.field(default_factory=dict)
    partners: Mapping[str, Partner] = dataclasses.field(default_factory=dict)
    entries: Mapping[str, Entry] = dataclasses.field(default_factory=dict)
    photos: Collection[str] = ()
    received: Collection[str] = ()
    not_yet: Collection[tuple[str, str]] = ()

    def log_of(self, system: str) -> SystemLog:
        """A system's log; an empty one if nothing is recorded."""
        return self.logs.get(system) or SystemLog(system=system)
