"""A planned trip: how the colony lies, what it needs, what can go wrong, what to pack."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from markupsafe import Markup

from generator.reckon.finding import CannotTell, Finding, one_cause
from generator.reckon.trade.coming import Coming
from generator.reckon.trade.fit import outlines
from generator.reckon.trade.journey import Journey
from generator.render import links
from generator.render.drawings import pose
from generator.render.numbers import (
    Shown,
    plain,
    say_canonical,
    say_estimate,
    say_length,
    say_level,
    say_written,
    with_unit,
)
from generator.render.pages.deals import Promise, promise
from generator.render.pages.desk import Desk, Frame, Link, frame, section_crumb
from generator.render.pages.travel import say_hours
from generator.render.pages.why import Cannot, Figure, cannot, to_method, why_of


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
class JourneyPage:
    """One planned trip."""

    frame: Frame
    title: str
    coral: Link
    promise: Promise
    plan: tuple[tuple[str, str], ...]
    shown: JourneyShown | None
    cannot: Cannot | None
    cautions: tuple[str, ...]
    methods: tuple[Link, ...]


def journey_page(desk: Desk, trip: Coming) -> JourneyPage:
    """The page of one planned trip."""
    words, judged = desk.words, trip.judged
    coral = desk.to_coral(trip.coral)
    trade = desk.view.trades[trip.trade]
    title = words("travel.to_come", coral=coral.text)
    crumbs = section_crumb(desk, "trades"), desk.link(links.TRAVEL, words("travel.title"))
    cautions = judged.cautions if isinstance(judged, Journey) else ("cites", "no-release")
    return JourneyPage(
        frame(desk, title, words("journey.description", coral=coral.text), "trades", *crumbs),
        title,
        coral,
        # Without the way to this very page.
        replace(promise(desk, trade, trip.number, trip.owed), journey=None),
        tuple(_plan(desk, trip)),
        _shown(desk, judged) if isinstance(judged, Journey) else None,
        cannot(words, judged) if isinstance(judged, CannotTell) else None,
        tuple(words(f"cautions.{id}") for id in cautions),
        tuple(to_method(desk, id) for id in ("journey", "fit", "lifting", "cooling", "oxygen", "packing")),
    )


def _plan(desk: Desk, trip: Coming) -> Iterator[tuple[str, str]]:
    words, judged = desk.words, trip.judged
    yield words("trades.travel"), say_hours(desk, trip.travel.duration.canonical())
    if trip.travel.container:
        yield words("trades.container"), trip.travel.container
    if trip.travel.distance:
        yield words("trades.distance"), say_written(words, trip.travel.distance)
    if trip.travel.packing:
        yield words("journey.packed"), trip.travel.packing
    if isinstance(judged, Journey):
        sides, inside = judged.plan.colony, judged.plan.container
        yield words("journey.colony"), _measures(desk, sides.length, sides.width, sides.height)
        yield words("journey.inside"), _measures(desk, inside.length, inside.width, inside.height)
        yield words("journey.padding"), _length(desk, judged.plan.padding)
        yield words("journey.start"), say_canonical(desk.display, words, "temperature", judged.plan.start)
        yield words("journey.air"), say_canonical(desk.display, words, "temperature", judged.plan.air[0])


def _shown(desk: Desk, judged: Journey) -> JourneyShown:
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
        _views(desk, judged),
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
        words(
            f"journey.lifts.{judged.lift.judgement}",
            limit=with_unit(plain(desk.words, judged.lift.limit, 0), words.unit("kg")),
        ),
        tuple(words(f"packing.{item.id}") for item in judged.packing),
        words("journey.packing_note", hours=say_hours(desk, judged.plan.hours)),
    )


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


def _views(desk: Desk, judged: Journey) -> tuple[tuple[Markup, str], ...]:
    plan, extent = judged.plan, judged.fit.extent
    captions = desk.words("journey.views.above"), desk.words("journey.views.front")
    above, front = outlines(plan.colony, judged.fit.pose)
    inside = plan.container
    depth = min(plan.padding + extent.height + plan.cover, inside.height)

    def gap(room: float, taken: float) -> str:
        return _length(desk, (room - taken) / 2.0)

    faces = (
        pose.Face(
            "pose-above",
            captions[0],
            inside.length,
            inside.width,
            plan.padding,
            pose.Shape(above.half_long, above.half_short, above.turned, (extent.length / 2.0, extent.width / 2.0)),
            (_length(desk, inside.length), _length(desk, inside.width)),
            (gap(inside.length, extent.length), gap(inside.width, extent.width)),
        ),
        pose.Face(
            "pose-front",
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
