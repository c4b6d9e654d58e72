"""What each partner received and gave, in corals and in worth, and what is still owed."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from generator.records.fields import Money
from generator.records.source import Source
from generator.records.trade import Owed, Trade

METHOD = "accounts"
_CENTS = 100


@dataclass(frozen=True, slots=True)
class WorthBalance:
    """Agreed worth in one currency. `balance` is what they still owe us in it; negative, what we owe them."""

    currency: str
    given: float
    received: float
    paid: float
    was_paid: float

    @property
    def balance(self) -> float:
        """Given less received, plus what we paid less what we were paid."""
        cents = round((self.given - self.received + self.paid - self.was_paid) * _CENTS)
        return cents / _CENTS


@dataclass(frozen=True, slots=True)
class Debt:
    """A promise not yet kept: who owes what, since which trade; `days_left` to its due date, negative when overdue."""

    trade: str
    by: Literal["us", "them"]
    what: str
    coral: str | None
    worth: Money | None
    due: date | None
    days_left: int | None
    source: Source

    @property
    def overdue(self) -> bool:
        """Whether its due date is past."""
        return self.days_left is not None and self.days_left < 0


@dataclass(frozen=True, slots=True)
class Account:
    """One partner's account. `pieces_…` count corals and frags, `unpriced` those without an agreed worth."""

    partner: str
    trades: tuple[str, ...]
    last: date
    pieces_given: int
    pieces_received: int
    worth: tuple[WorthBalance, ...]
    unpriced: int
    owed: tuple[Debt, ...]
    method: str
    inputs: tuple[Source, ...]

    @property
    def pieces(self) -> int:
        """Pieces given less pieces received."""
        return self.pieces_given - self.pieces_received

    @property
    def overdue(self) -> tuple[Debt, ...]:
        """What is owed past its due date, the longest first."""
        return tuple(debt for debt in self.owed if debt.overdue)


def accounts(trades: Iterable[Trade], as_of: date) -> dict[str, Account]:
    """Each partner's account on a day, in order of id. A partner without a trade has none."""
    by_partner: dict[str, list[Trade]] = {}
    for trade in sorted(trades, key=lambda trade: (trade.at, trade.id)):
        if trade.at <= as_of:
            by_partner.setdefault(trade.partner, []).append(trade)
    return {partner: _account(partner, by_partner[partner], as_of) for partner in sorted(by_partner)}


def _account(partner: str, trades: list[Trade], as_of: date) -> Account:
    gave = [given for trade in trades for given in trade.gave]
    received = [got for trade in trades for got in trade.received]
    return Account(
        partner=partner,
        trades=tuple(trade.id for trade in trades),
        last=trades[-1].at,
        pieces_given=sum(1 if given.whole else given.frags for given in gave),
        pieces_received=len(received),
        worth=_worth(trades),
        unpriced=sum(item.worth is None for item in gave) + sum(item.worth is None for item in received),
        owed=_debts(trades, as_of),
        method=METHOD,
        inputs=tuple(trade.source for trade in trades),
    )


def _worth(trades: list[Trade]) -> tuple[WorthBalance, ...]:
    """The worth agreed in a trade, and money, each currency separately. Nothing is converted."""
    sums: dict[str, Counter[str]] = {}

    def add(side: str, money: Money | None) -> None:
        if money is not None:
            # In whole cents, so that ten times 0.10 is one.
            sums.setdefault(money.currency, Counter())[side] += round(money.amount * _CENTS)

    for trade in trades:
        for given in trade.gave:
            add("given", given.worth)
        for got in trade.received:
            add("received", got.worth)
        add("paid", trade.paid)
        add("was_paid", trade.was_paid)
    return tuple(
        WorthBalance(currency, *(side[name] / _CENTS for name in ("given", "received", "paid", "was_paid")))
        for currency, side in sorted(sums.items())
    )


def _debts(trades: list[Trade], as_of: date) -> tuple[Debt, ...]:
    debts = [
        _debt(trade, owed, as_of)
        for trade in trades
        for owed in trade.owed
        if owed.settled is None or owed.settled > as_of
    ]
    return tuple(sorted(debts, key=lambda debt: (debt.due or date.max, debt.trade, debt.what)))


def _debt(trade: Trade, owed: Owed, as_of: date) -> Debt:
    days_left = (owed.due - as_of).days if owed.due else None
    return Debt(trade.id, owed.by, owed.what, owed.coral, owed.worth, owed.due, days_left, owed.source)
