"""Trades, as the audience may see them: the index, and a trade's page."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.records.fields import Money
from generator.records.trade import Trade
from generator.render import links
from generator.render.numbers import NBSP, Moment, plain, say_day, say_written
from generator.render.pages.desk import Desk, Frame, Link, frame, section_crumb


@dataclass(frozen=True, slots=True)
class Piece:
    """What went or came."""

    coral: Link
    what: str
    worth: str


@dataclass(frozen=True, slots=True)
class TradeCard:
    """One trade in the list."""

    link: Link
    at: Moment
    gave: tuple[Piece, ...]
    received: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class TradesPage:
    """The index of trades."""

    frame: Frame
    trades: tuple[TradeCard, ...]


@dataclass(frozen=True, slots=True)
class StateRow:
    """How the corals were some days after arrival."""

    days: str
    coral: str
    state: str
    details: str


@dataclass(frozen=True, slots=True)
class TradePage:
    """One trade."""

    frame: Frame
    title: str
    at: Moment
    gave: tuple[Piece, ...]
    received: tuple[Piece, ...]
    facts: tuple[tuple[str, str], ...]
    owed: tuple[str, ...]
    states: tuple[StateRow, ...]


def trades_page(desk: Desk) -> TradesPage:
    """The index of trades, newest first."""
    words = desk.words
    newest = sorted(desk.view.trades.values(), key=lambda trade: (trade.at, trade.id), reverse=True)
    return TradesPage(
        frame(desk, words("trades.title"), words("trades.description"), "trades"),
        tuple(
            TradeCard(
                desk.link(links.page_of("trade", trade.id), words("trades.with", partner=desk.partner(trade.partner))),
                say_day(desk.display, words, trade.at),
                *_pieces(desk, trade),
            )
            for trade in newest
        ),
    )


def trade_page(desk: Desk, trade: Trade) -> TradePage:
    """The page of one trade."""
    words = desk.words
    day = say_day(desk.display, words, trade.at)
    title = words("trades.with", partner=desk.partner(trade.partner))
    return TradePage(
        frame(
            desk,
            title,
            words("trades.one_description", title=title, day=day.text),
            "trades",
            section_crumb(desk, "trades"),
        ),
        title,
        day,
        *_pieces(desk, trade),
        tuple(_facts(desk, trade)),
        tuple(
            words(f"trades.owed.{owed.by}", what=owed.what) + (f" ({words('trades.settled')})" if owed.settled else "")
            for owed in trade.owed
        ),
        tuple(
            StateRow(
                words("trades.after_days", n=state.days),
                desk.to_coral(state.coral).text if state.coral else words("trades.all_pieces"),
                words(f"states.{state.state}"),
                state.note or "",
            )
            for state in trade.states
        ),
    )


def _pieces(desk: Desk, trade: Trade) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
    words = desk.words
    gave = tuple(
        Piece(
            desk.to_coral(given.coral),
            words("trades.whole") if given.whole else words("coral.pieces", n=given.pieces),
            _money(given.worth),
        )
        for given in trade.gave
    )
    received = tuple(Piece(desk.to_coral(got.coral), "", _money(got.worth)) for got in trade.received)
    return gave, received


def _money(worth: Money | None) -> str:
    return f"{plain(worth.amount, 2)}{NBSP}{worth.currency}" if worth else ""


def _facts(desk: Desk, trade: Trade) -> Iterator[tuple[str, str]]:
    words = desk.words
    if trade.paid:
        yield words("trades.paid"), _money(trade.paid)
    if trade.was_paid:
        yield words("trades.was_paid"), _money(trade.was_paid)
    if trade.travel:
        yield words("trades.travel"), say_written(words, trade.travel.duration)
    for key, text in (("inspection", trade.inspection), ("note", trade.note), ("private", trade.private)):
        if text:
            yield words(f"trades.{key}"), text
