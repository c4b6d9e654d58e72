"""The index of trades: accounts with partners, for those who may see them, and every trade."""

from collections.abc import Iterator

from generator.reckon.trade.accounts import Account, Debt, WorthBalance
from generator.render.base import links
from generator.render.base.blocks import Block, Paragraph, Section, Table, facts, group, items, row, section
from generator.render.base.context import PageContext, page
from generator.render.base.inline import Link, Span, bold, joined, small
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.render.pages.deals import amount, by_reader, pieces, promise, title_of
from generator.render.pages.travel import has_travel

_WORTH_HEADS = ("trades.gave", "trades.received", "accounts.worth.paid", "accounts.worth.was_paid")


def trades_page(ctx: PageContext) -> Page:
    """The index of trades, newest first; of accounts, those with something overdue come first."""
    words = ctx.words
    newest = sorted(ctx.view.trades.values(), key=lambda trade: (trade.at, trade.id), reverse=True)
    accounts = ctx.found.trade.accounts.values() if ctx.view.shows_accounts else ()
    return page(
        ctx,
        "trades",
        "trades",
        Paragraph(words("trades.caution"), "caution"),
        row(*_ways(ctx)),
        section(
            words("accounts.title"),
            group("accounts", *(_account(ctx, each) for each in sorted(accounts, key=_most_pressing))),
            lead=words("accounts.lead"),
            method=to_method(ctx, "accounts"),
        ),
        *(
            section(
                joined(ctx.link(links.page_of("trade", trade.id), title_of(ctx, trade)), small(ctx.say.day(trade.at))),
                facts(*pieces(ctx, trade)),
            )
            for trade in newest
        ),
        None if newest else Paragraph(words("trades.none")),
    )


def _ways(ctx: PageContext) -> Iterator[Link]:
    words = ctx.words
    if ctx.view.shows_offers:
        yield ctx.link(links.OFFERS, words("offers.title"))
    if has_travel(ctx):
        yield ctx.link(links.TRAVEL, words("travel.title"))
    if ctx.papers.corals or ctx.papers.trades:
        yield ctx.link(links.ORIGIN, words("origin.title"))


def _most_pressing(account: Account) -> tuple[bool, bool, int, str]:
    return not account.overdue, not account.owed, -account.last.toordinal(), account.partner


def _account(ctx: PageContext, account: Account) -> Section:
    """One partner's account."""
    words = ctx.words
    side = "even" if account.pieces == 0 else "more" if account.pieces > 0 else "less"
    balance = words(by_reader(ctx, f"accounts.balance.{side}"), n=abs(account.pieces))
    each = words(by_reader(ctx, "accounts.pieces"), given=account.pieces_given, received=account.pieces_received)
    return section(
        Link(ctx.partner(account.partner)),
        Paragraph(joined(bold(balance), Span(each, look="interval"))),
        *(block for worth in account.worth for block in _worth(ctx, account.partner, worth)),
        Paragraph(words("accounts.unpriced", n=account.unpriced) if account.unpriced else "", "note"),
        Paragraph(words("accounts.overdue", n=len(account.overdue)) if account.overdue else "", "off"),
        items(*(_promise(ctx, debt) for debt in account.owed), look="promises"),
        look="account",
    )


def _worth(ctx: PageContext, partner: str, worth: WorthBalance) -> tuple[Block, ...]:
    """Agreed worth in one currency, and its balance, in a table that those who hear it know by its partner."""
    words, of = ctx.words, worth.currency
    side = "even" if worth.balance == 0 else "them" if worth.balance > 0 else "us"
    cells = tuple(amount(words, value, of) for value in (worth.given, worth.received, worth.paid, worth.was_paid))
    balance = words(by_reader(ctx, f"accounts.worth.{side}"), amount=amount(words, abs(worth.balance), of))
    heads = words.each(*(by_reader(ctx, key) for key in _WORTH_HEADS))
    title = f"{ctx.partner(partner)}: {words('accounts.worth.title')}, {of}"
    return Paragraph(bold(balance)), Table(title, heads, (cells,))


def _promise(ctx: PageContext, debt: Debt) -> Span:
    trade = ctx.view.trades[debt.trade]
    number = next(number for number, owed in enumerate(trade.owed, 1) if owed.source == debt.source)
    return promise(ctx, trade, number, trade.owed[number - 1], with_trade=True)
