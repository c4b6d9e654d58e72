"""The journal as it stood on a day: nothing later is in it."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime
from typing import Protocol, TypeVar

from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.trade import Trade


class _Dated(Protocol):
    @property
    def at(self) -> date: ...


Dated = TypeVar("Dated", bound=_Dated)


def as_it_stood(journal: Journal, moment: datetime) -> Journal:
    """The journal at a moment, without later entries, trades, corals and log lines.

    Days are those of the journal's own zone.
    """
    day = moment.astimezone(journal.settings.time_zone).date()
    corals = {id: _coral(coral, day) for id, coral in journal.corals.items() if coral.arrival.at <= day}
    trades = {id: _trade(trade, day) for id, trade in journal.trades.items() if trade.at <= day}
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
        considered=tuple(colony for colony in journal.considered if colony.open_on(day)),
        not_yet=frozenset(later),
    )


def _coral(coral: Coral, day: date) -> Coral:
    return replace(
        coral,
        placements=tuple(placement for placement in coral.placements if placement.since <= day),
        sizes=_until(coral.sizes, day),
        weighings=_until(coral.weighings, day),
        cuttings=_until(coral.cuttings, day),
        health=_until(coral.health, day),
        photos=tuple(photo for photo in coral.photos if photo.at is None or photo.at <= day),
        end=coral.end if coral.end and coral.end.at <= day else None,
    )


def _trade(trade: Trade, day: date) -> Trade:
    owed = tuple(replace(o, settled=o.settled if o.settled and o.settled <= day else None) for o in trade.owed)
    return replace(trade, owed=owed, checks=tuple(s for s in trade.checks if (day - trade.at).days >= s.days))


def _until(dated: Iterable[Dated], day: date) -> tuple[Dated, ...]:
    return tuple(each for each in dated if each.at <= day)
