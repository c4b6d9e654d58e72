"""trades.csv and travel.csv: what changed hands and how it travelled, for one audience."""

from collections.abc import Iterator, Sequence

from generator.reckon.trade.outcomes import Outcome
from generator.records.fields import Money
from generator.records.trade import Owed, Trade
from generator.render.downloads import TRADES, TRAVEL, Cell, csv_of
from generator.render.pages.desk import Desk

Row = Sequence[Cell]


def trade_downloads(desk: Desk) -> dict[str, bytes]:
    """Both files by their address. For an audience that sees no trade they have only column names."""
    trades = desk.view.trades
    trips = (_trip(trades[trip.trade], trip) for trip in desk.found.trade.trips)
    return {
        TRADES.address: csv_of(TRADES, (row for trade in trades.values() for row in _trade(desk, trade))),
        TRAVEL.address: csv_of(TRAVEL, trips),
    }


def _trade(desk: Desk, trade: Trade) -> Iterator[Row]:
    partner = desk.view.partner_names.get(trade.partner)
    begins: tuple[Cell, ...] = (trade.id, trade.at.isoformat(), partner)
    for given in trade.gave:
        pieces = None if given.whole else float(given.frags)
        yield (*begins, "gave", None, given.coral, pieces, None, *_money(given.worth), None, None, str(given.source))
    for got in trade.received:
        yield (*begins, "received", None, got.coral, None, None, *_money(got.worth), None, None, str(got.source))
    for what, money in (("paid", trade.paid), ("was_paid", trade.was_paid)):
        if money is not None:
            yield (*begins, what, None, None, None, None, *_money(money), None, None, str(trade.source))
    for owed in trade.owed:
        yield (*begins, *_owed(owed))


def _owed(owed: Owed) -> Row:
    due, settled = (day.isoformat() if day else None for day in (owed.due, owed.settled))
    return ("owed", owed.by, owed.coral, None, owed.what, *_money(owed.worth), due, settled, str(owed.source))


def _money(worth: Money | None) -> tuple[Cell, Cell]:
    return (f"{worth.amount:.2f}", worth.currency) if worth else (None, None)


def _trip(trade: Trade, trip: Outcome) -> Row:
    read = sorted(trade.travel.temperatures if trade.travel else (), key=lambda each: each.after.canonical())
    water = [each.water.canonical() for each in read]
    airs = [each.air.canonical() for each in read if each.air is not None]
    return (
        trip.trade,
        trade.at.isoformat(),
        trip.container,
        trip.litres,
        trip.hours,
        trip.km,
        water[0] if water else None,
        water[-1] if len(water) > 1 else None,
        sum(airs) / len(airs) if airs else None,
        *trip.states,
        trip.slime,
        None if trip.broken_off is None else float(trip.broken_off),
        trip.went,
        str(trip.source),
    )
