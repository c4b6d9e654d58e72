"""A trade's page: what changed hands, what is owed, how it travelled, and the condition afterwards."""

from collections.abc import Iterator
from datetime import timedelta

from generator.reckon.trade.analysis import AFTER_DAYS, Outcome
from generator.records.trade import State, Trade
from generator.render.base import links
from generator.render.base.blocks import Paragraph, Table, facts, figures, items, row, section
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.inline import Inline, Link, joined
from generator.render.base.numbers import plain, with_unit
from generator.render.base.page import Page
from generator.render.pages.deals import by_reader, money, pieces, promise, title_of
from generator.render.pages.travel import container_figure, say_hours


def trade_page(ctx: PageContext, trade: Trade) -> Page:
    """The page of one trade."""
    words = ctx.words
    day = ctx.say.day(trade.at)
    title = title_of(ctx, trade)
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
        facts(*pieces(ctx, trade), *_facts(ctx, trade)),
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
            Paragraph(_went(ctx, trip) if trip else ""),
            figures(*(container_figure(ctx, found) for found in containers), look=""),
        ),
        title=title,
        description=words("trades.one_description", title=title, day=day.text),
        crumbs=(section_crumb(ctx, "trades"),),
        over=day,
    )


def _facts(ctx: PageContext, trade: Trade) -> Iterator[tuple[str, str]]:
    words = ctx.words
    if trade.paid:
        yield words(by_reader(ctx, "trades.paid")), money(words, trade.paid)
    if trade.was_paid:
        yield words(by_reader(ctx, "trades.was_paid")), money(words, trade.was_paid)
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


def _went(ctx: PageContext, trip: Outcome) -> str:
    words = ctx.words
    text = words(f"trades.went.{trip.went}", hours=say_hours(ctx, trip.hours))
    if trip.changed is None:
        return text
    side = "warmer" if trip.changed > 0 else "colder"
    by = ctx.display.change("temperature", abs(trip.changed))
    how = with_unit(plain(ctx.words, by, 1), words.unit(ctx.display.unit("temperature")))
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
