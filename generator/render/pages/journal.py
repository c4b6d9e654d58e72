"""The journal: its index, its years and months, and an entry's page."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from markupsafe import Markup

from generator.records.entry import Entry
from generator.render import links
from generator.render.blocks import PhotoLink
from generator.render.inline import Link
from generator.render.numbers import Moment, say_day, say_moment
from generator.render.page import Frame
from generator.render.pages.desk import Desk, frame, section_crumb
from generator.render.pages.entries import EntryLink, entry_links, newest_first
from generator.render.pages.notes import LogNote, log_notes

# The index lists only the newest entries; older ones are on the pages of their years.
_NEWEST = 12


@dataclass(frozen=True, slots=True)
class Month:
    """One month of a year: how much was written, and the entries."""

    link: Link
    count: str
    entries: tuple[EntryLink, ...]


@dataclass(frozen=True, slots=True)
class Year:
    """One year, and its months from the first."""

    link: Link
    months: tuple[Month, ...]


@dataclass(frozen=True, slots=True)
class JournalPage:
    """The newest entries, and links to all the others."""

    frame: Frame
    newest: tuple[EntryLink, ...]
    years: tuple[Year, ...]


@dataclass(frozen=True, slots=True)
class YearPage:
    """What was written in a year, month by month."""

    frame: Frame
    title: str
    months: tuple[Month, ...]
    earlier: Link | None
    later: Link | None


@dataclass(frozen=True, slots=True)
class NoteRow:
    """A note from a log on the page of its month."""

    anchor: str
    at: Moment
    system: Link
    text: str
    source: str


@dataclass(frozen=True, slots=True)
class MonthPage:
    """A month: its entries and log notes."""

    frame: Frame
    title: str
    entries: tuple[EntryLink, ...]
    notes: tuple[NoteRow, ...]
    earlier: Link | None
    later: Link | None


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
    mentioned: tuple[Link, ...]
    earlier: Link | None
    later: Link | None


@dataclass(frozen=True, slots=True)
class Written:
    """All that was written, by the first day of its month; months in order."""

    entries: dict[date, list[Entry]]
    notes: dict[date, list[LogNote]]

    @property
    def months(self) -> list[date]:
        """Every month in which something was written."""
        return sorted({*self.entries, *self.notes})


def written(desk: Desk) -> Written:
    """Entries and log notes, each in its month on the keeper's clock."""
    by_month = Written({}, {})
    for entry in reversed(newest_first(desk.view.entries.values())):
        by_month.entries.setdefault(entry.at.replace(day=1), []).append(entry)
    for note in log_notes(desk.view):
        month = note.at.astimezone(desk.display.zone).date().replace(day=1)
        by_month.notes.setdefault(month, []).append(note)
    return by_month


def journal_page(desk: Desk, all_of_it: Written) -> JournalPage:
    """The newest entries, and the years."""
    words = desk.words
    years = groupby(all_of_it.months, key=lambda month: month.year)
    return JournalPage(
        frame(desk, words("journal.title"), words("journal.description"), "journal"),
        entry_links(desk, newest_first(desk.view.entries.values())[:_NEWEST]),
        tuple(
            Year(
                desk.link(links.year_page(year), str(year)),
                tuple(_month(desk, month, all_of_it, ()) for month in months),
            )
            for year, months in years
        )[::-1],
    )


def year_pages(desk: Desk, all_of_it: Written) -> Iterator[tuple[str, YearPage]]:
    """Every year's address and page."""
    years = {year: list(months) for year, months in groupby(all_of_it.months, key=lambda month: month.year)}
    for earlier, year, later in _with_neighbours(list(years)):
        here = desk.at(links.year_page(year))
        title = str(year)
        yield (
            here.url,
            YearPage(
                _frame(here, title),
                title,
                tuple(_month(here, month, all_of_it, all_of_it.entries.get(month, ())) for month in years[year]),
                here.link(links.year_page(earlier), str(earlier)) if earlier else None,
                here.link(links.year_page(later), str(later)) if later else None,
            ),
        )


def month_pages(desk: Desk, all_of_it: Written) -> Iterator[tuple[str, MonthPage]]:
    """Every month's address and page."""
    for earlier, month, later in _with_neighbours(all_of_it.months):
        here = desk.at(links.month_page(month))
        title = _name(here, month)
        yield (
            here.url,
            MonthPage(
                _frame(here, title, here.link(links.year_page(month.year), str(month.year))),
                title,
                entry_links(here, all_of_it.entries.get(month, ())),
                tuple(_note(here, note) for note in all_of_it.notes.get(month, ())),
                here.link(links.month_page(earlier), _name(here, earlier)) if earlier else None,
                here.link(links.month_page(later), _name(here, later)) if later else None,
            ),
        )


def entry_page(desk: Desk, entry: Entry, body: Markup, earlier: Entry | None, later: Entry | None) -> EntryPage:
    """An entry's page; `body` is its Markdown as safe HTML."""

    def to(other: Entry | None) -> Link | None:
        return desk.link(links.page_of("entry", other.id), other.title) if other else None

    crumbs = (
        section_crumb(desk, "journal"),
        desk.link(links.year_page(entry.at.year), str(entry.at.year)),
        desk.link(links.month_page(entry.at), desk.words(f"months.{entry.at.month}")),
    )
    return EntryPage(
        frame=frame(desk, entry.title, entry.summary or entry.title, "journal", *crumbs),
        title=entry.title,
        at=say_day(desk.display, desk.words, entry.at),
        summary=entry.summary or "",
        body=body,
        photos=desk.photos(entry.photos, entry.title),
        mentions=(
            *(desk.to_system(id) for id in entry.systems),
            *(desk.to_coral(id) for id in entry.corals),
        ),
        mentioned=tuple(
            desk.link(links.page_of("entry", other.id), other.title)
            for other in desk.ties.named_in.get(("entry", entry.id), ())
        ),
        earlier=to(earlier),
        later=to(later),
    )


def _frame(desk: Desk, title: str, *crumbs: Link) -> Frame:
    description = desk.words("journal.period_description", period=title)
    return frame(desk, title, description, "journal", section_crumb(desk, "journal"), *crumbs)


def _name(desk: Desk, month: date) -> str:
    return desk.words("journal.month", month=desk.words(f"months.{month.month}"), year=month.year)


def _month(desk: Desk, month: date, all_of_it: Written, entries: Sequence[Entry]) -> Month:
    words = desk.words
    counts = (
        ("journal.entries", len(all_of_it.entries.get(month, ()))),
        ("journal.notes", len(all_of_it.notes.get(month, ()))),
    )
    return Month(
        desk.link(links.month_page(month), _name(desk, month)),
        ", ".join(words(key, n=n) for key, n in counts if n),
        entry_links(desk, entries),
    )


def _note(desk: Desk, note: LogNote) -> NoteRow:
    return NoteRow(
        note.anchor(desk.display.zone),
        say_moment(desk.display, desk.words, note.at),
        desk.to_system(note.system),
        note.text,
        str(note.source),
    )


def _with_neighbours(ordered: Sequence) -> Iterator[tuple]:  # type: ignore[type-arg]
    return zip([None, *ordered], ordered, [*ordered[1:], None], strict=False)
