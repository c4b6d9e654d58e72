"""The page that greets everybody but the keeper; a partner's opens with what is between the two."""

from collections.abc import Iterator

from generator.render.base import links
from generator.render.base.blocks import Section, group, items, row, section
from generator.render.base.context import PageContext, onward, page
from generator.render.base.page import Page
from generator.render.pages.coral import gallery
from generator.render.pages.deals import contact, offered, still_owed
from generator.render.pages.home import newest_entries
from generator.render.pages.system import AT_A_GLANCE, systems_at_a_glance
from generator.render.pages.trades import account_card, newest_trades, over_time, trade_table

_NEWEST_ENTRIES, _NEWEST_TRADES, _NEWEST_CORALS = 5, 3, 4


def front_page(ctx: PageContext) -> Page:
    """The page that greets a visitor; what the keeper has to do stands on the keeper's own site only."""
    words, settings = ctx.words, ctx.view.settings
    living = [coral for coral in ctx.ties.corals if coral.lives_on(ctx.today)]
    newest = sorted(living, key=lambda coral: (coral.pictured, coral.came, coral.id), reverse=True)
    corals = [ctx.view.corals[coral.id] for coral in newest[:_NEWEST_CORALS]]
    return page(
        ctx,
        "front",
        "front",
        *(_between_us(ctx) if ctx.view.partner else ()),
        section(words("front.offered"), offered(ctx), onward(ctx, links.OFFERS, "offers.title"))
        if ctx.view.shows_offers
        else None,
        section(words("front.corals"), gallery(ctx, corals), onward(ctx, links.CORALS, "front.all_corals"))
        if corals
        else None,
        group("side-by-side", newest_entries(ctx, words("front.entries"), _NEWEST_ENTRIES), group("", *_beside(ctx))),
        section(
            words("front.systems"),
            systems_at_a_glance(ctx, AT_A_GLANCE),
            onward(ctx, links.SINCE, "since.title") if ctx.view.shows_weeks else None,
        ),
        title=settings.title,
        description=settings.about or settings.title,
        lead=settings.about or "",
    )


def _between_us(ctx: PageContext) -> Iterator[Section]:
    """For a partner, from their side: what was given, taken and is owed, and what came from them."""
    words, trades = ctx.words, newest_trades(ctx)
    accounts = ctx.found.trade.accounts.values()
    theirs = gallery(ctx, (each for each in ctx.view.corals.values() if each.arrival.partner == ctx.view.partner))
    if trades:
        yield section(
            words("front.trades", keeper=ctx.view.settings.keeper),
            items(*still_owed(ctx, list(accounts)), look="plain"),
            over_time(ctx, trades),
            group("accounts", *(account_card(ctx, each) for each in accounts)),
            trade_table(ctx, trades[:_NEWEST_TRADES]),
            onward(ctx, links.TRADES, "front.all_trades"),
        )
    if theirs:
        yield section(words("front.theirs"), theirs)


def _beside(ctx: PageContext) -> Iterator[Section]:
    """How to reach the keeper, and where to go on reading."""
    words = ctx.words
    yield section(words("front.contact"), contact(ctx), id="contact")
    ways = {links.LINES: "front.lines", links.SURVIVAL: "survival.title", links.TRACK_RECORD: "track_record.title"}
    yield section(words("front.more"), row(*(ctx.link(url, words(key)) for url, key in ways.items())))
