"""The page that greets everybody but the keeper; a partner's opens with what is between the two."""

from collections.abc import Iterator

from generator.render.base import links
from generator.render.base.blocks import Section, group, items, section
from generator.render.base.context import PageContext, onward, page
from generator.render.base.page import Page
from generator.render.pages.coral import gallery
from generator.render.pages.deals import still_owed
from generator.render.pages.journal import entry_list, newest_first
from generator.render.pages.system import AT_A_GLANCE, systems_at_a_glance
from generator.render.pages.trades import account_card, newest_trades, over_time, trade_table

_NEWEST_ENTRIES, _NEWEST_TRADES = 5, 3
_NEWEST_CORALS = 4


def front_page(ctx: PageContext) -> Page:
    """The page that greets a visitor; what the keeper has to do stands on the keeper's own site only."""
    words, settings = ctx.words, ctx.view.settings
    living = [coral for coral in ctx.view.corals.values() if coral.lives_on(ctx.today)]
    pictured = sorted(living, key=lambda coral: (bool(coral.photos), coral.arrival.at, coral.id), reverse=True)
    newest, corals = newest_first(ctx.ties.headings.values())[:_NEWEST_ENTRIES], pictured[:_NEWEST_CORALS]
    return page(
        ctx,
        "front",
        "front",
        *(_between_us(ctx) if ctx.view.partner else ()),
        section(words("front.corals"), gallery(ctx, corals), onward(ctx, links.CORALS, "front.all_corals"))
        if corals
        else None,
        section(words("front.entries"), entry_list(ctx, newest), onward(ctx, links.JOURNAL, "today.all_entries"))
        if newest
        else None,
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
    """For a partner, from their side: what was given, taken and is owed, what came from them, what is on offer."""
    words, trades = ctx.words, newest_trades(ctx)
    accounts = ctx.found.trade.accounts.values()
    theirs = gallery(ctx, (each for each in ctx.view.corals.values() if each.arrival.partner == ctx.view.partner))
    offered = [ctx.view.corals[each.coral] for each in ctx.found.offers if each.ready and each.marked]
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
    if offered and ctx.view.shows_offers:
        yield section(words("front.offered"), gallery(ctx, offered), onward(ctx, links.OFFERS, "offers.title"))
