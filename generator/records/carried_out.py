"""What a plan becomes when it has arrived: corals that came, went or moved, its trade, and log events."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from typing import Literal, NamedTuple, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from generator.records.coral import Arrival, Coral, End, Placement, Size, Weighing
from generator.records.log import Event, EventKind, SystemLog
from generator.records.source import Source
from generator.records.trade import Appointed, Mover, Newcomer, Owed, Planned, Received, Trade
from generator.units.quantity import Quantity

_Record = TypeVar("_Record", Coral, Trade)
# A log event about the same coral within this time is the same event.
_SAME = timedelta(hours=24)


class Affected(NamedTuple):
    """The parts of a journal that a plan changes, each by id."""

    corals: Mapping[str, Coral]
    trades: Mapping[str, Trade]
    logs: Mapping[str, SystemLog]


def told_with(told: Affected, plan: Planned, when: Appointed) -> Affected:
    """The journal's parts with a plan carried out. What its own files record has priority."""
    done = carried_out(plan, when, told.corals)
    trades = {id: settled_by(trade, plan, when.day) for id, trade in told.trades.items()}
    if done.trade is not None:
        trades.setdefault(done.trade.id, done.trade)
    logs = dict(told.logs)
    for system, event in done.events:
        log = logs.get(system) or SystemLog(system=system)
        written = any((e.what, e.coral) == (event.what, event.coral) and _near(e, event) for e in log.events)
        if not written:
            events = sorted((*log.events, event), key=lambda each: each.at)
            logs[system] = replace(log, events=tuple(events))
    return Affected(_by_id({**told.corals, **done.corals}), _by_id(trades), logs)


def _by_id(records: dict[str, _Record]) -> dict[str, _Record]:
    return dict(sorted(records.items()))


def _near(one: Event, other: Event) -> bool:
    return abs(one.at - other.at) <= _SAME


class CarriedOut(Struct, frozen=True):
    """What a plan becomes: new corals, changed corals, its trade, and events by system."""

    corals: dict[str, Coral]
    trade: Trade | None
    events: tuple[tuple[str, Event], ...]


def carried_out(plan: Planned, when: Appointed, corals: Mapping[str, Coral]) -> CarriedOut:
    """A plan on the day it has arrived, in a journal with these corals.

    A coral with its own file stays as the file records it, including a move or an end.
    """
    trade = trade_id(plan, when.day) if plan.partner else None
    changed: dict[str, Coral] = {}
    events: list[tuple[str, Event]] = []
    for new in plan.coming:
        if new.coral not in corals:
            changed[new.coral] = newcomer(plan, new, when.day, trade)
        events += _event(new.system, "arrival", new.coral, when, new.source)
    for given in plan.going:
        coral = corals.get(given.coral)
        if given.whole and coral is not None:
            last = max(coral.placements, key=lambda placement: placement.since, default=None)
            standing = coral.placement_on(when.day) if coral.end is None else last
            if coral.end is None:
                how: Literal["sold", "given"] = "sold" if plan.was_paid else "given"
                end = End(source=given.source, at=when.day, how=how, partner=plan.partner, trade=trade)
                changed[coral.id] = replace(coral, end=end)
            events += _event(standing.system if standing else None, "loss", coral.id, when, given.source)
    for move, coral in _movers(plan, corals, when.day):
        here = coral.placement_on(when.day)
        if not any(told.since == when.day and told.system == move.to for told in coral.placements):
            to = Placement(source=move.source, since=when.day, system=move.to, place=move.place, x=move.x, y=move.y)
            changed[coral.id] = replace(coral, placements=(*coral.placements, to))
        if here is not None and here.system != move.to:
            events += _event(here.system, "loss", coral.id, when, move.source)
            events += _event(move.to, "arrival", coral.id, when, move.source)
    return CarriedOut(changed, _trade(plan, when.day) if trade else None, tuple(events))


def trade_id(plan: Planned, day: date) -> str:
    """The id of the trade that a plan becomes."""
    return f"{day}-{plan.id}"


def movers(plan: Planned, corals: Mapping[str, Coral], day: date) -> tuple[tuple[Mover, Coral], ...]:
    """Every coral that a plan moves on a day, with its move."""
    return tuple(_movers(plan, corals, day))


def newcomer(plan: Planned, new: Newcomer, day: date, trade: str | None = None) -> Coral:
    """The coral that a colony becomes. One unit of its mass's last digit counts as the scale's resolution."""
    weighings: tuple[Weighing, ...] = ()
    if new.mass is not None:
        step = Quantity(10.0**-new.mass.digits, new.mass.unit, "mass", new.mass.digits)
        weighings = (Weighing(source=new.source, at=day, mass=new.mass, resolution=step),)
    placements: tuple[Placement, ...] = ()
    if new.system is not None:
        placements = (Placement(source=new.source, since=day, system=new.system, place=new.place, x=new.x, y=new.y),)
    return Coral(
        source=new.source,
        id=new.coral,
        name=new.name,
        species=new.species,
        line=new.line or line_of(new.coral),
        form=new.form,
        arrival=Arrival(source=new.source, at=day, how=_how(plan), partner=plan.partner, trade=trade),
        origin=new.origin,
        placements=placements,
        sizes=(Size(source=new.source, at=day, length=new.length, width=new.width, height=new.height),),
        weighings=weighings,
    )


def line_of(coral: str) -> str:
    """The line of a coral that has none recorded: its id without a number at the end."""
    stem, _, number = coral.rpartition("-")
    return stem if stem and number.isdecimal() else coral


def settled_by(trade: Trade, plan: Planned, day: date) -> Trade:
    """A trade with the promise settled that a plan keeps; unchanged if the plan keeps none of its promises."""
    number = promise_kept(trade, plan)
    if number is None or trade.owed[number - 1].settled is not None:
        return trade
    owed = tuple(replace(each, settled=day) if n == number else each for n, each in enumerate(trade.owed, 1))
    return replace(trade, owed=owed)


def promise_kept(trade: Trade, plan: Planned) -> int | None:
    """The number (from 1) of the promise that a plan keeps: the one it names, or the only open one of its side."""
    if plan.promise is None or plan.promise[0] != trade.id:
        return None
    if plan.promise[1] is not None:
        return plan.promise[1] if 1 <= plan.promise[1] <= len(trade.owed) else None
    meant = [n for n, owed in enumerate(trade.owed, 1) if _fits(owed, plan)]
    return meant[0] if len(meant) == 1 else None


def _fits(owed: Owed, plan: Planned) -> bool:
    mine = owed.by == ("us" if plan.going else "them")
    done = plan.arrived.day if plan.arrived else None
    return mine and (owed.settled is None or owed.settled == done)


def _how(plan: Planned) -> Literal["trade", "bought", "gift", "unknown"]:
    """How a plan's colonies came. Without a partner and a price nobody has said it, and a record must not invent it."""
    if plan.going or plan.keeps or plan.owed:
        return "trade"
    if plan.paid:
        return "bought"
    return "gift" if plan.partner else "unknown"


def _trade(plan: Planned, day: date) -> Trade:
    return Trade(
        source=plan.source,
        id=trade_id(plan, day),
        at=day,
        partner=plan.partner or "",
        gave=plan.going,
        received=tuple(Received(source=new.source, coral=new.coral, worth=new.worth) for new in plan.coming),
        paid=plan.paid,
        was_paid=plan.was_paid,
        owed=plan.owed,
        travel=plan.travel,
        inspection=plan.inspection,
        checks=plan.checks,
        note=plan.note,
        audience=plan.audience,
        private=plan.private,
    )


def _event(
    system: str | None, what: EventKind, coral: str, when: Appointed, source: Source
) -> Iterator[tuple[str, Event]]:
    """The log event; none if the hour or the system is not known."""
    if system is not None and when.at is not None:
        yield system, Event(source=source, at=when.at, what=what, coral=coral, text=None)


def _movers(plan: Planned, corals: Mapping[str, Coral], day: date) -> Iterator[tuple[Mover, Coral]]:
    for move in plan.moving:
        if move.coral is not None:
            if move.coral in corals:
                yield move, corals[move.coral]
            continue
        for coral in corals.values():
            standing = coral.placement_on(day)
            if standing is not None and standing.system == move.all_of:
                yield move, coral
