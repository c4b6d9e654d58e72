"""Trades: the index with the accounts of partners, for those who may see them, and the page of one trade."""

from collections.abc import Iterator
from datetime import timedelta
from textwrap import shorten

from generator.door.door import grouped
from generator.reckon.trade.analysis import AFTER_DAYS, Outcome
from generator.reckon.trade.offers import Debt, PartnerAccount, WorthBalance
from generator.records.trade import State, Trade
from generator.render.base import links
from generator.render.base.blocks import Paragraph, Picture, Section, Table, facts, figures, group, items, row, section
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.links import Inline, Link, Span, bold, joined, small
from generator.render.base.page import Page
from generator.render.base.scale import MS_PER_DAY, day_clock
from generator.render.base.why import to_method
from generator.render.drawings.timeline import Lane, Signs, Timeline, draw_timeline
from generator.render.pages.deals import (
    balance,
    by_reader,
    in_value,
    overdue,
    pieces,
    promise,
    say_amount,
    side_of,
    still_owed,
    trade_title,
)
from generator.render.pages.travel import container_figure, has_travel, say_hours

_WORTH_HEADS = ("trades.gave", "trades.received", "accounts.worth.paid", "accounts.worth.was_paid")
_EXCHANGED = ("gave", "received")


def trades_page(ctx: PageContext) -> Page:
    """The index of trades, newest first; of accounts, those with something overdue come first."""
    words = ctx.words
    newest = newest_trades(ctx)
    accounts = sorted(ctx.found.trade.accounts.values(), key=_most_pressing) if ctx.view.shows_accounts else []
    return page(
        ctx,
        "trades",
        "trades",
        items(*still_owed(ctx, accounts), look="plain"),
        over_time(ctx, newest) if newest else None,
        row(*_ways(ctx)),
        section(
            words("accounts.title"),
            group("accounts", *(account_card(ctx, each) for each in accounts)),
            lead=words("accounts.lead"),
            method=to_method(ctx, "accounts"),
        ),
        section(words("trades.newest"), trade_table(ctx, newest)),
        Paragraph(words("trades.caution"), "caution"),
        None if newest else Paragraph(words("trades.none")),
        lead=overdue(ctx, accounts),
    )


def newest_trades(ctx: PageContext) -> list[Trade]:
    """The trades that this audience may see, newest first."""
    return sorted(ctx.view.trades.values(), key=lambda trade: (trade.at, trade.id), reverse=True)


def trade_table(ctx: PageContext, trades: list[Trade]) -> Table:
    """A row for each trade: with whom, when, what was given and what was received."""
    heads = ctx.words.each("trades.trade", *(by_reader(ctx, f"trades.{key}") for key in _EXCHANGED))
    rows = (
        (
            joined(ctx.link(links.page_of("trade", trade.id), trade_title(ctx, trade)), small(ctx.say.day(trade.at))),
            *(
                said if getattr(trade, key) else ""
                for key, (_, said) in zip(_EXCHANGED, pieces(ctx, trade), strict=True)
            ),
        )
        for trade in trades
    )
    return Table(ctx.words("trades.newest"), heads, tuple(rows), "tall")


# A partner's name has at most so many letters in the picture, for a telephone.
_LONGEST = 40


def over_time(ctx: PageContext, trades: list[Trade]) -> Picture:
    """A row for each partner, the latest first: what was given and received, and what is owed, over one time."""
    words, accounts, today = ctx.words, ctx.view.shows_accounts, day_clock(ctx.today)
    named = grouped((ctx.partner(trade.partner), trade) for trade in trades)
    lanes = []
    for name, each in named.items():
        owed = [
            (day_clock(trade.at), day_clock(debt.due), debt)
            for trade in each
            for debt in trade.owed
            if accounts and debt.due and not debt.settled
        ]
        gave, received = (
            [(day_clock(trade.at), y, ctx.say.on(trade.at)) for trade in each if getattr(trade, key)]
            for key, y in zip(_EXCHANGED, (-4, 4), strict=True)
        )
        signs = (
            Signs("deed-event", "above", gave),
            Signs("deed-water-change", "below", received),
            Signs("reading", "tick", [(due, 0, debt.what) for _, due, debt in owed if debt.by == "us"]),
        )
        spans = [
            (since, max(due, today), debt.what, "overdue")
            if due < today
            else (since, due, debt.what, f"owed-{debt.by}")
            for since, due, debt in owed
        ]
        theirs = [(due, debt.what) for _, due, debt in owed if debt.by == "them"]
        lanes.append(Lane(shorten(name, _LONGEST, placeholder="…"), "reading", "diamond", spans, theirs, signs))
    keys = [("▲", "gave"), ("▼", "received"), *((("▬◆", "time.them"), ("▭", "time.us")) if accounts else ())]
    key = " · ".join(f"{sign} {words(by_reader(ctx, f'trades.{id}'))}" for sign, id in keys)
    late = (
        Span(f"▬ {words('trades.time.overdue')}", look="off")
        if any("overdue" in span for lane in lanes for span in lane.spans)
        else ""
    )
    said = words("trades.time.said", n=len(trades), partners=len(named), owed=sum(len(lane.spans) for lane in lanes))
    start, last = day_clock(trades[-1].at), max(today, *(due for lane in lanes for _, due, *_ in lane.spans), 0)
    room = 0.02 * (last - start) + 10 * MS_PER_DAY
    ends = start - room, last + room
    return Picture(
        draw_timeline(Timeline("trades", words("trades.time.title"), said, *ends, tuple(lanes), today=today), words),
        joined(key, late, by=" · "),
    )


def _ways(ctx: PageContext) -> Iterator[Link]:
    words = ctx.words
    if ctx.view.shows_offers:
        yield ctx.link(links.OFFERS, words("offers.title"))
    if has_travel(ctx):
        yield ctx.link(links.TRAVEL, words("travel.title"))
    if ctx.papers.corals or ctx.papers.trades:
        yield ctx.link(links.ORIGIN, words("origin.title"))


def _most_pressing(account: PartnerAccount) -> tuple[bool, bool, int, str]:
    return not account.overdue, not account.owed, -account.last.toordinal(), account.partner


def account_card(ctx: PageContext, account: PartnerAccount) -> Section:
    """One partner's account."""
    words = ctx.words
    side = "even" if account.pieces == 0 else "more" if account.pieces > 0 else "less"
    balance = words(by_reader(ctx, f"accounts.balance.{side}"), n=abs(account.pieces))
    each = words(by_reader(ctx, "accounts.pieces"), given=account.pieces_given, received=account.pieces_received)
    unpriced = joined(bold(balance), Span(each, look="interval"))
    return section(
        Link(ctx.partner(account.partner)),
        *(_worth(ctx, account, worth, each) for worth in account.worth),
        Paragraph("" if account.worth else unpriced),
        Paragraph(words("accounts.unpriced", n=account.unpriced) if account.unpriced else "", "note"),
        items(*(_promise(ctx, debt) for debt in account.owed), look="promises"),
        look="account",
    )


def _worth(ctx: PageContext, account: PartnerAccount, worth: WorthBalance, pieces: str) -> Paragraph:
    """What is owed in one currency, how much of it is promised and what beyond it, and what it is made of."""
    words, of = ctx.words, worth.currency
    side, owing = side_of(worth), in_value(ctx, worth)
    promises = []
    for by in ("them", "us"):
        priced = [
            each.worth.amount for each in account.owed if each.by == by and each.worth and each.worth.currency == of
        ]
        part = min(sum(priced), abs(worth.balance)) if by == side else 0
        if part:
            promises.append(words("accounts.worth.promised", amount=say_amount(words, part, of)))
        if beyond := sum(priced) - part:
            promises.append(words(by_reader(ctx, f"accounts.worth.beyond.{by}"), amount=say_amount(words, beyond, of)))
    values = zip(_WORTH_HEADS, (worth.given, worth.received, worth.paid, worth.was_paid), strict=True)
    made = (f"{words(by_reader(ctx, key))} {say_amount(words, value, of)}" for key, value in values if value)
    return Paragraph(
        joined(bold(joined(owing, *promises, by=", ")), Span(joined(*made, pieces, by=" · "), look="interval"))
    )


def _promise(ctx: PageContext, debt: Debt) -> Span:
    trade = ctx.view.trades[debt.trade]
    number = next(number for number, owed in enumerate(trade.owed, 1) if owed.source == debt.source)
    return promise(ctx, trade, number, trade.owed[number - 1], with_trade=True)


def trade_page(ctx: PageContext, trade: Trade) -> Page:
    """The page of one trade."""
    words = ctx.words
    day = ctx.say.day(trade.at)
    title = trade_title(ctx, trade)
    trip = next((trip for trip in ctx.found.trade.trips if trip.trade == trade.id), None)
    owed = (promise(ctx, trade, number, owed, False) for number, owed in enumerate(trade.owed, 1))
    containers = [each for each in ctx.found.trade.containers if trip and each.container == trip.container]
    became = row(*_became(ctx, trade))
    temperatures, states = words("trades.temperatures"), words("trades.states")
    return page(
        ctx,
        "trade",
        "trades",
        Paragraph(words("trades.caution"), "caution"),
        facts(*pieces(ctx, trade), *balance(ctx, trade), *_facts(ctx, trade)),
        row(*_papers(ctx, trade)),
        section(words("trades.owed.title"), items(*owed, look="promises")),
        section(
            words("trades.log"),
            facts(*_way(ctx, trade)),
            Table(
                temperatures,
                words.each("trades.since_leaving", "trades.water", "trades.air"),
                tuple(_temperatures(ctx, trade)),
            ),
        ),
        section(
            states,
            Table(
                states,
                words.each("trades.after", "trades.coral", "trades.state", "trades.details"),
                tuple(_states(ctx, trade)),
            ),
            Paragraph(words("trades.became") if became else ""),
            became,
        ),
        section(
            words("trades.teaches"),
            Paragraph(_went(ctx, trade, trip) if trip else ""),
            figures(*(container_figure(ctx, found) for found in containers), look=""),
        ),
        title=title,
        description=words("trades.one_description", title=title, day=day.text),
        crumbs=(section_crumb(ctx, "trades"),),
        over=day,
        contents=True,
    )


def _facts(ctx: PageContext, trade: Trade) -> Iterator[tuple[str, str]]:
    words = ctx.words
    for key, text in (("inspection", trade.inspection), ("note", trade.note), ("private", trade.private)):
        if text:
            yield words(f"trades.{key}"), text


def _papers(ctx: PageContext, trade: Trade) -> Iterator[Link]:
    paper = ctx.papers.trades.get(trade.id)
    if paper is not None:
        yield ctx.link(links.trade_paper_of(trade.id), ctx.words("origin.of_given"))
    for got in trade.received:
        if got.coral in ctx.papers.corals:
            name = ctx.to_coral(got.coral).text
            yield ctx.link(links.paper_of(got.coral), ctx.words("origin.of", coral=name))


def _way(ctx: PageContext, trade: Trade) -> Iterator[tuple[str, str]]:
    words, travel = ctx.words, trade.travel
    if travel is None:
        return
    yield words("trades.travel"), ctx.say.written(travel.duration)
    if travel.container:
        yield words("trades.container"), travel.container
    if travel.water:
        yield words("trades.water"), ctx.say.written(travel.water)
    if travel.distance:
        yield words("trades.distance"), ctx.say.written(travel.distance)
    if travel.packing:
        yield words("trades.packing"), travel.packing


def _temperatures(ctx: PageContext, trade: Trade) -> Iterator[tuple[Inline, ...]]:
    """The temperatures at each moment of the journey."""
    for at in sorted(trade.travel.temperatures if trade.travel else (), key=lambda each: each.after.canonical()):
        water, air = (
            ctx.say.canonical("temperature", read.canonical(), read) if read else "" for read in (at.water, at.air)
        )
        yield ctx.say.written(at.after), water, air


def _states(ctx: PageContext, trade: Trade) -> Iterator[tuple[Inline, ...]]:
    """The recorded checks, and the checks that were due but are not recorded."""
    words = ctx.words
    rows = [(state.days, _state(ctx, state)) for state in trade.checks]
    if trade.received:
        due = {days for days in AFTER_DAYS if trade.at + timedelta(days=days) <= ctx.today}
        for days in due - {state.days for state in trade.checks}:
            rows.append((days, (_after(ctx, days), words("trades.all_pieces"), words("states.unwritten"), "")))
    yield from (row for _, row in sorted(rows, key=lambda pair: pair[0]))


def _state(ctx: PageContext, state: State) -> tuple[Inline, ...]:
    words = ctx.words
    details = (
        words("trades.slime") if state.slime else "",
        words("trades.broken_off", n=state.broken_off) if state.broken_off else "",
        state.note or "",
    )
    coral = ctx.to_coral(state.coral).text if state.coral else words("trades.all_pieces")
    return _after(ctx, state.days), coral, words(f"states.{state.condition}"), joined(*details, by=" · ")


def _after(ctx: PageContext, days: int) -> str:
    return ctx.words("trades.after_days", n=days) if days else ctx.words("trades.on_arrival")


def _went(ctx: PageContext, trade: Trade, trip: Outcome) -> str:
    words = ctx.words
    seen = min((ctx.today - trade.at).days, AFTER_DAYS[-1])
    text = words(f"trades.went.{trip.went}", hours=say_hours(ctx, trip.hours), n=seen)
    if trip.changed is None:
        return text
    side = "warmer" if trip.changed > 0 else "colder"
    by = ctx.display.change("temperature", abs(trip.changed))
    how = ctx.say.number(by, 1, ctx.display.unit("temperature"))
    return f"{text} {words(f'trades.changed.{side}', by=how)}"


def _became(ctx: PageContext, trade: Trade) -> Iterator[Link]:
    """The frags that broke off on the way and became corals of their own."""
    came = {got.coral for got in trade.received}
    for coral in ctx.view.corals.values():
        of_trip = coral.arrival.trade in (None, trade.id) and coral.arrival.at - trade.at <= timedelta(
            days=AFTER_DAYS[-1]
        )
        if coral.arrival.how == "broken-off" and coral.parent in came and coral.arrival.at >= trade.at and of_trip:
            yield ctx.to_coral(coral.id)
