"""Every page about trades, travel and records of origin, with the record each page is of."""

from collections.abc import Iterator

from generator.records.source import Source
from generator.render import links
from generator.render.environment import PageOut, told
from generator.render.pages.desk import Desk
from generator.render.pages.offers import offers_page
from generator.render.pages.origin import coral_paper, origin_page, trade_paper
from generator.render.pages.trade import trade_page
from generator.render.pages.trades import trades_page
from generator.render.pages.travel import has_travel, travel_page


def trade_pages(desk: Desk) -> Iterator[tuple[PageOut, Source]]:
    """The pages that this audience gets; a journal without trades and offers has none of them."""
    view, here = desk.view, desk.view.settings.source
    if view.trades or view.shows_offers:
        yield told(links.TRADES, trades_page(desk.at(links.TRADES))), here
    if view.shows_offers:
        yield told(links.OFFERS, offers_page(desk.at(links.OFFERS))), here
    for id, trade in view.trades.items():
        url = links.page_of("trade", id)
        yield told(url, trade_page(desk.at(url), trade)), trade.source
    if has_travel(desk):
        yield told(links.TRAVEL, travel_page(desk.at(links.TRAVEL))), here
    yield from _papers(desk)


def paper_files(desk: Desk) -> dict[str, bytes]:
    """The records of origin themselves, by address: those of one partner's trades."""
    return {
        links.trade_paper_of(id, "json"): paper.document
        for id, paper in desk.papers.trades.items()
        if paper.document is not None
    }


def _papers(desk: Desk) -> Iterator[tuple[PageOut, Source]]:
    papers = desk.papers
    if not (papers.corals or papers.trades):
        return
    yield told(links.ORIGIN, origin_page(desk.at(links.ORIGIN))), desk.view.settings.source
    for id, paper in papers.corals.items():
        url, coral = links.paper_of(id), desk.view.corals[id]
        yield PageOut(url, "pages/paper.html", coral_paper(desk.at(url), coral, paper)), coral.source
    for id, paper in papers.trades.items():
        url, trade = links.trade_paper_of(id), desk.view.trades[id]
        yield PageOut(url, "pages/paper.html", trade_paper(desk.at(url), trade, paper)), trade.source
