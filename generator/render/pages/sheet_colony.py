"""One colony on the sheet of a plan: on its way, how it is brought in, where it could go and what moves, its light."""

from collections.abc import Iterator, Sequence
from functools import partial

from generator.reckon.finding import CannotTell, Finding, one_cause
from generator.reckon.growth.places import Move, Suggestion
from generator.reckon.planned.analysis import Passenger
from generator.reckon.planned.places import Acclimation, Care, FirstLight, Landing
from generator.reckon.trade.carrying import Lift
from generator.reckon.trade.journey import Journey, outlines
from generator.records.trade import Newcomer
from generator.render.base import links
from generator.render.base.blocks import (
    Block,
    Facts,
    Figure,
    Group,
    Paragraph,
    Picture,
    Section,
    Table,
    facts,
    figures,
    group,
    items,
    section,
)
from generator.render.base.context import PageContext
from generator.render.base.links import BREAK, Inline, Link, Span, bold, joined, plain_text, small
from generator.render.base.numbers import Shown, fit_words, lift_words, plain, with_unit
from generator.render.base.why import cannot, to_method, why_of
from generator.render.base.words import ended
from generator.render.drawings.colony import Face, OvalOutline, draw_pose
from generator.render.pages.room import at_place, just_where, middle_of_spot, misfits, say_light
from generator.render.pages.travel import say_hours
from generator.units.quantity import Quantity


def passenger_section(ctx: PageContext, number: int, found: Passenger, water: Quantity | None, posed: bool) -> Section:
    """A colony on the way, the `number`-th on its page; one that is not here yet has no page to lead to.

    `water` is what the plan takes along; `posed` whether its pictures stand here.
    """
    words, coral, judged = ctx.words, found.coral, found.judged
    journey = judged if isinstance(judged, Journey) else None
    what = words(f"sheet.way.{found.way}" if found.whole else "sheet.way.piece")
    weights = figures(*weights_of(ctx, found))
    by_hand = words("sheet.weights.by_hand")
    who = f"{what}, {coral.species}"
    return section(
        joined(words("sheet.on_the_way"), name_of(ctx, found)),
        Paragraph(joined(ended(who), verdict(ctx, journey)) if journey else who, "says"),
        weights,
        Paragraph(f"{by_hand} {lifts(ctx, found.weights.lift)}" if found.weights else ""),
        Paragraph(_bare(ctx, journey, water) if journey and water else ""),
        Paragraph(words("cautions.lifting") if journey or weights else "", "caution"),
        cannot(words, judged) if isinstance(judged, CannotTell) else None,
        *(_journey(ctx, number, journey, posed) if journey else ()),
    )


def name_of(ctx: PageContext, found: Passenger) -> Link:
    """Its name; of one that is here already, with the way to its page."""
    return Link(found.coral.name) if found.way == "coming" else ctx.to_coral(found.coral.id)


def _bare(ctx: PageContext, judged: Journey, water: Quantity) -> str:
    """That the planned water does not cover it, if that is so."""
    covers = water.canonical() >= (judged.water.low or 0.0)
    return "" if covers else ctx.words("journey.bare", water=ctx.say.written(water))


def _facts(ctx: PageContext, judged: Journey) -> Iterator[tuple[str, str]]:
    words, sides, inside = ctx.words, judged.plan.colony, judged.plan.container
    yield words("journey.colony"), _measures(ctx, sides.length, sides.width, sides.height)
    yield words("journey.inside"), _measures(ctx, inside.length, inside.width, inside.height)
    yield words("journey.padding"), _length(ctx, judged.plan.padding)
    yield words("journey.start"), ctx.say.canonical("temperature", judged.plan.start)
    yield words("journey.air"), ctx.say.canonical("temperature", judged.plan.air[0])


def verdict(ctx: PageContext, judged: Journey) -> Inline:
    """Whether it fits, and how it lies."""
    fits, lies = fit_words(ctx.words, judged, partial(_length, ctx))
    return joined(bold(fits), lies)


def _journey(ctx: PageContext, number: int, judged: Journey, posed: bool) -> tuple[Block | None, ...]:
    """A judged journey in two pictures, words and numbers: what can go wrong, and what to pack."""
    words = ctx.words
    risks = (
        Span(
            joined(
                bold(f"{words(f'risks.{risk.id}.name')}: {words(f'risks.levels.{risk.level}')}"),
                words(f"risks.{risk.id}.{risk.level}"),
            ),
            "li",
            risk.level,
        )
        for risk in judged.risks
    )
    hours = words("journey.packing_note", hours=say_hours(ctx, judged.plan.hours))
    packing = items(*(words(f"packing.{each.item}") for each in judged.packing), look="ticks")
    return (
        Facts(tuple(_facts(ctx, judged))),
        views(ctx, number, judged) if posed else None,
        Paragraph(words("journey.pose.key"), "note"),
        section(
            words("risks.title"),
            items(*risks, look="risks"),
            figures(*_figures(ctx, judged)),
            Paragraph(lifts(ctx, judged.lift)),
        ),
        section(words("journey.packing"), packing, lead=hours, look="packing"),
    )


def lifts(ctx: PageContext, found: Lift) -> str:
    """Who lifts it, and the guidelines for one person and for two."""
    return lift_words(ctx.words, found, lambda kg: ctx.say.number(kg, 1, "kg"))


def weights_of(ctx: PageContext, found: Passenger) -> Iterator[Figure]:
    """What it weighs in the hands."""
    if (weights := found.weights) is None:
        return
    inputs = (found.coral.source, *(size.source for size in found.coral.sizes[-1:]))
    unit, factor = ("kg", 1.0) if weights.dripping.value >= 1.0 else ("g", 1000.0)
    for key, mass, method in (
        ("air", weights.air, "expected-mass"),
        ("dripping", weights.dripping, "lifting"),
        ("in_water", weights.in_water, "buoyant-weight"),
    ):
        if mass is not None:
            shown = ctx.say.estimate(mass.scaled(factor, unit))
            parts = one_cause("colony-mass", mass)
            why = why_of(ctx, method, tuple(dict.fromkeys(inputs)), parts, ctx.words.unit(unit), factor)
            yield Figure(ctx.words(f"sheet.weights.{key}"), shown, why, None)


def _figures(ctx: PageContext, judged: Journey) -> Iterator[Figure]:
    words = ctx.words

    def figure(key: str, shown: Shown, found: Finding, unit: str, note: str = "") -> Figure:
        inputs = tuple(dict.fromkeys((*judged.plan.inputs, *found.inputs)))
        return Figure(
            words(f"journey.figures.{key}"), shown, why_of(ctx, found.method, inputs, found.parts, unit), None, note
        )

    covered = "" if judged.covered else words("journey.to_the_brim")
    litres, kg, hours = (words.unit(unit) for unit in ("L", "kg", "h"))
    water = Finding(judged.water, "fit", (), one_cause("water-displaced", judged.water))
    yield figure("water", ctx.say.level("volume", judged.water), water, litres, covered)
    load = Finding(judged.lift.mass, "lifting", (), judged.load)
    yield figure("lift", ctx.say.estimate(judged.lift.mass, kg), load, kg)
    legs = len(judged.time_constant.inputs)
    learned = words("travel.learned", n=legs) if legs else words("travel.usual")
    arrives = ctx.say.level("temperature", judged.arrival.estimate)
    yield figure("arrival", arrives, judged.arrival, words.unit("°C"), learned)
    lasts = ctx.say.estimate(judged.oxygen.estimate, hours)
    yield figure("oxygen", lasts, judged.oxygen, hours, words("journey.still"))


def views(ctx: PageContext, number: int, judged: Journey) -> Group:
    """How it lies, from above and from the front."""
    plan, extent = judged.plan, judged.fit.extent
    captions = ctx.words("journey.views.above"), ctx.words("journey.views.front")
    fits = plain_text(verdict(ctx, judged))
    above, front = outlines(plan.colony, judged.fit.pose)
    inside = plan.container
    depth = min(plan.padding + extent.height + plan.cover, inside.height)

    def free(room: float) -> str:
        return ctx.words("journey.pose.free", room=_length(ctx, room))

    aside = free((inside.length - extent.length) / 2.0)

    faces = (
        Face(
            f"pose-{number}-above",
            f"{captions[0]}: {fits}",
            inside.length,
            inside.width,
            plan.padding,
            OvalOutline(above.half_long, above.half_short, above.turned, (extent.length / 2.0, extent.width / 2.0)),
            (_length(ctx, inside.length), _length(ctx, inside.width)),
            (aside, free((inside.width - extent.width) / 2.0)),
        ),
        Face(
            f"pose-{number}-front",
            f"{captions[1]}: {fits}",
            inside.length,
            inside.height,
            plan.padding,
            OvalOutline(front.half_long, front.half_short, front.turned, (extent.length / 2.0, extent.height / 2.0)),
            (_length(ctx, inside.length), _length(ctx, inside.height)),
            (aside, free(inside.height - plan.padding - extent.height)),
            water=depth,
            stands_on=plan.padding,
        ),
    )
    longest = max(inside.length, inside.width)
    drawn = (draw_pose(face, longest) for face in faces)
    return group("poses", *(Picture(svg, said, "pose") for svg, said in zip(drawn, captions, strict=True)))


def _length(ctx: PageContext, cm: float) -> str:
    return ctx.say.length(cm, fine=True)


def _measures(ctx: PageContext, *sides: float) -> str:
    return " × ".join(_length(ctx, side) for side in sides)


def place_facts(ctx: PageContext, found: Landing) -> Facts:
    """What a colony to come is and wants."""
    words, new = ctx.words, found.new
    return facts(
        (words("sheet.place.size"), _size(ctx, new)),
        (words("sheet.place.wants"), _wants(ctx, new, found)),
        (words("sheet.place.gap"), ctx.say.length(found.wish.safe)),
    )


def places_section(ctx: PageContext, name: str, told: Sequence[Suggestion], system: str | None) -> Section:
    """The places it could go to: where in each, its light and flow, what does not fit, and what must move."""
    words, title = ctx.words, ctx.words("sheet.place.places")
    heads = words.each("places.where", "sheet.place.fits", "sheet.place.moves")
    rows = tuple(place_row(ctx, place) for place in told)
    table = Table(f"{title}: {name}", heads, rows, "tall")
    method = joined(f"{words('why.method')}:", to_method(ctx, "place-for-a-colony"))
    return section(title, table or Paragraph(no_place_words(ctx, system)), Paragraph(method, "note how"))


def no_place_words(ctx: PageContext, system: str | None) -> str:
    """Why there is no place for it, in `system` if that is decided."""
    recorded = any(each.places for id, each in ctx.view.systems.items() if system in (None, id))
    return ctx.words(f"sheet.place.{'nowhere' if recorded else 'no_places'}")


def _size(ctx: PageContext, colony: Newcomer) -> str:
    """Its sides in the journal's unit, as all lengths of the page, whatever its keeper wrote; and its form."""
    sides = [side.canonical() for side in (colony.length, colony.width, colony.height) if side is not None]
    return f"{ctx.say.length(*sides)}, {ctx.words(f'forms.{colony.form}')}"


def _wants(ctx: PageContext, colony: Newcomer, found: Landing) -> str:
    words, wish = ctx.words, found.wish
    ends = dict.fromkeys(plain(words, end, 0) for end in (wish.light_low, wish.light_high) if end is not None)
    light = with_unit("–".join(ends), words.unit("PAR")) if ends else words("sheet.place.any_light")
    flow = words(f"flows.{colony.flow}") if colony.flow else words("sheet.place.any_flow")
    return f"{light}, {flow}"


def place_row(ctx: PageContext, found: Suggestion) -> tuple[Inline, Inline, Inline]:
    """A place: where it is, what a coral gets there, and what must move for it."""
    spot, place = found.spot, ctx.view.systems[found.spot.system].places[found.spot.place]
    turned = f", {ctx.words('sheet.place.turned')}" if spot.turned else ""
    return (
        joined(ctx.link(links.plan_of(spot.system), at_place(ctx, spot)), small(middle_of_spot(ctx, spot) + turned)),
        joined(say_light(ctx, place), *map(bold, misfits(ctx, found)), by=BREAK),
        moves_of(ctx, found) or ctx.words("places.free"),
    )


def moves_of(ctx: PageContext, found: Suggestion) -> Inline:
    """The corals that must move, and where each can go."""
    return joined(*(_move(ctx, move) for move in found.moves), by=BREAK)


def _move(ctx: PageContext, move: Move) -> Inline:
    """A coral that must move, and where it can go."""
    to = ctx.words("sheet.place.stuck") if move.to is None else just_where(ctx, move.to)
    return joined(ctx.to_coral(move.coral), to, by=" → ")


def caring(ctx: PageContext, found: Care, partner: str) -> Iterator[Inline]:
    """How it is brought in, in the order of doing; `partner` is who keeps it now."""
    words, of = ctx.words, "sheet.care.move" if found.home else "sheet.care"
    home = ctx.view.systems[found.home].name if found.home else ""
    yield from _acclimation(ctx, found.acclimation)
    yield words(f"{of}.dip")
    if found.home is None and found.quarantined is not None:
        yield words("sheet.care.quarantined", n=round(found.quarantined), who=partner)
    elif found.home is None:
        yield words("sheet.care.quarantine")
    elif not (found.newest or found.waiting or found.brought):
        yield words(f"{of}.nothing", home=home)
    if found.waiting:
        yield words(f"{of}.waiting", names=", ".join(ctx.to_coral(each.id).text for each in found.waiting))
    if found.newest:
        name, day = ctx.to_coral(found.newest.id).text, ctx.say.on(found.newest.arrival.at)
        yield words(f"{of}.newest", name=name, home=home, day=day)
    if found.brought:
        seen = ((each.coral, each.said or words(f"health.{each.health}")) for each in found.brought)
        lines = (f"– {': '.join(filter(None, told)).rstrip('.')}." for told in seen)
        yield joined(words(f"{of}.brought", home=home), *lines, by=BREAK)


def _acclimation(ctx: PageContext, found: Acclimation) -> Iterator[str]:
    words = ctx.words
    if found.ammonia:
        yield words("sheet.care.ammonia")
    apart = []
    if found.temperature is not None:
        by = ctx.display.change("temperature", abs(found.temperature))
        side = "warmer" if found.temperature > 0 else "colder"
        apart.append(words(f"sheet.care.{side}", by=ctx.say.number(by, 1, ctx.display.unit("temperature"))))
    if found.salinity is not None:
        side = "saltier" if found.salinity > 0 else "fresher"
        by, unit = ctx.display.change("salinity", abs(found.salinity)), ctx.display.unit("salinity")
        apart.append(words(f"sheet.care.{side}", by=ctx.say.number(by, 4 if unit.startswith("sg ") else 1, unit)))
    minutes = ctx.say.number(found.minutes, 0, "min")
    if apart:
        yield words("sheet.care.acclimate", apart=", ".join(apart), minutes=minutes)
    else:
        yield words("sheet.care.acclimate_unknown", minutes=minutes)


def spot_words(ctx: PageContext, name: str, places: Sequence[Suggestion]) -> str:
    """Where the coral of that name goes; "" if there is no place."""
    if not places:
        return ""
    key = "sheet.steps.then" if places[0].moves else "sheet.steps.there"
    return ctx.words(key, name=name, to=just_where(ctx, places[0].spot))


def lighting(ctx: PageContext, found: FirstLight) -> Iterator[str]:
    """The light of the first day, and the steps up."""
    words = ctx.words

    def par(value: float) -> str:
        return ctx.say.number(value, 0, "PAR")

    if found.place is None or found.used_to is None:
        yield words("sheet.light.unknown")
        return
    yield words("sheet.light.used" if found.told else "sheet.light.used_guess", par=par(found.used_to))
    if not found.steps:
        yield words("sheet.light.at_once", par=par(sum(found.place) / 2.0))
        return
    for step in found.steps:
        yield words("sheet.light.step", day=ctx.then.say.on(step.since), par=par(step.par))
