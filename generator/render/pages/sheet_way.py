"""A colony on its journey: how it lies, what it needs, what can go wrong, what to pack."""

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from generator.reckon.finding import CannotTell, Finding, one_cause
from generator.reckon.planned.trip import Passenger
from generator.reckon.trade.carrying import Lift
from generator.reckon.trade.fit import outlines
from generator.reckon.trade.journey import Journey
from generator.render.blocks import Figure
from generator.render.drawings import pose
from generator.render.inline import Cannot, Link
from generator.render.numbers import (
    Shown,
    plain,
    say_canonical,
    say_estimate,
    say_length,
    say_level,
    with_unit,
)
from generator.render.pages.desk import Desk
from generator.render.pages.travel import say_hours
from generator.render.pages.why import cannot, why_of


@dataclass(frozen=True, slots=True)
class RiskRow:
    """One thing that can go wrong, and how likely it is to."""

    name: str
    level: str
    look: str
    reason: str


@dataclass(frozen=True, slots=True)
class JourneyShown:
    """A judged journey in words, numbers and two pictures."""

    verdict: str
    pose: str
    views: tuple[tuple[Markup, str], ...]
    risks: tuple[RiskRow, ...]
    figures: tuple[Figure, ...]
    lifting: str
    packing: tuple[str, ...]
    why_packing: str


@dataclass(frozen=True, slots=True)
class PassengerShown:
    """One colony on the way: what it is, how it lies in its container, and what can go wrong."""

    coral: Link
    what: str
    weights: tuple[Figure, ...]
    by_hand: str
    facts: tuple[tuple[str, str], ...]
    shown: JourneyShown | None
    cannot: Cannot | None


def passenger_shown(desk: Desk, number: int, found: Passenger) -> PassengerShown:
    """A colony on the way, the `number`-th on its page; one that is not here yet has no page to lead to."""
    words, coral, judged = desk.words, found.coral, found.judged
    what = words(f"sheet.way.{found.way}" if found.whole else "sheet.way.piece")
    return PassengerShown(
        Link(coral.name) if found.way == "coming" else desk.to_coral(coral.id),
        f"{what}, {coral.species}",
        tuple(_weights(desk, found)),
        _lifts(desk, found.weights.lift) if found.weights else "",
        tuple(_facts(desk, judged)) if isinstance(judged, Journey) else (),
        _shown(desk, number, judged) if isinstance(judged, Journey) else None,
        cannot(words, judged) if isinstance(judged, CannotTell) else None,
    )


def _facts(desk: Desk, judged: Journey) -> Iterator[tuple[str, str]]:
    words, sides, inside = desk.words, judged.plan.colony, judged.plan.container
    yield words("journey.colony"), _measures(desk, sides.length, sides.width, sides.height)
    yield words("journey.inside"), _measures(desk, inside.length, inside.width, inside.height)
    yield words("journey.padding"), _length(desk, judged.plan.padding)
    yield words("journey.start"), say_canonical(desk.display, words, "temperature", judged.plan.start)
    yield words("journey.air"), say_canonical(desk.display, words, "temperature", judged.plan.air[0])


def _shown(desk: Desk, number: int, judged: Journey) -> JourneyShown:
    words, fitted = desk.words, judged.fit
    how = "flat" if fitted.pose.tilt == 0.0 else "tilted"
    said = words(f"journey.pose.{how}", tilt=f"{fitted.pose.tilt:.0f}°")
    if fitted.pose.turn:
        said = words("journey.pose.turned", pose=said, turn=f"{fitted.pose.turn:.0f}°")
    verdict = "fits" if fitted.fits else "wanting"
    corners = f" {words('journey.corners')}" if fitted.fits and fitted.clearance_of_box < 0.0 else ""
    return JourneyShown(
        words(f"journey.{verdict}", room=_length(desk, abs(fitted.clearance))) + corners,
        said,
        _views(desk, number, judged),
        tuple(
            RiskRow(
                words(f"risks.{risk.id}.name"),
                words(f"risks.levels.{risk.level}"),
                risk.level,
                words(f"risks.{risk.id}.{risk.level}"),
            )
            for risk in judged.risks
        ),
        tuple(_figures(desk, judged)),
        _lifts(desk, judged.lift),
        tuple(words(f"packing.{each.item}") for each in judged.packing),
        words("journey.packing_note", hours=say_hours(desk, judged.plan.hours)),
    )


def _lifts(desk: Desk, found: Lift) -> str:
    """Who lifts it, and the guidelines for one person and for two."""
    limit, of_two = (
        with_unit(plain(desk.words, each, 0), desk.words.unit("kg")) for each in (found.limit, found.of_two)
    )
    return desk.words(f"journey.lifts.{found.judgement}", limit=limit, of_two=of_two)


def _weights(desk: Desk, found: Passenger) -> Iterator[Figure]:
    """What it weighs in the hands."""
    if (weights := found.weights) is None:
        return
    inputs = (found.coral.source, *(size.source for size in found.coral.sizes[-1:]))
    for key, mass, method in (
        ("air", weights.air, "expected-mass"),
        ("dripping", weights.dripping, "lifting"),
        ("in_water", weights.in_water, "buoyant-weight"),
    ):
        if mass is not None:
            unit, factor = ("kg", 1.0) if mass.value >= 1.0 else ("g", 1000.0)
            shown = say_estimate(desk.words, mass.scaled(factor, unit), desk.words.unit(unit))
            parts = one_cause("colony-mass", mass)
            why = why_of(desk, method, tuple(dict.fromkeys(inputs)), parts, desk.words.unit(unit), factor)
            yield Figure(desk.words(f"sheet.weights.{key}"), shown, why, None)


def _figures(desk: Desk, judged: Journey) -> Iterator[Figure]:
    words, display = desk.words, desk.display

    def figure(key: str, shown: Shown, found: Finding, unit: str, note: str = "") -> Figure:
        inputs = tuple(dict.fromkeys((*judged.plan.inputs, *found.inputs)))
        return Figure(
            words(f"journey.figures.{key}"), shown, why_of(desk, found.method, inputs, found.parts, unit), None, note
        )

    covered = "" if judged.covered else words("journey.to_the_brim")
    litres, kg, hours = (words.unit(unit) for unit in ("L", "kg", "h"))
    water = Finding(judged.water, "fit", (), one_cause("water-displaced", judged.water))
    yield figure("water", say_level(display, words, "volume", judged.water), water, litres, covered)
    load = Finding(judged.lift.mass, "lifting", (), judged.load)
    yield figure("lift", say_estimate(words, judged.lift.mass, kg), load, kg)
    legs = len(judged.time_constant.inputs)
    learned = words("travel.learned", n=legs) if legs else words("travel.usual")
    arrives = say_level(display, words, "temperature", judged.arrival.estimate)
    yield figure("arrival", arrives, judged.arrival, words.unit("°C"), learned)
    lasts = say_estimate(words, judged.oxygen.estimate, hours)
    yield figure("oxygen", lasts, judged.oxygen, hours, words("journey.still"))


def _views(desk: Desk, number: int, judged: Journey) -> tuple[tuple[Markup, str], ...]:
    plan, extent = judged.plan, judged.fit.extent
    captions = desk.words("journey.views.above"), desk.words("journey.views.front")
    above, front = outlines(plan.colony, judged.fit.pose)
    inside = plan.container
    depth = min(plan.padding + extent.height + plan.cover, inside.height)

    def gap(room: float, taken: float) -> str:
        return _length(desk, (room - taken) / 2.0)

    faces = (
        pose.Face(
            f"pose-{number}-above",
            captions[0],
            inside.length,
            inside.width,
            plan.padding,
            pose.Shape(above.half_long, above.half_short, above.turned, (extent.length / 2.0, extent.width / 2.0)),
            (_length(desk, inside.length), _length(desk, inside.width)),
            (gap(inside.length, extent.length), gap(inside.width, extent.width)),
        ),
        pose.Face(
            f"pose-{number}-front",
            captions[1],
            inside.length,
            inside.height,
            plan.padding,
            pose.Shape(front.half_long, front.half_short, front.turned, (extent.length / 2.0, extent.height / 2.0)),
            (_length(desk, inside.length), _length(desk, inside.height)),
            (
                gap(inside.length, extent.length),
                _length(desk, inside.height - plan.padding - extent.height),
            ),
            water=depth,
            stands_on=plan.padding,
        ),
    )
    longest = max(inside.length, inside.width)
    return tuple((Markup(pose.draw(face, longest)), said) for face, said in zip(faces, captions, strict=True))


def _length(desk: Desk, cm: float) -> str:
    return say_length(desk.display, desk.words, cm, fine=True)


def _measures(desk: Desk, *sides: float) -> str:
    return " × ".join(_length(desk, side) for side in sides)
