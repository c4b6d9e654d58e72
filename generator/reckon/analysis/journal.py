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
from generator.reckon.arrivals.known import KnownWater, Parts, Waters, ever_in, water_with
from generator.reckon.arrivals.shares import Shares
from generator.reckon.arrivals.what_if import WhatIf
from generator.reckon.dosing.analysis import DosingFindings, analyse_dosing
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import CannotTell
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
    steps = _Steps(door or Door(), journal, as_of)
    found = steps.water() | steps.corals() | steps.lines()
    events = found.pop("events")
    found |= {"plans": steps.plans(found, events), "offers": steps.offers(found)}
    return steps.door.view(
        Findings,
        as_of=steps.moment,
        **{part: each if callable(each) else partial(found.__getitem__, part) for part, each in found.items()},
    )


_Parts = dict[str, Any]


class _Steps:
    """The steps of an analysis, room by room: the parts of the findings, each a mapping of steps, or one step."""

    def __init__(self, door: Door, journal: Journal, as_of: datetime) -> None:
        given = door.given("moment of the analysis", {"": as_of})
        self.door, self.journal = door, journal
        self.moment: Callable[[], datetime] = partial(given, "")
        self.here = door.one("here and now", lambda: given("").astimezone(journal.settings.time_zone))
        self.day = door.one("today", lambda: self.here().date())

    def by_system(self, name: str, make: Callable[[str], T], shared: bool = False) -> Mapping[str, T]:
        """A step for each system."""
        return self.door.each(name, lambda: self.journal.systems, make, shared=shared)

    def water(self) -> _Parts:
        """Each system's water, who takes what of it, what changed it, and how it is dosed."""
        journal, here = self.journal, self.here
        systems, log_of = journal.systems, journal.log_of

        def waters() -> Waters:
            return Waters(systems, journal.logs, journal.corals, journal.settings.time_zone, ever)

        def measured(id: str) -> WaterFindings:
            return water_with(systems[id], log_of(id), events[id], here())

        def parts(id: str) -> Parts:
            return waters().parts(id, events[id], water[id].calcification.grams_per_day, self.day())

        ever = self.by_system("ever in", lambda id: ever_in(id, log_of(id), journal.corals))
        events = self.by_system("events", lambda id: waters().events(id, here()))
        water = self.by_system("water", measured)
        taken = self.by_system("taken", parts)
        known = self.by_system("known", lambda id: KnownWater(water[id], events[id], *taken[id]), shared=True)
        dosing = self.by_system("dosing", lambda id: analyse_dosing(systems[id], log_of(id), water[id], self.moment()))
        shares = self.by_system("shares", lambda id: taken[id][0], shared=True)
        changes = self.by_system(
            "changes", lambda id: coral_changes(systems[id], log_of(id), ever[id], events[id], here())
        )
        stocks = self.by_system("stocks held", lambda id: tuple(stocks_held(systems[id], log_of(id))))
        return {
            "water": self.by_system("tested", lambda id: _with_test_of(water[id], dosing[id].plan), shared=True),
            "predicted": self.by_system("predicted", lambda id: known[id].unread),
            "shares": shares,
            "what_if": self.door.each(
                "what if",
                lambda: [id for id in systems if isinstance(shares[id], Shares)],
                lambda id: what_ifs_in(id, known, systems),
            ),
            "changes": changes,
            "dosing": dosing,
            "arrivals_held": self.door.one("arrivals held", lambda: arrivals_held(changes)),
            "stocks_held": self.door.one("all stocks held", lambda: _by_refilling(stocks.values())),
            "events": events,
        }

    def corals(self) -> _Parts:
        """How each coral does, and the room in each system."""
        journal, today = self.journal, self.day
        found, rooms = analyse_corals(journal.corals, journal.systems, journal.logs, self._distances, today, self.door)
        held = self.door.each(
            "size held", lambda: journal.corals, lambda id: size_held(journal.corals[id], journal.logs, today())
        )
        return {
            "corals": found,
            "rooms": rooms,
            "could_go": self.door.by_id(
                "could go", lambda: could_go(found, rooms, journal.systems, self._distances(), today())
            ),
            "sizes_held": self.door.one("all sizes held", lambda: _by_day(held.values())),
        }

    def lines(self) -> _Parts:
        """Each line's tree, who holds it, what one loss would end, and what trades tell."""
        journal, today = self.journal, self.day
        corals, trades = journal.corals, journal.trades
        trees = self.door.by_id("families", lambda: families(corals.values(), trades.values(), today()))
        received = self.door.one("received", lambda: received_from(trades.values(), today()))
        return {
            "families": trees,
            "holders": self.door.each("holders", lambda: trees, lambda id: holders(trees[id], corals, received())),
            "at_risk": self.door.one("at risk", lambda: lines_at_risk(trees, corals, trades.values(), today())),
            "survival": self.door.one("survival", lambda: survival(corals.values(), trades, today())),
            "trade": self.door.one(
                "trade", lambda: analyse_trades(trades, corals, journal.settings.containers, today())
            ),
        }

    def offers(self, found: _Parts) -> Callable[[], tuple[Offer, ...]]:
        """What is ready to offer, by what is found of corals and lines."""

        def every() -> tuple[Offer, ...]:
            spreads = {id: each.spread for id, each in found["corals"].items() if isinstance(each.spread, Spread)}
            at_risk = {risk.line for risk in found["at_risk"]()}
            return offers(self.journal.corals, self.day(), self.journal.settings.offers, at_risk, spreads)

        return self.door.one("offers", every)

    def plans(
        self, found: _Parts, events: Mapping[str, tuple[Informed, ...]]
    ) -> Callable[[], tuple[PlanFindings, ...]]:
        """What is planned, by what is found of waters and rooms."""

        def every() -> tuple[PlanFindings, ...]:
            if not self.journal.plans:
                return ()
            standing = {id: room.standing for id, room in found["rooms"].items()}
            water: Mapping[str, WaterFindings] = found["water"]
            latest = {id: {kind: last.value for kind, last in each.latest.items()} for id, each in water.items()}
            known = Known(standing, found["dosing"], latest, events)
            return analyse_plans(self.journal, known, self.moment())

        return self.door.one("plans found", every)

    def _distances(self) -> Mapping[str, Quantity]:
        return self.journal.settings.safe_distances


def _by_refilling(stocks: Iterable[tuple[StockHeld, ...]]) -> tuple[StockHeld, ...]:
    every = (each for of_system in stocks for each in of_system)
    return tuple(sorted(every, key=lambda each: (each.refilled, each.system, each.solution)))


def _by_day(sizes: Iterable[SizeHeld | None]) -> tuple[SizeHeld, ...]:
    return tuple(sorted((each for each in sizes if each), key=lambda each: (each.day, each.coral)))


def _with_test_of(water: WaterFindings, plan: Plan | CannotTell) -> WaterFindings:
    """A water with the test of alkalinity that its dosing plan counts on, so that all pages ask for the same."""
    if isinstance(plan, CannotTell):
        return water
    return replace(water, next_tests={**water.next_tests, "alkalinity": plan.next_test})
