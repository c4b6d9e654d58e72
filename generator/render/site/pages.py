"""Which pages a site has, and which function makes each."""

from collections.abc import Callable, Iterable, Iterator
from typing import NamedTuple

from generator.reckon.arrivals.changes import CoralChange
from generator.records.problem import Problem
from generator.records.source import Source
from generator.render.base import links
from generator.render.base.context import PageContext
from generator.render.base.page import Page
from generator.render.pages.change import change_address, change_page
from generator.render.pages.coral import coral_page
from generator.render.pages.corals import corals_page
from generator.render.pages.data import data_page, not_found_page
from generator.render.pages.doses import has_dosing
from generator.render.pages.dosing import dosing_page
from generator.render.pages.guides import guides_page
from generator.render.pages.journal import entry_page, first_day, journal_page, month_page, year_page
from generator.render.pages.lines import lines_page
from generator.render.pages.log_sheet import log_sheet_page
from generator.render.pages.methods import methods_page
from generator.render.pages.offers import offers_page
from generator.render.pages.origin import coral_paper, origin_page, trade_paper
from generator.render.pages.photo_size import photo_size_page
from generator.render.pages.plan import plan_page
from generator.render.pages.planned import planned_page
from generator.render.pages.shares import shares_page
from generator.render.pages.sheet import sheet_page
from generator.render.pages.since import since_page
from generator.render.pages.survival import survival_page
from generator.render.pages.system import system_page, systems_page
from generator.render.pages.today import front_page, today_page
from generator.render.pages.track_record import track_record_page
from generator.render.pages.trade import trade_page
from generator.render.pages.trades import trades_page
from generator.render.pages.travel import has_travel, travel_page
from generator.render.pages.writing import writing_page


class Made(NamedTuple):
    """A page of the site: its address, which kind it is, what it is of, and the file that makes it."""

    url: str
    kind: str
    of: str
    source: Source


_ALWAYS: dict[str, Callable[[PageContext], Page]] = {
    links.SYSTEMS: systems_page,
    links.CORALS: corals_page,
    links.LINES: lines_page,
    links.SURVIVAL: survival_page,
    links.TRACK_RECORD: track_record_page,
    links.METHODS: methods_page,
    links.DATA: data_page,
    links.NOT_FOUND: not_found_page,
    links.JOURNAL: journal_page,
}
_SOMETIMES: dict[str, tuple[Callable[[PageContext], Page], Callable[[PageContext], object]]] = {
    links.GUIDES: (guides_page, lambda ctx: ctx.view.audience == "own"),
    links.SINCE: (since_page, lambda ctx: ctx.view.shows_weeks),
    links.WRITE: (writing_page, lambda ctx: ctx.view.audience == "own"),
    links.PHOTO_SIZE: (photo_size_page, lambda ctx: ctx.view.audience == "own"),
    links.TRADES: (trades_page, lambda ctx: ctx.view.trades or ctx.view.shows_offers),
    links.OFFERS: (offers_page, lambda ctx: ctx.view.shows_offers),
    links.TRAVEL: (travel_page, has_travel),
    links.ORIGIN: (origin_page, lambda ctx: ctx.papers.corals or ctx.papers.trades),
    links.PLANNED: (planned_page, lambda ctx: any(each.plan.id in ctx.view.plans for each in ctx.found.plans)),
}
_FIXED = {**_ALWAYS, **{address: made for address, (made, _) in _SOMETIMES.items()}}
# How a page is made of what it is about, by its kind. Entries and corals are below: their texts can have mistakes.
_KINDS: dict[str, Callable[[PageContext, str], Page]] = {
    "fixed": lambda ctx, address: _FIXED[address](ctx),
    "home": lambda ctx, _: today_page(ctx) if ctx.view.audience == "own" else front_page(ctx),
    "system": lambda ctx, id: system_page(ctx, ctx.view.systems[id], ctx.findings[id]),
    "log sheet": lambda ctx, id: log_sheet_page(ctx, ctx.view.systems[id], ctx.findings[id]),
    "shares": lambda ctx, id: shares_page(ctx, ctx.view.systems[id], ctx.found.shares[id]),
    "dosing": lambda ctx, id: dosing_page(ctx, ctx.view.systems[id], ctx.found.dosing[id]),
    "plan": lambda ctx, id: plan_page(ctx, ctx.view.systems[id], ctx.found.rooms[id]),
    "change": lambda ctx, id: change_page(ctx, ctx.view.systems[id], _change(ctx, id)),
    "trade": lambda ctx, id: trade_page(ctx, ctx.view.trades[id]),
    "coral paper": lambda ctx, id: coral_paper(ctx, ctx.view.corals[id], ctx.papers.corals[id]),
    "trade paper": lambda ctx, id: trade_paper(ctx, ctx.view.trades[id], ctx.papers.trades[id]),
    "sheet": lambda ctx, id: sheet_page(ctx, next(each for each in ctx.found.plans if each.plan.id == id)),
    "year": year_page,
    "month": month_page,
}


def page_of(ctx: PageContext, made: Made) -> tuple[Page, tuple[Problem, ...]]:
    """A page, and what is wrong in the keeper's text on it."""
    here = ctx.at(made.url)
    if made.kind == "coral":
        coral = ctx.view.corals[made.of]
        story = here.prose(coral.story, coral.story_source)
        return coral_page(here, coral, story.html), story.problems
    if made.kind == "entry":
        entry = ctx.view.entries[made.of]
        body = here.prose(entry.body, entry.body_source)
        return entry_page(here, entry, body.html), body.problems
    return _KINDS[made.kind](here, made.of), ()


def pages(ctx: PageContext) -> Iterator[Made]:
    """Every page of the site."""
    view, here = ctx.view, ctx.view.settings.source
    yield Made(links.HOME, "home", "", here)
    for address in _ALWAYS:
        yield Made(address, "fixed", address, here)
    for address, (_, wanted) in _SOMETIMES.items():
        if wanted(ctx):
            yield Made(address, "fixed", address, here)
    for id in view.systems:
        yield from _of_system(ctx, id)
    for id in view.corals:
        yield Made(links.page_of("coral", id), "coral", id, Source(f"corals/{id}.yaml"))
    for year in dict.fromkeys(month.partition("-")[0] for month in ctx.ties.months):
        yield Made(links.year_page(int(year)), "year", year, here)
    for month in ctx.ties.months:
        yield Made(links.month_page(first_day(month)), "month", month, here)
    for id in view.entries:
        yield Made(links.page_of("entry", id), "entry", id, Source(f"entries/{id}.md"))
    for id in view.trades:
        yield Made(links.page_of("trade", id), "trade", id, view.trades[id].source)
    for id in ctx.papers.corals:
        yield Made(links.paper_of(id), "coral paper", id, view.corals[id].source)
    for id in ctx.papers.trades:
        yield Made(links.trade_paper_of(id), "trade paper", id, view.trades[id].source)
    for found in ctx.found.plans:
        if found.plan.id in view.plans:
            yield Made(links.page_of("plan", found.plan.id), "sheet", found.plan.id, found.plan.source)


def _of_system(ctx: PageContext, id: str) -> Iterator[Made]:
    """The pages of a system; none about a hidden coral."""
    found, system = ctx.found, ctx.view.systems[id]
    if id in ctx.findings:
        yield Made(links.page_of("system", id), "system", id, system.source)
        yield Made(links.log_sheet_of(id), "log sheet", id, system.source)
        if id in found.shares:
            yield Made(links.shares_of(id), "shares", id, system.source)
    if has_dosing(ctx, id):
        yield Made(links.dosing_of(id), "dosing", id, system.source)
    if system.places and id in found.rooms:
        yield Made(links.plan_of(id), "plan", id, system.source)
    for change in found.changes.get(id, ()):
        if coral := ctx.view.corals.get(change.coral):
            yield Made(change_address(change), "change", id, coral.source)


def _change(ctx: PageContext, system: str) -> CoralChange:
    """The change of a system that this page reports."""
    return next(change for change in ctx.found.changes[system] if change_address(change) == ctx.url)


def one_page_an_address(made: Iterable[Made]) -> tuple[dict[str, Made], tuple[Problem, ...]]:
    """The pages by address, and a problem for every second page with the same address."""
    claimed: dict[str, Made] = {}
    clashes = []
    for each in made:
        if each.url not in claimed:
            claimed[each.url] = each
            continue
        wrong, remedy = f"another file already makes the page {each.url}", "rename this file"
        clashes.append(Problem(each.source, "address-taken", wrong, remedy, claimed[each.url].source))
    return claimed, tuple(clashes)
