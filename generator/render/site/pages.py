"""Which pages a site has, and which function makes each."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from pathlib import PurePosixPath
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct

from generator.door.door import later
from generator.records.coral import Coral
from generator.records.journal import Entry
from generator.records.source import Problem, Source
from generator.records.system import System
from generator.records.trade import soonest_first
from generator.render.base import links
from generator.render.base.context import PageContext
from generator.render.base.page import Page

if TYPE_CHECKING:
    from generator.reckon.arrivals.story import CoralChange
    from generator.reckon.water.findings import WaterFindings

with later():
    from generator.render.pages import about as _about
    from generator.render.pages import change as _change
    from generator.render.pages import coral as _coral
    from generator.render.pages import doses as _doses
    from generator.render.pages import dosing as _dosing
    from generator.render.pages import front as _front
    from generator.render.pages import journal as _journal
    from generator.render.pages import lines as _lines
    from generator.render.pages import next_tests as _next_tests
    from generator.render.pages import offers as _offers
    from generator.render.pages import origin as _origin
    from generator.render.pages import plan as _plan
    from generator.render.pages import shares as _shares
    from generator.render.pages import sheet as _sheet
    from generator.render.pages import since as _since
    from generator.render.pages import system as _system
    from generator.render.pages import track_record as _track_record
    from generator.render.pages import trades as _trades
    from generator.render.pages import travel as _travel
    from generator.render.pages import writing as _writing


class PageMade(NamedTuple):
    """A page of the site: its address, which kind it is, what it is of, and the file that makes it."""

    url: str
    kind: str
    of: str
    source: Source


_ALWAYS: dict[str, Callable[[PageContext], Page]] = {
    links.SYSTEMS: lambda ctx: _front.systems_page(ctx),
    links.CORALS: lambda ctx: _offers.corals_page(ctx),
    links.LINES: lambda ctx: _lines.lines_page(ctx),
    links.SURVIVAL: lambda ctx: _lines.survival_page(ctx),
    links.TRACK_RECORD: lambda ctx: _track_record.track_record_page(ctx),
    links.METHODS: lambda ctx: _about.methods_page(ctx),
    links.DATA: lambda ctx: _about.data_page(ctx),
    links.NOT_FOUND: lambda ctx: _about.not_found_page(ctx),
    links.JOURNAL: lambda ctx: _journal.journal_page(ctx),
}
_SOMETIMES: dict[str, tuple[Callable[[PageContext], Page], Callable[[PageContext], object]]] = {
    links.GUIDES: (lambda ctx: _about.guides_page(ctx), lambda ctx: ctx.view.writes),
    links.SINCE: (lambda ctx: _since.since_page(ctx), lambda ctx: ctx.view.shows_weeks),
    links.WRITE: (lambda ctx: _writing.writing_page(ctx), lambda ctx: ctx.view.writes),
    links.PHOTO_SIZE: (lambda ctx: _coral.photo_size_page(ctx), lambda ctx: ctx.view.writes),
    links.TRADES: (lambda ctx: _trades.trades_page(ctx), lambda ctx: ctx.view.trades or ctx.view.shows_offers),
    links.OFFERS: (lambda ctx: _offers.offers_page(ctx), lambda ctx: ctx.view.shows_offers),
    links.TRAVEL: (lambda ctx: _travel.travel_page(ctx), lambda ctx: _travel.has_travel(ctx)),
    links.ORIGIN: (lambda ctx: _origin.origin_page(ctx), lambda ctx: ctx.papers.corals or ctx.papers.trades),
    links.PLANNED: (lambda ctx: _travel.planned_page(ctx), lambda ctx: ctx.view.plans),
}
_FIXED = {**_ALWAYS, **{address: made for address, (made, _) in _SOMETIMES.items()}}
# How a page is made of what it is about, by its kind. Entries and corals are below: their texts can have mistakes.
_KINDS: dict[str, Callable[[PageContext, str], Page]] = {
    "fixed": lambda ctx, address: _FIXED[address](ctx),
    "home": lambda ctx, _: _front.today_page(ctx) if ctx.view.shows_tasks else _front.front_page(ctx),
    "system": lambda ctx, id: _system.system_page(ctx, ctx.view.systems[id], ctx.findings[id]),
    "log sheet": lambda ctx, id: _next_tests.log_sheet_page(ctx, ctx.view.systems[id], ctx.findings[id]),
    "shares": lambda ctx, id: _shares.shares_page(ctx, ctx.view.systems[id], ctx.found.shares[id]),
    "dosing": lambda ctx, id: _dosing.dosing_page(ctx, ctx.view.systems[id], ctx.found.dosing[id]),
    "plan": lambda ctx, id: _plan.plan_page(ctx, ctx.view.systems[id], ctx.found.rooms[id]),
    "change": lambda ctx, id: _change.change_page(ctx, ctx.view.systems[id], _reported(ctx, id)),
    "trade": lambda ctx, id: _trades.trade_page(ctx, ctx.view.trades[id]),
    "coral paper": lambda ctx, id: _origin.coral_paper(ctx, ctx.view.corals[id], ctx.papers.corals[id]),
    "trade paper": lambda ctx, id: _origin.trade_paper(ctx, ctx.view.trades[id], ctx.papers.trades[id]),
    "sheet": lambda ctx, id: _sheet.sheet_page(ctx, next(each for each in ctx.found.plans if each.plan.id == id)),
    "year": lambda ctx, year: _journal.year_page(ctx, year),
    "month": lambda ctx, month: _journal.month_page(ctx, month),
}


def page_and_problems(ctx: PageContext, made: PageMade) -> tuple[Page, tuple[Problem, ...]]:
    """A page that is made from its own context, and what is wrong in the keeper's text on it."""
    if made.kind == "coral":
        coral = ctx.view.corals[made.of]
        story = ctx.prose(coral.story, coral.story_source)
        return _coral.coral_page(ctx, coral, story.html), story.problems
    if made.kind == "entry":
        entry = ctx.view.entries[made.of]
        body = ctx.prose(entry.body, entry.body_source)
        return _journal.entry_page(ctx, entry, body.html), body.problems
    return _KINDS[made.kind](ctx, made.of), ()


def pages(ctx: PageContext) -> Iterator[PageMade]:
    """Every page of the site."""
    view, here = ctx.view, ctx.view.settings.source
    yield PageMade(links.HOME, "home", "", here)
    for address in _ALWAYS:
        yield PageMade(address, "fixed", address, here)
    for address, (_, wanted) in _SOMETIMES.items():
        if wanted(ctx):
            yield PageMade(address, "fixed", address, here)
    for id in view.systems:
        yield from _of_system(ctx, id)
    for id in view.corals:
        yield PageMade(links.page_of("coral", id), "coral", id, _file_of(id))
    for year in dict.fromkeys(month.partition("-")[0] for month in ctx.ties.months):
        yield PageMade(links.journal_of_year(int(year)), "year", year, here)
    for month in ctx.ties.months:
        yield PageMade(links.journal_of_month(_journal.first_day(month)), "month", month, here)
    for id in view.entries:
        yield PageMade(links.page_of("entry", id), "entry", id, Source(f"entries/{id}.md"))
    for id in view.trades:
        yield PageMade(links.page_of("trade", id), "trade", id, view.trades[id].source)
    for id in ctx.papers.corals:
        yield PageMade(links.paper_of(id), "coral paper", id, _file_of(id))
    for id in ctx.papers.trades:
        yield PageMade(links.trade_paper_of(id), "trade paper", id, view.trades[id].source)
    for plan in soonest_first(view.plans.values()):
        yield PageMade(links.page_of("plan", plan.id), "sheet", plan.id, plan.source)


def _of_system(ctx: PageContext, id: str) -> Iterator[PageMade]:
    """The pages of a system; none about a hidden coral."""
    found, system = ctx.found, ctx.view.systems[id]
    if id in ctx.findings:
        yield PageMade(links.page_of("system", id), "system", id, system.source)
        yield PageMade(links.log_sheet_of(id), "log sheet", id, system.source)
        if id in found.shares:
            yield PageMade(links.shares_of(id), "shares", id, system.source)
    if _doses.has_dosing(ctx, id):
        yield PageMade(links.dosing_of(id), "dosing", id, system.source)
    if system.places and id in found.rooms:
        yield PageMade(links.plan_of(id), "plan", id, system.source)
    for change in found.changes.get(id, ()):
        yield PageMade(_change.change_address(change), "change", id, _file_of(change.coral))


def _file_of(coral: str) -> Source:
    """The file of a coral, without asking for what stands in it."""
    return Source(f"corals/{coral}.yaml")


def _reported(ctx: PageContext, system: str) -> "CoralChange":
    """The change of a system that this page reports."""
    return next(change for change in ctx.found.changes[system] if _change.change_address(change) == ctx.url)


def one_page_an_address(made: Iterable[PageMade]) -> tuple[dict[str, PageMade], tuple[Problem, ...]]:
    """The pages by address, and a problem for every second page with the same address."""
    claimed: dict[str, PageMade] = {}
    clashes = []
    for each in made:
        if each.url not in claimed:
            claimed[each.url] = each
            continue
        wrong, remedy = f"another file already makes the page {each.url}", "rename this file"
        clashes.append(Problem(each.source, "address-taken", wrong, remedy, claimed[each.url].source))
    return claimed, tuple(clashes)


_SHOWN = timedelta(days=90)
# The first of these that has an estimate over time is shown.
_WITH_CARDS = ("alkalinity", "calcium", "magnesium")
_MARGIN = 0.12


class Card(Struct, frozen=True):
    """Words, and places in parts of the drawing's width and height, counted from its lower left corner."""

    site: str
    title: str
    value: str
    band: tuple[float, float] | None
    line: tuple[tuple[float, float], ...]
    dots: tuple[tuple[float, float], ...]


def water_card(ctx: PageContext, system: System, found: "WaterFindings") -> Card | None:
    """The card of a system; None where nothing was read lately."""
    kind = next((kind for kind in _WITH_CARDS if kind in found.latest and kind in found.uptake), None)
    if kind is None:
        return None
    start = found.as_of - _SHOWN
    track = [(point.at, point.level.value) for point in found.uptake[kind].track if point.at >= start]
    dots = [(each.at, value) for each, value in found.readings if each.kind == kind and each.at >= start]
    if not dots:
        return None
    latest = found.latest[kind]
    levels = [value for _, value in (*track, *dots)] + [end for end in (latest.low, latest.high) if end is not None]
    lowest, highest = min(levels), max(levels)
    span = (highest - lowest or 1.0) / (1 - 2 * _MARGIN)

    def up(value: float) -> float:
        return round(_MARGIN + (value - lowest) / span, 4)

    def placed(points: Sequence[tuple[datetime, float]]) -> tuple[tuple[float, float], ...]:
        return tuple((round((at - start) / _SHOWN, 4), up(value)) for at, value in points)

    quantity = ctx.words(f"quantities.{kind}")
    return Card(
        ctx.view.settings.title,
        system.name,
        f"{quantity} {ctx.say.reading(latest.reading, latest.value)}",
        None if latest.low is None or latest.high is None else (up(latest.low), up(latest.high)),
        placed(track),
        placed(dots),
    )


def water_cards(ctx: PageContext) -> dict[str, Card]:
    """The card of every system that has one, by its address; none if the site has no public address."""
    cards = {
        f"cards/{id}.png": water_card(ctx, system, ctx.findings[id])
        for id, system in ctx.view.systems.items()
        if ctx.view.published and id in ctx.findings
    }
    return {address: card for address, card in cards.items() if card}


def shared_as(ctx: PageContext, cards: Mapping[str, Card]) -> dict[str, str]:
    """From a page to the full address of its preview picture."""
    if not ctx.view.published:
        return {}
    found = {links.page_of("system", PurePosixPath(card).stem): card for card in cards}
    if cards:
        found[links.HOME] = next(iter(cards))
    for coral in ctx.view.corals.values():
        place = coral.placement_on(ctx.today)
        if picture := _photo(ctx, coral) or _water(cards, (place.system,) if place else ()):
            found[links.page_of("coral", coral.id)] = picture
    for entry in ctx.ties.headings.values():
        corals = [ctx.view.corals[id] for id in entry.corals if id in ctx.view.corals]
        records: tuple[Coral | Entry, ...] = (entry, *corals)
        photos = (_photo(ctx, each) for each in records)
        if picture := next(filter(None, photos), "") or _water(cards, (*entry.systems, *ctx.view.systems)):
            found[links.page_of("entry", entry.id)] = picture
    return {page: ctx.absolute(address) for page, address in found.items()}


def _photo(ctx: PageContext, record: Coral | Entry) -> str:
    """The address of a record's first photo; "" if it has none."""
    shown = [photo for photo in record.photos if links.photo_path(photo.file) in ctx.pictures]
    return ctx.pictures[links.photo_path(shown[0].file)].largest.address if shown else ""


def _water(cards: Mapping[str, Card], systems: Iterable[str]) -> str:
    """The address of the first card that one of the systems has; "" if none has."""
    return next((address for id in systems if (address := f"cards/{id}.png") in cards), "")
