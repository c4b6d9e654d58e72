"""The tables of trades and trips. For an audience that sees no trade they have only the names of their columns."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from generator.reckon.trade.analysis import Outcome
from generator.records.fields import Money
from generator.records.source import Source
from generator.records.trade import Trade
from generator.render.tables.column import Basis, Column, Table


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
