"""A trade's page: what changed hands, what is owed, how it travelled, and the condition afterwards."""

from collections.abc import Iterator
from datetime import timedelta

from generator.reckon.trade.analysis import AFTER_DAYS, Outcome
from generator.records.trade import State, Trade
from generator.render.base import links
from generator.render.base.blocks import Paragraph, Table, facts, figures, items, row, section
from generator.render.base.context import Desk, page, section_crumb
from generator.render.base.inline import Inline, Link, joined
from generator.render.base.numbers import plain, with_unit
from generator.render.base.page import Page
from generator.render.pages.deals import by_reader, money, pieces, promise, title_of
from generator.render.pages.travel import container_figure, say_hours


def trade_page(desk: Desk, trade: Trade) -> Page:
    """The page of one trade."""
    words = desk.words
    day = desk.say.day(trade.at)
    title = title_of(desk, trade)
    trip = next((trip for trip in desk.found.trade.trips if trip.trade == trade.id), None)
    owed = (promise(desk, trade, number, owed, False) for number, owed in enumerate(trade.owed, 1))
    containers = [each for each in desk.found.trade.containers if trip and each.container == trip.container]
    became = row(*_became(desk, trade))
    temperatures, states = words("trades.temperatures"), words("trades.states")
    return page(
        desk,
        "trade",
        "trades",
        Paragraph(words("trades.caution"), "caution"),
        facts(*pieces(desk, trade), *_facts(desk, trade)),
        row(*_papers(desk, trade)),
        section(words("trades.owed.title"), items(*owed, look="promises")),
        section(
            words("trades.log"),
            facts(*_way(desk, trade)),
            Table(
                temperatures,
                words.each("trades.since_leaving", "trades.water", "trades.air"),
                tuple(_temperatures(desk, trade)),
            ),
        ),
        section(
            states,
            Table(
                states,
                words.each("trades.after", "trades.coral", "trades.state", "trades.details"),
                tuple(_states(desk, trade)),
            ),
            Paragraph(words("trades.became") if became else ""),
            became,
        ),
        section(
            words("trades.teaches"),
            Paragraph(_went(desk, trip) if trip else ""),
            figures(*(container_figure(desk, found) for found in containers), look=""),
        ),
        title=title,
        description=words("trades.one_description", title=title, day=day.text),
        crumbs=(section_crumb(desk, "trades"),),
        over=day,
    )


def _facts(desk: Desk, trade: Trade) -> Iterator[tuple[str, str]]:
    words = desk.words
    if trade.paid:
        yield words(by_reader(desk, "trades.paid")), money(words, trade.paid)
    if trade.was_paid:
        yield words(by_reader(desk, "trades.was_paid")), money(words, trade.was_paid)
    for key, text in (("inspection", trade.inspection), ("note", trade.note), ("private", trade.private)):
        if text:
            yield words(f"trades.{key}"), text


def _papers(desk: Desk, trade: Trade) -> Iterator[Link]:
    paper = desk.papers.trades.get(trade.id)
    if paper is not None:
        yield desk.link(links.trade_paper_of(trade.id), desk.words("origin.of_given"))
    for got in trade.received:
        if got.coral in desk.papers.corals:
            name = desk.to_coral(got.coral).text
            yield desk.link(links.paper_of(got.coral), desk.words("origin.of", coral=name))


def _way(desk: Desk, trade: Trade) -> Iterator[tuple[str, str]]:
    words, travel = desk.words, trade.travel
    if travel is None:
        return
    yield words("trades.travel"), desk.say.written(travel.duration)
    if travel.container:
        yield words("trades.container"), travel.container
    if travel.water:
        yield words("trades.water"), desk.say.written(travel.water)
    if travel.distance:
        yield words("trades.distance"), desk.say.written(travel.distance)
    if travel.packing:
        yield words("trades.packing"), travel.packing


def _temperatures(desk: Desk, trade: Trade) -> Iterator[tuple[Inline, ...]]:
    """The temperatures at each moment of the journey."""
    for at in sorted(trade.travel.temperatures if trade.travel else (), key=lambda each: each.after.canonical()):
        water, air = (
            desk.say.canonical("temperature", read.canonical(), read) if read else "" for read in (at.water, at.air)
        )
        yield desk.say.written(at.after), water, air


def _states(desk: Desk, trade: Trade) -> Iterator[tuple[Inline, ...]]:
    """The recorded checks, and the checks that were due but are not recorded."""
    words = desk.words
    rows = [(state.days, _state(desk, state)) for state in trade.checks]
    if trade.received:
        due = {days for days in AFTER_DAYS if trade.at + timedelta(days=days) <= desk.today}
        for days in due - {state.days for state in trade.checks}:
            rows.append((days, (_after(desk, days), words("trades.all_pieces"), words("states.unwritten"), "")))
    yield from (row for _, row in sorted(rows, key=lambda pair: pair[0]))


def _state(desk: Desk, state: State) -> tuple[Inline, ...]:
    words = desk.words
    details = (
        words("trades.slime") if state.slime else "",
        words("trades.broken_off", n=state.broken_off) if state.broken_off else "",
        state.note or "",
    )
    coral = desk.to_coral(state.coral).text if state.coral else words("trades.all_pieces")
    return _after(desk, state.days), coral, words(f"states.{state.condition}"), joined(*details, by=" · ")


def _after(desk: Desk, days: int) -> str:
    return desk.words("trades.after_days", n=days) if days else desk.words("trades.on_arrival")


def _went(desk: Desk, trip: Outcome) -> str:
    words = desk.words
    text = words(f"trades.went.{trip.went}", hours=say_hours(desk, trip.hours))
    if trip.changed is None:
        return text
    side = "warmer" if trip.changed > 0 else "colder"
    by = desk.display.change("temperature", abs(trip.changed))
    how = with_unit(plain(desk.words, by, 1), words.unit(desk.display.unit("temperature")))
    return f"{text} {words(f'trades.changed.{side}', by=how)}"


def _became(desk: Desk, trade: Trade) -> Iterator[Link]:
    """The frags that broke off on the way and became corals of their own."""
    came = {got.coral for got in trade.received}
    for coral in desk.view.corals.values():
        of_trip = coral.arrival.trade in (None, trade.id) and coral.arrival.at - trade.at <= timedelta(
            days=AFTER_DAYS[-1]
        )
        if coral.arrival.how == "broken-off" and coral.parent in came and coral.arrival.at >= trade.at and of_trip:
            yield desk.to_coral(coral.id)
