"""Travel: trips that went well and badly side by side, what trips show about containers, and planned trips."""

from dataclasses import dataclass

from generator.reckon.trade.outcomes import Condition, Outcome, Spread
from generator.reckon.trade.survey import ContainerFindings
from generator.render.blocks import Figure
from generator.render.inline import Link
from generator.render.numbers import NBSP, Moment, plain, say_estimate, say_written, with_unit
from generator.render.page import Frame
from generator.render.pages.deals import to_trade
from generator.render.pages.desk import Desk, frame, section_crumb
from generator.render.pages.planned import to_sheet, when_of
from generator.render.pages.why import to_method, why_of


@dataclass(frozen=True, slots=True)
class ConditionRow:
    """One circumstance, for the trips that went well and those that went badly."""

    name: str
    well: str
    badly: str


@dataclass(frozen=True, slots=True)
class TripRow:
    """One past trip."""

    trade: Link
    hours: str
    container: str
    water: str
    change: str
    states: tuple[str, ...]
    details: str
    went: str
    look: str


@dataclass(frozen=True, slots=True)
class ComingRow:
    """One planned trip."""

    link: Link
    when: Moment | None


@dataclass(frozen=True, slots=True)
class TravelPage:
    """The page of all journeys."""

    frame: Frame
    coming: tuple[ComingRow, ...]
    count: str
    conditions: tuple[ConditionRow, ...]
    trips: tuple[TripRow, ...]
    containers: tuple[Figure, ...]
    methods: tuple[Link, ...]
    cautions: tuple[str, ...]


def travel_page(desk: Desk) -> TravelPage:
    """Everything about travel, newest trip first."""
    words, found = desk.words, desk.found.trade
    went = [trip.went for trip in found.trips]
    return TravelPage(
        frame(desk, words("travel.title"), words("travel.description"), "trades", section_crumb(desk, "trades")),
        tuple(
            ComingRow(to_sheet(desk, each.plan), when_of(desk, each.plan))
            for each in desk.found.plans
            if each.plan.id in desk.view.plans and each.plan.travel
        ),
        words("travel.count", well=went.count("well"), badly=went.count("badly"), other=went.count("not-recorded")),
        tuple(_condition(desk, each) for each in found.conditions if each.well or each.badly),
        tuple(_trip(desk, trip) for trip in reversed(found.trips)),
        tuple(container_figure(desk, each) for each in found.containers),
        tuple(to_method(desk, id) for id in ("trip-outcomes", "cooling", "journey")),
        tuple(words(f"cautions.{id}") for id in ("cites", "lifting", "no-release")),
    )


def has_travel(desk: Desk) -> bool:
    """Whether there are journeys to show, and a page of trades that links to them."""
    found, view = desk.found.trade, desk.view
    return bool((found.trips or found.containers) and (view.trades or view.shows_offers))


def container_figure(desk: Desk, found: ContainerFindings) -> Figure:
    """A container's time constant, and its evidence."""
    words, constant = desk.words, found.time_constant
    held = say_water(desk, found.litres)
    learned = words("travel.learned", n=found.legs) if found.legs else words("travel.usual")
    return Figure(
        words("travel.constant", container=found.container, water=held),
        say_estimate(words, constant.estimate, words.unit("h")),
        why_of(desk, constant.method, constant.inputs, constant.parts, words.unit("h")),
        None,
        learned,
    )


def say_water(desk: Desk, litres: float) -> str:
    """A volume of water, as exact as a bucket."""
    value = desk.display.level("volume", litres)
    return with_unit(plain(desk.words, value, 0 if value >= 10 else 1), desk.words.unit(desk.display.unit("volume")))


def say_hours(desk: Desk, hours: float) -> str:
    """A time on the road: in minutes below an hour and a half."""
    words = desk.words
    return (
        with_unit(plain(desk.words, hours * 60, 0), words.unit("min"))
        if hours < 1.5
        else with_unit(plain(desk.words, hours, 1), words.unit("h"))
    )


def _condition(desk: Desk, found: Condition) -> ConditionRow:
    words = desk.words

    def said(spread: Spread | None) -> str:
        if spread is None:
            return words("travel.no_trip")
        unit = words.unit(_unit(desk, found))
        median, low, high = (_value(desk, found, each) for each in (spread.median, spread.low, spread.high))
        if spread.n == 1:
            return words("travel.one", value=with_unit(median, unit))
        ends = words("methods.range", low=low, high=with_unit(high, unit))
        return words("travel.spread", n=spread.n, value=with_unit(median, unit), ends=ends)

    return ConditionRow(words(f"travel.conditions.{found.id}"), said(found.well), said(found.badly))


def _unit(desk: Desk, found: Condition) -> str:
    return desk.display.unit("temperature") if found.id == "changed" else found.unit


def _value(desk: Desk, found: Condition, value: float) -> str:
    return plain(desk.words, desk.display.change("temperature", value) if found.id == "changed" else value, 1)


def _trip(desk: Desk, trip: Outcome) -> TripRow:
    words = desk.words
    unit = words.unit(desk.display.unit("temperature"))
    change = (
        ""
        if trip.changed is None
        else with_unit(plain(desk.words, desk.display.change("temperature", trip.changed), 1), unit)
    )
    details = (
        words("trades.slime") if trip.slime else "",
        words("trades.broken_off", n=trip.broken_off) if trip.broken_off else "",
    )
    trade = desk.view.trades[trip.trade]
    water = trade.travel.water if trade.travel else None
    return TripRow(
        to_trade(desk, trade),
        say_written(words, trade.travel.duration) if trade.travel else say_hours(desk, trip.hours),
        trip.container or "",
        say_written(words, water) if water else "",
        change,
        tuple(words(f"states.{state}") if state else NBSP for state in trip.states),
        ", ".join(detail for detail in details if detail),
        words(f"travel.went.{trip.went}"),
        trip.went,
    )
