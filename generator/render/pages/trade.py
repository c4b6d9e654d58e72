"""A trade's page: what changed hands, what is owed, how it travelled, and the condition afterwards."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta

from generator.reckon.trade.outcomes import AFTER_DAYS, Outcome
from generator.records.trade import State, Trade
from generator.render import links
from generator.render.blocks import Figure
from generator.render.inline import Link
from generator.render.numbers import Moment, plain, say_canonical, say_day, say_written, with_unit
from generator.render.page import Frame
from generator.render.pages.deals import Promise, Side, by_reader, money, pieces, promise, title_of
from generator.render.pages.desk import Desk, frame, section_crumb
from generator.render.pages.travel import container_figure, say_hours


@dataclass(frozen=True, slots=True)
class OnTheWay:
    """The temperatures at one moment of the journey."""

    after: str
    water: str
    air: str


@dataclass(frozen=True, slots=True)
class StateRow:
    """The corals' condition some days after arrival."""

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
    gave: Side
    received: Side
    facts: tuple[tuple[str, str], ...]
    owed: tuple[Promise, ...]
    papers: tuple[Link, ...]
    way: tuple[tuple[str, str], ...]
    temperatures: tuple[OnTheWay, ...]
    states: tuple[StateRow, ...]
    went: str
    became: tuple[Link, ...]
    teaches: tuple[Figure, ...]


def trade_page(desk: Desk, trade: Trade) -> TradePage:
    """The page of one trade."""
    words = desk.words
    day = say_day(desk.display, words, trade.at)
    title = title_of(desk, trade)
    described = words("trades.one_description", title=title, day=day.text)
    trip = next((trip for trip in desk.found.trade.trips if trip.trade == trade.id), None)
    return TradePage(
        frame(desk, title, described, "trades", section_crumb(desk, "trades")),
        title,
        day,
        *pieces(desk, trade),
        tuple(_facts(desk, trade)),
        tuple(promise(desk, trade, number, owed) for number, owed in enumerate(trade.owed, 1)),
        tuple(_papers(desk, trade)),
        tuple(_way(desk, trade)),
        tuple(_temperatures(desk, trade)),
        tuple(_states(desk, trade)),
        _went(desk, trip) if trip else "",
        tuple(_became(desk, trade)),
        tuple(
            container_figure(desk, found)
            for found in desk.found.trade.containers
            if trip and found.container == trip.container
        ),
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
    yield words("trades.travel"), say_written(words, travel.duration)
    if travel.container:
        yield words("trades.container"), travel.container
    if travel.water:
        yield words("trades.water"), say_written(words, travel.water)
    if travel.distance:
        yield words("trades.distance"), say_written(words, travel.distance)
    if travel.packing:
        yield words("trades.packing"), travel.packing


def _temperatures(desk: Desk, trade: Trade) -> Iterator[OnTheWay]:
    for at in sorted(trade.travel.temperatures if trade.travel else (), key=lambda each: each.after.canonical()):
        water, air = (
            say_canonical(desk.display, desk.words, "temperature", read.canonical(), read) if read else ""
            for read in (at.water, at.air)
        )
        yield OnTheWay(say_written(desk.words, at.after), water, air)


def _states(desk: Desk, trade: Trade) -> Iterator[StateRow]:
    """The recorded checks, and the checks that were due but are not recorded."""
    words = desk.words
    rows = [(state.days, _state(desk, state)) for state in trade.checks]
    if trade.received:
        written = {state.days for state in trade.checks}
        for days in AFTER_DAYS:
            if days not in written and trade.at + timedelta(days=days) <= desk.today:
                rows.append(
                    (days, StateRow(_after(desk, days), words("trades.all_pieces"), words("states.unwritten"), ""))
                )
    yield from (row for _, row in sorted(rows, key=lambda pair: pair[0]))


def _state(desk: Desk, state: State) -> StateRow:
    words = desk.words
    details = (
        words("trades.slime") if state.slime else "",
        words("trades.broken_off", n=state.broken_off) if state.broken_off else "",
        state.note or "",
    )
    return StateRow(
        _after(desk, state.days),
        desk.to_coral(state.coral).text if state.coral else words("trades.all_pieces"),
        words(f"states.{state.condition}"),
        " · ".join(detail for detail in details if detail),
    )


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
