"""The journal's index, and an entry's page."""

from dataclasses import dataclass
from itertools import groupby

from markupsafe import Markup

from generator.records.entry import Entry
from generator.render import links
from generator.render.numbers import Moment, say_day
from generator.render.pages.desk import Desk, Frame, Link, PhotoLink, frame, section_crumb
from generator.render.pages.today import EntryLink, entry_links


@dataclass(frozen=True, slots=True)
class Year:
    """The entries of one year, newest first."""

    year: str
    entries: tuple[EntryLink, ...]


@dataclass(frozen=True, slots=True)
class JournalPage:
    """The index of entries."""

    frame: Frame
    years: tuple[Year, ...]


@dataclass(frozen=True, slots=True)
class EntryPage:
    """One entry."""

    frame: Frame
    title: str
    at: Moment
    summary: str
    body: Markup
    photos: tuple[PhotoLink, ...]
    mentions: tuple[Link, ...]
    earlier: Link | None
    later: Link | None


def journal_page(desk: Desk) -> JournalPage:
    """The index of entries by year."""
    words = desk.words
    years = groupby(entry_links(desk), key=lambda entry: entry.at.iso[:4])
    return JournalPage(
        frame(desk, words("journal.title"), words("journal.description"), "journal"),
        tuple(Year(year, tuple(entries)) for year, entries in years),
    )


def entry_page(desk: Desk, entry: Entry, body: Markup, earlier: Entry | None, later: Entry | None) -> EntryPage:
    """An entry's page; `body` is its Markdown as safe HTML."""

    def to(other: Entry | None) -> Link | None:
        return desk.link(links.page_of("entry", other.id), other.title) if other else None

    return EntryPage(
        frame(desk, entry.title, entry.summary or entry.title, "journal", section_crumb(desk, "journal")),
        entry.title,
        say_day(desk.display, desk.words, entry.at),
        entry.summary or "",
        body,
        desk.photos(entry.photos),
        (
            *(desk.to_system(id) for id in entry.systems),
            *(desk.to_coral(id) for id in entry.corals),
        ),
        to(earlier),
        to(later),
    )
