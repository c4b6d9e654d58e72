"""All findings of a journal at a moment: the one entry to the calculations for those who make pages."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import Any, TypeVar

from generator.door.door import Door
from generator.reckon.analysis.track_record import (
    ArrivalHeld,
    SizeHeld,
    StockHeld,
    arrivals_held,
    size_held,
    stocks_held,
)
from generator.reckon.arrivals.analysis import what_ifs_in
from generator.reckon.arrivals.changes import CoralChange, coral_changes
from generator.reckon.arrivals.informed import Informed
from generator.reckon.arrivals.known import KnownWater, Waters, ever_in
from generator.reckon.arrivals.shares import Shares
from generator.reckon.arrivals.what_if import WhatIf
from generator.reckon.dosing.analysis import DosingFindings, analyse_dosing
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import Answer, CannotTell
from generator.reckon.growth.corals import CoralFindings, analyse_corals, could_go
from generator.reckon.growth.forecast import Spread
from generator.reckon.growth.places import Suggestion
from generator.reckon.growth.room import RoomFindings
from generator.reckon.lineage.at_risk import AtRisk, Holder, holders, lines_at_risk, received_from
from generator.reckon.lineage.family import Family, families
from generator.reckon.lineage.survival import GroupSurvival, survival
from generator.reckon.planned.analysis import Known, PlanFindings, analyse_plans
from generator.reckon.trade.analysis import TradeFindings, analyse_trades
from generator.reckon.trade.offers import Offer, offers
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.findings import WaterFindings
from generator.records.journal import Journal
from generator.units.quantity import Quantity

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Findings:
    """All findings of a journal at a moment, each mapping by system, coral or line as its name says.

    `predicted` are, by system, the events since the last reading: of those the water knows what was predicted only.
    """

    as_of: datetime
    water: Mapping[str, WaterFindings] = field(default_factory=dict)
    predicted: Mapping[str, tuple[Informed, ...]] = field(default_factory=dict)
    shares: Mapping[str, Shares | CannotTell] = field(default_factory=dict)
    what_if: Mapping[str, tuple[WhatIf, ...]] = field(default_factory=dict)
    changes: Mapping[str, tuple[CoralChange, ...]] = field(default_factory=dict)
    dosing: Mapping[str, DosingFindings] = field(default_factory=dict)
    corals: Mapping[str, CoralFindings] = field(default_factory=dict)
    rooms: Mapping[str, RoomFindings] = field(default_factory=dict)
    families: Mapping[str, Family] = field(default_factory=dict)
    holders: Mapping[str, tuple[Holder, ...]] = field(default_factory=dict)
    at_risk: tuple[AtRisk, ...] = ()
    could_go: Mapping[str, tuple[Suggestion, ...]] = field(default_factory=dict)
    plans: tuple[PlanFindings, ...] = ()
    survival: tuple[GroupSurvival, ...] = ()
    trade: TradeFindings = field(default_factory=TradeFindings)
    offers: tuple[Offer, ...] = ()
    arrivals_held: tuple[ArrivalHeld, ...] = ()
    stocks_held: tuple[StockHeld, ...] = ()
    sizes_held: tuple[SizeHeld, ...] = ()


def analyse(journal: Journal, as_of: datetime, door: Door | None = None) -> Findings:
    """All findings of a journal at a moment. Days are those of the journal's time zone.

    Through a `door` that remembers, only what rests on something new is calculated.
    """
    door = door or Door()
    given = door.given("moment of the analysis", {"": as_of})
    here = door.one("here and now", lambda: given("").astimezone(journal.settings.time_zone))
    today = door.one("today", lambda: here().date())
    systems, corals = journal.systems, journal.corals

    def by_system(name: str, make: Callable[[str], T], shared: bool = False) -> Mapping[str, T]:
        return door.each(name, lambda: systems, make, shared=shared)

    def by_coral(name: str, make: Callable[[str], T]) -> Mapping[str, T]:
        return door.each(name, lambda: corals, make)

    def by_id(name: str, make: Callable[[], Mapping[str, T]]) -> Mapping[str, T]:
        """A mapping that is made as a whole; who asks for a part of it does not depend on the others."""
        whole = door.one(f"all {name}", make)
        return door.each(name, whole, lambda id: whole()[id], keep=False)

    ever = by_system("ever in", lambda id: ever_in(id, journal.log_of(id), corals))

    def waters() -> Waters:
        return Waters(systems, journal.logs, corals, journal.settings.time_zone, ever)

    def own_distances() -> Mapping[str, Quantity]:
        return journal.settings.safe_distances

    def grams(id: str) -> Answer:
        return water[id].calcification.grams_per_day

    def in_water(id: str) -> WaterFindings:
        return analyse_water(systems[id], journal.log_of(id), (), here(), [each.event for each in events[id]])

    events = by_system("events", lambda id: waters().events(id, here()))
    water = by_system("water", in_water)
    parts = by_system("parts", lambda id: waters().parts(id, events[id], grams(id), today()))
    known = by_system("known", lambda id: KnownWater(water[id], events[id], *parts[id]), shared=True)
    dosing = by_system("dosing", lambda id: analyse_dosing(systems[id], journal.log_of(id), water[id], given("")))
    tested = by_system("water and tests", lambda id: _with_test_of(water[id], dosing[id].plan), shared=True)
    every_coral, rooms = analyse_corals(corals, systems, journal.logs, own_distances, today, door)
    shares = by_system("shares", lambda id: parts[id][0], shared=True)
    changes = by_system(
        "changes", lambda id: coral_changes(systems[id], journal.log_of(id), ever[id], events[id], here())
    )
    what_if = door.each(
        "what if",
        lambda: [id for id in systems if isinstance(shares[id], Shares)],
        lambda id: what_ifs_in(id, known, systems),
    )
    trees = by_id("families", lambda: families(corals.values(), journal.trades.values(), today()))
    received = door.one("received", lambda: received_from(journal.trades.values(), today()))
    at_risk = door.one("lines at risk", lambda: lines_at_risk(trees, corals, journal.trades.values(), today()))

    def all_offers() -> tuple[Offer, ...]:
        spreads = {id: found.spread for id, found in every_coral.items() if isinstance(found.spread, Spread)}
        return offers(corals, today(), journal.settings.offers, {risk.line for risk in at_risk()}, spreads)

    def all_plans() -> tuple[PlanFindings, ...]:
        latest = {id: {kind: each.value for kind, each in found.latest.items()} for id, found in tested.items()}
        uptake = {id: found.uptake["alkalinity"].per_day for id, found in tested.items()}
        standing = {id: room.standing for id, room in rooms.items()}
        return analyse_plans(journal, Known(standing, dosing, latest, events, uptake), given(""))

    held = by_coral("size held", lambda id: size_held(corals[id], journal.logs, today()))
    stocks = by_system("stocks held", lambda id: tuple(stocks_held(systems[id], journal.log_of(id))))
    mappings: dict[str, Mapping[str, Any]] = {
        "water": tested,
        "predicted": by_system("predicted", lambda id: known[id].unread),
        "shares": shares,
        "what_if": what_if,
        "changes": changes,
        "dosing": dosing,
        "corals": every_coral,
        "rooms": rooms,
        "families": trees,
        "holders": door.each("holders", lambda: trees, lambda line: holders(trees[line], corals, received())),
        "could_go": by_id("could go", lambda: could_go(every_coral, rooms, systems, own_distances(), today())),
    }
    return door.view(
        Findings,
        as_of=lambda: given(""),
        at_risk=at_risk,
        plans=door.one("plans found", lambda: all_plans() if journal.plans else ()),
        survival=door.one("survival", lambda: survival(corals.values(), journal.trades, today())),
        trade=door.one("trade", lambda: analyse_trades(journal.trades, corals, journal.settings.containers, today())),
        offers=door.one("offers", all_offers),
        arrivals_held=door.one("arrivals held", lambda: arrivals_held(changes)),
        stocks_held=door.one("all stocks held", lambda: _in_order_of_refilling(stocks.values())),
        sizes_held=door.one("all sizes held", lambda: _in_order_of_days(held.values())),
        **{part: partial(mappings.__getitem__, part) for part in mappings},
    )


def _in_order_of_refilling(stocks: Iterable[tuple[StockHeld, ...]]) -> tuple[StockHeld, ...]:
    every = (each for of_system in stocks for each in of_system)
    return tuple(sorted(every, key=lambda each: (each.refilled, each.system, each.solution)))


def _in_order_of_days(sizes: Iterable[SizeHeld | None]) -> tuple[SizeHeld, ...]:
    return tuple(sorted((each for each in sizes if each), key=lambda each: (each.day, each.coral)))


def _with_test_of(water: WaterFindings, plan: Plan | CannotTell) -> WaterFindings:
    """A water with the test of alkalinity that its dosing plan counts on, so that all pages ask for the same."""
    if isinstance(plan, CannotTell):
        return water
    return replace(water, next_tests={**water.next_tests, "alkalinity": plan.next_test})
