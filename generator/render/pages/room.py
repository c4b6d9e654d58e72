"""How long a coral has room at its place: gaps that close, their evidence, and where else it could go."""

from collections.abc import Iterator, Sequence
from datetime import date

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.growth.corals import CUT_MONTHS, CoralFindings
from generator.reckon.growth.forecast import Dates, SizeForecast
from generator.reckon.growth.places import Move, Suggestion
from generator.reckon.growth.room import Leaving, Meeting, RoomFindings
from generator.reckon.growth.spots import Spot, light_ends
from generator.records.coral import Coral
from generator.records.system import Place
from generator.render.base import links
from generator.render.base.blocks import Fold, Paragraph, Section, Table, items, section
from generator.render.base.context import PageContext
from generator.render.base.links import BREAK, Inline, Link, Phrase, Span, bold, joined
from generator.render.base.numbers import NBSP, Shown, plain, with_unit
from generator.render.base.why import Ground, Parts, behind, lengths
from generator.units.quantity import Estimate

Approach = tuple[tuple[Inline, ...], Ground]
"""A row about a gap that closes, and its evidence."""


def matters_soon(meeting: Meeting) -> bool:
    """Whether two neighbours likely touch in the years that count, or are nearer than is safe."""
    return meeting.touch.likely is not None or meeting.short > 0.0


def of_safe(ctx: PageContext, gap: float, safe: float) -> str:
    """A gap beside the safe one (cm): as fine as it must be for the two to differ."""
    said = [[ctx.say.length(max(each, 0.0), fine=fine) for each in (gap, safe)] for fine in (False, True)]
    gap_said, safe_said = said[said[0][0] == said[0][1]]
    return ctx.words("room.of_safe", gap=gap_said, safe=safe_said)


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


def neighbours(ctx: PageContext, room: RoomFindings) -> Iterator[Approach]:
    """Neighbours that will touch in the years that count: the gap now, the safe one, the dates."""
    for meeting in filter(matters_soon, room.meetings):
        one, other = ctx.to_coral(meeting.one), ctx.to_coral(meeting.other)
        gap, dates = meeting.gap, say_dates(ctx, meeting.touch, meeting.gap.estimate)
        kin = ctx.words("room.kin")
        safe = ctx.say.length(meeting.safe.cm, fine=True) if meeting.safe.cm else kin
        cells = one, other, _gap(ctx, gap), safe, dates[0], Span(dates[1], look="interval")
        yield cells, evidence_of_gap(ctx, f"{one.text}, {other.text}", gap, meeting.touch)


def headlines(ctx: PageContext, room: RoomFindings, over: Sequence[Approach]) -> Iterator[Inline]:
    """Which neighbours are too close now, which of those that may not will touch first, what grows over an edge first.

    `over` are the edges, the first one first.
    """
    words = ctx.words

    def pair(meeting: Meeting) -> Inline:
        return joined(ctx.to_coral(meeting.one), ctx.to_coral(meeting.other), by=" – ")

    told = [each for each in room.meetings if each.safe.cm]
    close: dict[str, list[Inline]] = {}
    for each in sorted((each for each in told if each.short), key=lambda each: -each.short / each.safe.cm):
        gap = of_safe(ctx, each.gap.estimate.value, each.safe.cm)
        close.setdefault(each.surely, []).append(joined(pair(each), f"({gap})"))
    for surely, pairs in close.items():
        head = Span(words(f"plan.too_close.{surely}"), look="off" if surely == "surely" else "note")
        yield joined(head, Phrase((joined(*pairs, by="; "), ".")))
    if (first := next((each for each in told if each.touch.likely), None)) is not None:
        day, interval = say_dates(ctx, first.touch, first.gap.estimate)
        yield joined(words("plan.first_two"), joined(pair(first), joined(bold(day), interval, by=", ")))
    for coral, edge, _, when, range_ in (cells for cells, _ in over[:1]):
        yield joined(words("plan.first_edge"), joined(coral, edge, joined(bold(when), range_, by=", "), by=", "))


def edges(ctx: PageContext, room: RoomFindings) -> Iterator[Approach]:
    """Corals and the edge each is nearest to: the gap now, and the dates."""
    for leaving in room.leaving:
        first, interval = say_dates(ctx, leaving.leaves, leaving.room.estimate)
        coral = ctx.to_coral(leaving.coral)
        assumed = "" if leaving.position_known else Span(ctx.words("room.middle"), look="note")
        edge = joined(edge_words(ctx, leaving), assumed)
        cells = coral, edge, _gap(ctx, leaving.room), first, Span(interval, look="interval")
        yield cells, evidence_of_gap(ctx, coral.text, leaving.room, leaving.leaves)


def _gap(ctx: PageContext, found: Finding) -> Shown:
    value, low, high = (
        ctx.say.length(each, fine=True) for each in (found.estimate.value, found.estimate.low, found.estimate.high)
    )
    return Shown(value, ctx.words("numbers.between", low=low.partition(NBSP)[0], high=high))


def edge_words(ctx: PageContext, leaving: Leaving) -> str:
    """The edge of a place a coral is nearest to."""
    return ctx.words("room.edge", place=leaving.place, edge=ctx.words(f"edges.{leaving.side}"))


def evidence_of_gap(ctx: PageContext, name: str, gap: Finding, dates: Dates) -> Ground:
    """The evidence for a gap and for the day on which it closes."""
    return Ground(name, (lengths(ctx, gap.parts), Parts(dates.parts, ctx.words.unit("days"))), gap.inputs)


_MOST_PLACES = 4


def room_section(ctx: PageContext, coral: Coral, found: CoralFindings) -> Section:
    """How long it has room, what that is based on, and where else it could go, the best first."""
    words, place = ctx.words, coral.placement_on(ctx.today)
    lines = items(*_lines(ctx, coral, found))
    planned = place and ctx.view.systems[place.system].places and place.system in ctx.found.rooms
    rows = tuple(_elsewhere(ctx, each) for each in ctx.found.could_go.get(coral.id, ())[:_MOST_PLACES])
    title, heads = words("places.title"), words.each("places.where", "places.light", "places.moves")
    return section(
        words("room.title"),
        *(
            lines,
            Paragraph(plan_link(ctx, place.system), "onward") if place and planned else None,
            _behind(ctx, coral, found),
            Fold(title, (Table(title, heads, rows, "tall"),), "more"),
        )[: 4 if lines else 0],
        id="room",
    )


def _lines(ctx: PageContext, coral: Coral, found: CoralFindings) -> Iterator[str]:
    """When it outgrows its place, which neighbours it will touch, and its size in half a year."""
    words = ctx.words
    if found.ahead and not isinstance(found.ahead, CannotTell):
        size = ctx.say.level("length", found.ahead.length)
        wide = ctx.say.level("length", found.ahead.width)
        yield words(
            f"room.ahead.{found.ahead.known}", n=CUT_MONTHS, length=size.value, width=wide.value, interval=size.interval
        )
    yield from (said for _, said in _closing(ctx, coral))


def soonest(ctx: PageContext, coral: Coral) -> str:
    """What ends its room first, in a sentence; "" if nothing is known to."""
    return next((said for _, said in _closing(ctx, coral)), "")


def what_it_keeps(ctx: PageContext, coral: Coral) -> str:
    """What leaves it the least room, as the aim of a cut: a distance to a neighbour, or an edge of its place."""
    room, limits = ctx.room_of(coral.id), []
    for leaving in room.leaving if room else ():
        aim = ctx.words("cutting.keeps.edge", edge=edge_words(ctx, leaving))
        limits.append((leaving.room.estimate.value, aim))
    for meeting in room.meetings if room else ():
        other = ctx.to_coral(meeting.other if coral.id == meeting.one else meeting.one).text
        key = "closer" if meeting.short > 0.0 else "neighbour" if meeting.safe.cm else "kin"
        aim = ctx.words(f"cutting.keeps.{key}", safe=ctx.say.length(meeting.safe.cm), other=other)
        limits.append((max(meeting.gap.estimate.value - meeting.safe.cm, 0.0) / 2.0, aim))
    return min(limits)[1] if limits else ctx.words("cutting.keeps.room")


def _closing(ctx: PageContext, coral: Coral) -> list[tuple[date, str]]:
    """The edge of its place and the neighbours it will touch: when, and in a sentence; first what is too close now."""
    room = ctx.room_of(coral.id)
    ends: list[tuple[date, str]] = []
    for leaving in room.leaving if room else ():
        likely, interval = say_dates(ctx, leaving.leaves, leaving.room.estimate)
        said = ctx.words("room.leaves", edge=edge_words(ctx, leaving), likely=likely, interval=_in_brackets(interval))
        ends.append((_first_day(leaving.leaves), said))
    for meeting, other in _meetings(ctx, coral, room):
        ends.append((ctx.today if meeting.short else _first_day(meeting.touch), _meets(ctx, meeting, other)))
    return sorted(ends, key=lambda each: each[0])


def _first_day(dates: Dates) -> date:
    return dates.likely or dates.earliest or date.max


def _meets(ctx: PageContext, meeting: Meeting, other: Coral) -> str:
    words, apart = ctx.words, meeting.gap.estimate
    if apart.value <= 0:
        over = ctx.say.level("length", apart.scaled(-1.0, apart.unit))
        return words("room.overlaps", other=other.name, **over.blanks("over"))
    likely, interval = say_dates(ctx, meeting.touch, apart)
    brackets = _in_brackets(interval)
    if meeting.short:
        near = of_safe(ctx, apart.value, meeting.safe.cm)
        return words(f"room.too_close.{meeting.surely}", other=other.name, gap=near, likely=likely, interval=brackets)
    gap = ctx.say.length(apart.value)
    return words("room.meets", other=other.name, gap=gap, likely=likely, interval=brackets)


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
    room = ctx.room_of(coral.id)
    for leaving in room.leaving if room else ():
        yield evidence_of_gap(ctx, edge_words(ctx, leaving), leaving.room, leaving.leaves)
    for meeting, other in _meetings(ctx, coral, room):
        yield evidence_of_gap(ctx, other.name, meeting.gap, meeting.touch)


def _meetings(ctx: PageContext, coral: Coral, room: RoomFindings | None) -> Iterator[tuple[Meeting, Coral]]:
    """The neighbours it will touch."""
    for meeting in filter(matters_soon, room.meetings if room else ()):
        yield meeting, ctx.view.corals[meeting.other if coral.id == meeting.one else meeting.one]


def _in_brackets(interval: str) -> str:
    return f" ({interval})" if interval else ""


def _elsewhere(ctx: PageContext, suggestion: Suggestion) -> tuple[Inline, ...]:
    """A place it could go to, its light, and what must move for it."""
    words, spot = ctx.words, suggestion.spot
    place = ctx.view.systems[spot.system].places[spot.place]
    return (
        ctx.link(links.plan_of(spot.system), at_place(ctx, spot)),
        joined(say_light(ctx, place), *map(bold, misfits(ctx, suggestion)), by=BREAK),
        "; ".join(_moving(ctx, move) for move in suggestion.moves) or words("places.free"),
    )


def _moving(ctx: PageContext, move: Move) -> str:
    """A coral that must move, and where it can go: perhaps to another spot of its own place."""
    coral, to = ctx.view.corals[move.coral], move.to
    if to is None:
        return ctx.words("places.stuck", coral=coral.name)
    here = coral.placement_on(ctx.today)
    if here and (here.system, here.place) == (to.system, to.place):
        return ctx.words("places.shift", coral=coral.name, place=to.place, middle=middle_of_spot(ctx, to))
    return ctx.words("places.move", coral=coral.name, to=at_place(ctx, to))


def say_light(ctx: PageContext, place: Place) -> str:
    """The PAR of a place, and its flow, in words."""
    words = ctx.words
    ends = dict.fromkeys(light_ends(place))
    par = (
        with_unit("–".join(plain(ctx.words, end, 0) for end in ends), words.unit("PAR"))
        if ends
        else words("plan.no_light")
    )
    return f"{par}, {words(f'flows.{place.flow}')}" if place.flow else par


def plan_link(ctx: PageContext, system: str) -> Link:
    """The way to a system's plan."""
    return ctx.link(links.plan_of(system), ctx.words("plan.link"))


def misfits(ctx: PageContext, found: Suggestion) -> Iterator[str]:
    """What does not fit there."""
    words = ctx.words
    if found.stuck:
        yield words("sheet.place.no_room")
    if found.light_off:
        much = "too_bright" if found.light_off > 0 else "too_dim"
        yield words(f"sheet.place.{much}", by=ctx.say.number(abs(found.light_off), 0, "PAR"))
    if found.flow_fits is False:
        yield words("sheet.place.wrong_flow")
    if found.too_tall:
        yield words("sheet.place.too_tall", by=ctx.say.length(found.too_tall))
    if found.unplaced:
        yield words("sheet.place.in_the_way", corals=", ".join(ctx.to_coral(id).text for id in found.unplaced))


def at_place(ctx: PageContext, spot: Spot) -> str:
    """A place with its system."""
    return ctx.words("corals.at_place", place=spot.place, system=ctx.view.systems[spot.system].name)


def just_where(ctx: PageContext, spot: Spot) -> str:
    """A place with its system, and where in it."""
    return f"{at_place(ctx, spot)}, {middle_of_spot(ctx, spot)}"


def middle_of_spot(ctx: PageContext, spot: Spot) -> str:
    """How far a spot is from the left and the front of its place."""
    place = ctx.view.systems[spot.system].places[spot.place]
    left, front = spot.x - place.x.canonical(), spot.y - place.y.canonical()
    x, y = (ctx.say.length(cm) for cm in (left, front))
    return ctx.words("sheet.place.middle", x=x, y=y)
