"""All findings of a journal at a moment: the one entry to the calculations for those who make pages."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from generator.reckon.analysis.track_record import (
    ArrivalHeld,
    SizeHeld,
    StockHeld,
    arrivals_held,
    sizes_held,
    stocks_held,
)
from generator.reckon.arrivals.analysis import analyse_demand
from generator.reckon.arrivals.changes import CoralChange
from generator.reckon.arrivals.informed import Informed
from generator.reckon.arrivals.known import known_waters
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


def analyse(journal: Journal, as_of: datetime) -> Findings:
    """All findings of a journal at a moment. Days are those of the journal's time zone."""
    here = as_of.astimezone(journal.settings.time_zone)
    today = here.date()
    every = tuple(journal.corals.values())
    known = known_waters(journal, here)
    water = {id: each.water for id, each in known.items()}
    demand = analyse_demand(journal, known, here)
    of_corals, rooms = analyse_corals(every, journal.systems, journal.logs, journal.settings.safe_distances, today)
    dosing = {
        id: analyse_dosing(system, journal.log_of(id), water[id], as_of) for id, system in journal.systems.items()
    }
    water = {id: _with_test_of(each, dosing[id].plan) for id, each in water.items()}
    received = received_from(journal.trades.values(), today)
    trees = families(every, journal.trades.values(), today)
    at_risk = lines_at_risk(trees, journal.corals, journal.trades.values(), today)
    return Findings(
        as_of=as_of,
        water=water,
        predicted={id: each.unread for id, each in known.items()},
        shares=demand.shares,
        what_if=demand.what_if,
        changes=demand.changes,
        dosing=dosing,
        corals=of_corals,
        rooms=rooms,
        families=trees,
        holders={line: holders(tree, journal.corals, received) for line, tree in trees.items()},
        could_go=could_go(of_corals, rooms, journal.systems, journal.settings.safe_distances, today),
        plans=analyse_plans(
            journal,
            Known(
                {id: room.standing for id, room in rooms.items()},
                dosing,
                {id: {kind: latest.value for kind, latest in found.latest.items()} for id, found in water.items()},
                {id: each.events for id, each in known.items()},
                {id: found.uptake["alkalinity"].per_day for id, found in water.items()},
            ),
            as_of,
        ),
        at_risk=at_risk,
        survival=survival(every, journal.trades, today),
        trade=analyse_trades(journal.trades, journal.corals, journal.settings.containers, today),
        offers=offers(
            journal.corals,
            today,
            journal.settings.offers,
            {risk.line for risk in at_risk},
            {id: found.spread for id, found in of_corals.items() if isinstance(found.spread, Spread)},
        ),
        arrivals_held=arrivals_held(demand.changes),
        stocks_held=stocks_held(journal.systems, {id: log.until(as_of) for id, log in journal.logs.items()}),
        sizes_held=sizes_held(every, journal.logs, today),
    )


def _with_test_of(water: WaterFindings, plan: Plan | CannotTell) -> WaterFindings:
    """A water with the test of alkalinity that its dosing plan counts on, so that all pages ask for the same."""
    if isinstance(plan, CannotTell):
        return water
    return replace(water, next_tests={**water.next_tests, "alkalinity": plan.next_test})
