"""The journal as it stood at a moment: nothing later is in it."""

from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Protocol, TypeVar
from zoneinfo import ZoneInfo

from generator.records.carried_out import promise_kept, trade_id
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.trade import Trade


class _Dated(Protocol):
    @property
    def at(self) -> date: ...


Dated = TypeVar("Dated", bound=_Dated)
# Events at a later hour of the same day: (system, what, coral).
_Later = frozenset[tuple[str, str, str]]


def in_the_future_from(as_of: date | None, now: datetime) -> date | datetime:
    """The moment after which a date in the files must be a mistake.

    A question about a past day does not put later entries in doubt. A question about a future day may rehearse it.
    """
    return max(day_of(as_of), now.date()) if as_of else now


def day_of(as_of: date | datetime) -> date:
    """The day of a day or of a moment, as given."""
    return as_of.date() if isinstance(as_of, datetime) else as_of


def moment(today: date | datetime, zone: ZoneInfo) -> datetime:
    """A moment, without an offset on the keeper's own clock; a day as its last second where the keeper lives."""
    if isinstance(today, datetime):
        return today if today.tzinfo else today.replace(tzinfo=zone)
    next_day = datetime.combine(today + timedelta(days=1), datetime.min.time(), zone)
    return next_day.astimezone(UTC) - timedelta(seconds=1)


def as_it_stood(journal: Journal, moment: datetime) -> Journal:
    """The journal at a moment, without later entries, trades, corals and log lines.

    Days are those of the journal's own zone. What has only a day counts for the whole day, unless a log has its hour.
    """
    zone = journal.settings.time_zone
    day = moment.astimezone(zone).date()
    later_today: _Later = frozenset(
        (system, event.what, event.coral)
        for system, log in journal.logs.items()
        for event in log.events
        if event.coral and event.at > moment and event.at.astimezone(zone).date() == day
    )
    to_come = {coral for _, what, coral in later_today if what == "arrival"}
    to_go = {coral for _, what, coral in later_today if what == "loss"}
    here = {
        id
        for id, coral in journal.corals.items()
        if coral.arrival.at < day or (coral.arrival.at == day and id not in to_come)
    }
    corals = {id: _coral(coral, day, later_today, here) for id, coral in journal.corals.items() if id in here}
    ahead = [plan for plan in journal.plans.values() if plan.arrived and not plan.arrived.come_by(moment, zone)]
    hence = {trade_id(plan, plan.arrived.day) for plan in ahead if plan.arrived}
    trades = {
        id: _trade(trade, day, {promise_kept(trade, plan) for plan in ahead}, here)
        for id, trade in journal.trades.items()
        if trade.at <= day and id not in hence and not (trade.at == day and _is_hence(trade, to_come, to_go))
    }
    entries = {id: entry for id, entry in journal.entries.items() if entry.at <= day}
    later = {("coral", id) for id in journal.corals.keys() - corals.keys()}
    later |= {("trade", id) for id in journal.trades.keys() - trades.keys()}
    later |= {("entry", id) for id in journal.entries.keys() - entries.keys()}
    return replace(
        journal,
        logs={id: log.until(moment) for id, log in journal.logs.items()},
        corals=corals,
        trades=trades,
        entries=entries,
        plans={id: replace(plan, arrived=None) for id, plan in journal.plans.items() if plan.open_at(moment, zone)},
        not_yet=frozenset(later),
    )


def _is_hence(trade: Trade, to_come: set[str], to_go: set[str]) -> bool:
    """Whether corals of today's trade come or go at a later hour."""
    return any(got.coral in to_come for got in trade.received) or any(
        given.whole and given.coral in to_go for given in trade.gave
    )


def _coral(coral: Coral, day: date, later_today: _Later, here: Collection[str]) -> Coral:
    """A coral on a day; `here` are the ids of all corals that had come by then."""

    def is_hence(system: str, what: str) -> bool:
        return (system, what, coral.id) in later_today

    goes_today = any(what == "loss" and id == coral.id for _, what, id in later_today)
    return replace(
        coral,
        placements=tuple(
            placement
            for placement in coral.placements
            if placement.since < day or (placement.since == day and not is_hence(placement.system, "arrival"))
        ),
        sizes=_until(coral.sizes, day),
        weighings=_until(coral.weighings, day),
        cuttings=tuple(
            replace(
                cutting,
                into=tuple(id for id in cutting.into if id in here),
                healed=cutting.healed if cutting.healed and cutting.healed <= day else None,
            )
            for cutting in _until(coral.cuttings, day)
            if cutting.at < day or not any(what == "cutting" and id == coral.id for _, what, id in later_today)
        ),
        health=tuple(
            replace(seen, until=seen.until if seen.until and seen.until <= day else None)
            for seen in _until(coral.health, day)
        ),
        photos=tuple(photo for photo in coral.photos if photo.at is None or photo.at <= day),
        end=coral.end if coral.end and coral.end.at <= day and not (coral.end.at == day and goes_today) else None,
    )


def _trade(trade: Trade, day: date, kept_later: set[int | None], here: Collection[str]) -> Trade:
    """A trade on a day; `kept_later` numbers its promises that a plan keeps at a later hour."""
    owed = tuple(
        replace(
            o,
            coral=o.coral if o.coral in here else None,
            settled=o.settled if o.settled and o.settled <= day and n not in kept_later else None,
        )
        for n, o in enumerate(trade.owed, 1)
    )
    return replace(
        trade,
        owed=owed,
        checks=tuple(check for check in trade.checks if (day - trade.at).days >= check.days),
    )


def _until(dated: Iterable[Dated], day: date) -> tuple[Dated, ...]:
    return tuple(each for each in dated if each.at <= day)
