"""What one audience may see of what was calculated, which pages and tables are made from: nothing beyond its view."""

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from operator import is_
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar, Union, cast, get_args, get_origin

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import Door, parts_of
from generator.reckon.analysis.journal import Findings
from generator.reckon.finding import CannotTell
from generator.records.log import first_day, spells
from generator.records.source import Source
from generator.render.audience import View
from generator.render.base.numbers import Display, display_of

if TYPE_CHECKING:
    from generator.reckon.analysis.since import Changes
    from generator.reckon.arrivals.analysis import WhatIf
    from generator.reckon.arrivals.informed import Informed
    from generator.reckon.arrivals.shares import PartOfWhole, Shares
    from generator.reckon.arrivals.story import ArrivalHeld, Change, CoralChange
    from generator.reckon.growth.places import Suggestion
    from generator.reckon.growth.room import RoomFindings
    from generator.reckon.lineage.lines import AtRisk, Family, GroupSurvival, Holder
    from generator.reckon.trade.analysis import TradeFindings
    from generator.reckon.trade.offers import Offer
    from generator.reckon.water.demand_events import DemandEvent
    from generator.reckon.water.findings import WaterFindings


_Part = TypeVar("_Part", "PartOfWhole", "RoomFindings")


@dataclass(frozen=True, slots=True)
class Basis:
    """What every table is made from: what one audience may see, what was calculated, and the units shown."""

    view: View
    found: Findings
    display: Display

    @property
    def today(self) -> date:
        """The day of the build where the keeper lives."""
        return self.found.as_of.astimezone(self.display.zone).date()


def basis_of(view: View, found: Findings, door: Door | None = None) -> Basis:
    """What tables and pages are made from, without what the audience may not see."""
    door = door or Door()
    seen = found_for(view, found, door)
    units = door.each("units read in", lambda: view.logs, lambda id: view.logs[id].units())
    display = door.one("display", lambda: display_of(view.settings, view.systems, units.values()))
    return door.view(Basis, view=lambda: view, found=lambda: seen, display=display)


def found_for(view: View, found: Findings, door: Door | None = None) -> Findings:
    """What was calculated, without what is about records that are not in a view.

    What happened to a coral that is not in it is there as what happened to none. A line has no `holders` if all
    that are known were withheld. No record names a line of a file that the audience may not read.
    """
    if view.writes:
        return found
    door = door or Door()
    corals, systems, cut = view.corals, view.systems, _Cut(view, found)

    def some(part: str, make: Callable[[], object]) -> Callable[[], object]:
        return door.one(f"found {part} as seen", lambda: told(make(), view.tells))

    def each(part: str, is_seen: Callable[[str], bool], of: Callable[[str], object]) -> Callable[[], object]:
        name, seen = f"found {part} as seen", lambda: filter(is_seen, getattr(found, part))
        cuts = door.each(name, seen, lambda id: told(of(id), view.tells), shared=True)
        return lambda: cuts

    in_systems, in_corals = systems.__contains__, corals.__contains__
    lines = door.by_id("families as seen", cut.families)
    began = _began(view, door)
    holders = door.by_id("holders as seen", lambda: cut.holders(lines))
    parts: dict[str, Callable[[], Any]] = {
        "water": each("water", in_systems, lambda id: cut.water(found.water[id])),
        "whole_water": each("whole_water", in_systems, lambda id: cut.water(found.whole_water[id])),
        "stretches": each("stretches", cut.of_a_system, lambda key: found.stretches[key]),
        "readings_held": each("readings_held", in_systems, lambda id: found.readings_held[id]),
        "years": each("years", cut.of_a_system, lambda year: found.years[year]),
        "predicted": each("predicted", in_systems, cut.predicted),
        "shares": each("shares", in_systems, cut.shares),
        "part_of": each("part_of", in_corals, lambda id: cut.here(found.part_of[id])),
        "what_if": each("what_if", in_systems, cut.what_if),
        "changes": each("changes", in_systems, cut.changes),
        "changes_of": each("changes_of", in_corals, cut.changes_of),
        "dosing": each("dosing", in_systems, lambda id: found.dosing[id]),
        "volumes": each("volumes", in_systems, lambda id: found.volumes[id]),
        "corals": each("corals", in_corals, lambda id: found.corals[id]),
        "rooms": each("rooms", in_systems, lambda id: cut.room(found.rooms[id])),
        "room_of": each("room_of", in_corals, cut.room_of),
        "families": lambda: lines,
        "holders": lambda: holders,
        "at_risk": some("at_risk", lambda: cut.at_risk(holders, lines)),
        "could_go": each("could_go", in_corals, cut.could_go),
        "plans": some("plans", lambda: tuple(each for each in found.plans if each.plan.id in view.plans)),
        "trade": some("trade", cut.trade),
        "offers": some("offers", cut.offers),
        "survival": some("survival", lambda: cut.survival(began())),
        "arrivals_held": some("arrivals_held", cut.arrivals_held),
        "sizes_held": some("sizes_held", lambda: tuple(each for each in found.sizes_held if each.coral in corals)),
        "touches_held": some(
            "touches_held",
            lambda: tuple(each for each in found.touches_held if {each.coral, each.other} <= corals.keys()),
        ),
        "stocks_held": some("stocks_held", lambda: tuple(each for each in found.stocks_held if each.system in systems)),
    }
    return door.view(Findings, **(parts_of(found) | parts))


def _began(view: View, door: Door) -> Callable[[], date | None]:
    """The day from which the logs that a view shows were kept."""
    kept = door.each("spells of log as seen", lambda: view.logs, lambda id: spells(view.logs[id]))
    return door.one("journal began as seen", lambda: first_day(kept.values(), view.settings.time_zone))


def told(value: Any, tells: Callable[[Source], bool]) -> Any:
    """What was found, without the lines that an audience is not told; the very value if it names none of those."""
    if type(value) is tuple:
        seen = (each for each in value if type(each) is not Source or tells(each))
        kept = tuple(each if _is_plain(cast(Any, type(each))) else told(each, tells) for each in seen)
        return value if len(kept) == len(value) and all(map(is_, kept, value)) else kept
    if type(value) is dict:
        cut = {key: told(each, tells) for key, each in value.items()}
        return value if all(map(is_, cut.values(), value.values())) else cut
    if not isinstance(value, Struct) or isinstance(value, Source):
        return value
    parts = {name: getattr(value, name) for name in _not_plain(type(value))}
    changed = {name: cut for name, part in parts.items() if (cut := told(part, tells)) is not part}
    return replace(value, **changed) if changed else value


@cache
def _not_plain(kind: Any) -> tuple[str, ...]:
    """The fields of a record that may hold the line of a file: of thousands of points most hold none."""
    return tuple(name for name, of in _types(kind).items() if not _is_plain(of))


_PLAIN = (bool, date, datetime, float, int, str, NoneType, ...)


@cache
def _is_plain(kind: Any) -> bool:
    """Whether what is of this type holds no line of a file, whatever it is. What is only named here is not known."""
    origin, parts = get_origin(kind), get_args(kind)
    if kind in _PLAIN or origin is Literal:
        return True
    if origin is Annotated:
        return _is_plain(parts[0])
    if origin in (tuple, Union, UnionType):
        return all(map(_is_plain, parts))
    whole = isinstance(kind, type) and issubclass(kind, Struct) and kind is not Source and not kind.__subclasses__()
    return whole and all(map(_is_plain, _types(kind).values()))


def _types(kind: Any) -> dict[str, Any]:
    """The types of a struct's fields, as its class and those it is made of write them."""
    every = {name: of for each in reversed(kind.__mro__) for name, of in getattr(each, "__annotations__", {}).items()}
    return {name: every[name] for name in kind.__struct_fields__}


class _Cut(Struct, frozen=True):
    """Parts of what was calculated, each without what a view does not show."""

    view: View
    found: Findings

    def water(self, water: "WaterFindings") -> "WaterFindings":
        corals = self.view.corals
        return replace(water, plans=tuple(e if e.coral in corals else replace(e, coral=None) for e in water.plans))

    def of_a_system(self, part: str) -> bool:
        """Whether a part of a system's water (`lagoon/2025`) is of one that the view shows."""
        return part.rpartition("/")[0] in self.view.systems

    def arrivals_held(self) -> "tuple[ArrivalHeld, ...]":
        corals, systems = self.view.corals, self.view.systems
        return tuple(each for each in self.found.arrivals_held if each.coral in corals and each.system in systems)

    def predicted(self, system: str) -> "tuple[Informed, ...]":
        return tuple(replace(each, event=self._event(each.event, system)) for each in self.found.predicted[system])

    def _event(self, event: "DemandEvent", system: str) -> "DemandEvent":
        """An event; of a coral that is not shown, as one of the system alone."""
        if event.coral in self.view.corals:
            return event
        source = event.source if self.view.tells(event.source) else self.view.systems[system].source
        return replace(event, coral=None, source=source)

    def shares(self, system: str) -> "Shares | CannotTell":
        whole = self.found.shares[system]
        if isinstance(whole, CannotTell):
            return whole
        corals = self.view.corals
        return replace(
            whole,
            corals={id: share for id, share in whole.corals.items() if id in corals},
            known=tuple(each for each in whole.known if each[0] in corals),
        )

    def here(self, part: "_Part | None") -> "_Part | None":
        """What is about one system, if the view shows it."""
        return part if part and part.system in self.view.systems else None

    def what_if(self, system: str) -> "tuple[WhatIf, ...]":
        shown = (each for each in self.found.what_if[system] if each.coral in self.view.corals)
        return tuple(replace(e, moved=tuple(way for way in e.moved if way[0] in self.view.systems)) for e in shown)

    def changes(self, system: str) -> "tuple[CoralChange, ...]":
        return tuple(map(self._change, (e for e in self.found.changes[system] if e.coral in self.view.corals)))

    def _change(self, change: "CoralChange") -> "CoralChange":
        observed = change.observed
        if isinstance(observed, CannotTell) or observed.together is None:
            return change
        events = tuple(self._event(event, change.system) for event in observed.together.events)
        together = replace(observed.together, events=events)
        return replace(change, observed=replace(observed, together=together))

    def changes_of(self, coral: str) -> "tuple[Change, ...]":
        return tuple(each for each in self.found.changes_of[coral] if each.system in self.view.systems)

    def room(self, room: "RoomFindings") -> "RoomFindings":
        corals = self.view.corals
        return replace(
            room,
            standing=tuple(replace(e, coral=corals[e.coral.id]) for e in room.standing if e.coral.id in corals),
            meetings=tuple(each for each in room.meetings if each.one in corals and each.other in corals),
            leaving=tuple(each for each in room.leaving if each.coral in corals),
            cannot_tell=tuple(each for each in room.cannot_tell if each[0] in corals),
        )

    def room_of(self, coral: str) -> "RoomFindings | None":
        room = self.here(self.found.room_of[coral])
        return room and self.room(room)

    def families(self) -> "dict[str, Family]":
        return {line: seen for line in self.found.families if (seen := self._family(line)).pieces}

    def _family(self, line: str) -> "Family":
        corals, systems, trades = self.view.corals, self.view.systems, self.view.trades
        whole = self.found.families[line]
        pieces = {
            id: replace(
                piece,
                parent=piece.parent if piece.parent in corals else None,
                cuttings=tuple(id for id in piece.cuttings if id in corals),
                system=piece.system if piece.system in systems else None,
                given=tuple(gift for gift in piece.given if gift.trade in trades),
            )
            for id, piece in whole.pieces.items()
            if id in corals
        }
        return replace(whole, pieces=pieces)

    def holders(self, lines: Iterable[str]) -> "dict[str, tuple[Holder, ...]]":
        tells = self.view.tells
        told = {
            line: tuple(each for each in self.found.holders[line] if all(map(tells, each.inputs))) for line in lines
        }
        return {line: seen for line, seen in told.items() if seen or not self.found.holders[line]}

    def at_risk(self, holders: "Mapping[str, tuple[Holder, ...]]", lines: Container[str]) -> "tuple[AtRisk, ...]":
        return tuple(
            replace(
                risk,
                pieces=tuple(id for id in risk.pieces if id in self.view.corals),
                system=risk.system if risk.system in self.view.systems else None,
                holders=holders.get(risk.line, ()),
            )
            for risk in self.found.at_risk
            if risk.line in lines and any(id in self.view.corals for id in risk.pieces)
        )

    def could_go(self, coral: str) -> "tuple[Suggestion, ...]":
        corals = self.view.corals
        shown = filter(self._shows, self.found.could_go[coral])
        return tuple(replace(e, unplaced=tuple(id for id in e.unplaced if id in corals)) for e in shown)

    def _shows(self, place: "Suggestion") -> bool:
        """Whether a place may be shown: its system, everything that must move for it, and where to."""
        spots = (place.spot, *(move.to for move in place.moves if move.to))
        moved = all(move.coral in self.view.corals for move in place.moves)
        return moved and all(spot.system in self.view.systems for spot in spots)

    def trade(self) -> "TradeFindings":
        from generator.reckon.trade.analysis import analyse_trades

        today = self.found.as_of.astimezone(self.view.settings.time_zone).date()
        return analyse_trades(self.view.trades, self.view.lives, self.view.settings.containers, today)

    def survival(self, began: date | None) -> "tuple[GroupSurvival, ...]":
        """Of the corals that the view shows, by the trades and since the logs that it shows; they `began` then."""
        from generator.reckon.lineage.lines import survival

        zone = self.view.settings.time_zone
        return survival(self.view.lives.values(), self.view.trades, self.found.as_of.astimezone(zone).date(), began)

    def offers(self) -> "tuple[Offer, ...]":
        """What is ready and marked; without how many corals of its line are left, some of which nobody else sees."""
        offered = (each for each in self.found.offers if each.coral in self.view.corals)
        return tuple(
            replace(
                offer, checks=tuple(replace(e, found=None) if e.rule.id == "corals-left" else e for e in offer.checks)
            )
            for offer in offered
            if offer.ready and offer.marked
        )


def changes_for(view: View, found: Findings, since: datetime, until: datetime) -> "Changes":
    """What changed in a view between two moments, by what is known now; `found` is what was found for it.

    Lines at risk and promises only concern the keeper.
    """
    from generator.reckon.analysis.since import JournalState, changes

    zone, growth = view.settings.time_zone, {id: each.growth for id, each in found.corals.items()}
    every = changes(*(JournalState(at.astimezone(zone), view, found.water, growth) for at in (since, until)))
    if view.shows_tasks:
        return every
    return replace(every, at_risk=(), saved=(), ended=(), made=(), kept=(), overdue=())
