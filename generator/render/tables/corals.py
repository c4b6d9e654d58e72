"""The tables about corals: all of them, their growth, lines, places and survival; and of trades and trips."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from generator.reckon.finding import Answer, Finding
from generator.reckon.growth.corals import CoralFindings
from generator.reckon.growth.room import Leaving, Meeting, RoomFindings, Standing
from generator.reckon.growth.spots import light_ends
from generator.reckon.lineage.family import Piece
from generator.reckon.lineage.survival import GroupSurvival, Horizon
from generator.reckon.trade.analysis import Outcome
from generator.records.coral import Coral, Placement
from generator.records.fields import Money
from generator.records.source import Source
from generator.records.trade import Trade
from generator.render.tables.column import Basis, Column, Table, interval_columns
from generator.units.quantity import Estimate, coverage_factor


class _Now(NamedTuple):
    coral: Coral
    living: bool
    stands: Placement | None


class _Grown(NamedTuple):
    coral: str
    at: date
    what: str
    size: Estimate
    source: Source | None = None


class _InLine(NamedTuple):
    line: str
    piece: Piece
    depends_on: str | None


class _Stands(NamedTuple):
    system: str
    each: Standing
    light: list[float]
    leaving: Leaving | None
    meeting: Meeting | None


class _Survived(NamedTuple):
    group: GroupSurvival
    horizon: Horizon
    share: Estimate | None


def _corals(basis: Basis, _: str) -> Iterator[_Now]:
    for coral in basis.view.corals.values():
        yield _Now(coral, coral.lives_on(basis.today), coral.placement_on(basis.today))


def _growth(basis: Basis, _: str) -> Iterator[_Grown]:
    for id in basis.view.corals:
        if id in basis.found.corals:
            yield from _of_coral(id, basis.found.corals[id])


def _of_coral(id: str, found: CoralFindings) -> Iterator[_Grown]:
    growth = found.growth
    for weight in growth.weighed:
        yield _Grown(id, weight.at, weight.kind, _measured(weight.grams, weight.standard, "g"), weight.inputs[0])
    for point in growth.radii:
        diameter = _measured(2.0 * point.value, 2.0 * point.standard, "cm")
        yield _Grown(id, point.at, "diameter", diameter, point.source)
    calculated: tuple[tuple[str, Answer], ...] = (
        (f"{growth.specific_of}-rate", growth.specific),
        (f"{growth.specific_of}-rate-ahead", growth.specific_ahead),
        ("radial-extension", growth.radial_extension),
        ("radial-extension-ahead", found.extension),
    )
    for what, answer in calculated:
        if isinstance(answer, Finding):
            yield _Grown(id, growth.as_of, what, answer.estimate)


def _measured(value: float, standard: float, unit: str) -> Estimate:
    half = coverage_factor() * standard
    return Estimate(value, max(0.0, value - half), value + half, unit)


def _lines(basis: Basis, _: str) -> Iterator[_InLine]:
    risks = {risk.line: risk.by for risk in basis.found.at_risk}
    for line, family in basis.found.families.items():
        for piece in family.pieces.values():
            yield _InLine(line, piece, risks.get(line))


def _places(basis: Basis, _: str) -> Iterator[_Stands]:
    view = basis.view
    for id, room in basis.found.rooms.items():
        for each in sorted(room.standing, key=lambda each: (each.place, each.coral.id)):
            light = light_ends(view.systems[id].places[each.place])
            yield _Stands(id, each, light, _leaving(room, each), _meeting(room, each))


def _leaving(room: RoomFindings, each: Standing) -> Leaving | None:
    return next((leaving for leaving in room.leaving if leaving.coral == each.coral.id), None)


def _meeting(room: RoomFindings, each: Standing) -> Meeting | None:
    """The first meeting with a neighbour."""
    return next((meeting for meeting in room.meetings if each.coral.id in (meeting.one, meeting.other)), None)


def _survival(basis: Basis, _: str) -> Iterator[_Survived]:
    for group in basis.found.survival:
        for horizon in group.horizons:
            share = horizon.survival.estimate if isinstance(horizon.survival, Finding) else None
            yield _Survived(group, horizon, share)


CORALS = Table(
    "corals",
    _corals,
    (
        Column("id", lambda row: row.coral.id),
        Column("name", lambda row: row.coral.name),
        Column("species", lambda row: row.coral.species),
        Column("line", lambda row: row.coral.line),
        Column("parent", lambda row: row.coral.parent),
        Column("form", lambda row: row.coral.form),
        Column("arrived", lambda row: row.coral.arrival.at, "date"),
        Column("how", lambda row: row.coral.arrival.how),
        Column("living", lambda row: row.living, "boolean"),
        Column("system", lambda row: row.stands.system if row.stands else None),
        Column("place", lambda row: row.stands.place if row.stands else None),
        Column("source", lambda row: row.coral.source),
    ),
)
GROWTH = Table(
    "growth",
    _growth,
    (
        Column("coral", lambda row: row.coral),
        Column("at", lambda row: row.at, "date"),
        Column("what", lambda row: row.what),
        *interval_columns("value", lambda row: row.size),
        Column("unit", lambda row: row.size.unit),
        Column("source", lambda row: row.source),
    ),
)
LINES = Table(
    "lines",
    _lines,
    (
        Column("line", lambda row: row.line),
        Column("coral", lambda row: row.piece.coral),
        Column("parent", lambda row: row.piece.parent),
        Column("depth", lambda row: row.piece.depth, "integer"),
        Column("fate", lambda row: row.piece.fate),
        Column("system", lambda row: row.piece.system),
        Column("since", lambda row: row.piece.since, "date"),
        Column("until", lambda row: row.piece.until, "date"),
        Column("depends_on", lambda row: row.depends_on),
    ),
)
PLACES = Table(
    "places",
    _places,
    (
        Column("system", lambda row: row.system),
        Column("part", lambda row: row.each.part),
        Column("place", lambda row: row.each.place),
        Column("coral", lambda row: row.each.coral.id),
        Column("x", lambda row: row.each.x, "number", "cm"),
        Column("y", lambda row: row.each.y, "number", "cm"),
        Column("length", lambda row: row.each.spread.body.length, "number", "cm"),
        Column("width", lambda row: row.each.spread.body.width, "number", "cm"),
        Column("par_low", lambda row: row.light[0] if row.light else None, "number", "µmol/m²/s"),
        Column("par_high", lambda row: row.light[-1] if row.light else None, "number", "µmol/m²/s"),
        Column("leaves_earliest", lambda row: row.leaving.leaves.earliest if row.leaving else None, "date"),
        Column("leaves_likely", lambda row: row.leaving.leaves.likely if row.leaving else None, "date"),
        Column("leaves_latest", lambda row: row.leaving.leaves.latest if row.leaving else None, "date"),
        Column("first_neighbour", lambda row: _other(row.meeting, row.each.coral.id) if row.meeting else None),
        Column("touches_likely", lambda row: row.meeting.touch.likely if row.meeting else None, "date"),
    ),
)
SURVIVAL = Table(
    "survival",
    _survival,
    (
        Column("by", lambda row: row.group.by),
        Column("group", lambda row: row.group.name),
        Column("arrivals", lambda row: row.group.arrivals, "integer"),
        Column("lost", lambda row: row.group.lost, "integer"),
        Column("days", lambda row: row.horizon.days, "integer", "days"),
        Column("at_risk", lambda row: row.horizon.at_risk, "integer"),
        *interval_columns("survival", lambda row: row.share, unit="%"),
    ),
)


def _other(meeting: Meeting, coral: str) -> str:
    return meeting.other if meeting.one == coral else meeting.one


class _Moved(NamedTuple):
    """What one line of a trade moved: a coral, money or a promise."""

    trade: Trade
    partner: str | None
    what: str
    source: Source
    worth: Money | None
    coral: str | None = None
    frags: int | None = None
    by: str | None = None
    text: str | None = None
    due: date | None = None
    settled: date | None = None


class _Trip(NamedTuple):
    trade: Trade
    outcome: Outcome
    water: list[float]
    airs: list[float]


def _moved(basis: Basis, _: str) -> Iterator[_Moved]:
    for trade in basis.view.trades.values():
        partner = basis.view.partner_names.get(trade.partner)
        for given in trade.gave:
            frags = None if given.whole else given.frags
            yield _Moved(trade, partner, "gave", given.source, given.worth, given.coral, frags)
        for got in trade.received:
            yield _Moved(trade, partner, "received", got.source, got.worth, got.coral)
        for what, money in (("paid", trade.paid), ("was_paid", trade.was_paid)):
            if money is not None:
                yield _Moved(trade, partner, what, trade.source, money)
        for owed in trade.owed:
            promise = (owed.coral, None, owed.by, owed.what, owed.due, owed.settled)
            yield _Moved(trade, partner, "owed", owed.source, owed.worth, *promise)


def _trips(basis: Basis, _: str) -> Iterator[_Trip]:
    for trip in basis.found.trade.trips:
        trade = basis.view.trades[trip.trade]
        read = sorted(trade.travel.temperatures if trade.travel else (), key=lambda each: each.after.canonical())
        airs = [each.air.canonical() for each in read if each.air is not None]
        yield _Trip(trade, trip, [each.water.canonical() for each in read], airs)


def _amount(worth: Money | None) -> Decimal | None:
    return Decimal(f"{worth.amount:.2f}") if worth else None


TRADES = Table(
    "trades",
    _moved,
    (
        Column("trade", lambda row: row.trade.id),
        Column("at", lambda row: row.trade.at, "date"),
        Column("partner", lambda row: row.partner),
        Column("what", lambda row: row.what),
        Column("by", lambda row: row.by),
        Column("coral", lambda row: row.coral),
        Column("frags", lambda row: row.frags, "integer"),
        Column("text", lambda row: row.text),
        Column("worth", lambda row: _amount(row.worth), "number", unit_in="currency"),
        Column("currency", lambda row: row.worth.currency if row.worth else None),
        Column("due", lambda row: row.due, "date"),
        Column("settled", lambda row: row.settled, "date"),
        Column("source", lambda row: row.source),
    ),
)
TRAVEL = Table(
    "travel",
    _trips,
    (
        Column("trade", lambda row: row.trade.id),
        Column("at", lambda row: row.trade.at, "date"),
        Column("container", lambda row: row.outcome.container),
        Column("water_litres", lambda row: row.outcome.litres, "number", "L"),
        Column("hours", lambda row: row.outcome.hours, "number", "h"),
        Column("kilometres", lambda row: row.outcome.km, "number", "km"),
        Column("start_celsius", lambda row: row.water[0] if row.water else None, "number", "°C"),
        Column("end_celsius", lambda row: row.water[-1] if len(row.water) > 1 else None, "number", "°C"),
        Column("air_celsius", lambda row: sum(row.airs) / len(row.airs) if row.airs else None, "number", "°C"),
        Column("condition_0", lambda row: row.outcome.states[0]),
        Column("condition_1", lambda row: row.outcome.states[1]),
        Column("condition_14", lambda row: row.outcome.states[2]),
        Column("condition_60", lambda row: row.outcome.states[3]),
        Column("slime", lambda row: row.outcome.slime, "boolean"),
        Column("broken_off", lambda row: row.outcome.broken_off, "integer"),
        Column("went", lambda row: row.outcome.went),
        Column("source", lambda row: row.outcome.source),
    ),
)
