"""The day of a plan step by step: papers, how it is brought in, where it could go and what moves, its light."""

from collections.abc import Iterator

from markupsafe import Markup

from generator.reckon.growth.places import Move, Suggestion
from generator.reckon.growth.spots import Spot
from generator.reckon.planned.analysis import PlanFindings
from generator.reckon.planned.care import Acclimation, Care
from generator.reckon.planned.landing import FirstLight, Landing
from generator.records.planned import Newcomer
from generator.render.base import links
from generator.render.base.blocks import Facts, Paragraph, Section, Table, facts, section
from generator.render.base.context import Desk
from generator.render.base.inline import Inline, bold, joined, small
from generator.render.base.numbers import NBSP, plain, with_unit
from generator.render.base.why import to_method
from generator.render.pages.plan import say_light

_BREAK = Markup("<br>")


def place_facts(desk: Desk, found: Landing) -> Facts:
    """What a colony to come is and wants."""
    words, new = desk.words, found.new
    return facts(
        (words("sheet.place.size"), _size(desk, new)),
        (words("sheet.place.wants"), _wants(desk, new, found)),
        (words("sheet.place.gap"), desk.say.length(found.wish.safe)),
    )


def places(desk: Desk, found: Landing) -> Section:
    """The places it could go to: where in each, its light and flow, what does not fit, and what must move."""
    words, title = desk.words, desk.words("sheet.place.places")
    heads = words.each("places.where", "sheet.place.fits", "sheet.place.moves")
    rows = tuple(_place(desk, place) for place in found.places)
    table = Table(f"{title}: {found.new.name}", heads, rows, "tall")
    method = joined(f"{words('why.method')}:", to_method(desk, "place-for-a-colony"))
    return section(title, table or Paragraph(words("sheet.place.nowhere")), Paragraph(method, "note how"))


def _size(desk: Desk, colony: Newcomer) -> str:
    """Its sides as written, held together, its form, and its mass if somebody weighed it."""
    words = desk.words
    sides = [side for side in (colony.length, colony.width, colony.height) if side is not None]
    said = [f"{NBSP}×{NBSP}".join(desk.say.written(side) for side in sides), words(f"forms.{colony.form}")]
    return ", ".join([*said, *([desk.say.written(colony.mass)] if colony.mass else [])])


def _wants(desk: Desk, colony: Newcomer, found: Landing) -> str:
    words, wish = desk.words, found.wish
    ends = dict.fromkeys(plain(words, end, 0) for end in (wish.light_low, wish.light_high) if end is not None)
    light = with_unit("–".join(ends), words.unit("PAR")) if ends else words("sheet.place.any_light")
    return f"{light}, {words(f'flows.{colony.flow}') if colony.flow else words('sheet.place.any_flow')}"


def _place(desk: Desk, found: Suggestion) -> tuple[Inline, ...]:
    spot, place = found.spot, desk.view.systems[found.spot.system].places[found.spot.place]
    turned = f", {desk.words('sheet.place.turned')}" if spot.turned else ""
    moves = joined(*(_move(desk, move) for move in found.moves), by=_BREAK)
    return (
        joined(desk.link(links.plan_of(spot.system), at_place(desk, spot)), small(middle(desk, spot) + turned)),
        joined(say_light(desk, place), *map(bold, _misfits(desk, found)), by=_BREAK),
        moves or desk.words("places.free"),
    )


def _misfits(desk: Desk, found: Suggestion) -> Iterator[str]:
    words = desk.words
    if found.light_off:
        much = "too_bright" if found.light_off > 0 else "too_dim"
        yield words(f"sheet.place.{much}", by=with_unit(plain(words, abs(found.light_off), 0), words.unit("PAR")))
    if found.flow_fits is False:
        yield words("sheet.place.wrong_flow")
    if found.too_tall:
        yield words("sheet.place.too_tall", by=desk.say.length(found.too_tall))
    if found.unplaced:
        yield words("sheet.place.in_the_way", corals=", ".join(desk.to_coral(id).text for id in found.unplaced))


def _move(desk: Desk, move: Move) -> Inline:
    """A coral that must move, and where it can go."""
    to = desk.words("sheet.place.stuck") if move.to is None else f"{at_place(desk, move.to)}, {middle(desk, move.to)}"
    return joined(desk.to_coral(move.coral), to, by=" → ")


def at_place(desk: Desk, spot: Spot) -> str:
    """A place with its system."""
    return desk.words("corals.at_place", place=spot.place, system=desk.view.systems[spot.system].name)


def middle(desk: Desk, spot: Spot) -> str:
    """How far a spot is from the left and the front of its place."""
    place = desk.view.systems[spot.system].places[spot.place]
    left, front = spot.x - place.x.canonical(), spot.y - place.y.canonical()
    x, y = (desk.say.length(cm) for cm in (left, front))
    return desk.words("sheet.place.middle", x=x, y=y)


def papers(desk: Desk, found: PlanFindings) -> Iterator[str]:
    """What to have on paper before anybody leaves."""
    words = desk.words
    if any(each.way != "moving" for each in found.passengers):
        yield words("sheet.papers.authority")
        yield words("sheet.papers.border")
    for new in found.plan.coming:
        yield words("sheet.papers.told" if _papered(new) else "sheet.papers.ask", name=new.name)
    for given in found.plan.going:
        yield words("sheet.papers.give", name=desk.to_coral(given.coral).text)


def _papered(new: Newcomer) -> bool:
    return new.origin is not None and (new.origin.permit is not None or new.origin.source_code is not None)


def caring(desk: Desk, found: Care) -> Iterator[str]:
    """How it is brought in, in the order of doing."""
    words, acclimation = desk.words, found.acclimation
    yield from _acclimation(desk, acclimation)
    yield words("sheet.care.dip")
    if found.quarantined is not None:
        yield words("sheet.care.quarantined", n=round(found.quarantined))
    else:
        yield words("sheet.care.quarantine")
    if found.brought:
        told = "; ".join(said for said, _ in found.brought)
        yield words("sheet.care.brought", told=told)


def _acclimation(desk: Desk, found: Acclimation) -> Iterator[str]:
    words = desk.words
    if found.ammonia:
        yield words("sheet.care.ammonia")
    apart = []
    if found.temperature is not None:
        by = desk.display.change("temperature", abs(found.temperature))
        side = "warmer" if found.temperature > 0 else "colder"
        unit = words.unit(desk.display.unit("temperature"))
        apart.append(words(f"sheet.care.{side}", by=with_unit(plain(words, by, 1), unit)))
    if found.salinity is not None:
        side = "saltier" if found.salinity > 0 else "fresher"
        apart.append(words(f"sheet.care.{side}", by=with_unit(plain(words, abs(found.salinity), 1), words.unit("psu"))))
    minutes = with_unit(str(found.minutes), words.unit("min"))
    if apart:
        yield words("sheet.care.acclimate", apart=", ".join(apart), minutes=minutes)
    else:
        yield words("sheet.care.acclimate_unknown", minutes=minutes)


def placing(desk: Desk, found: Landing) -> Iterator[str]:
    """What moves first and where to, in order, and where the newcomer goes then."""
    words = desk.words
    if not found.places:
        return
    best: Suggestion = found.places[0]
    for move in best.moves:
        name = desk.to_coral(move.coral).text
        if move.to is None:
            yield words("sheet.steps.stuck", name=name)
        else:
            yield words("sheet.steps.move", name=name, to=f"{at_place(desk, move.to)}, {middle(desk, move.to)}")
    spot = f"{at_place(desk, best.spot)}, {middle(desk, best.spot)}"
    yield words("sheet.steps.then" if best.moves else "sheet.steps.there", name=found.new.name, to=spot)


def lighting(desk: Desk, found: FirstLight) -> Iterator[str]:
    """The light of the first day, and the steps up."""
    words = desk.words

    def par(value: float) -> str:
        return f"{plain(words, value, 0)}{NBSP}{words.unit('PAR')}"

    if found.place is None or found.used_to is None:
        yield words("sheet.light.unknown")
        return
    yield words("sheet.light.used" if found.told else "sheet.light.used_guess", par=par(found.used_to))
    if not found.steps:
        yield words("sheet.light.at_once", par=par(sum(found.place) / 2.0))
        return
    for step in found.steps:
        yield words("sheet.light.step", day=desk.say.on(step.since), par=par(step.par))
