"""The site in steps: the page at each address, the files beside pages, and what is wrong in the keeper's files."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import TYPE_CHECKING

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door, later, parts_of
from generator.reckon.analysis.journal import Findings
from generator.records.source import Commit, Problem, in_order
from generator.render.audience import NO_PAPERS, Papers, View, as_seen
from generator.render.base import links
from generator.render.base.blocks import Block, CoralRow, Paragraph, ShareTold
from generator.render.base.context import PageContext, Shared
from generator.render.base.page import Page
from generator.render.base.page import beside as beside_page
from generator.render.base.prose import PhotoCopies
from generator.render.base.ties import ties
from generator.render.base.words import words_of
from generator.render.found import Basis, basis_of
from generator.render.pages.search import (
    KINDS,
    Findable,
    Indexed,
    documents_without_page,
    findable,
    index,
    search_page,
    searchable,
)
from generator.render.site.pages import (
    Card,
    PageMade,
    one_page_an_address,
    page_and_problems,
    pages,
    shared_as,
    water_cards,
)

if TYPE_CHECKING:
    from generator.reckon.attention import Alert

with later():  # what only some builds make is loaded when they do
    from generator.render.pages import coral_growth as _coral_growth
    from generator.render.pages import offers as _offers
    from generator.render.pages import shares as _shares
    from generator.render.pages import track_record as _track_record
    from generator.render.site import feed as _feed
    from generator.render.tables import files as _data


class SiteSteps(Struct, frozen=True):
    """The steps of a site: pages before they are drawn, other files and cards by address, and problems.

    `beside` has the address and the content of the file with the data of a page's charts, by the page's address.
    """

    pages: Mapping[str, Page]
    beside: Mapping[str, tuple[str, bytes] | None]
    files: tuple[Mapping[str, bytes], ...]
    cards: Mapping[str, Card]
    problems: Callable[[], tuple[Problem, ...]]


def steps_of_site(
    door: Door,
    view: View,
    found: Findings,
    alerts: "Callable[[], Sequence[Alert]]",
    as_of: Callable[[], datetime],
    pictures: Mapping[str, PhotoCopies],
    papers: Papers = NO_PAPERS,
    templates: Callable[[], object] = str,
) -> SiteSteps:
    """The site of one audience at a moment. What is drawn asks for `templates` first.

    `pictures` has the small copies of each photo that the view shows; a missing one is a problem only if a text shows
    it. `papers` are the records of origin for this audience.
    """
    basis = basis_of(view, found, door)
    shared = _shared(door, basis, alerts, as_of, pictures, papers)
    there = door.one("pages there", lambda: one_page_an_address(pages(PageContext(shared))))
    made = door.by_id("page there", lambda: there()[0])
    cards = door.by_id("cards", lambda: water_cards(PageContext(shared)))
    pictured = door.by_id("pictured", lambda: shared_as(PageContext(shared), cards))
    whole = door.shared("page and problems", lambda url: page_and_problems(PageContext(shared, url), made[url]))

    documents = door.each("document", lambda: made, lambda url: searchable(whole(url)[0], made[url].kind))
    searched = _searched(door, shared, made, documents)

    def framed(url: str) -> Page:
        if url == links.SEARCH:
            return replace(search_page(PageContext(shared, url), searched()[0]), card=pictured.get(url, ""))
        page = whole(url)[0]
        if view.history:
            page = with_history(PageContext(shared, url), page, made[url].source.file)
        return replace(page, card=pictured.get(url, ""))

    def with_data(url: str) -> Page:
        script = scripts[url]
        return replace(model(url), beside=script[0]) if script else model(url)

    def problems() -> tuple[Problem, ...]:
        told = [problem for url in made for problem in wrong[url]]
        return tuple(in_order([*view.notices, *there()[1], *told, *_feed.without_address(PageContext(shared))]))

    model = door.shared("page model", framed)
    addresses = door.one("addresses of pages", lambda: (*made, links.SEARCH))
    wrong = door.each("wrong on page", lambda: made, lambda url: tuple(whole(url)[1]))
    scripts = door.each(
        "beside page",
        addresses,
        lambda url: beside_page(charts, shared.words) if (charts := model(url).charts) else None,
    )
    return SiteSteps(
        door.each("page", addresses, with_data, shared=True),
        scripts,
        _files(door, shared, basis, searched, templates),
        cards,
        door.one("problems of pages", problems),
    )


def _searched(
    door: Door, shared: Shared, made: Mapping[str, PageMade], documents: Mapping[str, Indexed | None]
) -> Callable[[], tuple[str, dict[str, bytes]]]:
    """The index of all that can be found: pages in their order, then what has no page."""

    def everything() -> list[Findable]:
        by_url = {each.document.url: each for part in on_pages() for each in part}
        found = [by_url[url] for url in made if url in by_url]
        taken = {(each.document.kind, each.document.title) for each in found}
        more = documents_without_page(PageContext(shared), taken)
        # Of what is found alike, the first here is shown first: lines before pages that only name them.
        return sorted([*found, *map(findable, more)], key=lambda each: KINDS.index(each.document.kind))

    on_pages = door.in_parts(
        "found on pages", lambda: made, lambda urls: [findable(each) for url in urls if (each := documents[url])]
    )
    return door.one("search index", lambda: index(everything()))


def _shared(
    door: Door,
    basis: Basis,
    alerts: "Callable[[], Sequence[Alert]]",
    as_of: Callable[[], datetime],
    pictures: Mapping[str, PhotoCopies],
    papers: Papers,
) -> Shared:
    """What all pages are made from."""
    view = basis.view
    tied = ties(view, door)
    language = door.one("language", lambda: view.settings.language)

    def needs() -> "Sequence[Alert]":
        return alerts() if view.shows_tasks else ()

    def needs_by_subject() -> "dict[str, tuple[Alert, ...]]":
        from generator.reckon.attention import by_subject

        return by_subject(needs())

    about = door.by_id("alerts about", needs_by_subject)
    seen = {
        "corals": door.by_id("papers of corals", lambda: as_seen(papers, view).corals),
        "trades": door.by_id("papers of trades", lambda: as_seen(papers, view).trades),
    }
    of_papers = door.view(Papers, **{kind: partial(seen.__getitem__, kind) for kind in seen})

    shared = door.view(
        Shared,
        view=lambda: view,
        found=lambda: basis.found,
        alerts=needs,
        alerts_about=lambda: about,
        as_of=as_of,
        words=lambda: words_of(language()),
        display=lambda: basis.display,
        pictures=lambda: pictures,
        ties=lambda: tied,
        papers=lambda: of_papers,
    )

    def told(id: str) -> ShareTold | None:
        return _coral_growth.share_told(PageContext(shared, links.page_of("coral", id)), id)

    def in_gallery(id: str) -> CoralRow:
        return _offers.coral_row(PageContext(shared, links.CORALS), view.corals[id])

    shares_told = door.each("share told", lambda: view.corals, told)

    def listed(id: str) -> tuple[Block, ...]:
        return _shares.shares_listed(PageContext(shared, links.shares_of(id)), id)

    rows = door.each("row of the gallery", lambda: view.corals, in_gallery)
    shares = door.each("shares listed", lambda: view.systems, listed)
    sizes = door.one("sizes told", lambda: _track_record.sizes_told(PageContext(shared, links.TRACK_RECORD)))
    more = {"shares_told": lambda: shares_told, "rows": lambda: rows, "shares_listed": lambda: shares}
    return door.view(Shared, **(parts_of(shared) | more | {"sizes_told": sizes}))


def _files(
    door: Door,
    shared: Shared,
    basis: Basis,
    searched: Callable[[], tuple[str, dict[str, bytes]]],
    templates: Callable[[], object],
) -> tuple[Mapping[str, bytes], ...]:
    """Every file of the site that is neither a page nor beside one, by what it is made of."""

    def week() -> "tuple[_feed.FeedEntry, ...]":
        templates()
        return tuple(_feed.week(PageContext(shared, links.FEED)))

    def feed(url: str) -> bytes:
        templates()
        return _feed.feed(PageContext(shared, url), feeds[url], last_week)

    def records() -> dict[str, bytes]:
        given = ((id, shared.papers.trades[id].document) for id in shared.papers.trades)
        return {links.trade_paper_of(id, "json"): document for id, document in given if document is not None}

    last_week = door.one("last week", week)
    feeds = door.by_id("feeds", lambda: _feed.feeds(PageContext(shared), last_week))
    return (
        _data.data_files(basis, shared.words, door),
        door.by_id("piece of the search", lambda: searched()[1]),
        door.each("feed", lambda: feeds, feed),
        door.by_id("calendar", lambda: _feed.calendars(PageContext(shared))),
        door.by_id("record file", records),
    )


# The kinds of page that show one record.
_RECORDS = ("coral", "system", "entry", "trade", "sheet")


def with_history(ctx: PageContext, page: Page, file: str) -> Page:
    """A page with its record's history below, if this audience may see it; `file` is the record's."""
    if ctx.view.history is None or page.kind not in _RECORDS:
        return page
    return replace(page, blocks=(*page.blocks, Paragraph(_told(ctx, file), "note written")))


def _told(ctx: PageContext, file: str) -> str:
    words, history = ctx.words, ctx.view.history
    assert history is not None
    if history.unknown:
        return words("history.cannot", why=words(f"history.unknown.{history.unknown}"))
    files = [path for path in history.commits if _belongs(path, file)]
    made: list[Commit] = [each for path in files for each in history.commits[path] if each.at <= ctx.as_of]
    made.sort(key=lambda commit: commit.at)
    cut_off = any(path in history.cut_off for path in files)
    changed = any(path in history.uncommitted for path in files)
    if not files:
        return words("history.new")
    if not made and not cut_off:
        return ""
    names = ", ".join(dict.fromkeys(each.by for each in made if each.by))
    days = [ctx.say.date(each.at) for each in made]
    said = [
        words("history.cut_off") if cut_off else words("history.written", day=days[0]),
        words("history.changed", day=days[-1]) if days[-1:] != ([] if cut_off else days[:1]) else "",
        words("history.by", names=names) if names else "",
        words("history.uncommitted") if changed else "",
    ]
    return f"{', '.join(filter(None, said))}."


def _belongs(path: str, file: str) -> bool:
    """Whether a file is a record's own: its file, its story, or one of its system's logs."""
    stem = file.rpartition(".")[0]
    logs = f"logs/{stem.removeprefix('systems/')}/" if stem.startswith("systems/") else "\0"
    return path in (file, f"{stem}.md") or path.startswith(logs)
