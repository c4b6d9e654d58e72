"""Journal entries in a list."""

from collections.abc import Iterable
from dataclasses import dataclass

from generator.records.entry import Entry
from generator.render import links
from generator.render.inline import Link
from generator.render.numbers import Moment, say_day
from generator.render.pages.desk import Desk


@dataclass(frozen=True, slots=True)
class EntryLink:
    """A journal entry in a list."""

    link: Link
    at: Moment
    summary: str


def newest_first(entries: Iterable[Entry]) -> list[Entry]:
    """Entries in order of day, the newest first."""
    return sorted(entries, key=lambda entry: (entry.at, entry.id), reverse=True)


def entry_links(desk: Desk, entries: Iterable[Entry]) -> tuple[EntryLink, ...]:
    """Entries as links, in the order given."""
    return tuple(
        EntryLink(
            desk.link(links.page_of("entry", entry.id), entry.title),
            say_day(desk.display, desk.words, entry.at),
            entry.summary or "",
        )
        for entry in entries
    )
