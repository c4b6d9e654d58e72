"""A coral's page: its identity, where it came from, what was cut from it, its sizes and its places."""

from collections.abc import Iterable, Iterator
from datetime import date

from markupsafe import Markup

from generator.records.coral import Coral, Weighing
from generator.records.source import Source
from generator.render.base import links
from generator.render.base.blocks import Items, Photos, Table, facts, group, items, row, section
from generator.render.base.context import Desk, page, section_crumb
from generator.render.base.inline import Inline, Link, Span, code, joined
from generator.render.base.numbers import Moment
from generator.render.base.page import Page
from generator.render.pages.change import change_links
from generator.render.pages.coral_growth import cutting_plan, growth, light, state_words, uptake
from generator.render.pages.coral_room import room
from generator.render.pages.corals import state_of
from generator.render.pages.doses import has_dosing
from generator.render.pages.journal import to_entry


def coral_page(desk: Desk, coral: Coral, story: Markup) -> Page:
    """The page of one coral; `story` is its Markdown as safe HTML."""
    words, found = desk.words, desk.found.corals.get(coral.id)
    state = state_of(desk, coral)
    mentioned = row(*(to_entry(desk, entry) for entry in desk.ties.named_in.get(("coral", coral.id), ())))
    healthy = _dated(desk, "coral.health", ("coral.seen", "coral.until", "coral.details"), _health(desk, coral))
    heads = ("coral.pieces_head", "coral.mass_head", "coral.into", "coral.healed")
    cut = _dated(desk, "coral.cuttings", heads, _cuttings(desk, coral))
    sizes = _dated(desk, "coral.sizes", ("coral.length", "coral.width", "coral.height"), _sizes(desk, coral))
    weighings = _dated(desk, "coral.weighings", ("coral.mass_head", "coral.how_head"), _weighings(desk, coral))
    return page(
        desk,
        "coral",
        "corals",
        group(
            "portrait",
            Photos(desk.photos(coral.photos, coral.name)),
            section(words("coral.identity"), facts(*_facts(desk, coral))),
        ),
        *((growth(desk, coral, found), light(desk, found), room(desk, coral, found)) if found else ()),
        uptake(desk, coral, *_demand(desk, coral)),
        section(words("coral.health"), items(*state_words(desk, found)) if found else None, healthy),
        section(words("coral.cuttings"), cutting_plan(desk, found) if found else None, cut, id="cuttings"),
        section(words("coral.story"), group("prose", story)),
        section(words("coral.sizes"), sizes, look="line-by-line"),
        section(words("coral.weighings"), weighings, look="line-by-line"),
        section(words("coral.history"), items(*_history(desk, coral), look="history", ordered=True)),
        section(words("coral.mentioned"), mentioned, look="line-by-line"),
        title=coral.name,
        description=words("coral.description", name=coral.name, species=coral.species),
        crumbs=(section_crumb(desk, "corals"),),
        over=Span(coral.species, "i"),
        text=" ".join((coral.id, coral.line, desk.to_line(coral.line).text, state, story.striptags())),
        lead=state if coral.lives_on(desk.today) else f"{state} · {words('coral.not_living')}",
    )


def _dated(desk: Desk, title: str, heads: tuple[str, ...], rows: Iterable[tuple[Inline, ...]]) -> Table:
    """A table of what was recorded of the coral, by day, each row with its line in the file."""
    words = desk.words
    return Table(words(title), words.each("coral.at", *heads, "system.source"), tuple(rows), "dated tall")


def _demand(desk: Desk, coral: Coral) -> Iterator[Link]:
    """What it did to the uptake in its water, and links to the doses."""
    yield from change_links(desk, coral=coral.id)
    place = coral.placement_on(desk.today)
    if place and place.system in desk.found.shares:
        yield desk.link(links.shares_of(place.system), desk.words("shares.link"))
    if place and has_dosing(desk, place.system):
        yield desk.link(links.dosing_of(place.system), desk.words("dosing.link"))


def _day(desk: Desk, on: date) -> Moment:
    return desk.say.day(on)


def _facts(desk: Desk, coral: Coral) -> Iterator[tuple[str, Inline | Items]]:
    words = desk.words
    yield words("coral.line"), desk.to_line(coral.line)
    yield words("coral.form"), words(f"forms.{coral.form}")
    how = words(f"arrivals.{coral.arrival.how}")
    arrival = words("coral.came_on", how=how, day=_day(desk, coral.arrival.at).text)
    if coral.arrival.partner:
        arrival = words("coral.from_partner", arrival=arrival, partner=desk.partner(coral.arrival.partner))
    trade = coral.arrival.trade
    link = desk.link(links.page_of("trade", trade), words("coral.the_trade")) if trade in desk.view.trades else ""
    yield words("coral.arrival"), joined(arrival, link, by=", ")
    place = coral.placement_on(desk.today)
    yield words("coral.light"), desk.say.written(place.light) if place and place.light else ""
    if origin := coral.origin:
        yield words("coral.origin"), ", ".join(filter(None, (origin.region, str(origin.year or ""))))
        source = words(f"source_codes.{origin.source_code}") if origin.source_code else ""
        yield words("coral.source_code"), source
        yield words("coral.permit"), origin.permit or ""
    if coral.id in desk.papers.corals:
        came = words("origin.fact_came") if desk.papers.corals[coral.id].came_with else ""
        own = desk.link(links.paper_of(coral.id), words("origin.fact_own"))
        yield words("origin.fact"), joined(came, own, by=", ")
    yield words("coral.private"), coral.private or ""
    yield words("coral.parent"), desk.to_coral(coral.parent) if coral.parent else words("coral.no_parent")
    children = row(*(desk.to_coral(child.id) for child in desk.ties.cut_from.get(coral.id, ())))
    yield words("coral.children"), children or words("coral.no_children")


def _sizes(desk: Desk, coral: Coral) -> Iterator[tuple[Inline, ...]]:
    for size in sorted(coral.sizes, key=lambda size: size.at, reverse=True):
        cells = tuple(
            desk.say.written(measure) if measure else "–" for measure in (size.length, size.width, size.height)
        )
        yield _day(desk, size.at), *cells, code(size.source)


def _weighings(desk: Desk, coral: Coral) -> Iterator[tuple[Inline, ...]]:
    words = desk.words
    for weighing in sorted(coral.weighings, key=lambda weighing: weighing.at, reverse=True):
        mass = words(
            "coral.mass", mass=desk.say.written(weighing.mass), resolution=desk.say.written(weighing.resolution)
        )
        yield _day(desk, weighing.at), mass, _how_weighed(desk, weighing), code(weighing.source)


def _how_weighed(desk: Desk, weighing: Weighing) -> str:
    words = desk.words
    how = words("coral.in_water") if weighing.in_water else words("coral.in_air")
    if weighing.holder:
        return words("coral.with_holder", how=how, holder=desk.say.written(weighing.holder))
    return how


def _cuttings(desk: Desk, coral: Coral) -> Iterator[tuple[Inline, ...]]:
    for cutting in sorted(coral.cuttings, key=lambda cutting: cutting.at, reverse=True):
        into = ", ".join(desk.to_coral(id).text for id in cutting.into)
        healed = _day(desk, cutting.healed).text if cutting.healed else "–"
        pieces = desk.words("coral.pieces", n=cutting.frags)
        mass = desk.say.written(cutting.mass) if cutting.mass else "–"
        yield _day(desk, cutting.at), pieces, mass, into or "–", healed, code(cutting.source)


def _health(desk: Desk, coral: Coral) -> Iterator[tuple[Inline, ...]]:
    for seen in sorted(coral.health, key=lambda seen: seen.at, reverse=True):
        until = _day(desk, seen.until).text if seen.until else "–"
        details = " · ".join(part for part in (seen.extent, seen.note) if part)
        yield _day(desk, seen.at), desk.words(f"health.{seen.what}"), until, details or "–", code(seen.source)


def _history(desk: Desk, coral: Coral) -> Iterator[Inline]:
    """Everything dated about it, newest first, each with its line in the file."""
    words, arrival = desk.words, coral.arrival
    came = words("coral.came", how=words(f"arrivals.{arrival.how}"))
    happened: list[tuple[date, Inline, str | None, Source]] = [(arrival.at, came, arrival.note, arrival.source)]
    for placement in coral.placements:
        system = desk.view.systems[placement.system]
        where = words("corals.at_place", place=placement.place, system=system.name) if placement.place else system.name
        moved = Link(words("coral.moved", where=where), desk.to_system(system.id).href)
        happened.append((placement.since, moved, None, placement.source))
    for cutting in coral.cuttings:
        cut = words("coral.cut", pieces=words("coral.pieces", n=cutting.frags))
        happened.append((cutting.at, cut, cutting.note, cutting.source))
    happened += [(seen.at, words(f"health.{seen.what}"), None, seen.source) for seen in coral.health]
    if end := coral.end:
        happened.append((end.at, words(f"ends.{end.how}"), end.cause, end.source))
    for at, what, note, source in sorted(happened, key=lambda each: each[0], reverse=True):
        yield joined(_day(desk, at), what, Span(note, look="note") if note else "", code(source))
