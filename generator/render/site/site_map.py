"""Every page and file of the site: address and blocks. Two pages with one address are a problem."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from generator.reckon.analysis.journal import Findings
from generator.reckon.attention import Alert
from generator.records.problem import Problem, in_order
from generator.records.source import Source
from generator.render.audience import View
from generator.render.base import links
from generator.render.base.context import PageContext, ties
from generator.render.base.page import Page
from generator.render.base.pictures import Picture
from generator.render.base.search import index
from generator.render.base.words import words_of
from generator.render.charts.beside import beside
from generator.render.pages.change import change_address, change_page
from generator.render.pages.coral import coral_page
from generator.render.pages.corals import corals_page
from generator.render.pages.data import data_page, not_found_page
from generator.render.pages.doses import has_dosing
from generator.render.pages.dosing import dosing_page
from generator.render.pages.guides import guides_page
from generator.render.pages.journal import entry_page, journal_page, month_pages, written, year_pages
from generator.render.pages.lines import lines_page
from generator.render.pages.log_sheet import log_sheet_page
from generator.render.pages.methods import methods_page
from generator.render.pages.offers import offers_page
from generator.render.pages.origin import coral_paper, origin_page, trade_paper
from generator.render.pages.plan import plan_page
from generator.render.pages.planned import planned_page
from generator.render.pages.search import documents, search_page
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
from generator.render.pages.written import with_history
from generator.render.papers import NO_PAPERS, Papers, as_seen
from generator.render.site.calendar import calendars
from generator.render.site.cards import Card, shared_as, water_cards
from generator.render.site.feed import feeds, without_address
from generator.render.tables.column import basis_of
from generator.render.tables.files import data_files

Made = tuple[Page, Source]
_FIXED: dict[str, Callable[[PageContext], Page]] = {
    links.SYSTEMS: systems_page,
    links.CORALS: corals_page,
    links.LINES: lines_page,
    links.SURVIVAL: survival_page,
    links.TRACK_RECORD: track_record_page,
    links.METHODS: methods_page,
    links.DATA: data_page,
    links.NOT_FOUND: not_found_page,
}


@dataclass(frozen=True, slots=True)
class Site:
    """The whole site before it is drawn: pages, files and cards by address, what is wrong in the keeper's files."""

    pages: tuple[Page, ...]
    files: dict[str, bytes]
    cards: dict[str, Card]
    problems: tuple[Problem, ...]


def site(
    view: View,
    found: Findings,
    alerts: Sequence[Alert],
    as_of: datetime,
    pictures: Mapping[str, Picture],
    papers: Papers = NO_PAPERS,
) -> Site:
    """The site of one audience at a moment.

    `pictures` has the small copies of each of `view.photos()`; a missing one is a problem only if a text shows
    it. `papers` are the records of origin for this audience.
    """
    settings = view.settings
    basis = basis_of(view, found)
    words, seen = words_of(settings.language), as_seen(papers, view)
    # What the keeper has to do is the keeper's own affair.
    needs = alerts if view.audience == "own" else ()
    ctx = PageContext(view, basis.found, needs, as_of, words, basis.display, pictures, ties(view), papers=seen)
    problems = [*view.notices]
    made = [
        *_fixed(ctx),
        *_systems(ctx),
        *_corals(ctx, problems),
        *_periods(ctx),
        *_entries(ctx, problems),
        *_trades(ctx),
        *_plans(ctx),
    ]
    pages, clashes = one_page_an_address([(with_history(ctx, page, of.file), of) for page, of in made])
    cards = water_cards(ctx)
    pictured = shared_as(ctx, cards)
    folder, pieces = index(documents(ctx, pages))
    searching = search_page(ctx.at(links.SEARCH), folder)
    files = {**data_files(basis, words), **pieces, **feeds(ctx), **calendars(ctx), **_paper_files(ctx)}
    problems += [*clashes, *without_address(ctx)]
    drawn = [replace(page, card=pictured.get(page.url, "")) for page in (*pages, searching)]
    for number, page in enumerate(drawn):
        if page.charts:
            address, files[address] = beside(page.charts, words)
            drawn[number] = replace(page, beside=address)
    return Site(tuple(drawn), files, cards, tuple(in_order(problems)))


def _fixed(ctx: PageContext) -> Iterator[Made]:
    view, here = ctx.view, ctx.view.settings.source
    pages = {links.HOME: today_page if view.audience == "own" else front_page, **_FIXED}
    if view.audience == "own":
        pages[links.GUIDES] = guides_page
    if view.shows_weeks:
        pages[links.SINCE] = since_page
    if view.audience == "own":
        pages[links.WRITE] = writing_page
    if view.trades or view.shows_offers:
        pages[links.TRADES] = trades_page
    if view.shows_offers:
        pages[links.OFFERS] = offers_page
    if has_travel(ctx):
        pages[links.TRAVEL] = travel_page
    if ctx.papers.corals or ctx.papers.trades:
        pages[links.ORIGIN] = origin_page
    if any(found.plan.id in view.plans for found in ctx.found.plans):
        pages[links.PLANNED] = planned_page
    for address, told in pages.items():
        yield told(ctx.at(address)), here


def _systems(ctx: PageContext) -> Iterator[Made]:
    """The pages of every system of the view; none about a hidden coral."""
    found = ctx.found
    for id, system in ctx.view.systems.items():
        pages = []
        if water := ctx.findings.get(id):
            pages.append(system_page(ctx.at(links.page_of("system", id)), system, water))
            pages.append(log_sheet_page(ctx.at(links.log_sheet_of(id)), system, water))
            if id in found.shares:
                pages.append(shares_page(ctx.at(links.shares_of(id)), system, found.shares[id]))
        if has_dosing(ctx, id):
            pages.append(dosing_page(ctx.at(links.dosing_of(id)), system, found.dosing[id]))
        if system.places and id in found.rooms:
            pages.append(plan_page(ctx.at(links.plan_of(id)), system, found.rooms[id]))
        yield from ((page, system.source) for page in pages)
        for change in found.changes.get(id, ()):
            if coral := ctx.view.corals.get(change.coral):
                yield change_page(ctx.at(change_address(change)), system, change), coral.source


def _corals(ctx: PageContext, problems: list[Problem]) -> Iterator[Made]:
    for id, coral in ctx.view.corals.items():
        here = ctx.at(links.page_of("coral", id))
        story = here.prose(coral.story, coral.story_source)
        problems += story.problems
        yield coral_page(here, coral, story.html), coral.source


def _trades(ctx: PageContext) -> Iterator[Made]:
    """Every trade, and the records of origin."""
    view, papers = ctx.view, ctx.papers
    for id, trade in view.trades.items():
        yield trade_page(ctx.at(links.page_of("trade", id)), trade), trade.source
    for id, paper in papers.corals.items():
        yield coral_paper(ctx.at(links.paper_of(id)), view.corals[id], paper), view.corals[id].source
    for id, paper in papers.trades.items():
        yield trade_paper(ctx.at(links.trade_paper_of(id)), view.trades[id], paper), view.trades[id].source


def _plans(ctx: PageContext) -> Iterator[Made]:
    for found in ctx.found.plans:
        if found.plan.id in ctx.view.plans:
            yield sheet_page(ctx.at(links.page_of("plan", found.plan.id)), found), found.plan.source


def _periods(ctx: PageContext) -> Iterator[Made]:
    here, all_of_it = ctx.view.settings.source, written(ctx)
    yield journal_page(ctx.at(links.JOURNAL), all_of_it), here
    for page in (*year_pages(ctx, all_of_it), *month_pages(ctx, all_of_it)):
        yield page, here


def _entries(ctx: PageContext, problems: list[Problem]) -> Iterator[Made]:
    in_time = sorted(ctx.view.entries.values(), key=lambda entry: (entry.at, entry.id))
    for earlier, entry, later in zip([None, *in_time], in_time, [*in_time[1:], None], strict=False):
        here = ctx.at(links.page_of("entry", entry.id))
        body = here.prose(entry.body, entry.body_source)
        problems += body.problems
        yield entry_page(here, entry, body.html, earlier, later), entry.source


def _paper_files(ctx: PageContext) -> dict[str, bytes]:
    """The records of origin themselves, by address: those of one partner's trades."""
    return {
        links.trade_paper_of(id, "json"): paper.document
        for id, paper in ctx.papers.trades.items()
        if paper.document is not None
    }


def one_page_an_address(made: Sequence[Made]) -> tuple[tuple[Page, ...], list[Problem]]:
    """The pages by address, and a problem for every second page with the same address."""
    claimed: dict[str, tuple[Page, Source]] = {}
    clashes = []
    for page, source in made:
        if page.url not in claimed:
            claimed[page.url] = (page, source)
            continue
        clashes.append(
            Problem(
                source,
                "address-taken",
                f"another file already makes the page {page.url}",
                "rename this file",
                claimed[page.url][1],
            )
        )
    return tuple(page for page, _ in claimed.values()), clashes
