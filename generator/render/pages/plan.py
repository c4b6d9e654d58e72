"""A system's plan: its places from above, to scale, its corals at their true size, and how long the room lasts."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from math import hypot

from markupsafe import Markup
from msgspec.structs import replace

from generator.door.door import grouped
from generator.reckon.growth.measurements import Body, height_of
from generator.reckon.growth.room import RoomFindings, Standing, can_touch
from generator.reckon.growth.spots import light_between, light_ends
from generator.records.coral import as_counted
from generator.records.system import Place, System
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Fold, Paragraph, Picture, Section, Table, folded, items, section
from generator.render.base.context import PageContext, as_file, page_of_system
from generator.render.base.links import Inline, Link, Phrase, Span, bold, joined
from generator.render.base.numbers import NBSP
from generator.render.base.page import Page
from generator.render.base.why import behind, cannot, how
from generator.render.drawings.colony import Lit, Shelf, StandingColony, draw_front
from generator.render.drawings.tank import Clearance, CoralShape, FloorPlan, Outline, PlaceShape, Stage, draw_floor
from generator.render.pages.room import Approach, edges, headlines, matters_soon, neighbours, say_light
from generator.units.quantity import coverage_factor

MONTHS = (3, 6, 9, 12, 15, 18, 21, 24)
# Those that a reader without scripts can choose; a slider has all of them.
_TO_CHOOSE = (0, 6, 12, 24)
_DAYS_PER_MONTH = 30.44
# The light (PAR) with the deepest shade.
_BRIGHTEST = 500.0
# From the front: how high the tint of a measured place is, as a share of the tank, and in how many layers light falls.
_STRIP = 0.03
_LAYERS = 8
# What a key says of today only, and of later days only.
_DAY_OF = {"near": "today", "wide": "today", "then": "later", "touch": "later"}
_SIDE = (("front", ""), ("light", ""), ("then", "later"))


def plan_page(ctx: PageContext, system: System, room: RoomFindings) -> Page:
    """The plan of one system."""
    words = ctx.words
    gaps = ctx.link(f"{links.METHODS}#safe-distances", words("methods.gaps"))
    safe = Paragraph(joined(words("plan.safe_note"), gaps), "note")
    near, over = tuple(neighbours(ctx, room)), tuple(edges(ctx, room))
    return page_of_system(
        ctx,
        system.id,
        "plan",
        words("plan.title", system=system.name),
        words("plan.description", system=system.name),
        items(*headlines(ctx, room, over), look="plain"),
        *_vessels(ctx, system, room),
        _closing(
            ctx, "plan.neighbours", ("trades.coral", "plan.gap", "plan.safe", "plan.first", "plan.interval"), near, safe
        ),
        _closing(ctx, "plan.edges", ("plan.edge", "plan.gap", "plan.leaves", "plan.interval"), over),
        section(
            words("plan.unknown"),
            items(*(joined(ctx.to_coral(id), cannot(words, why), by=": ") for id, why in room.cannot_tell)),
        ),
        as_file(ctx, "data/places.csv", "places"),
        script="scripts/plan.js",
    )


def _closing(
    ctx: PageContext, title: str, heads: tuple[str, ...], found: tuple[Approach, ...], *notes: Block
) -> Section | None:
    """Gaps that close, and the evidence for each."""
    if not found:
        return None
    words = ctx.words
    table = Table(words(title), words.each("trades.coral", *heads), tuple(cells for cells, _ in found), "tall")
    grounds = behind(ctx, words("trades.coral"), "meeting", (ground for _, ground in found))
    return folded(words(title), table, *notes, grounds, id=title.replace(".", "-"))


def _size(ctx: PageContext, body: Body) -> str:
    return ctx.say.length(body.length, body.width or body.length)


def _vessels(ctx: PageContext, system: System, room: RoomFindings) -> Iterator[Section]:
    """Each part of a system: its picture today and some months ahead, and the corals in it by number."""
    words = ctx.words
    by_part: dict[str, dict[str, Place]] = {}
    for name, place in system.places.items():
        by_part.setdefault(place.part or "", {})[name] = place
    months = {n: words("plan.months", n=n) if n else words("plan.today") for n in (0, *MONTHS)}
    number = 0
    for order, (part, places) in enumerate(by_part.items(), start=1):
        here = laid_out([each for each in room.standing if (each.part or "") == part], places)
        here.sort(key=lambda each: (each.place, as_counted(each.coral.name), each.coral.id))
        numbers = {each.coral.id: f"{number + n + 1}" for n, each in enumerate(here)}
        number += len(here)
        name = ", ".join(filter(None, (system.name, part)))
        id = f"part-{order}"
        gaps = tuple(_gaps(ctx, room, here))
        floor = _floor(ctx, system, (f"plan-{order}", part), places, here, numbers)
        picture = draw_floor(replace(floor, gaps=gaps, said=_closest(ctx, room, here)))
        side = _side(ctx, system, (f"side-{order}", part), places, here, numbers)
        rows = tuple(_row(ctx, each, numbers[each.coral.id]) for each in here)
        heads = words.each("trades.coral", "plan.place", "plan.size", "plan.position")
        below = (
            items(*(row[0] for row in rows), look="names", label=words("plan.list")),
            Picture(side, _key(ctx, "side_key", _SIDE), "drawing") if side else None,
        )
        key = _key(ctx, "key", tuple(_looks(floor, gaps)))
        yield section(
            Link(name),
            Drawn("stages", (id, name, months, _TO_CHOOSE, picture, key, below), "drawing"),
            Paragraph(how(ctx, "light-between"), "onward") if side else None,
            Fold(words("plan.sizes"), (Table(words("plan.list"), heads, rows, "tall near"),)),
            None if rows else Paragraph(words("plan.none")),
            id=id,
        )


def _looks(floor: FloorPlan, gaps: Sequence[Clearance]) -> Iterator[tuple[str, str]]:
    """What its key has to say, each with the class of its day: only of what is drawn."""
    there = {
        "above": True,
        "tint": any(place.shade is not None for place in floor.places),
        "measured": bool(floor.corals),
        "assumed": any(coral.assumed for coral in floor.corals),
        "near": any(gap.near for gap in gaps),
        "wide": not all(gap.near for gap in gaps),
        "then": bool(floor.corals),
        "touch": any(stage.touches for stage in floor.stages),
    }
    yield from ((name, _DAY_OF.get(name, "")) for name, shown in there.items() if shown)


def _key(ctx: PageContext, of: str, looks: Sequence[tuple[str, str]]) -> Phrase:
    return joined(*(Span(ctx.words(f"plan.{of}.{name}"), look=day) for name, day in looks))


def _closest(ctx: PageContext, room: RoomFindings, here: Sequence[Standing]) -> str:
    """What the picture shows, in one sentence: which two neighbours grow together first."""
    known = {each.coral.id for each in here if each.known}
    soon = [each for each in room.meetings if {each.one, each.other} <= known and matters_soon(each)]
    if not soon:
        return ctx.words("plan.apart" if here else "plan.none")
    first = min(soon, key=lambda each: each.gap.estimate.value)
    one, other = (ctx.to_coral(id).text for id in (first.one, first.other))
    gap = ctx.say.length(max(first.gap.estimate.value, 0.0))
    return ctx.words("plan.closest", one=one, other=other, gap=gap, n=len(soon))


def _row(ctx: PageContext, each: Standing, number: str) -> tuple[Inline, ...]:
    known = "standing" if each.known else "middle"
    place, size = (Span(said, look="held") for said in (each.place, _size(ctx, each.spread.body)))
    return joined(bold(number), ctx.to_coral(each.coral.id)), place, size, ctx.words(f"room.{known}")


def _floor(
    ctx: PageContext,
    system: System,
    named: tuple[str, str],
    places: Mapping[str, Place],
    here: Sequence[Standing],
    numbers: Mapping[str, str],
) -> FloorPlan:
    words = ctx.words
    id, part = named
    measured = next((each for each in system.parts if each.name == part and each.length and each.width), None)
    width = max(place.x.canonical() + place.width.canonical() for place in places.values())
    depth = max(place.y.canonical() + place.depth.canonical() for place in places.values())
    if measured and measured.length and measured.width:
        width, depth = max(width, measured.length.canonical()), max(depth, measured.width.canonical())
    bar = 20.0 if width > 60 else 10.0
    return FloorPlan(
        id,
        words("plan.picture", part=part or system.name, system=system.name, n=len(here)),
        width,
        depth,
        tuple(_place(ctx, name, place) for name, place in places.items()),
        tuple(_coral(ctx, each, numbers[each.coral.id]) for each in here),
        tuple(_stage(ctx, months, here) for months in MONTHS),
        words("plan.front"),
        (bar, ctx.say.length(bar)),
    )


def _place(ctx: PageContext, name: str, place: Place) -> PlaceShape:
    return PlaceShape(
        name,
        say_light(ctx, place),
        place.x.canonical(),
        place.y.canonical(),
        place.width.canonical(),
        place.depth.canonical(),
        _shade(place),
    )


def _coral(ctx: PageContext, each: Standing, number: str) -> CoralShape:
    link, body = ctx.to_coral(each.coral.id), each.spread.body
    said = f"{link.text}, {_size(ctx, body)}".replace(NBSP, " ")
    wide = body.width or body.length
    return CoralShape(number, said, link.href, each.x, each.y, body.length, wide, not each.known, link.text)


def laid_out(here: Sequence[Standing], places: Mapping[str, Place]) -> list[Standing]:
    """Corals whose spot nobody wrote, side by side in a row along the middle of their place; the others as they are."""
    rows = grouped((each.place, each) for each in here if not each.known)
    apart = {
        each.coral.id: places[place].x.canonical() + places[place].width.canonical() * (n + 1) / (len(row) + 1)
        for place, row in rows.items()
        if place in places
        for n, each in enumerate(row)
    }
    return [replace(each, x=apart.get(each.coral.id, each.x)) for each in here]


def _gaps(ctx: PageContext, room: RoomFindings, here: Sequence[Standing]) -> Iterator[Clearance]:
    """The water between neighbours whose spots are written: all that is too little, and each coral's least."""
    known = {each.coral.id: each for each in here if each.known}
    drawn: set[str] = set()
    for meeting in sorted(room.meetings, key=lambda meeting: meeting.gap.estimate.value):
        one, other = known.get(meeting.one), known.get(meeting.other)
        new = meeting.short > 0.0 or not {meeting.one, meeting.other} <= drawn
        if one and other and matters_soon(meeting) and new:
            drawn |= {meeting.one, meeting.other}
            apart = hypot(other.x - one.x, other.y - one.y) or 1.0
            away = (other.x - one.x) / apart, (other.y - one.y) / apart
            start, end = (
                (each.x + side * away[0] * each.spread.radius, each.y + side * away[1] * each.spread.radius)
                for each, side in ((one, 1.0), (other, -1.0))
            )
            yield Clearance(start, end, ctx.say.length(max(meeting.gap.estimate.value, 0.0)), meeting.short > 0.0)


def _side(
    ctx: PageContext,
    system: System,
    named: tuple[str, str],
    places: Mapping[str, Place],
    here: Sequence[Standing],
    numbers: Mapping[str, str],
) -> Markup | None:
    """The tank from the front; None where nobody wrote how high it and its places are."""
    id, part = named
    tank = next((each for each in system.parts if each.name == part and each.height and each.length), None)
    high = {name: place.height.canonical() for name, place in places.items() if place.height}
    if tank is None or tank.height is None or tank.length is None or not high:
        return None
    shelves = [
        Shelf(name, say_light(ctx, places[name]), *_across(places[name]), high[name])
        for name in sorted(high, key=high.__getitem__, reverse=True)
    ]
    colonies = [
        StandingColony(numbers[each.coral.id], each.x, high[each.place], body.length, height, tuple(_larger(ctx, each)))
        for each in here
        if each.place in high and (body := each.spread.body) and (height := height_of(body, each.coral.form)[1])
    ]
    title = ctx.words("plan.side", part=part or system.name, system=system.name, n=len(colonies))
    heights = (f"{shelf.name}: {shelf.words} ({ctx.say.length(shelf.height)})" for shelf in shelves)
    told = title, f"{ctx.words('plan.heights')} {'; '.join(heights)}."
    length, top = tank.length.canonical(), tank.height.canonical()
    measured = {name: places[name] for name in high}
    return draw_front(id, told, length, top, shelves, colonies, tuple(lit(measured, _STRIP * top)))


def lit(places: Mapping[str, Place], strip: float) -> Iterator[Lit]:
    """The water whose light is known: right above each measured place, and between two that stand above each other."""
    lights = sorted(
        (each.height.canonical(), par, *_across(each))
        for each in places.values()
        if each.height and (par := _par(each))
    )
    for number, (low, dim, x, width) in enumerate(lights):
        yield Lit(x, width, low, low + strip, dim / _BRIGHTEST)
        covered: list[tuple[float, float]] = []
        for high, bright, x_high, width_high in lights[number + 1 :]:
            left, right = max(x, x_high), min(x + width, x_high + width_high)
            if left >= right or any(left < end and start < right for start, end in covered):
                continue
            covered.append((left, right))
            step = (high - low - strip) / _LAYERS
            for bottom in (low + strip + step * layer for layer in range(_LAYERS)):
                par = light_between((low, dim), (high, bright), bottom + step / 2.0)
                if par is not None and step > 0.0:
                    yield Lit(left, right - left, bottom, bottom + step, par / _BRIGHTEST)


def _across(place: Place) -> tuple[float, float]:
    return place.x.canonical(), place.width.canonical()


def _par(place: Place) -> float | None:
    ends = light_ends(place)
    return sum(ends) / len(ends) if ends else None


def _shade(place: Place) -> float | None:
    par = _par(place)
    return None if par is None else par / _BRIGHTEST


def _then(ctx: PageContext, months: int) -> date:
    return ctx.today + timedelta(days=round(months * _DAYS_PER_MONTH))


def _outline(each: Standing, day: date) -> Outline:
    radius, error = each.spread.reach(day)
    body, grown = each.spread.body, 2 * (radius - each.spread.radius)
    wide = (body.width or body.length) + grown
    return Outline(each.x, each.y, body.length + grown, wide, coverage_factor() * error)


def _larger(ctx: PageContext, each: Standing) -> Iterator[tuple[int, float, float]]:
    """How many times as long it will likely be, and may be, some months from now."""
    length = each.spread.body.length
    for months in MONTHS:
        then = _outline(each, _then(ctx, months))
        yield months, then.length / length, (then.length + 2 * then.more) / length


def _stage(ctx: PageContext, months: int, here: Sequence[Standing]) -> Stage:
    day, touches = _then(ctx, months), []
    for number, one in enumerate(here):
        for other in here[number + 1 :]:
            apart = hypot(one.x - other.x, one.y - other.y)
            reaches = one.spread.reach(day)[0], other.spread.reach(day)[0]
            if one.known and other.known and can_touch(one, other, day) and apart <= sum(reaches) and apart > 0:
                part = reaches[0] / sum(reaches)
                touches.append(
                    (
                        one.x + (other.x - one.x) * part,
                        one.y + (other.y - one.y) * part,
                        ctx.words("plan.touch", one=one.coral.name, other=other.coral.name),
                    )
                )
    return Stage(months, tuple(_outline(each, day) for each in here), tuple(touches))
