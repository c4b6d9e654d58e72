"""A coral's page: its identity, where it came from, what was cut from it, its sizes and its places."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from markupsafe import Markup

from generator.records.coral import Coral, Weighing
from generator.render import links
from generator.render.blocks import PhotoLink
from generator.render.inline import Link
from generator.render.numbers import Moment, say_day, say_written
from generator.render.page import Frame
from generator.render.pages.change import change_links
from generator.render.pages.coral_shown import CoralShown, coral_shown
from generator.render.pages.corals import state_of
from generator.render.pages.desk import Desk, frame, section_crumb
from generator.render.pages.doses import has_dosing


@dataclass(frozen=True, slots=True)
class Fact:
    """One line of the identity: a term and what it is here."""

    term: str
    text: str
    link: Link | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One dated row of a table about the coral, with its line in the file."""

    at: Moment
    cells: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Happening:
    """One dated thing in the coral's history."""

    at: Moment
    text: str
    note: str
    link: Link | None
    source: str


@dataclass(frozen=True, slots=True)
class CoralPage:
    """Everything known about one coral."""

    frame: Frame
    name: str
    species: str
    state: str
    living: bool
    facts: tuple[Fact, ...]
    parent: Link | None
    children: tuple[Link, ...]
    photos: tuple[PhotoLink, ...]
    story: Markup
    demand: tuple[Link, ...]
    found: CoralShown | None
    sizes: tuple[Row, ...]
    weighings: tuple[Row, ...]
    cuttings: tuple[Row, ...]
    health: tuple[Row, ...]
    history: tuple[Happening, ...]
    mentioned: tuple[Link, ...]


def coral_page(desk: Desk, coral: Coral, story: Markup) -> CoralPage:
    """The page of one coral; `story` is its Markdown as safe HTML."""
    words = desk.words
    return CoralPage(
        frame=frame(
            desk,
            coral.name,
            words("coral.description", name=coral.name, species=coral.species),
            "corals",
            section_crumb(desk, "corals"),
        ),
        name=coral.name,
        species=coral.species,
        state=state_of(desk, coral),
        living=coral.lives_on(desk.today),
        facts=tuple(_facts(desk, coral)),
        parent=desk.to_coral(coral.parent) if coral.parent else None,
        children=tuple(desk.to_coral(child.id) for child in desk.ties.cut_from.get(coral.id, ())),
        photos=desk.photos(coral.photos, coral.name),
        story=story,
        demand=tuple(_demand(desk, coral)),
        found=coral_shown(desk, coral),
        sizes=tuple(_sizes(desk, coral)),
        weighings=tuple(_weighings(desk, coral)),
        cuttings=tuple(_cuttings(desk, coral)),
        health=tuple(_health(desk, coral)),
        history=tuple(sorted(_history(desk, coral), key=lambda happening: happening.at.iso, reverse=True)),
        mentioned=tuple(
            desk.link(links.page_of("entry", entry.id), entry.title)
            for entry in desk.ties.named_in.get(("coral", coral.id), ())
        ),
    )


def _demand(desk: Desk, coral: Coral) -> Iterator[Link]:
    """What it did to the uptake in its water, and links to the doses."""
    yield from change_links(desk, coral=coral.id)
    place = coral.placement_on(desk.today)
    if place and place.system in desk.found.shares:
        yield desk.link(links.shares_of(place.system), desk.words("shares.link"))
    if place and has_dosing(desk, place.system):
        yield desk.link(links.dosing_of(place.system), desk.words("dosing.link"))


def _day(desk: Desk, on: date) -> Moment:
    return say_day(desk.display, desk.words, on)


def _facts(desk: Desk, coral: Coral) -> Iterator[Fact]:
    words = desk.words
    yield Fact(words("coral.line"), "", desk.to_line(coral.line))
    yield Fact(words("coral.form"), words(f"forms.{coral.form}"))
    how = words(f"arrivals.{coral.arrival.how}")
    arrival = words("coral.came_on", how=how, day=_day(desk, coral.arrival.at).text)
    if coral.arrival.partner:
        arrival = words("coral.from_partner", arrival=arrival, partner=desk.partner(coral.arrival.partner))
    trade = coral.arrival.trade
    link = desk.link(links.page_of("trade", trade), words("coral.the_trade")) if trade in desk.view.trades else None
    yield Fact(words("coral.arrival"), arrival, link)
    place = coral.placement_on(desk.today)
    if place and place.light:
        yield Fact(words("coral.light"), say_written(words, place.light))
    if coral.origin:
        origin = coral.origin
        parts = (origin.region or "", str(origin.year or ""))
        if any(parts):
            yield Fact(words("coral.origin"), ", ".join(part for part in parts if part))
        if origin.source_code:
            yield Fact(words("coral.source_code"), words(f"source_codes.{origin.source_code}"))
        if origin.permit:
            yield Fact(words("coral.permit"), origin.permit)
    if coral.id in desk.papers.corals:
        came = words("origin.fact_came") if desk.papers.corals[coral.id].came_with else ""
        yield Fact(words("origin.fact"), came, desk.link(links.paper_of(coral.id), words("origin.fact_own")))
    if coral.private:
        yield Fact(words("coral.private"), coral.private)


def _sizes(desk: Desk, coral: Coral) -> Iterator[Row]:
    for size in sorted(coral.sizes, key=lambda size: size.at, reverse=True):
        cells = tuple(
            say_written(desk.words, measure) if measure else "–" for measure in (size.length, size.width, size.height)
        )
        yield Row(_day(desk, size.at), cells, str(size.source))


def _weighings(desk: Desk, coral: Coral) -> Iterator[Row]:
    words = desk.words
    for weighing in sorted(coral.weighings, key=lambda weighing: weighing.at, reverse=True):
        mass = words(
            "coral.mass",
            mass=say_written(words, weighing.mass),
            resolution=say_written(words, weighing.resolution),
        )
        yield Row(_day(desk, weighing.at), (mass, _how_weighed(desk, weighing)), str(weighing.source))


def _how_weighed(desk: Desk, weighing: Weighing) -> str:
    words = desk.words
    how = words("coral.in_water") if weighing.in_water else words("coral.in_air")
    if weighing.holder:
        return words("coral.with_holder", how=how, holder=say_written(words, weighing.holder))
    return how


def _cuttings(desk: Desk, coral: Coral) -> Iterator[Row]:
    for cutting in sorted(coral.cuttings, key=lambda cutting: cutting.at, reverse=True):
        into = ", ".join(desk.to_coral(id).text for id in cutting.into)
        healed = _day(desk, cutting.healed).text if cutting.healed else "–"
        pieces = desk.words("coral.pieces", n=cutting.frags)
        cells = (pieces, say_written(desk.words, cutting.mass) if cutting.mass else "–", into or "–", healed)
        yield Row(_day(desk, cutting.at), cells, str(cutting.source))


def _health(desk: Desk, coral: Coral) -> Iterator[Row]:
    for seen in sorted(coral.health, key=lambda seen: seen.at, reverse=True):
        until = _day(desk, seen.until).text if seen.until else "–"
        details = " · ".join(part for part in (seen.extent, seen.note) if part)
        yield Row(_day(desk, seen.at), (desk.words(f"health.{seen.what}"), until, details or "–"), str(seen.source))


def _history(desk: Desk, coral: Coral) -> Iterator[Happening]:
    words = desk.words
    arrival = coral.arrival
    arrived = words("coral.came", how=words(f"arrivals.{arrival.how}"))
    yield Happening(_day(desk, arrival.at), arrived, arrival.note or "", None, str(arrival.source))
    for placement in coral.placements:
        system = desk.view.systems[placement.system]
        where = words("corals.at_place", place=placement.place, system=system.name) if placement.place else system.name
        moved = words("coral.moved", where=where)
        yield Happening(_day(desk, placement.since), moved, "", desk.to_system(system.id), str(placement.source))
    for cutting in coral.cuttings:
        cut = words("coral.cut", pieces=words("coral.pieces", n=cutting.frags))
        yield Happening(_day(desk, cutting.at), cut, cutting.note or "", None, str(cutting.source))
    for seen in coral.health:
        yield Happening(_day(desk, seen.at), words(f"health.{seen.what}"), "", None, str(seen.source))
    if coral.end:
        ended = words(f"ends.{coral.end.how}")
        yield Happening(_day(desk, coral.end.at), ended, coral.end.cause or "", None, str(coral.end.source))
