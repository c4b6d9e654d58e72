"""Several colonies of one plan at once: a row for each, on its way and in its place, so that paper holds them all."""

from collections.abc import Sequence

from markupsafe import Markup

from generator.reckon.growth.places import Suggestion
from generator.reckon.planned.analysis import PlanFindings
from generator.reckon.planned.landing import FirstLight, Landing
from generator.reckon.planned.settling import Settling
from generator.reckon.planned.trip import Passenger
from generator.reckon.trade.journey import Journey
from generator.render.base.blocks import Fold, Paragraph, Section, Table, items, section
from generator.render.base.context import PageContext
from generator.render.base.inline import Inline, bold, joined, small
from generator.render.pages.sheet_place import at_place, lighting, middle, misfits, moves_of
from generator.render.pages.sheet_way import lifts, name_of, verdict, weights_of
from generator.render.pages.travel import say_hours

_BREAK = Markup("<br>")


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
        Paragraph(words("cautions.lifting"), "caution"),
        section(words("journey.packing"), items(*packing, look="ticks"), lead=hours, look="packing"),
        Fold(words("sheet.rows.each"), tuple(each)),
    )


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
    named = ", ".join(f"{words(f'risks.{risk.id}.name')}: {words(f'risks.levels.{risk.level}')}" for risk in risks)
    return (
        joined(name_of(ctx, found), small(f"{what}, {found.coral.species}"), by=_BREAK),
        *(weights.get(words(f"sheet.weights.{each}")) or "" for each in ("air", "dripping", "in_water")),
        lift or words("sheet.rows.unmeasured"),
        joined(verdict(ctx, journey), _needs(ctx, journey), by=_BREAK) if journey else "",
        bold(named) if named else words("risks.levels.low") if journey else "",
    )


def _needs(ctx: PageContext, judged: Journey) -> Inline:
    return joined(ctx.words("journey.figures.water"), ctx.say.level("volume", judged.water))


def _placed(ctx: PageContext, name: str, places: Sequence[Suggestion], light: FirstLight | None) -> tuple[Inline, ...]:
    words = ctx.words
    if not places:
        return name, "", words("sheet.rows.nowhere"), ""
    best = places[0]
    stuck = ", ".join(ctx.to_coral(move.coral).text for move in best.moves if move.to is None)
    if stuck:
        full = words("sheet.rows.full", system=ctx.view.systems[best.spot.system].name, names=stuck)
        return name, "", bold(full), ""
    spot = joined(at_place(ctx, best.spot), small(middle(ctx, best.spot)))
    return (
        name,
        moves_of(ctx, best) or words("places.free"),
        joined(spot, *map(bold, misfits(ctx, best)), by=_BREAK),
        joined(*(lighting(ctx, light) if light else ()), by=_BREAK),
    )
