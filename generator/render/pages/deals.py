"""What pages about trades share: what was given, money, promises."""

from collections.abc import Iterator, Sequence
from datetime import date

from generator.reckon.trade.offers import PartnerAccount, WorthBalance, worth_of
from generator.records.carried_out import promise_kept
from generator.records.fields import Money
from generator.records.trade import Owed, Trade
from generator.render.base import links
from generator.render.base.context import PageContext
from generator.render.base.links import BREAK, Inline, Phrase, Span, bold, joined
from generator.render.base.numbers import NBSP, plain
from generator.render.base.words import Words
from generator.render.pages.travel import to_trade

# A promise is due soon if it is due within this many days.
SOON = 30


def by_reader(ctx: PageContext, key: str) -> str:
    """The key of words that say who gave or owes: a partner's own folder speaks to that partner."""
    return f"reader.{key}" if ctx.view.partner else key


def pieces(ctx: PageContext, trade: Trade) -> tuple[tuple[str, Inline], ...]:
    """What the keeper gave in a trade, and what the keeper received, as facts."""
    words = ctx.words
    gave = [
        _piece(
            ctx,
            given.coral,
            words("trades.whole") if given.whole else words("coral.pieces", n=given.frags),
            given.worth,
        )
        for given in trade.gave
    ]
    received = [_piece(ctx, got.coral, "", got.worth) for got in trade.received]
    return tuple(
        (words(by_reader(ctx, key)), joined(*each, by=BREAK) or words("trades.nothing"))
        for key, each in (("trades.gave", gave), ("trades.received", received))
    )


def _piece(ctx: PageContext, coral: str, what: str, worth: Money | None) -> Inline:
    return joined(joined(ctx.to_coral(coral), what, by=", "), f"({say_money(ctx.words, worth)})" if worth else "")


def trade_title(ctx: PageContext, trade: Trade) -> str:
    """What a trade is called: by its partner, or by the keeper where the partner reads."""
    partner, keeper = ctx.partner(trade.partner), ctx.view.settings.keeper
    return ctx.words(by_reader(ctx, "trades.with"), partner=partner, keeper=keeper)


def say_money(words: Words, worth: Money | None) -> str:
    """An amount with its currency; "" for none."""
    return say_amount(words, worth.amount, worth.currency) if worth else ""


def say_amount(words: Words, value: float, currency: str) -> str:
    """A number of a currency."""
    return f"{plain(words, value, 2)}{NBSP}{currency}"


def promise(ctx: PageContext, trade: Trade, number: int, owed: Owed, with_trade: bool) -> Span:
    """The `number`-th promise of a trade, from 1: who owes what, until when, and whether it is kept."""
    words = ctx.words
    keeping = next((plan for plan in ctx.view.plans.values() if promise_kept(trade, plan) == number), None)
    standing, look = _standing(ctx, owed)
    until = joined(words("trades.owed.due"), Phrase((ctx.say.day(owed.due), ":"))) if owed.due else ""
    how = joined(
        joined(until, bold(standing)),
        joined(words("trades.owed.since"), to_trade(ctx, trade)) if with_trade else "",
        ctx.link(links.page_of("plan", keeping.id), words("trades.owed.plan")) if keeping else "",
        by=" · ",
    )
    worth = f"({say_money(words, owed.worth)})" if owed.worth else ""
    what = words(by_reader(ctx, f"trades.owed.{owed.by}"), what=owed.what)
    return Span(Phrase((joined(what, worth), BREAK, Span(how, look="note"))), "li", look)


def _standing(ctx: PageContext, owed: Owed) -> tuple[str, str]:
    words, today = ctx.words, ctx.today
    if owed.settled is not None:
        return words("trades.owed.settled", day=ctx.say.on(owed.settled)), "kept"
    if owed.due is None:
        return words("trades.owed.no_date"), "open"
    left = days_left(owed.due, today)
    if left < 0:
        return words("trades.owed.overdue", n=-left), "overdue"
    return words("trades.owed.today") if left == 0 else words("trades.owed.left", n=left), (
        "soon" if left <= SOON else "open"
    )


def days_left(due: date, today: date) -> int:
    """Days until a promise is due; negative when that day is past."""
    return (due - today).days


def overdue(ctx: PageContext, accounts: Sequence[PartnerAccount]) -> Inline:
    """What is owed beyond its day, and by whom."""
    words = ctx.words
    said = [
        f"{words(by_reader(ctx, f'trades.owed.{debt.by}'), what=debt.what)} ({ctx.partner(account.partner)})"
        for account in accounts
        for debt in account.overdue
    ]
    return (
        joined(Span(words("accounts.overdue", n=len(said)), look="off"), f"{'; '.join(said)}.", by=" · ")
        if said
        else ""
    )


def still_owed(ctx: PageContext, accounts: Sequence[PartnerAccount]) -> Iterator[str]:
    """How many promises each side has still to keep, and which that is not overdue is due first."""
    words, owed = ctx.words, [(account.partner, debt) for account in accounts for debt in account.owed]
    for by in ("us", "them"):
        theirs = sorted((debt.due or date.max, ctx.partner(of), debt.what) for of, debt in owed if debt.by == by)
        if ahead := [each for each in theirs if each[0] >= ctx.today]:
            due, partner, what = ahead[0]
            whose = () if ctx.view.partner else (partner,)
            first = ", ".join((what, *whose, *(() if due == date.max else (ctx.say.on(due),))))
            yield words(by_reader(ctx, f"trades.sum.{by}"), n=len(theirs), first=first)
    if accounts and not owed:
        yield words("trades.sum.none")


def balance(ctx: PageContext, trade: Trade) -> Iterator[tuple[str, str]]:
    """The money of a trade, and its balance where all that was given and received has a worth."""
    words = ctx.words
    for key, money in (("paid", trade.paid), ("was_paid", trade.was_paid)):
        if money:
            yield words(by_reader(ctx, f"trades.{key}")), say_money(words, money)
    if all(each.worth for each in trade.gave) and all(each.worth for each in trade.received):
        said = "; ".join(_more(ctx, worth) for worth in worth_of((trade,)))
        if said:
            yield words("trades.balance"), said


def _more(ctx: PageContext, worth: WorthBalance) -> str:
    """Who gave more than the other in one trade, in one currency."""
    amount = say_amount(ctx.words, abs(worth.balance), worth.currency)
    return ctx.words(by_reader(ctx, f"trades.more.{side_of(worth)}"), amount=amount)


def in_value(ctx: PageContext, worth: WorthBalance) -> str:
    """Who owes whom how much in one currency."""
    amount = say_amount(ctx.words, abs(worth.balance), worth.currency)
    return ctx.words(by_reader(ctx, f"accounts.worth.{side_of(worth)}"), amount=amount)


def side_of(worth: WorthBalance) -> str:
    """Who owes the other in a currency: us, them, or nobody."""
    return "even" if worth.balance == 0 else "them" if worth.balance > 0 else "us"
