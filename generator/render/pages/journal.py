"""The journal: its index, its years and months, and an entry's page."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from typing import TypeVar
from zoneinfo import ZoneInfo

from markupsafe import Markup

from generator.records.entry import Entry
from generator.records.log import Event, Note
from generator.records.source import Source
from generator.render.audience import View
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Items, Paragraph, Photos, group, items, row, section
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.inline import Inline, Link, Span, code, joined, small
from generator.render.base.page import Page

# The index lists only the newest entries; older ones are on the pages of their years.
_NEWEST = 12
T = TypeVar("T")


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


@dataclass(frozen=True, slots=True)
class Written:
    """All that was written, by the first day of its month; months in order."""

    entries: dict[date, list[Entry]]
    notes: dict[date, list[LogNote]]

    @property
    def months(self) -> list[date]:
        """Every month in which something was written."""
        return sorted({*self.entries, *self.notes})


def written(ctx: PageContext) -> Written:
    """Entries and log notes, each in its month on the keeper's clock."""
    by_month = Written({}, {})
    for entry in reversed(newest_first(ctx.view.entries.values())):
        by_month.entries.setdefault(entry.at.replace(day=1), []).append(entry)
    for note in log_notes(ctx.view):
        month = note.at.astimezone(ctx.display.zone).date().replace(day=1)
        by_month.notes.setdefault(month, []).append(note)
    return by_month


def newest_first(entries: Iterable[Entry]) -> list[Entry]:
    """Entries in order of day, the newest first."""
    return sorted(entries, key=lambda entry: (entry.at, entry.id), reverse=True)


def entry_list(ctx: PageContext, entries: Iterable[Entry]) -> Items:
    """Entries by day, title and summary, in the order given."""
    return items(
        *(
            joined(
                ctx.say.day(entry.at),
                to_entry(ctx, entry),
                Span(entry.summary, look="summary") if entry.summary else "",
            )
            for entry in entries
        ),
        look="entries",
    )


def journal_page(ctx: PageContext, all_of_it: Written) -> Page:
    """The newest entries, and every year with its months from the first."""
    words = ctx.words
    years = [(year, list(months)) for year, months in groupby(all_of_it.months, key=lambda month: month.year)]
    return page(
        ctx,
        "journal",
        "journal",
        entry_list(ctx, newest_first(ctx.view.entries.values())[:_NEWEST]) or Paragraph(words("journal.none")),
        *(
            section(_to_year(ctx, year), items(*(_month(ctx, month, all_of_it) for month in months), look="months"))
            for year, months in reversed(years)
        ),
    )


def year_pages(ctx: PageContext, all_of_it: Written) -> Iterator[Page]:
    """Every year's page: what was written, month by month."""
    years = {year: list(months) for year, months in groupby(all_of_it.months, key=lambda month: month.year)}
    for earlier, year, later in _with_neighbours(list(years)):
        here = ctx.at(links.year_page(year))
        months = (_month_of_year(here, month, all_of_it) for month in years[year])
        yield _period(here, "year", str(year), (), *months, _beside(here, _to_year, earlier, later))


def _month_of_year(ctx: PageContext, month: date, all_of_it: Written) -> Block:
    """A month with its entries; without any, only the way to it."""
    there = _month(ctx, month, all_of_it)
    return section(there, entry_list(ctx, all_of_it.entries.get(month, ()))) or Paragraph(there)


def month_pages(ctx: PageContext, all_of_it: Written) -> Iterator[Page]:
    """Every month's page: its entries and log notes."""
    for earlier, month, later in _with_neighbours(all_of_it.months):
        here = ctx.at(links.month_page(month))
        notes = (_note(here, note) for note in all_of_it.notes.get(month, ()))
        yield _period(
            here,
            "month",
            _name(here, month),
            (_to_year(here, month.year),),
            entry_list(here, all_of_it.entries.get(month, ())),
            section(here.words("journal.from_the_logs"), items(*notes, look="history", ordered=True)),
            _beside(here, _to_month, earlier, later),
        )


def entry_page(ctx: PageContext, entry: Entry, body: Markup, earlier: Entry | None, later: Entry | None) -> Page:
    """An entry's page; `body` is its Markdown as safe HTML."""
    words = ctx.words
    mentions = row(*(ctx.to_system(id) for id in entry.systems), *(ctx.to_coral(id) for id in entry.corals))
    mentioned = row(*(to_entry(ctx, other) for other in ctx.ties.named_in.get(("entry", entry.id), ())))
    month = ctx.link(links.month_page(entry.at), words(f"months.{entry.at.month}"))
    return page(
        ctx,
        "entry",
        "journal",
        Photos(ctx.photos(entry.photos, entry.title)),
        group("prose", body),
        section(words("journal.mentions"), mentions),
        section(words("journal.mentioned"), mentioned),
        _beside(ctx, to_entry, earlier, later),
        title=entry.title,
        description=entry.summary or entry.title,
        crumbs=(section_crumb(ctx, "journal"), _to_year(ctx, entry.at.year), month),
        over=ctx.say.day(entry.at),
        lead=entry.summary or "",
        text=body.striptags(),
    )


def _period(ctx: PageContext, kind: str, title: str, crumbs: tuple[Link, ...], *blocks: Block) -> Page:
    above = (section_crumb(ctx, "journal"), *crumbs)
    described = ctx.words("journal.period_description", period=title)
    return page(ctx, kind, "journal", *blocks, title=title, description=described, crumbs=above)


def _beside(ctx: PageContext, to: Callable[[PageContext, T], Link], earlier: T | None, later: T | None) -> Drawn:
    """The ways to what was written before and after."""
    ways = tuple(to(ctx, each) if each else None for each in (earlier, later))
    return Drawn("beside", ways if any(ways) else ())


def to_entry(ctx: PageContext, entry: Entry) -> Link:
    """A link to an entry, by its title."""
    return ctx.link(links.page_of("entry", entry.id), entry.title)


def _to_year(ctx: PageContext, year: int) -> Link:
    return ctx.link(links.year_page(year), str(year))


def _to_month(ctx: PageContext, month: date) -> Link:
    return ctx.link(links.month_page(month), _name(ctx, month))


def _name(ctx: PageContext, month: date) -> str:
    return ctx.words("journal.month", month=ctx.words(f"months.{month.month}"), year=month.year)


def _month(ctx: PageContext, month: date, all_of_it: Written) -> Inline:
    """A month, and how much was written."""
    counts = (("journal.entries", all_of_it.entries), ("journal.notes", all_of_it.notes))
    said = ", ".join(ctx.words(key, n=len(there[month])) for key, there in counts if there.get(month))
    return joined(ctx.link(links.month_page(month), _name(ctx, month)), small(said))


def _note(ctx: PageContext, note: LogNote) -> Span:
    at, system = ctx.say.moment(note.at), ctx.to_system(note.system)
    said = joined(at, system, note.text, code(note.source))
    return Span(said, "li", id=note.anchor(ctx.display.zone))


def _with_neighbours(ordered: Sequence) -> Iterator[tuple]:  # type: ignore[type-arg]
    return zip([None, *ordered], ordered, [*ordered[1:], None], strict=False)
