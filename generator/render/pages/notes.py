"""Log notes, and the text of events."""

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from generator.records.log import Event, Note
from generator.records.source import Source
from generator.render.audience import View


@dataclass(frozen=True, slots=True)
class LogNote:
    """A note in a system's log at a moment."""

    system: str
    at: datetime
    text: str
    source: Source

    def anchor(self, zone: ZoneInfo) -> str:
        """The note's anchor on its month's page; it depends only on system and moment."""
        return f"{self.system}-{self.at.astimezone(zone):%d-%H%M}"


def log_notes(view: View) -> list[LogNote]:
    """All log notes that this audience may read, oldest first, one for each moment and system."""
    together: dict[tuple[datetime, str], LogNote] = {}
    for system, log in view.logs.items():
        said_there: tuple[Note | Event, ...] = (*log.notes, *log.events)
        for said in said_there:
            if not said.text:
                continue
            before = together.get((said.at, system))
            text = f"{before.text} {said.text}" if before else said.text
            together[said.at, system] = LogNote(system, said.at, text, before.source if before else said.source)
    return [together[key] for key in sorted(together)]
