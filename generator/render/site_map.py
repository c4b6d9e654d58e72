"""Every page and file of the site: address, template, model. Two pages with one address are a problem."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from generator.reckon.analysis.journal import Findings
from generator.reckon.attention import Alert
from generator.records.problem import Problem, in_order
from generator.records.source import Source
from generator.render import links
from generator.render.audience import View
from generator.render.calendar import calendars
from generator.render.cards import Card, shared_as, water_cards
from generator.render.charts.beside import beside
from generator.render.demand_pages import demand_pages
from generator.render.environment import PageOut, told
from generator.render.feed import feeds, without_address
from generator.render.inline import plain_text
from generator.render.pages.coral import coral_page
from generator.render.pages.corals import corals_page
from generator.render.pages.data import data_page, not_found_page
from generator.render.pages.desk import Desk, ties
from generator.render.pages.doses import has_dosing
from generator.render.pages.dosing import dosing_page
from generator.render.pages.front import front_page
from generator.render.pages.journal import entry_page, journal_page, month_pages, written, year_pages
from generator.render.pages.lines import lines_page
from generator.render.pages.log_sheet import log_sheet_page
from generator.render.pages.methods import methods_page
from generator.render.pages.plan import plan_page
from generator.render.pages.planned import planned_page
from generator.render.pages.search import documents, search_page
from generator.render.pages.sheet import sheet_page
from generator.render.pages.survival import survival_page
from generator.render.pages.system import system_page, systems_page
from generator.render.pages.today import today_page
from generator.render.pages.track_record import track_record_page
from generator.render.papers import NO_PAPERS, Papers, as_seen
from generator.render.pictures import Picture
from generator.render.search import index
from generator.render.tables.column import basis_of
from generator.render.tables.files import data_files
from generator.render.trade_pages import paper_files, trade_pages
from generator.render.words import words_of

Made = tuple[PageOut, Source]


@dataclass(frozen=True, slots=True)
class Site:
    """The whole site before it is drawn: pages, files and cards by address, what is wrong in the keeper's files."""

    pages: tuple[PageOut, ...]
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
    desk = Desk(view, basis.found, needs, as_of, words, basis.display, pictures, ties(view), papers=seen)
    problems = [*view.notices]
    made = [
        *_fixed(desk),
        *_systems(desk),
        *demand_pages(desk),
        *_corals(desk, problems),
        *_periods(desk),
        *_entries(desk, problems),
        *trade_pages(desk),
        *_plans(desk),
    ]
    pages, clashes = _one_page_an_address(made)
    cards = water_cards(desk)
    pictured = shared_as(desk, cards)
    folder, pieces = index(documents(desk, pages))
    searching = told(links.SEARCH, search_page(desk.at(links.SEARCH), folder))
    files = {
        **data_files(basis, words),
        **pieces,
        **feeds(desk),
        **calendars(desk),
        **paper_files(desk),
    }
    problems += [*clashes, *without_address(desk)]
    drawn = [replace(page, card=pictured.get(page.url, "")) for page in (*pages, searching)]
    for number, page in enumerate(drawn):
        if page.charts:
            address, files[address] = beside(page.charts, words)
            drawn[number] = replace(page, beside=address)
    return Site(tuple(drawn), files, cards, tuple(in_order(problems)))


def _fixed(desk: Desk) -> Iterator[Made]:
    here = desk.view.settings.source
    if desk.view.audience == "own":
        yield told(links.HOME, today_page(desk.at(links.HOME))), here
    else:
        yield told(links.HOME, front_page(desk.at(links.HOME))), here
    yield told(links.SYSTEMS, systems_page(desk.at(links.SYSTEMS))), here
    yield told(links.CORALS, corals_page(desk.at(links.CORALS))), here
    yield told(links.LINES, lines_page(desk.at(links.LINES))), here
    yield told(links.SURVIVAL, survival_page(desk.at(links.SURVIVAL))), here
    yield told(links.TRACK_RECORD, track_record_page(desk.at(links.TRACK_RECORD))), here
    yield told(links.METHODS, methods_page(desk.at(links.METHODS))), here
    yield told(links.DATA, data_page(desk.at(links.DATA))), here
    yield told(links.NOT_FOUND, not_found_page(desk.at(links.NOT_FOUND))), here


def _systems(desk: Desk) -> Iterator[Made]:
    for id, system in desk.view.systems.items():
        if id in desk.findings:
            url = links.page_of("system", id)
            yield told(url, system_page(desk.at(url), system, desk.findings[id])), system.source
            url = links.log_sheet_of(id)
            sheet = log_sheet_page(desk.at(url), system, desk.findings[id])
            yield told(url, sheet), system.source
        if has_dosing(desk, id):
            url = links.dosing_of(id)
            yield (
                told(url, dosing_page(desk.at(url), system, desk.found.dosing[id])),
                system.source,
            )
        if system.places and id in desk.found.rooms:
            url = links.plan_of(id)
            yield told(url, plan_page(desk.at(url), system, desk.found.rooms[id])), system.source


def _corals(desk: Desk, problems: list[Problem]) -> Iterator[Made]:
    for id, coral in desk.view.corals.items():
        url = links.page_of("coral", id)
        story = desk.at(url).prose(coral.story, coral.story_source)
        problems += story.problems
        page = coral_page(desk.at(url), coral, story.html)
        line = desk.to_line(coral.line).text
        text = " ".join((id, coral.line, line, plain_text(page.lead), story.html.striptags()))
        yield told(url, page, text), coral.source


def _plans(desk: Desk) -> Iterator[Made]:
    here = [found for found in desk.found.plans if found.plan.id in desk.view.plans]
    if here:
        yield told(links.PLANNED, planned_page(desk.at(links.PLANNED))), here[0].plan.source
    for found in here:
        url = links.page_of("plan", found.plan.id)
        page = sheet_page(desk.at(url), found)
        said = " ".join(f"{each.coral.name} {each.coral.species}" for each in found.passengers)
        yield told(url, page, said), found.plan.source


def _periods(desk: Desk) -> Iterator[Made]:
    here, all_of_it = desk.view.settings.source, written(desk)
    yield told(links.JOURNAL, journal_page(desk.at(links.JOURNAL), all_of_it)), here
    for url, year in year_pages(desk, all_of_it):
        yield told(url, year), here
    for url, month in month_pages(desk, all_of_it):
        yield told(url, month), here


def _entries(desk: Desk, problems: list[Problem]) -> Iterator[Made]:
    in_time = sorted(desk.view.entries.values(), key=lambda entry: (entry.at, entry.id))
    for earlier, entry, later in zip([None, *in_time], in_time, [*in_time[1:], None], strict=False):
        url = links.page_of("entry", entry.id)
        body = desk.at(url).prose(entry.body, entry.body_source)
        problems += body.problems
        model = entry_page(desk.at(url), entry, body.html, earlier, later)
        yield told(url, model, body.html.striptags()), entry.source


def _one_page_an_address(made: Sequence[Made]) -> tuple[tuple[PageOut, ...], list[Problem]]:
    """The pages by address, and a problem for every second page with the same address."""
    claimed: dict[str, tuple[PageOut, Source]] = {}
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
