"""Neighbours that grow together and corals that grow towards an edge: the gap, the days, and their evidence."""

from collections.abc import Iterator

from generator.reckon.finding import Finding
from generator.reckon.growth.closing import Dates
from generator.reckon.growth.room import Leaving, Meeting, RoomFindings
from generator.render.base.context import PageContext
from generator.render.base.inline import Inline, Span, joined
from generator.render.base.numbers import Shown
from generator.render.pages.behind import Ground, Parts, lengths
from generator.units.quantity import Estimate

Approach = tuple[tuple[Inline, ...], Ground]
"""A row about a gap that closes, and its evidence."""


def matters_soon(meeting: Meeting) -> bool:
    """Whether two neighbours likely touch in the years that count, or are nearer than is safe."""
    return meeting.touch.likely is not None or meeting.gap.estimate.value < meeting.safe.cm


def say_dates(ctx: PageContext, dates: Dates, room: Estimate) -> tuple[str, str]:
    """The likely day, and its interval in words; where no room is left, that the day is past."""
    return (ctx.words("room.already"), "") if room.value <= 0 else say_days(ctx, dates)


def say_days(ctx: PageContext, dates: Dates) -> tuple[str, str]:
    """The likely day, and its interval in words."""
    words = ctx.words

    likely = ctx.say.on(dates.likely) if dates.likely else words("room.not_soon")
    if dates.earliest is None:
        return words("room.not_soon"), ""
    if dates.latest is None:
        return likely, words("room.not_before", day=ctx.say.on(dates.earliest))
    return likely, words("numbers.between", low=ctx.say.on(dates.earliest), high=ctx.say.on(dates.latest))


def neighbours(ctx: PageContext, room: RoomFindings, seen: set[str]) -> Iterator[Approach]:
    """Neighbours that will touch in the years that count, if both are `seen`: the gap now, the safe one, the dates."""
    for meeting in room.meetings:
        if {meeting.one, meeting.other} <= seen and matters_soon(meeting):
            one, other = ctx.to_coral(meeting.one), ctx.to_coral(meeting.other)
            gap, dates = meeting.gap, say_dates(ctx, meeting.touch, meeting.gap.estimate)
            kin = ctx.words("room.kin")
            safe = ctx.say.length(meeting.safe.cm, fine=True) if meeting.safe.cm else kin
            cells = one, other, _gap(ctx, gap), safe, dates[0], Span(dates[1], look="interval")
            yield cells, ground(ctx, f"{one.text}, {other.text}", gap, meeting.touch)


def edges(ctx: PageContext, room: RoomFindings, seen: set[str]) -> Iterator[Approach]:
    """Corals that are `seen` and the edge each is nearest to: the gap now, and the dates."""
    for leaving in room.leaving:
        if leaving.coral in seen:
            first, interval = say_dates(ctx, leaving.leaves, leaving.room.estimate)
            coral = ctx.to_coral(leaving.coral)
            assumed = "" if leaving.position_known else Span(ctx.words("room.middle"), look="note")
            edge = joined(edge_words(ctx, leaving), assumed)
            cells = coral, edge, _gap(ctx, leaving.room), first, Span(interval, look="interval")
            yield cells, ground(ctx, coral.text, leaving.room, leaving.leaves)


def _gap(ctx: PageContext, found: Finding) -> Shown:
    return ctx.say.level("length", found.estimate)


def edge_words(ctx: PageContext, leaving: Leaving) -> str:
    """The edge of a place a coral is nearest to."""
    return ctx.words("room.edge", place=leaving.place, edge=ctx.words(f"edges.{leaving.side}"))


def ground(ctx: PageContext, name: str, gap: Finding, dates: Dates) -> Ground:
    """The evidence for a gap and for the day on which it closes."""
    return Ground(name, (lengths(ctx, gap.parts), Parts(dates.parts, ctx.words.unit("days"))), gap.inputs)
