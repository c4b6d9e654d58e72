"""The journal: its index, its years (water, growth, arrivals, losses) and months, and an entry's page."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime
from itertools import groupby
from typing import TYPE_CHECKING, TypeVar

from markupsafe import Markup
from msgspec.structs import replace

from generator.door.door import later
from generator.records.journal import Entry
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import (
    Block,
    Drawn,
    Items,
    Paragraph,
    PhotoLink,
    Photos,
    Picture,
    Section,
    facts,
    group,
    items,
    row,
    section,
)
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.links import Inline, Link, Span, code, joined, small
from generator.render.base.page import Page
from generator.render.base.ties import LogNote, Month
from generator.render.base.why import to_method
from generator.units.kinds import WATER_KINDS

if TYPE_CHECKING:
    from generator.reckon.water.replay import YearOfWater
    from generator.render.drawings.statistics import Band, Weeks

with later():
    from generator.render.drawings import statistics as _statistics

_LOST = ("died", "lost")


def year_blocks(ctx: PageContext, year: int) -> tuple[Block, ...]:
    """What the year brought, as far as this audience may see it."""
    words, (came, lost, went) = ctx.words, _came_and_went(ctx, year)
    return (
        _water(ctx, year),
        section(words("year.photos"), Photos(tuple(_photos(ctx, year))), id="photos", lead=words("year.photos_lead")),
        section(
            words("year.grown"),
            facts(
                *_grown(ctx, year),
                (words("year.frags"), _frags(ctx, year)),
                (words("year.came"), row(*map(ctx.to_coral, came))),
                (words("year.lost"), row(*map(ctx.to_coral, lost))),
                (words("year.went"), row(*map(ctx.to_coral, went))),
            ),
            id="grown",
            method=to_method(ctx, "calcification"),
        ),
    )


def _came_and_went(ctx: PageContext, year: int) -> tuple[list[str], list[str], list[str]]:
    """The corals that arrived, were lost, and left otherwise."""
    corals = ctx.ties.corals
    ends = [coral for coral in corals if coral.gone and coral.gone.year == year]
    return (
        [coral.id for coral in corals if coral.came.year == year and coral.how != "cutting"],
        [coral.id for coral in ends if coral.end in _LOST],
        [coral.id for coral in ends if coral.end not in _LOST],
    )


def _grown(ctx: PageContext, year: int) -> Iterator[tuple[Inline, Inline]]:
    """Skeleton laid down in each water, and the way to the evidence of its uptake."""
    late = datetime(year, 1, 15, tzinfo=ctx.display.zone)
    for id, system in ctx.view.systems.items():
        found = ctx.found.years.get(f"{id}/{year}")
        if found and found.grams and found.since:
            shown = ctx.say.estimate(found.grams, ctx.words.unit("g"))
            note = ctx.words("year.since", day=ctx.say.date(found.since)) if found.since > late else ""
            evidence = ctx.link(f"{links.page_of('system', id)}#why-uptake-alkalinity", ctx.words("why.title"))
            yield Link(system.name), joined(shown, note, evidence)


def _frags(ctx: PageContext, year: int) -> str:
    """Frags cut, and to how many hands pieces went."""
    cut = sum(frags for coral in ctx.ties.corals for at, frags in coral.cut if at.year == year)
    hands = {trade.partner for trade in ctx.view.trades.values() if trade.at.year == year and trade.gave}
    said = ctx.words("year.cut", n=cut) if cut else ""
    return ", ".join(filter(None, (said, ctx.words("year.hands", n=len(hands)) if hands else "")))


def _water(ctx: PageContext, year: int) -> Section | None:
    """Every week's readings against the band of today."""
    words, waters = ctx.words, _waters(ctx, year)
    if not waters:
        return None
    weeks = [standing for water in waters for band in water.bands for _, standing, _ in band.weeks]
    said = words("year.said", within=weeks.count("within"), all=len(weeks))
    months = [
        ((date(year, month, 1) - date(year, 1, 1)).days / 366, words(f"months.{month}")) for month in range(1, 13, 2)
    ]
    drawn = _statistics.draw_weeks(f"weeks-{year}", words("year.picture", year=year), said, waters, months)
    return section(words("year.water"), Picture(drawn, look="drawing"), id="water", lead=f"{said} {words('year.key')}")


def _waters(ctx: PageContext, year: int) -> "list[Weeks]":
    return [
        _statistics.Weeks(system.name, bands)
        for id, system in ctx.view.systems.items()
        if (found := ctx.found.years.get(f"{id}/{year}")) and (bands := list(_bands(ctx, system, found)))
    ]


def _bands(ctx: PageContext, system: System, found: "YearOfWater") -> "Iterator[Band]":
    from generator.reckon.water.canonical import band

    for kind in WATER_KINDS:
        ends = band(system, kind)
        if ends == (None, None):
            continue
        if weeks := found.weeks.get(kind):
            yield _statistics.Band(ctx.words(f"quantities.{kind}"), [_week(ctx, kind, *each, *ends) for each in weeks])


def _week(
    ctx: PageContext, kind: str, week: int, value: float, low: float | None, high: float | None
) -> tuple[int, str, str]:
    side = "low" if low is not None and value < low else "high" if high is not None and value > high else "within"
    return week, side, f"{ctx.say.canonical(kind, value)}, {ctx.words(f'standing.{side}')}"


def _photos(ctx: PageContext, year: int) -> Iterator[PhotoLink]:
    """The best photograph of each month, of a coral or of what was written: without a day, of the entry's.

    That is the one the keeper marked, otherwise the one with the most detail.
    """
    seen: set[str] = set()
    for month in range(1, 13):
        there = [
            (photo.best, picture.detail, each)
            for each in ctx.ties.photos.get(str(year), ())
            if (photo := each.photo).file not in seen and each.on.month == month
            if (picture := ctx.pictures.get(links.photo_path(photo.file)))
        ]
        if there:
            on, photo, of = max(there, key=lambda each: each[:2])[2]
            seen.add(photo.file)
            if shown := ctx.photo(photo, of):
                yield replace(shown, caption=f"{ctx.say.on(on)} · {of}")


T = TypeVar("T")


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


def journal_page(ctx: PageContext) -> Page:
    """The newest entries, and every year with its months from the first."""
    words, months = ctx.words, ctx.ties.months
    years = [(year, list(those)) for year, those in groupby(months, key=_year)]
    return page(
        ctx,
        "journal",
        "journal",
        entry_list(ctx, ctx.ties.newest) or Paragraph(words("journal.none")),
        margin=tuple(
            section(_to_year(ctx, year), items(*(_month(ctx, month, months[month]) for month in those), look="months"))
            for year, those in reversed(years)
        ),
    )


def year_page(ctx: PageContext, year: str) -> Page:
    """A year's page: what was written, month by month."""
    months = [month for month in ctx.ties.months if _year(month) == year]
    earlier, later = _neighbours(list(dict.fromkeys(map(_year, ctx.ties.months))), year)
    told = group("", *(_month_of_year(ctx, month, ctx.ties.months[month]) for month in months), id="months")
    return _period(
        ctx,
        "year",
        year,
        (),
        Paragraph(_in_short(ctx, int(year)), "lead"),
        *year_blocks(ctx, int(year)),
        told,
        _beside(ctx, _to_year, earlier, later),
    )


def _in_short(ctx: PageContext, year: int) -> str:
    """The year in one sentence: how often the water was in its bands, what came, was lost and was cut."""
    words = ctx.words
    weeks = [standing for water in _waters(ctx, year) for band in water.bands for _, standing, _ in band.weeks]
    came, lost, _ = _came_and_went(ctx, year)
    said = (
        words("year.in_band", percent=round(100 * weeks.count("within") / len(weeks))) if weeks else "",
        words("year.arrivals", n=len(came)) if came else "",
        words("year.losses", n=len(lost)) if lost else "",
        _frags(ctx, year),
    )
    told = "; ".join(filter(None, said))
    return f"{told[:1].upper()}{told[1:]}." if told else ""


def _month_of_year(ctx: PageContext, month: str, written: Month) -> Block:
    """A month with its entries; without any, only the way to it."""
    there = _month(ctx, month, written)
    return section(there, entry_list(ctx, map(ctx.ties.headings.__getitem__, written.entries))) or Paragraph(there)


def month_page(ctx: PageContext, month: str) -> Page:
    """A month's page: its entries and log notes."""
    written = ctx.ties.months[month]
    earlier, later = _neighbours(list(ctx.ties.months), month)
    return _period(
        ctx,
        "month",
        _name(ctx, month),
        (_to_year(ctx, _year(month)),),
        entry_list(ctx, map(ctx.ties.headings.__getitem__, written.entries)),
        section(
            ctx.words("journal.from_the_logs"),
            items(*(_note(ctx, note) for note in written.notes), look="history", ordered=True),
        ),
        margin=(_beside(ctx, _to_month, earlier, later),),
    )


def _year(month: str) -> str:
    return month.partition("-")[0]


def _neighbours(ordered: Sequence[str], one: str) -> tuple[str | None, str | None]:
    at = ordered.index(one)
    return ordered[at - 1] if at else None, ordered[at + 1] if at + 1 < len(ordered) else None


def entry_page(ctx: PageContext, entry: Entry, body: Markup) -> Page:
    """An entry's page; `body` is its Markdown as safe HTML."""
    earlier, later = (ctx.ties.headings[id] if id else None for id in ctx.ties.beside[entry.id])
    words = ctx.words
    mentions = row(*(ctx.to_system(id) for id in entry.systems), *(ctx.to_coral(id) for id in entry.corals))
    mentioned = row(*(to_entry(ctx, other) for other in ctx.ties.named_in.get(f"entry/{entry.id}", ())))
    month = ctx.link(links.journal_of_month(entry.at), words(f"months.{entry.at.month}"))
    return page(
        ctx,
        "entry",
        "journal",
        Photos(ctx.photos(entry.photos, entry.title)),
        group("prose", body),
        title=entry.title,
        description=entry.summary or entry.title,
        crumbs=(section_crumb(ctx, "journal"), _to_year(ctx, str(entry.at.year)), month),
        over=ctx.say.day(entry.at),
        lead=entry.summary or "",
        text=body.striptags(),
        margin=(
            section(words("journal.mentions"), mentions),
            section(words("journal.mentioned"), mentioned),
            _beside(ctx, to_entry, earlier, later),
        ),
    )


def _period(
    ctx: PageContext, kind: str, title: str, crumbs: tuple[Link, ...], *blocks: Block, margin: tuple[Block, ...] = ()
) -> Page:
    above = (section_crumb(ctx, "journal"), *crumbs)
    described = ctx.words("journal.period_description", period=title)
    return page(ctx, kind, "journal", *blocks, title=title, description=described, crumbs=above, margin=margin)


def _beside(ctx: PageContext, to: Callable[[PageContext, T], Link], earlier: T | None, later: T | None) -> Drawn:
    """The ways to what was written before and after."""
    ways = tuple(to(ctx, each) if each else None for each in (earlier, later))
    return Drawn("beside", ways if any(ways) else ())


def to_entry(ctx: PageContext, entry: Entry) -> Link:
    """A link to an entry, by its title."""
    return ctx.link(links.page_of("entry", entry.id), entry.title)


def _to_year(ctx: PageContext, year: str) -> Link:
    return ctx.link(links.journal_of_year(int(year)), year)


def first_day(month: str) -> date:
    """The first day of a month such as 2026-11."""
    return date.fromisoformat(f"{month}-01")


def _to_month(ctx: PageContext, month: str) -> Link:
    return ctx.link(links.journal_of_month(first_day(month)), _name(ctx, month))


def _name(ctx: PageContext, month: str) -> str:
    first = first_day(month)
    return ctx.words("journal.month", month=ctx.words(f"months.{first.month}"), year=first.year)


def _month(ctx: PageContext, month: str, written: Month) -> Inline:
    """A month, and how much was written."""
    counts = (("journal.entries", written.entries), ("journal.notes", written.notes))
    said = ", ".join(ctx.words(key, n=len(there)) for key, there in counts if there)
    return joined(_to_month(ctx, month), small(said))


def _note(ctx: PageContext, note: LogNote) -> Span:
    at, system = ctx.say.moment(note.at), ctx.to_system(note.system)
    said = joined(at, system, note.text, code(note.source))
    return Span(said, "li", id=note.anchor(ctx.display.zone))
