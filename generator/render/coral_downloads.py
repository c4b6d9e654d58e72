"""The data files about corals: growth, lines, places, survival. Their columns are in `downloads`."""

from collections.abc import Iterator, Sequence
from datetime import date

from generator.reckon.finding import Answer, Finding
from generator.reckon.growth.corals import CoralFindings
from generator.reckon.growth.room import RoomFindings, Standing
from generator.reckon.survey import Findings
from generator.records.source import Source
from generator.records.system import Place
from generator.render.audience import View
from generator.render.downloads import GROWTH, LINES, PLACES, SURVIVAL, Cell, csv_of
from generator.render.numbers import Display
from generator.units.quantity import coverage_factor

Rows = Iterator[Sequence[Cell]]


def coral_downloads(view: View, found: Findings, display: Display) -> dict[str, bytes]:
    """Every data file about corals, by its address, with only what the view shows."""
    today = found.as_of.astimezone(display.zone).date()
    return {
        GROWTH.address: csv_of(GROWTH, _growth(view, found)),
        LINES.address: csv_of(LINES, _lines(view, found)),
        PLACES.address: csv_of(PLACES, _places(view, found, today)),
        SURVIVAL.address: csv_of(SURVIVAL, _survival(found)),
    }


def _growth(view: View, found: Findings) -> Rows:
    for id in view.corals:
        if id in found.corals:
            yield from _of_coral(id, found.corals[id])


def _of_coral(id: str, found: CoralFindings) -> Rows:
    growth = found.growth
    for weight in growth.weighed:
        yield _measured(id, weight.at, weight.kind, weight.grams, weight.standard, "g", weight.inputs[0])
    for point in growth.radii:
        yield _measured(id, point.at, "diameter", 2.0 * point.value, 2.0 * point.standard, "cm", point.source)
    reckoned: tuple[tuple[str, Answer], ...] = (
        (f"{growth.specific_of}-rate", growth.specific),
        (f"{growth.specific_of}-rate-ahead", growth.specific_ahead),
        ("radial-extension", growth.radial_extension),
        ("radial-extension-ahead", found.extension),
    )
    for what, answer in reckoned:
        if isinstance(answer, Finding):
            told = answer.estimate
            yield id, growth.as_of.isoformat(), what, told.value, told.low, told.high, told.unit, None


def _measured(id: str, at: date, what: str, value: float, standard: float, unit: str, source: Source) -> Sequence[Cell]:
    half = coverage_factor() * standard
    return id, at.isoformat(), what, value, max(0.0, value - half), value + half, unit, str(source)


def _lines(view: View, found: Findings) -> Rows:
    risks = {risk.line: risk.by for risk in found.at_risk}
    for line, family in found.families.items():
        for piece in family.pieces.values():
            if piece.coral in view.corals:
                yield (
                    line,
                    piece.coral,
                    piece.parent if piece.parent in view.corals else None,
                    f"{piece.depth}",
                    piece.fate,
                    piece.system if piece.system in view.systems else None,
                    piece.since.isoformat(),
                    piece.until.isoformat() if piece.until else None,
                    risks.get(line),
                )


def _places(view: View, found: Findings, today: date) -> Rows:
    for id, room in found.rooms.items():
        if id not in view.systems:
            continue
        places = view.systems[id].places
        for each in sorted(room.standing, key=lambda each: (each.place, each.coral.id)):
            stands = view.corals[each.coral.id].placement_on(today) if each.coral.id in view.corals else None
            if stands is not None and stands.system == id:
                yield _standing(view, room, each, places[each.place])


def _standing(view: View, room: RoomFindings, each: Standing, place: Place) -> Sequence[Cell]:
    light = sorted(end.canonical() for end in (place.light, place.light_to) if end is not None)
    leaves = next((leaving.leaves for leaving in room.leaving if leaving.coral == each.coral.id), None)
    near = next((m for m in room.meetings if each.coral.id in (m.one, m.other) and _seen(view, m.one, m.other)), None)
    neighbour = None if near is None else near.other if near.one == each.coral.id else near.one
    return (
        room.system,
        each.part,
        each.place,
        each.coral.id,
        each.x,
        each.y,
        each.spread.body.length,
        each.spread.body.width,
        light[0] if light else None,
        light[-1] if light else None,
        _day(leaves.earliest if leaves else None),
        _day(leaves.likely if leaves else None),
        _day(leaves.latest if leaves else None),
        neighbour,
        _day(near.touch.likely if near else None),
    )


def _seen(view: View, *ids: str) -> bool:
    return all(id in view.corals for id in ids)


def _day(on: date | None) -> str | None:
    return on.isoformat() if on else None


def _survival(found: Findings) -> Rows:
    for group in found.survival:
        for horizon in group.horizons:
            told = horizon.survival.estimate if isinstance(horizon.survival, Finding) else None
            yield (
                group.by,
                group.name,
                f"{group.arrivals}",
                f"{group.lost}",
                f"{horizon.days}",
                f"{horizon.at_risk}",
                told.value if told else None,
                told.low if told else None,
                told.high if told else None,
            )
