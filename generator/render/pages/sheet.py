"""The sheet of a plan: all of its day in the order of the day, on a sheet of paper to take along."""

from collections.abc import Iterator, Sequence
from math import ceil

from msgspec.structs import replace

from generator.nature.genera import Caution, cautions, cautions_to_handle
from generator.reckon.growth.places import Suggestion
from generator.reckon.planned.analysis import Passenger, PlanFindings, floor_share, together
from generator.reckon.planned.places import Care, FirstLight, Landing, Settling
from generator.reckon.trade.journey import Journey, oxygen_together
from generator.records.trade import Newcomer, Planned
from generator.render.base import links
from generator.render.base.blocks import Fold, Group, Paragraph, Section, Table, facts, group, items, row, section
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.links import BREAK, Inline, Link, Span, bold, code, joined, small
from generator.render.base.numbers import listed
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.render.pages.deals import say_money
from generator.render.pages.room import at_place, just_where, middle_of_spot, misfits
from generator.render.pages.sheet_colony import (
    caring,
    lifts,
    lighting,
    moves_of,
    name_of,
    passenger_section,
    place_facts,
    places_section,
    spot_words,
    verdict,
    weights_of,
)
from generator.render.pages.sheet_water import (
    afterwards,
    pose_first,
    risk_words,
    sheet_glance,
    steps_cautions,
    water_choice,
)
from generator.render.pages.travel import left_words, plan_title, say_hours, when_of

_METHODS = (
    "journey",
    "fit",
    "lifting",
    "cooling",
    "oxygen",
    "packing",
    "light-steps",
    "place-for-a-colony",
    "expected-uptake",
    "stock",
    "next-test",
)
# So many colonies are told in rows.
_SEVERAL = 2
# So many are printed smaller, to be on one side of paper.
_MANY = 6


def sheet_page(ctx: PageContext, found: PlanFindings) -> Page:
    """The sheet of one plan, with all that its day asks for."""
    words, plan = ctx.words, found.plan
    ctx, title = replace(ctx, day_none=None if plan.date else found.at.date()), plan_title(ctx, plan)
    waters = [(each.system, each.steps) for landing in found.landings for each in landing.waters]
    after = [(each.system, each.steps) for each in found.afters]
    water = plan.travel.water if plan.travel else None
    posed = pose_first(ctx, found)
    way = [
        passenger_section(ctx, number, each, water, not posed) for number, each in enumerate(found.passengers, start=1)
    ]
    into = [_newcomer(ctx, number, each) for number, each in enumerate(found.landings, start=1)]
    into += [_mover(ctx, each) for each in found.settlings]
    needed = items(*_papers_needed(ctx, found), look="ticks")
    return page(
        ctx,
        "sheet",
        "corals",
        sheet_glance(ctx, found),
        section(words("sheet.agreed"), facts(*_facts(ctx, found), (words("sheet.file"), code(plan.source)))),
        section(words("sheet.papers.title"), Paragraph(words("cautions.cites"), "caution"), needed) if needed else None,
        _in_the_hands(ctx, found.passengers),
        Paragraph(_untold(ctx, plan), "note"),
        _before(ctx, found) if len(into) < _SEVERAL else None,
        *(way if len(way) < _SEVERAL else (on_the_way(ctx, found.passengers, way),)),
        *(_care(ctx, each, ctx.partner(plan.partner) if plan.partner else "") for each in found.care),
        *(into if len(into) < _SEVERAL else (into_place(ctx, found, into),)),
        group("waters" if after[1:] else "", *(afterwards(ctx, each) for each in found.afters)),
        steps_cautions(ctx, (*waters, *after)),
        group("onward", Fold(words("travel.methods"), (row(*(to_method(ctx, id) for id in _METHODS)),))),
        title=title,
        description=words("sheet.description", title=title),
        crumbs=(section_crumb(ctx, "corals"), ctx.link(links.PLANNED, words("planned.title"))),
        lead=joined(bold(f"{words(f'planned.stage.{plan.stage}')}."), words(f"sheet.next.{plan.stage}", plan=plan.id)),
        over=joined(*_when_and_with(ctx, found), by=" · "),
        look="day-sheet of-many" if len(way) >= _MANY else "day-sheet",
        text=" ".join(f"{each.coral.name} {each.coral.species}" for each in found.passengers),
    )


def _in_the_hands(ctx: PageContext, found: Sequence[Passenger]) -> Group | None:
    """What to mind with the colonies in the hands, and with those of which a piece is cut, each once."""
    minded: dict[Caution, dict[str, None]] = {}
    for each in found:
        species = each.coral.species
        for caution in cautions_to_handle(species) if each.whole else cautions(species):
            minded.setdefault(caution, {})[each.coral.name] = None
    told = (joined(f"{listed(ctx, [*names])}:", ctx.words(f"cautions.{id}")) for id, names in minded.items())
    return group("caution", items(*told, look=""))


def _before(ctx: PageContext, found: PlanFindings) -> Section | None:
    """What moves before the day, to make room."""
    room = [*(each.places for each in found.landings), *(each.places for each in found.settlings)]
    first = items(*(each for places in room for each in _moving_first(ctx, places)), look="ticks")
    return section(ctx.words("sheet.before"), first) if first else None


def _moving_first(ctx: PageContext, places: Sequence[Suggestion]) -> Iterator[str]:
    """What moves before a coral gets the best of its places, and where to, in order."""
    words = ctx.words
    for move in places[0].moves if places else ():
        other = ctx.to_coral(move.coral).text
        if move.to is None:
            yield words("sheet.steps.stuck", name=other)
        else:
            yield words("sheet.steps.move", name=other, to=just_where(ctx, move.to))


def _care(ctx: PageContext, found: Care, partner: str) -> Section:
    """How what comes into one water is brought in."""
    words = ctx.words
    title = words("sheet.care.title")
    return section(
        joined(f"{title}:", ctx.to_system(found.system)) if found.system else title,
        items(*caring(ctx, found, partner), look="", ordered=True),
        Paragraph(words("cautions.no-release"), "caution"),
    )


def _newcomer(ctx: PageContext, number: int, found: Landing) -> Section:
    """One colony that comes: where it goes, its light, and what it asks of the water."""
    words, new = ctx.words, found.new
    return section(
        joined(words("sheet.place.title"), Link(new.name), small(Span(new.species, "i"))),
        place_facts(ctx, found),
        *_spot(ctx, new.name, found.places, found.light, new.system),
        *(water_choice(ctx, new.name, water) for water in found.waters),
        id=f"colony-{number}",
    )


def _mover(ctx: PageContext, found: Settling) -> Section:
    """One coral that moves: where it goes, and its light."""
    coral = ctx.to_coral(found.coral.id)
    return section(joined(ctx.words("sheet.place.title"), coral), *_spot(ctx, coral.text, found.places, found.light))


def _spot(
    ctx: PageContext, name: str, found: Sequence[Suggestion], first: FirstLight | None, system: str | None = None
) -> Iterator[Paragraph | Section | None]:
    """Where it goes, the places (in `system`, if it is decided), and the steps of light."""
    words, method = ctx.words, joined(f"{ctx.words('why.method')}:", to_method(ctx, "light-steps"))
    light = items(*(lighting(ctx, first) if first else ()), look="")
    yield Paragraph(spot_words(ctx, name, found))
    yield places_section(ctx, name, found, system)
    yield section(words("sheet.light.title"), light, Paragraph(method, "note how")) if light else None


def _when_and_with(ctx: PageContext, found: PlanFindings) -> Iterator[Inline]:
    """The day and hour, how far off that is, and with whom; nothing where no day is agreed."""
    if when := when_of(ctx, found.plan):
        yield when
        yield left_words(ctx, found.days)
        yield ctx.partner(found.plan.partner) if found.plan.partner else ""


def _facts(ctx: PageContext, found: PlanFindings) -> Iterator[tuple[str, str]]:
    words, plan = ctx.words, found.plan
    when = when_of(ctx, plan)
    if when is not None:
        yield words("sheet.when"), f"{when.text}, {left_words(ctx, found.days)}"
    if plan.partner:
        yield words("sheet.with"), ctx.partner(plan.partner)
    if plan.keeps:
        yield words("sheet.keeps"), plan.keeps
    for key, worth in (("paid", plan.paid), ("was_paid", plan.was_paid)):
        if worth:
            yield words(f"sheet.{key}"), say_money(words, worth)
    for owed in plan.owed:
        yield words("sheet.owed"), words(f"trades.owed.{owed.by}", what=owed.what)
    if plan.travel:
        yield words("trades.travel"), say_hours(ctx, plan.travel.duration.canonical())
        if plan.travel.container:
            yield words("trades.container"), plan.travel.container
        if plan.travel.water:
            yield words("trades.water"), ctx.say.canonical("volume", plan.travel.water.canonical(), plan.travel.water)
        if plan.travel.distance:
            yield words("trades.distance"), ctx.say.written(plan.travel.distance)
        if plan.travel.packing:
            yield words("journey.packed"), plan.travel.packing
    if plan.since:
        yield words("sheet.since"), ctx.say.on(plan.since)
    for key, text in (("note", plan.note), ("private", plan.private)):
        if text:
            yield words(f"trades.{key}"), text


def _papers_needed(ctx: PageContext, found: PlanFindings) -> Iterator[str]:
    """What to have on paper before anybody leaves."""
    words = ctx.words
    if any(each.way != "moving" for each in found.passengers):
        yield words("sheet.papers.authority")
        yield words("sheet.papers.border")
    named = {
        "told": [new.name for new in found.plan.coming if _papered(new)],
        "ask": [new.name for new in found.plan.coming if not _papered(new)],
        "give": [ctx.to_coral(given.coral).text for given in found.plan.going],
    }
    yield from (
        words(f"sheet.papers.{key}", n=len(each), names=listed(ctx, each)) for key, each in named.items() if each
    )


def _papered(new: Newcomer) -> bool:
    return new.origin is not None and (new.origin.permit is not None or new.origin.source_code is not None)


def _untold(ctx: PageContext, plan: Planned) -> str:
    """What is missing of a journey of what comes or goes, and how to write it; nothing where it is recorded."""
    if (plan.travel and plan.travel.container) or not (plan.coming or plan.going):
        return ""
    known = sorted(ctx.view.settings.containers)
    words, line = ctx.words, f"travel: {{container: {known[0] if known else 'tote'}, duration: 2 h}}"
    said = words("sheet.untold.container" if plan.travel else "sheet.untold.travel", line=line)
    return said if known else f"{said} {words('sheet.untold.containers')}"


def on_the_way(ctx: PageContext, found: Sequence[Passenger], each: Sequence[Section]) -> Section:
    """Every colony on its way: weight, who lifts it, whether it fits, what can go wrong; then what to pack for all."""
    words = ctx.words
    journeys = [one.judged for one in found if isinstance(one.judged, Journey)]
    weights = (f"sheet.weights.{each}" for each in ("air", "dripping", "in_water"))
    heads = words.each("sheet.rows.coral", *weights, "sheet.rows.lift", "sheet.rows.fit", "risks.title")
    packing = dict.fromkeys(words(f"packing.{one.item}") for journey in journeys for one in journey.packing)
    hours = words("journey.packing_note", hours=say_hours(ctx, journeys[0].plan.hours)) if journeys else ""
    return section(
        words("sheet.rows.way"),
        Table(words("sheet.rows.way"), heads, tuple(_traveller(ctx, one) for one in found), "tall"),
        Paragraph(" ".join(_side_by_side(ctx, found))),
        Paragraph(words("cautions.lifting"), "caution"),
        section(words("journey.packing"), items(*packing, look="ticks"), lead=hours, look="packing"),
        Fold(words("sheet.rows.each"), tuple(each)),
    )


def _side_by_side(ctx: PageContext, found: Sequence[Passenger]) -> Iterator[str]:
    """Whether those that travel together have room in the one container, and how long their oxygen lasts at worst."""
    if not (ways := together(found)):
        return
    share = max(map(floor_share, ways))
    yield ctx.words("sheet.rows.alone", share=f"{100.0 * share:.0f}")
    if share > 1.0:
        yield ctx.words("sheet.rows.too_many", n=ceil(share))
        return
    lasts = min(map(oxygen_together, ways), key=lambda each: each.low)
    low, high = (say_hours(ctx, end) for end in (lasts.low, lasts.high))
    yield ctx.words("sheet.rows.oxygen_together", low=low, high=high)


def into_place(ctx: PageContext, found: PlanFindings, each: Sequence[Section]) -> Section:
    """Every colony in its place, in the order of doing: what moves first, where it goes, its light."""
    words = ctx.words
    heads = words.each("sheet.rows.coral", "sheet.rows.first", "sheet.rows.place", "sheet.light.title")
    rows: list[tuple[str, Landing | Settling]] = [(one.new.name, one) for one in found.landings]
    rows += [(ctx.to_coral(one.coral.id).text, one) for one in found.settlings]
    placed = tuple(_placed(ctx, f"{n}. {name}", one.places, one.light) for n, (name, one) in enumerate(rows, start=1))
    return section(
        words("sheet.rows.places"),
        Table(words("sheet.rows.places"), heads, placed, "tall"),
        Fold(words("sheet.rows.each"), tuple(each)),
    )


def _traveller(ctx: PageContext, found: Passenger) -> tuple[Inline, ...]:
    words, judged = ctx.words, found.judged
    journey = judged if isinstance(judged, Journey) else None
    what = words(f"sheet.way.{found.way}" if found.whole else "sheet.rows.piece")
    weights = {each.label: each.shown for each in weights_of(ctx, found)}
    lift = lifts(ctx, found.weights.lift) if found.weights else ""
    risks = (risk for risk in journey.risks if risk.level != "low") if journey else ()
    named = ", ".join(risk_words(ctx, risk.id, risk.level) for risk in risks)
    needs = joined(words("journey.figures.water"), ctx.say.level("volume", journey.water)) if journey else ""
    return (
        joined(name_of(ctx, found), small(f"{what}, {found.coral.species}"), by=BREAK),
        *(weights.get(words(f"sheet.weights.{each}")) or "" for each in ("air", "dripping", "in_water")),
        lift or words("sheet.rows.unmeasured"),
        joined(verdict(ctx, journey), needs, by=BREAK) if journey else "",
        bold(named) if named else words("risks.levels.low") if journey else "",
    )


def _placed(ctx: PageContext, name: str, places: Sequence[Suggestion], light: FirstLight | None) -> tuple[Inline, ...]:
    words = ctx.words
    if not places:
        return name, "", words("sheet.rows.nowhere"), ""
    best = places[0]
    stuck = ", ".join(ctx.to_coral(move.coral).text for move in best.moves if move.to is None)
    if stuck:
        full = words("sheet.rows.full", system=ctx.view.systems[best.spot.system].name, names=stuck)
        return name, "", bold(full), ""
    spot = joined(at_place(ctx, best.spot), small(middle_of_spot(ctx, best.spot)))
    return (
        name,
        moves_of(ctx, best) or words("places.free"),
        joined(spot, *map(bold, misfits(ctx, best)), by=BREAK),
        joined(*(lighting(ctx, light) if light else ()), by=BREAK),
    )
