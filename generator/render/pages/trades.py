"""The index of trades: accounts with partners, for those who may see them, and every trade."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.reckon.trade.accounts import Account, Debt, WorthBalance
from generator.render import links
from generator.render.inline import Link
from generator.render.numbers import Moment, say_day
from generator.render.page import Frame
from generator.render.pages.deals import Promise, Side, amount, by_reader, pieces, promise, title_of
from generator.render.pages.desk import Desk, frame
from generator.render.pages.travel import has_travel

_WORTH_HEADS = ("trades.gave", "trades.received", "accounts.worth.paid", "accounts.worth.was_paid")


@dataclass(frozen=True, slots=True)
class WorthRow:
    """Agreed worth in one currency, and its balance."""

    currency: str
    cells: tuple[str, str, str, str]
    balance: str


@dataclass(frozen=True, slots=True)
class AccountCard:
    """One partner's account."""

    partner: str
    pieces: str
    balance: str
    worth: tuple[WorthRow, ...]
    unpriced: str
    owed: tuple[Promise, ...]
    overdue: str


@dataclass(frozen=True, slots=True)
class TradeCard:
    """One trade in the list."""

    link: Link
    at: Moment
    gave: Side
    received: Side


@dataclass(frozen=True, slots=True)
class TradesPage:
    """The index of trades."""

    frame: Frame
    ways: tuple[Link, ...]
    worth_heads: tuple[str, ...]
    accounts: tuple[AccountCard, ...]
    trades: tuple[TradeCard, ...]


def trades_page(desk: Desk) -> TradesPage:
    """The index of trades, newest first; of accounts, those with something overdue come first."""
    words = desk.words
    newest = sorted(desk.view.trades.values(), key=lambda trade: (trade.at, trade.id), reverse=True)
    accounts = desk.found.trade.accounts.values() if desk.view.shows_accounts else ()
    return TradesPage(
        frame(desk, words("trades.title"), words("trades.description"), "trades"),
        tuple(_ways(desk)),
        tuple(words(by_reader(desk, key)) for key in _WORTH_HEADS),
        tuple(_account(desk, each) for each in sorted(accounts, key=_most_pressing)),
        tuple(
            TradeCard(
                desk.link(links.page_of("trade", trade.id), title_of(desk, trade)),
                say_day(desk.display, words, trade.at),
                *pieces(desk, trade),
            )
            for trade in newest
        ),
    )


def _ways(desk: Desk) -> Iterator[Link]:
    words = desk.words
    if desk.view.shows_offers:
        yield desk.link(links.OFFERS, words("offers.title"))
    if has_travel(desk):
        yield desk.link(links.TRAVEL, words("travel.title"))
    if desk.papers.corals or desk.papers.trades:
        yield desk.link(links.ORIGIN, words("origin.title"))


def _most_pressing(account: Account) -> tuple[bool, bool, int, str]:
    return not account.overdue, not account.owed, -account.last.toordinal(), account.partner


def _account(desk: Desk, account: Account) -> AccountCard:
    words = desk.words
    side = "even" if account.pieces == 0 else "more" if account.pieces > 0 else "less"
    return AccountCard(
        desk.partner(account.partner),
        words(by_reader(desk, "accounts.pieces"), given=account.pieces_given, received=account.pieces_received),
        words(by_reader(desk, f"accounts.balance.{side}"), n=abs(account.pieces)),
        tuple(_worth(desk, each) for each in account.worth),
        words("accounts.unpriced", n=account.unpriced) if account.unpriced else "",
        tuple(_promise(desk, debt) for debt in account.owed),
        words("accounts.overdue", n=len(account.overdue)) if account.overdue else "",
    )


def _worth(desk: Desk, worth: WorthBalance) -> WorthRow:
    of = worth.currency
    side = "even" if worth.balance == 0 else "them" if worth.balance > 0 else "us"
    given, received, paid, was_paid = (
        amount(desk.words, value, of) for value in (worth.given, worth.received, worth.paid, worth.was_paid)
    )
    return WorthRow(
        of,
        (given, received, paid, was_paid),
        desk.words(by_reader(desk, f"accounts.worth.{side}"), amount=amount(desk.words, abs(worth.balance), of)),
    )


def _promise(desk: Desk, debt: Debt) -> Promise:
    trade = desk.view.trades[debt.trade]
    number = next(number for number, owed in enumerate(trade.owed, 1) if owed.source == debt.source)
    return promise(desk, trade, number, trade.owed[number - 1])
