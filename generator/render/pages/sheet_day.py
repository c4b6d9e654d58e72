"""The day of a plan step by step: papers to ask for, how it is brought in, what moves first, its first light."""

from collections.abc import Iterator

from generator.reckon.growth.places import Suggestion
from generator.reckon.planned.care import Acclimation, Care
from generator.reckon.planned.landing import FirstLight, Landing
from generator.reckon.planned.survey import PlanFindings
from generator.records.planned import Newcomer
from generator.render.numbers import NBSP, plain, with_unit
from generator.render.pages.desk import Desk
from generator.render.pages.sheet_place import at_place, middle


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
