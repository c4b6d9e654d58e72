"""The day of a plan step by step: papers, how it is brought in, where it could go and what moves, its light."""

from collections.abc import Iterator, Sequence

from generator.reckon.growth.places import Move, Suggestion
from generator.reckon.planned.analysis import PlanFindings
from generator.reckon.planned.landing import FirstLight, Landing
from generator.reckon.planned.settling import Acclimation, Care
from generator.records.trade import Newcomer
from generator.render.base import links
from generator.render.base.blocks import Facts, Paragraph, Section, Table, facts, section
from generator.render.base.context import PageContext
from generator.render.base.links import BREAK, Inline, bold, joined, small
from generator.render.base.numbers import listed, plain, with_unit
from generator.render.base.why import to_method
from generator.render.pages.room import at_place, just_where, middle_of_spot, misfits, say_light


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


def papers_needed(ctx: PageContext, found: PlanFindings) -> Iterator[str]:
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
        seen = (f"– {said.rstrip('.')}." for said, _ in found.brought)
        yield joined(words(f"{of}.brought", home=home), *seen, by=BREAK)


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
        apart.append(words(f"sheet.care.{side}", by=ctx.say.number(abs(found.salinity), 1, "psu")))
    minutes = ctx.say.number(found.minutes, 0, "min")
    if apart:
        yield words("sheet.care.acclimate", apart=", ".join(apart), minutes=minutes)
    else:
        yield words("sheet.care.acclimate_unknown", minutes=minutes)


def moving_first(ctx: PageContext, places: Sequence[Suggestion]) -> Iterator[str]:
    """What moves before a coral gets the best of its places, and where to, in order."""
    words = ctx.words
    for move in places[0].moves if places else ():
        other = ctx.to_coral(move.coral).text
        if move.to is None:
            yield words("sheet.steps.stuck", name=other)
        else:
            yield words("sheet.steps.move", name=other, to=just_where(ctx, move.to))


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
