"""entries/<date>-<slug>.md: a journal post, with its header and its Markdown."""

from pydantic.dataclasses import dataclass

from generator.records.coral import Audience, Photo
from generator.records.fields import STRICT, Day, Id, Name, Text
from generator.records.source import Source


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
