"""How long a coral has room at its place, and where else it could go, as its page shows them."""

from collections.abc import Iterator

from generator.reckon.finding import CannotTell
from generator.reckon.growth.corals import CUT_MONTHS, CoralFindings
from generator.reckon.growth.forecast import SizeForecast
from generator.reckon.growth.places import Suggestion
from generator.reckon.growth.room import Meeting, RoomFindings
from generator.records.coral import Coral
from generator.render.base import links
from generator.render.base.blocks import Fold, Paragraph, Section, Table, items, section
from generator.render.base.context import PageContext
from generator.render.base.inline import Inline
from generator.render.pages.approaches import edge_words, ground, matters_soon, say_dates
from generator.render.pages.behind import Ground, behind, lengths
from generator.render.pages.plan import plan_link, say_light

_MOST_PLACES = 4


def room(ctx: PageContext, coral: Coral, found: CoralFindings) -> Section:
    """How long it has room, what that is based on, and where else it could go, the best first."""
    words, place = ctx.words, coral.placement_on(ctx.today)
    lines = items(*_lines(ctx, coral, found))
    planned = place and ctx.view.systems[place.system].places and place.system in ctx.found.rooms
    could_go = (each for each in ctx.found.could_go.get(coral.id, ()) if seen(ctx, each))
    rows = tuple(_elsewhere(ctx, each) for each in could_go)[:_MOST_PLACES]
    title, heads = words("places.title"), words.each("places.where", "places.light", "places.moves")
    return section(
        words("room.title"),
        *(
            lines,
            Paragraph(plan_link(ctx, place.system), "onward") if place and planned else None,
            _behind(ctx, coral, found),
            section(title, Table(title, heads, rows, "tall")),
        )[: 4 if lines else 0],
        id="room",
    )


def _lines(ctx: PageContext, coral: Coral, found: CoralFindings) -> Iterator[str]:
    """When it outgrows its place, which neighbours it will touch, and its size in half a year."""
    words = ctx.words
    place = coral.placement_on(ctx.today)
    room = ctx.found.rooms.get(place.system) if place else None
    if found.ahead and not isinstance(found.ahead, CannotTell):
        size = ctx.say.level("length", found.ahead.length)
        wide = ctx.say.level("length", found.ahead.width)
        yield words(
            f"room.ahead.{found.ahead.known}", n=CUT_MONTHS, length=size.value, width=wide.value, interval=size.interval
        )
    if room is None or place is None:
        return
    for leaving in room.leaving:
        if leaving.coral == coral.id:
            likely, interval = say_dates(ctx, leaving.leaves, leaving.room.estimate)
            yield words("room.leaves", edge=edge_words(ctx, leaving), likely=likely, interval=_in_brackets(interval))
    for meeting, other in _meetings(ctx, coral, room, place.system):
        yield _meets(ctx, meeting, other)


def _meets(ctx: PageContext, meeting: Meeting, other: Coral) -> str:
    words, apart = ctx.words, meeting.gap.estimate
    if apart.value <= 0:
        over = ctx.say.level("length", apart.scaled(-1.0, apart.unit))
        return words("room.overlaps", other=other.name, over=over.value, interval=over.interval)
    likely, interval = say_dates(ctx, meeting.touch, apart)
    gap = ctx.say.level("length", apart)
    return words("room.meets", other=other.name, gap=gap.value, likely=likely, interval=_in_brackets(interval))


def _behind(ctx: PageContext, coral: Coral, found: CoralFindings) -> Fold | None:
    """The evidence for its size in half a year and the days its room ends; None if there is neither."""
    ahead = found.ahead if isinstance(found.ahead, SizeForecast) else None
    ends = list(_ends(ctx, coral))
    grounds = list(ends)
    if ahead is not None:
        grounds = [Ground(ctx.words("room.length", n=CUT_MONTHS), (lengths(ctx, ahead.parts),), ahead.inputs), *ends]
    method = "meeting" if ends else "size-forecast"
    return behind(ctx, ctx.words("why.of_what"), method, grounds) if grounds else None


def _ends(ctx: PageContext, coral: Coral) -> Iterator[Ground]:
    """The evidence for the days its room ends: at the edge of its place, and at each neighbour."""
    place = coral.placement_on(ctx.today)
    room = ctx.found.rooms.get(place.system) if place else None
    if room is None or place is None:
        return
    for leaving in room.leaving:
        if leaving.coral == coral.id:
            yield ground(ctx, edge_words(ctx, leaving), leaving.room, leaving.leaves)
    for meeting, other in _meetings(ctx, coral, room, place.system):
        yield ground(ctx, other.name, meeting.gap, meeting.touch)


def _meetings(ctx: PageContext, coral: Coral, room: RoomFindings, system: str) -> Iterator[tuple[Meeting, Coral]]:
    """The neighbours it will touch, of those that the view shows."""
    for meeting in room.meetings:
        if coral.id in (meeting.one, meeting.other) and matters_soon(meeting):
            other = ctx.view.corals.get(meeting.other if coral.id == meeting.one else meeting.one)
            if other and (stands := other.placement_on(ctx.today)) and stands.system == system:
                yield meeting, other


def _in_brackets(interval: str) -> str:
    return f" ({interval})" if interval else ""


def seen(ctx: PageContext, suggestion: Suggestion) -> bool:
    """Whether the view may show a place: its system, and everything that must move for it and where to."""
    spots = [suggestion.spot, *(move.to for move in suggestion.moves if move.to)]
    return all(spot.system in ctx.view.systems for spot in spots) and all(
        move.coral in ctx.view.corals for move in suggestion.moves
    )


def _elsewhere(ctx: PageContext, suggestion: Suggestion) -> tuple[Inline, ...]:
    """A place it could go to, its light, and what must move for it."""
    words, spot = ctx.words, suggestion.spot
    system = ctx.view.systems[spot.system]
    place = words("corals.at_place", place=spot.place, system=system.name)
    moves = [
        words("places.move", coral=ctx.view.corals[move.coral].name, to=_to(ctx, move.to.system, move.to.place))
        if move.to
        else words("places.stuck", coral=ctx.view.corals[move.coral].name)
        for move in suggestion.moves
    ]
    return (
        ctx.link(links.plan_of(spot.system), place),
        say_light(ctx, system.places[spot.place]),
        "; ".join(moves) or words("places.free"),
    )


def _to(ctx: PageContext, system: str, place: str) -> str:
    return ctx.words("corals.at_place", place=place, system=ctx.view.systems[system].name)
