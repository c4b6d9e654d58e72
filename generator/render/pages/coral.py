"""A coral's page: how it is now, where it came from, its sizes and places; and the page for a size from a photo."""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

from markupsafe import Markup

from generator.nature.constants import REFRACTIVE_INDEX_OF_SEAWATER
from generator.reckon.growth.corals import CoralFindings
from generator.records.coral import Coral, Weighing
from generator.records.source import Source
from generator.render.base import links
from generator.render.base.blocks import (
    Drawn,
    Facts,
    Figure,
    Items,
    Paragraph,
    Photos,
    Table,
    facts,
    folded,
    group,
    items,
    row,
    section,
)
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.links import Inline, Link, Span, code, joined, small
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.render.pages.attention import titles_about
from generator.render.pages.change import change_links
from generator.render.pages.coral_growth import (
    cutting_section,
    decline_words,
    growth_section,
    light_section,
    outwards,
    rings,
    state_words,
    to_cut,
    trouble_words,
    uptake_section,
)
from generator.render.pages.doses import has_dosing
from generator.render.pages.journal import to_entry
from generator.render.pages.offers import state_of, where_it_stands
from generator.render.pages.room import room_section, soonest
from generator.render.pages.writing import write_link
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity


def coral_at_a_glance(ctx: PageContext, coral: Coral, found: CoralFindings | None) -> Facts | None:
    """What a keeper asks of a coral that lives here; None for another."""
    if found is None or not coral.placement_on(ctx.today):
        return None
    words, growth = ctx.words, found.growth
    share = ctx.share_of(coral.id)
    needed = titles_about(ctx, coral.id)
    return facts(
        (words("coral.health"), " ".join((*state_words(ctx, found), *trouble_words(ctx, found)))),
        (words("coral.sizes"), joined(*_size(ctx, coral))),
        (words("room.title"), soonest(ctx, coral)),
        (words("coral.glance.cut"), to_cut(ctx, coral, found.cutting)),
        (words("growth.title"), decline_words(ctx, found)),
        (words("growth.radial"), "" if growth.decline else outwards(ctx, growth)),
        (words("coral.into_frags"), joined(*_frags(ctx, coral), by="; ")),
        (words("share.title"), _said(share.figure) if share else ""),
        (words("coral.glance.next"), joined(*(Link(title, ctx.way(links.HOME)) for title in needed), by="; ")),
    )


def _frags(ctx: PageContext, coral: Coral) -> Iterator[Inline]:
    """The frags cut from it that have files of their own, each with where it is."""
    for id in dict.fromkeys(id for cutting in coral.cuttings for id in cutting.into if cutting.at <= ctx.today):
        if frag := ctx.view.corals.get(id):
            yield joined(ctx.to_coral(id), f"({state_of(ctx, frag)})")


def _size(ctx: PageContext, coral: Coral) -> Iterator[Inline]:
    """Its last measured size and when that was."""
    if not (sizes := coral.measured_until(ctx.today)):
        yield ctx.words("coral.glance.no_size")
        return
    last = sizes[-1]
    yield " × ".join(ctx.say.written(side) for side in (last.length, last.width, last.height) if side)
    yield small(ctx.words("coral.glance.measured", day=ctx.say.on(last.at)))


def _said(found: Figure) -> Inline:
    return found.shown or found.cannot or ""


_OF_CUTS = ("coral.pieces_head", "coral.mass_head", "coral.into", "coral.healed")


def coral_page(ctx: PageContext, coral: Coral, story: Markup) -> Page:
    """The page of one coral; `story` is its Markdown as safe HTML."""
    words, found = ctx.words, ctx.found.corals.get(coral.id)
    state, photos = state_of(ctx, coral), ctx.photos(coral.photos, coral.name)
    named_in = ctx.ties.named_in.get(f"coral/{coral.id}", ())
    healthy = _dated(ctx, "coral.health", ("coral.seen", "coral.until", "coral.details"), _health(ctx, coral))
    cut = _dated(ctx, "coral.cuttings", _OF_CUTS, _cuttings(ctx, coral))
    sizes = _dated(ctx, "coral.sizes", ("coral.length", "coral.width", "coral.height"), _sizes(ctx, coral))
    weighings = _dated(ctx, "coral.weighings", ("coral.mass_head", "coral.how_head"), _weighings(ctx, coral))
    first = coral_at_a_glance(ctx, coral, found)
    ways = (write_link(ctx, f"of-{coral.id}"), photo_size_link(ctx, coral.id))
    to_do = row(*ways) if coral.placement_on(ctx.today) else None
    who, drawn = facts(*_facts(ctx, coral)), rings(ctx, coral)
    title, told = words("coral.identity"), section(words("coral.story"), group("prose", story))
    identity = section("" if first else title, first or who, to_do, id="" if first else "identity")
    return page(
        ctx,
        "coral",
        "corals",
        group("portrait", Photos(photos[-1:]) or drawn, identity),
        section(words("coral.over_time"), Drawn("compare", photos if len(photos) > 1 else ()), id="photos"),
        growth_section(ctx, coral, found, drawn if photos else None) if found else None,
        group(
            "side-by-side",
            room_section(ctx, coral, found) if found else None,
            uptake_section(ctx, coral, *_demand(ctx, coral)),
        ),
        # What it is stands beside its story.
        group("side-by-side", told, section(title, who, id="identity"))
        if first and story
        else folded(title, who if first else None, id="identity"),
        None if first else told,
        light_section(ctx, found) if found else None,
        folded(words("coral.cuttings"), cutting_section(ctx, coral, found) if found else None, cut, id="cuttings"),
        folded(words("coral.health"), items(*state_words(ctx, found)) if found else None, healthy, id="health"),
        folded(words("coral.history"), items(*_history(ctx, coral), look="history", ordered=True)),
        folded(words("coral.sizes"), group("line-by-line", sizes)),
        folded(words("coral.weighings"), group("line-by-line", weighings)),
        folded(words("coral.mentioned"), group("line-by-line", row(*(to_entry(ctx, each) for each in named_in)))),
        title=coral.name,
        description=words("coral.description", name=coral.name, species=coral.species),
        crumbs=(section_crumb(ctx, "corals"),),
        over=joined(Span(coral.species, "i"), words(f"forms.{coral.form}"), ctx.to_line(coral.line), by=" · "),
        script="scripts/compare.js" if len(photos) > 1 else "",
        text=" ".join((coral.id, coral.line, ctx.to_line(coral.line).text, state, story.striptags())),
        lead=state if coral.lives_on(ctx.today) else f"{state} · {words('coral.not_living')}",
    )


def _dated(ctx: PageContext, title: str, heads: tuple[str, ...], rows: Iterable[tuple[Inline, ...]]) -> Table:
    """A table of what was recorded of the coral, by day, each row with its line in the file."""
    words = ctx.words
    return Table(words(title), words.each("coral.at", *heads, "system.source"), tuple(rows), "dated tall")


def _demand(ctx: PageContext, coral: Coral) -> Iterator[Link]:
    """What it did to the uptake in its water, and links to the doses."""
    yield from change_links(ctx, ctx.found.changes_of.get(coral.id, ()))
    place = coral.placement_on(ctx.today)
    if place and place.system in ctx.found.shares:
        yield ctx.link(links.shares_of(place.system), ctx.words("shares.link"))
        if (share := ctx.share_of(coral.id)) and share.figure.shown:
            yield ctx.link(f"{links.shares_of(place.system)}#what-if", ctx.words("shares.what_if"))
    if place and has_dosing(ctx, place.system):
        yield ctx.link(links.dosing_of(place.system), ctx.words("dosing.link"))


def _facts(ctx: PageContext, coral: Coral) -> Iterator[tuple[str, Inline | Items]]:
    words = ctx.words
    yield words("coral.line"), ctx.to_line(coral.line)
    yield words("coral.form"), words(f"forms.{coral.form}")
    how = words(f"arrivals.{coral.arrival.how}")
    arrival = words("coral.came_on", how=how, day=ctx.say.on(coral.arrival.at))
    if coral.arrival.partner:
        arrival = words("coral.from_partner", arrival=arrival, partner=ctx.partner(coral.arrival.partner))
    trade = coral.arrival.trade
    link = (
        ctx.link(links.page_of("trade", trade), words("coral.the_trade")) if trade and trade in ctx.view.trades else ""
    )
    yield words("coral.arrival"), joined(arrival, link, by=", ")
    place = coral.placement_on(ctx.today)
    yield words("coral.light"), ctx.say.written(place.light) if place and place.light else ""
    if origin := coral.origin:
        yield words("coral.origin"), ", ".join(filter(None, (origin.region, str(origin.year or ""))))
        source = words(f"source_codes.{origin.source_code}") if origin.source_code else ""
        yield words("coral.source_code"), source
        yield words("coral.permit"), origin.permit or ""
    if coral.id in ctx.papers.corals:
        came = words("origin.fact_came") if ctx.papers.corals[coral.id].came_with else ""
        own = ctx.link(links.paper_of(coral.id), words("origin.fact_own"))
        yield words("origin.fact"), joined(came, own, by=", ")
    yield words("coral.private"), coral.private or ""
    yield words("coral.parent"), ctx.to_coral(coral.parent) if coral.parent else words("coral.no_parent")
    children = row(*(ctx.to_coral(child.id) for child in ctx.ties.cut_from.get(coral.id, ())))
    yield words("coral.children"), children or words("coral.no_children")


def _line(ctx: PageContext, source: Source) -> Inline:
    """The line of a file, for those who may read it: what came by a plan stands in that plan's file."""
    return code(source) if ctx.view.tells(source) else ""


def _sizes(ctx: PageContext, coral: Coral) -> Iterator[tuple[Inline, ...]]:
    for size in sorted(coral.sizes, key=lambda size: size.at, reverse=True):
        measures = size.length, size.width, size.height
        cells = (ctx.say.written(measure) if measure else "–" for measure in measures)
        yield ctx.say.day(size.at), *cells, _line(ctx, size.source)


def _weighings(ctx: PageContext, coral: Coral) -> Iterator[tuple[Inline, ...]]:
    words = ctx.words
    for weighing in sorted(coral.weighings, key=lambda weighing: weighing.at, reverse=True):
        mass = words("coral.mass", mass=ctx.say.written(weighing.mass), resolution=ctx.say.written(weighing.resolution))
        yield ctx.say.day(weighing.at), mass, _how_weighed(ctx, weighing), _line(ctx, weighing.source)


def _how_weighed(ctx: PageContext, weighing: Weighing) -> str:
    words = ctx.words
    how = words("coral.in_water") if weighing.in_water else words("coral.in_air")
    holder = ctx.say.written(weighing.holder) if weighing.holder else ""
    return words("coral.with_holder", how=how, holder=holder) if holder else how


def _cuttings(ctx: PageContext, coral: Coral) -> Iterator[tuple[Inline, ...]]:
    for cutting in sorted(coral.cuttings, key=lambda cutting: cutting.at, reverse=True):
        into = ", ".join(ctx.to_coral(id).text for id in cutting.into)
        healed = ctx.say.on(cutting.healed) if cutting.healed else "–"
        pieces = ctx.words("coral.pieces", n=cutting.frags)
        mass = ctx.say.written(cutting.mass) if cutting.mass else "–"
        yield ctx.say.day(cutting.at), pieces, mass, into or "–", healed, _line(ctx, cutting.source)


def _health(ctx: PageContext, coral: Coral) -> Iterator[tuple[Inline, ...]]:
    for seen in sorted(coral.health, key=lambda seen: seen.at, reverse=True):
        until = ctx.say.on(seen.until) if seen.until else "–"
        details = " · ".join(part for part in (seen.extent, seen.note) if part)
        yield ctx.say.day(seen.at), ctx.words(f"health.{seen.what}"), until, details or "–", _line(ctx, seen.source)


def _history(ctx: PageContext, coral: Coral) -> Iterator[Inline]:
    """Everything dated about it, newest first, each with its line in the file."""
    words, arrival = ctx.words, coral.arrival
    came = words("coral.came", how=words(f"arrivals.{arrival.how}"))
    happened: list[tuple[date, Inline, str | None, Source]] = [(arrival.at, came, arrival.note, arrival.source)]
    for placement in coral.placements:
        moved = Link(words("coral.moved", where=where_it_stands(ctx, placement)), ctx.to_system(placement.system).href)
        happened.append((placement.since, moved, None, placement.source))
    for cutting in coral.cuttings:
        cut = words("coral.cut", pieces=words("coral.pieces", n=cutting.frags))
        happened.append((cutting.at, cut, cutting.note, cutting.source))
    for touch in coral.touches:
        happened.append((touch.at, words("coral.touched", coral=ctx.to_coral(touch.coral).text), None, touch.source))
    happened += [(seen.at, words(f"health.{seen.what}"), None, seen.source) for seen in coral.health]
    if end := coral.end:
        happened.append((end.at, words(f"ends.{end.how}"), end.cause, end.source))
    for at, what, note, source in sorted(happened, key=lambda each: each[0], reverse=True):
        yield joined(ctx.say.day(at), what, Span(note, look="note") if note else "", _line(ctx, source))


# From the camera to the pane, and from there to the ruler, cm: common practice, no source.
_USUAL_DISTANCES = (20.0, 15.0)


def photo_size_page(ctx: PageContext) -> Page:
    """Two taps on a ruler and an outline give length, width and area, and the line for the coral's file."""
    words = ctx.words
    unit = ctx.display.units.get("length", KINDS["length"].canonical)
    corals = [coral for id in ctx.view.systems for coral in ctx.corals_of(id)]
    told: dict[str, Any] = {
        "n": REFRACTIVE_INDEX_OF_SEAWATER.value,
        "length": unit,
        "unitCm": Quantity(1.0, unit, "length").canonical(),
        # What a telephone in front of a tank is at, unless the keeper says otherwise.
        "usual": [f"{cm / Quantity(1.0, unit, 'length').canonical():.3g}" for cm in _USUAL_DISTANCES],
        "decimal": words("numbers.decimal"),
        "zone": str(ctx.display.zone),
        "corals": [coral.id for coral in corals],
        "words": {name: words.unfilled(f"photo_size.told.{name}") for name in words.entries["photo_size"]["told"]},
    }
    return page(
        ctx,
        "photo_size",
        "corals",
        Paragraph(words("photo_size.no_script"), "lead scriptless"),
        Drawn(
            "photo_size",
            (unit, tuple((coral.id, coral.name) for coral in corals), told, ctx.way(links.WRITE)),
            "writing",
        ),
        Paragraph(joined(f"{words('why.method')}:", to_method(ctx, "photo-size")), "note"),
        lead=words("photo_size.lead"),
        script="scripts/size-formulas.js scripts/photo-size.js",
    )


def photo_size_link(ctx: PageContext, coral: str) -> Link | None:
    """The way to it from a coral's page; the keeper's own site alone has it."""
    return ctx.link(f"{links.PHOTO_SIZE}#of-{coral}", ctx.words("photo_size.link")) if ctx.view.writes else None
