"""All findings of a journal at a moment: the one entry to the calculations for those who make pages."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import partial
from itertools import chain
from typing import TYPE_CHECKING, Any, TypeVar

from msgspec.structs import replace

from generator.door.door import Door, later
from generator.reckon.analysis.steps import (
    analyse_corals,
    find_changes,
    find_volumes,
    logs_by_month,
    places_of,
    tell_events,
)
from generator.reckon.analysis.stretches import tell_stretches, tell_whole_waters
from generator.records.coral import Coral, life_of
from generator.records.journal import Journal
from generator.records.log import first_day, spells
from generator.records.trade import soonest_first
from generator.units.quantity import Quantity

if TYPE_CHECKING:
    from generator.reckon.arrivals.analysis import WhatIf
    from generator.reckon.arrivals.informed import Informed
    from generator.reckon.arrivals.known import Parts, Waters
    from generator.reckon.arrivals.shares import PartOfWhole, Shares
    from generator.reckon.arrivals.story import ArrivalHeld, Change, CoralChange
    from generator.reckon.dosing.analysis import DosingFindings, StockHeld, VolumeByDose
    from generator.reckon.dosing.plan import Plan
    from generator.reckon.finding import CannotTell
    from generator.reckon.growth.corals import CoralFindings, SizeHeld, TouchHeld
    from generator.reckon.growth.places import Suggestion
    from generator.reckon.growth.room import RoomFindings
    from generator.reckon.lineage.lines import AtRisk, Family, GroupSurvival, Holder
    from generator.reckon.planned.analysis import BasisOfPlans, PlanFindings
    from generator.reckon.planned.water import InWater
    from generator.reckon.trade.analysis import TradeFindings
    from generator.reckon.trade.offers import Offer
    from generator.reckon.water.analysis import ReadingsHeld
    from generator.reckon.water.estimate import Past
    from generator.reckon.water.findings import WaterFindings
    from generator.reckon.water.replay import YearOfWater

with later():  # each room is loaded when something of it is calculated
    from generator.reckon import finding as _finding
    from generator.reckon.arrivals import analysis as _arrivals
    from generator.reckon.arrivals import informed as _informed
    from generator.reckon.arrivals import known as _known
    from generator.reckon.arrivals import shares as _shares
    from generator.reckon.arrivals import story as _story
    from generator.reckon.dosing import analysis as _dosing
    from generator.reckon.growth import corals as _corals
    from generator.reckon.growth import forecast as _forecast
    from generator.reckon.growth import mass as _mass
    from generator.reckon.lineage import lines as _lines
    from generator.reckon.planned import analysis as _planned
    from generator.reckon.trade import analysis as _trade
    from generator.reckon.trade import offers as _offers
    from generator.reckon.water import analysis as _water


def _no_trades() -> "TradeFindings":
    from generator.reckon.trade.analysis import TradeFindings

    return TradeFindings()


@dataclass(frozen=True, slots=True)
class Findings:
    """All findings of a journal at a moment, each mapping by system, coral or line as its name says.

    `years` are by system and year, as `lagoon/2026`. `part_of` is, by coral, what part of its system's uptake it takes,
    `room_of` what is found about its room, and `changes_of` its large changes. `predicted` are, by system, the events
    since the last reading: of those the water knows what was predicted only. `whole_water` is `water` with all that
    was told of the stretches before. `stretches` are all parts of it, by system and name, as `lagoon/2025`.
    """

    as_of: datetime
    water: "Mapping[str, WaterFindings]" = field(default_factory=dict)
    whole_water: "Mapping[str, WaterFindings]" = field(default_factory=dict)
    stretches: "Mapping[str, Past]" = field(default_factory=dict)
    years: "Mapping[str, YearOfWater]" = field(default_factory=dict)
    predicted: "Mapping[str, tuple[Informed, ...]]" = field(default_factory=dict)
    shares: "Mapping[str, Shares | CannotTell]" = field(default_factory=dict)
    part_of: "Mapping[str, PartOfWhole | None]" = field(default_factory=dict)
    what_if: "Mapping[str, tuple[WhatIf, ...]]" = field(default_factory=dict)
    changes: "Mapping[str, tuple[CoralChange, ...]]" = field(default_factory=dict)
    changes_of: "Mapping[str, tuple[Change, ...]]" = field(default_factory=dict)
    dosing: "Mapping[str, DosingFindings]" = field(default_factory=dict)
    volumes: "Mapping[str, VolumeByDose | CannotTell]" = field(default_factory=dict)
    corals: "Mapping[str, CoralFindings]" = field(default_factory=dict)
    rooms: "Mapping[str, RoomFindings]" = field(default_factory=dict)
    room_of: "Mapping[str, RoomFindings | None]" = field(default_factory=dict)
    families: "Mapping[str, Family]" = field(default_factory=dict)
    holders: "Mapping[str, tuple[Holder, ...]]" = field(default_factory=dict)
    at_risk: "tuple[AtRisk, ...]" = ()
    could_go: "Mapping[str, tuple[Suggestion, ...]]" = field(default_factory=dict)
    plans: "tuple[PlanFindings, ...]" = ()
    survival: "tuple[GroupSurvival, ...]" = ()
    trade: "TradeFindings" = field(default_factory=_no_trades)
    offers: "tuple[Offer, ...]" = ()
    readings_held: "Mapping[str, ReadingsHeld]" = field(default_factory=dict)
    arrivals_held: "tuple[ArrivalHeld, ...]" = ()
    stocks_held: "tuple[StockHeld, ...]" = ()
    sizes_held: "tuple[SizeHeld, ...]" = ()
    touches_held: "tuple[TouchHeld, ...]" = ()


T = TypeVar("T")
OfCoral = TypeVar("OfCoral", "SizeHeld", "TouchHeld")


def analyse(journal: Journal, as_of: datetime, door: Door | None = None) -> Findings:
    """All findings of a journal at a moment. Days are those of the journal's time zone.

    Through a `door` that remembers, only what rests on something new is calculated.
    """
    steps = _Steps(door or Door(), journal, as_of)
    found = steps.water() | steps.corals() | steps.lines()
    found |= {
        "plans": steps.plans(found),
        "offers": steps.offers(found),
        "volumes": find_volumes(journal, found["water"], steps.logs, steps.here, steps.door),
    }
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

        self.places = places_of(journal.corals, self.day, door)
        self.logs = logs_by_month(journal, door)

    def by_system(self, name: str, make: Callable[[str], T], shared: bool = False) -> Mapping[str, T]:
        """A step for each system."""
        return self.door.each(name, lambda: self.journal.systems, make, shared=shared)

    def water(self) -> _Parts:
        """Each system's water, who takes what of it, what changed it, and how it is dosed."""
        journal, here = self.journal, self.here
        systems, log_of = journal.systems, journal.log_of

        def waters() -> "Waters":
            zone = journal.settings.time_zone
            return _known.Waters(systems, journal.logs, journal.corals, zone, ever, self.logs.until)

        def measured(id: str) -> "WaterFindings":
            return _known.water_lately(systems[id], stretches.log(id), stepped(id), here())

        def parts(id: str) -> "Parts":
            return waters().parts(id, events[id], water[id].calcification.grams_per_day, self.day())

        ever = self._ever_in()
        story, events = tell_events(
            journal, ever, self.logs, lambda coral, event: waters().taken_before(coral, event), here, self.door
        )
        changes = find_changes(events, story, here, self.door)
        stepped = self._with_steps(events)
        stretches = tell_stretches(journal, self.logs, stepped, self.day, self.door)
        water = self.by_system("water", measured)
        taken = self.by_system("taken", parts)
        known = self.by_system("known", lambda id: _known.KnownWater(water[id], events[id], *taken[id]), shared=True)
        dosing = self.by_system(
            "dosing", lambda id: _dosing.analyse_dosing(systems[id], log_of(id), water[id], self.moment())
        )
        tested = self.by_system("tested", lambda id: _with_test_of(water[id], dosing[id].plan), shared=True)
        whole = tell_whole_waters(journal, stretches, tested, self.door)
        shares = self.by_system("shares", lambda id: taken[id][0], shared=True)
        stocks = self.by_system("stocks held", lambda id: tuple(_dosing.stocks_held(systems[id], log_of(id))))
        return {
            "water": tested,
            **whole,
            "readings_held": self.by_system("readings held", lambda id: _water.readings_held(whole["whole_water"][id])),
            "predicted": self.by_system("predicted", lambda id: known[id].unread),
            "shares": shares,
            "part_of": self.door.each(
                "part of uptake",
                lambda: journal.corals,
                lambda id: _shares.part_of_whole(id, self.places.home(id), shares),
            ),
            "what_if": self.door.each(
                "what if",
                lambda: [id for id in systems if isinstance(shares[id], _shares.Shares)],
                lambda id: _arrivals.what_ifs_in(id, known, systems),
            ),
            "changes": changes,
            "changes_of": self.door.by_id(
                "changes of", lambda: _story.by_coral(each for found in changes.values() for each in found)
            ),
            "dosing": dosing,
            "arrivals_held": self.door.one("arrivals held", lambda: _story.arrivals_held(changes)),
            "stocks_held": self.door.one("all stocks held", lambda: _by_refilling(stocks.values())),
            "events": events,
            "ever": ever,
        }

    def _with_steps(self, events: "Mapping[str, tuple[Informed, ...]]") -> "Callable[[str], tuple[Informed, ...]]":
        """Each system's events as its water asks for them: not how large a coral was, or in which line that is."""

        def stepped(id: str) -> "tuple[Informed, ...]":
            return tuple(_informed.Informed(each.event, step=each.step) for each in events[id])

        return self.door.step("events with steps", stepped, keep=False)

    def _ever_in(self) -> Mapping[str, Mapping[str, Coral]]:
        """The corals that ever stood in each system, or that its log names."""
        corals = self.journal.corals

        def ever_in(id: str) -> dict[str, Coral]:
            every = sorted({*named(id), *self.places.ever.get(id, ())})
            return {coral: corals[coral] for coral in every if coral in corals}

        named = self.door.step(
            "named in log", lambda id: dict.fromkeys(filter(None, (event.coral for event in self.logs.events(id))))
        )
        return self.by_system("ever in", ever_in, shared=True)

    def corals(self) -> _Parts:
        """How each coral does, and the room in each system."""
        journal, today = self.journal, self.day
        logs = self.door.each(
            "logs of weighings",
            lambda: journal.corals,
            lambda id: _mass.logs_of_weighings(journal.corals[id], self.logs.read_about),
        )
        found, rooms, room_of = analyse_corals(
            journal.corals, journal.systems, logs, self._distances, today, self.door, self.places
        )
        held = self.door.each(
            "size held", lambda: journal.corals, lambda id: _corals.size_held(journal.corals[id], today())
        )
        touches = self.door.each(
            "touches held",
            lambda: journal.corals,
            lambda id: tuple(_corals.touches_held(journal.corals[id], journal.corals, journal.systems, today())),
        )
        return {
            "corals": found,
            "rooms": rooms,
            "room_of": room_of,
            "could_go": self.door.by_id(
                "could go", lambda: _corals.could_go(found, rooms, journal.systems, self._distances(), today())
            ),
            "sizes_held": self.door.one("all sizes held", lambda: _by_day(each for each in held.values() if each)),
            "touches_held": self.door.one("all touches held", lambda: _by_day(chain(*touches.values()))),
        }

    def lines(self) -> _Parts:
        """Each line's tree, who holds it, what one loss would end, and what trades tell."""
        journal, today = self.journal, self.day
        corals, trades = journal.corals, journal.trades
        # What is measured of a coral, or seen of it, changes nothing of its line.
        lives = self.door.each("life", lambda: corals, lambda id: life_of(corals[id]))
        trees = self.door.by_id("families", lambda: _lines.families(lives.values(), trades.values(), today()))
        kept = self.door.each("spells of log", lambda: journal.logs, lambda id: spells(journal.logs[id]))
        began = self.door.one("journal began", lambda: first_day(kept.values(), journal.settings.time_zone))
        received = self.door.one("received", lambda: _lines.received_from(trades.values(), today()))
        return {
            "families": trees,
            "holders": self.door.each(
                "holders", lambda: trees, lambda id: _lines.holders(trees[id], lives, received())
            ),
            "at_risk": self.door.one("at risk", lambda: _lines.lines_at_risk(trees, lives, trades.values(), today())),
            "survival": self.door.one("survival", lambda: _lines.survival(lives.values(), trades, today(), began())),
            "trade": self.door.one(
                "trade", lambda: _trade.analyse_trades(trades, lives, journal.settings.containers, today())
            ),
        }

    def offers(self, found: _Parts) -> "Callable[[], tuple[Offer, ...]]":
        """What is ready to offer, by what is found of corals and lines."""

        def every() -> "tuple[Offer, ...]":
            spreads = {
                id: each.spread for id, each in found["corals"].items() if isinstance(each.spread, _forecast.Spread)
            }
            at_risk = {risk.line for risk in found["at_risk"]()}
            return _offers.offers(self.journal.corals, self.day(), self.journal.settings.offers, at_risk, spreads)

        return self.door.one("offers", every)

    def plans(self, found: _Parts) -> "Callable[[], tuple[PlanFindings, ...]]":
        """What is planned, by what is found of waters and rooms."""

        def last_read(id: str) -> dict[str, float]:
            read = found["water"][id].latest
            return {kind: read[kind].value for kind in ("salinity", "temperature") if kind in read}

        def known() -> "BasisOfPlans":
            return _planned.BasisOfPlans(standing, held, latest, events, ever)

        def water_of(key: str) -> "InWater":
            id, coral, system = key.rsplit("/", 2)
            return _planned.water_of(plans[id], coral, system, self.journal, known(), when(id))

        def whole(id: str) -> "PlanFindings":
            return _planned.whole(plans[id], self.journal, known(), when(id), self.day(), places(id), water)

        plans, events, ever = self.journal.plans, found.pop("events"), found.pop("ever")
        standing = self.by_system("standing", lambda id: found["rooms"][id].standing)
        held = self.by_system("held", lambda id: found["dosing"][id].plan)
        latest = self.by_system("salinity and temperature", last_read)
        when = self.door.step("moment of plan", lambda id: _planned.moment_of_plan(plans[id], self.here()), keep=False)
        places = self.door.step(
            "places of plan", lambda id: _planned.places(plans[id], self.journal, known(), when(id))
        )
        water = self.door.step("water of plan", water_of)
        every = self.door.each("plan", lambda: plans, whole)
        return self.door.one(
            "plans found", lambda: tuple(every[plan.id] for plan in soonest_first(plans.values())), keep=False
        )

    def _distances(self) -> Mapping[str, Quantity]:
        return self.journal.settings.safe_distances


def _by_refilling(stocks: "Iterable[tuple[StockHeld, ...]]") -> "tuple[StockHeld, ...]":
    every = (each for of_system in stocks for each in of_system)
    return tuple(sorted(every, key=lambda each: (each.refilled, each.system, each.solution)))


def _by_day(held: "Iterable[OfCoral]") -> "tuple[OfCoral, ...]":
    return tuple(sorted(held, key=lambda each: (each.day, each.coral)))


def _with_test_of(water: "WaterFindings", plan: "Plan | CannotTell") -> "WaterFindings":
    """A water with the test of alkalinity that its dosing plan counts on, so that all pages ask for the same."""
    if isinstance(plan, _finding.CannotTell):
        return water
    return replace(water, next_tests={**water.next_tests, "alkalinity": plan.next_test})
