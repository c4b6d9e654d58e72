"""The whole journal, its posts (entries/<date>-<slug>.md), and how all of it stood at a moment."""

import dataclasses
from collections.abc import Collection, Iterable, Iterator, Mapping
from datetime import UTC, date, datetime, timedelta
from functools import partial
from typing import Any, Protocol, TypeVar
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from generator.door.door import Door, parts_of
from generator.records.carried_out import promise_kept, trade_id
from generator.records.coral import Audience, Coral, Photo
from generator.records.fields import Day, Id, Name, Text
from generator.records.log import SystemLog
from generator.records.settings import Settings
from generator.records.source import FromFile, Source
from generator.records.system import System
from generator.records.trade import Partner, Planned, Trade


class Entry(FromFile, frozen=True, kw_only=True):
    """A post. `body` is its Markdown text, `body_line` the line of the file where the text starts."""

    source: Source
    id: Id
    title: Name
    at: Day
    summary: Text | None = None
    systems: tuple[Id, ...] = ()
    corals: tuple[Id, ...] = ()
    photos: tuple[Photo, ...] = ()
    audience: Audience = "public"
    body: str = ""
    body_line: int = 1

    @property
    def body_source(self) -> Source:
        """The first line of its text."""
        return Source(self.source.file, self.body_line)


@dataclasses.dataclass(frozen=True, slots=True, kw_only=True)
class Journal:
    """Everything read from one folder; mappings are by id, in order of id.

    `not_yet` has the (kind, id) of records that are in the files but not here: they are of a later day, or
    have errors. `photos` and `received` are paths of files, relative to the journal's folder; the files
    have not been opened.
    """

    settings: Settings
    systems: Mapping[str, System] = dataclasses.field(default_factory=dict)
    logs: Mapping[str, SystemLog] = dataclasses.field(default_factory=dict)
    corals: Mapping[str, Coral] = dataclasses.field(default_factory=dict)
    trades: Mapping[str, Trade] = dataclasses.field(default_factory=dict)
    plans: Mapping[str, Planned] = dataclasses.field(default_factory=dict)
    partners: Mapping[str, Partner] = dataclasses.field(default_factory=dict)
    entries: Mapping[str, Entry] = dataclasses.field(default_factory=dict)
    photos: Collection[str] = ()
    received: Collection[str] = ()
    not_yet: Collection[tuple[str, str]] = ()

    def log_of(self, system: str) -> SystemLog:
        """A system's log; an empty one if nothing is recorded."""
        return self.logs.get(system) or SystemLog(system=system)


class _Dated(Protocol):
    @property
    def at(self) -> date: ...


Dated = TypeVar("Dated", bound=_Dated)
# An event at a later hour of the same day: system, what, coral.
_Later = tuple[str, str, str]


def in_the_future_from(as_of: date | None, now: datetime) -> date | datetime:
    """The moment after which a date in the files must be a mistake.

    A question about a past day does not put later entries in doubt. A question about a future day may rehearse it.
    """
    return max(day_of(as_of), now.date()) if as_of else now


def day_of(as_of: date | datetime) -> date:
    """The day of a day or of a moment, as given."""
    return as_of.date() if isinstance(as_of, datetime) else as_of


def moment(today: date | datetime, zone: ZoneInfo) -> datetime:
    """A moment, or a day as its last second, on the keeper's own clock, which is also that of one without an offset."""
    if isinstance(today, datetime):
        return today.astimezone(zone) if today.tzinfo else today.replace(tzinfo=zone)
    next_day = datetime.combine(today + timedelta(days=1), datetime.min.time(), zone)
    return (next_day.astimezone(UTC) - timedelta(seconds=1)).astimezone(zone)


def as_it_stood(journal: Journal, moment: datetime, door: Door | None = None) -> Journal:
    """The journal at a moment, without later entries, trades, corals and log lines.

    Days are those of the journal's own zone. What has only a day counts for the whole day, unless a log has its hour.
    """
    door = door or Door()
    given = door.given("moment", {"": moment})
    zone = door.one("zone", lambda: journal.settings.time_zone)
    day = door.one("day", lambda: given("").astimezone(zone()).date())
    later_in = door.step("later today in", lambda id: _later_in(journal.logs[id], given(""), zone()))
    later = door.one("later today", lambda: tuple(each for id in journal.logs for each in later_in(id)))
    came = door.step("has come", lambda id: _has_come(journal.corals[id], day(), later()))
    here = door.each("here", lambda: filter(came, journal.corals), str, shared=True)
    ahead = door.one("plans ahead", lambda: tuple(_ahead(journal.plans.values(), given(""), zone())))
    done = door.step("is done", lambda id: _is_done(journal.trades[id], day(), later(), ahead()))
    written = door.step("is written", lambda id: journal.entries[id].at <= day())
    open_then = door.step("is open", lambda id: journal.plans[id].open_at(given(""), zone()))
    parts: dict[str, Mapping[str, Any]] = {
        "logs": door.each("logs then", lambda: journal.logs, lambda id: journal.logs[id].until(given("")), keep=False),
        "corals": door.each("corals then", lambda: here, lambda id: _coral(journal.corals[id], day(), later(), here)),
        "trades": door.each(
            "trades then",
            lambda: filter(done, journal.trades),
            lambda id: _trade(journal.trades[id], day(), ahead(), here),
        ),
        "entries": door.each(
            "entries then", lambda: filter(written, journal.entries), lambda id: journal.entries[id], shared=True
        ),
        "plans": door.each(
            "plans then",
            lambda: filter(open_then, journal.plans),
            lambda id: replace(journal.plans[id], arrived=None),
            shared=True,
        ),
    }

    def not_yet() -> Collection[tuple[str, str]]:
        kinds = (("coral", "corals"), ("trade", "trades"), ("entry", "entries"))
        return dict.fromkeys(
            (kind, id) for kind, part in kinds for id in getattr(journal, part) if id not in parts[part]
        )

    others = {part: partial(parts.__getitem__, part) for part in parts} | {"not_yet": door.one("not yet then", not_yet)}
    return door.view(Journal, **(parts_of(journal) | others))


def _later_in(log: SystemLog, moment: datetime, zone: ZoneInfo) -> tuple[_Later, ...]:
    """The events of a log about corals at a later hour of the same day."""
    day = moment.astimezone(zone).date()
    return tuple(
        (log.system, event.what, event.coral)
        for event in log.events
        if event.coral and event.at > moment and event.at.astimezone(zone).date() == day
    )


def _those(later: Iterable[_Later], which: str) -> set[str]:
    return {coral for _, what, coral in later if what == which}


def _has_come(coral: Coral, day: date, later: Collection[_Later]) -> bool:
    return coral.arrival.at < day or (coral.arrival.at == day and coral.id not in _those(later, "arrival"))


def _ahead(plans: Iterable[Planned], moment: datetime, zone: ZoneInfo) -> Iterator[Planned]:
    """The plans that are carried out later."""
    return (plan for plan in plans if plan.arrived and not plan.arrived.come_by(moment, zone))


def _is_done(trade: Trade, day: date, later: Collection[_Later], ahead: Collection[Planned]) -> bool:
    if trade.at > day or any(plan.arrived and trade.id == trade_id(plan, plan.arrived.day) for plan in ahead):
        return False
    return trade.at < day or not _is_hence(trade, _those(later, "arrival"), _those(later, "loss"))


def _is_hence(trade: Trade, to_come: set[str], to_go: set[str]) -> bool:
    """Whether corals of today's trade come or go at a later hour."""
    return any(got.coral in to_come for got in trade.received) or any(
        given.whole and given.coral in to_go for given in trade.gave
    )


def _coral(coral: Coral, day: date, later_today: Collection[_Later], here: Collection[str]) -> Coral:
    """A coral on a day; `here` are the ids of all corals that had come by then."""

    def comes_later(system: str) -> bool:
        return (system, "arrival", coral.id) in later_today

    goes_today = any(what == "loss" and id == coral.id for _, what, id in later_today)
    then = replace(
        coral,
        placements=tuple(
            placement
            for placement in coral.placements
            if placement.since < day or (placement.since == day and not comes_later(placement.system))
        ),
        sizes=_until(coral.sizes, day),
        touches=tuple(touch for touch in _until(coral.touches, day) if touch.coral in here),
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
    # One record for both, so that it is kept once.
    return coral if then == coral else then


def _trade(trade: Trade, day: date, ahead: Collection[Planned], here: Collection[str]) -> Trade:
    """A trade on a day; the plans `ahead` keep their promises at a later hour."""
    kept_later = {promise_kept(trade, plan) for plan in ahead}
    owed = tuple(
        replace(
            o,
            coral=o.coral if o.coral in here else None,
            settled=o.settled if o.settled and o.settled <= day and n not in kept_later else None,
        )
        for n, o in enumerate(trade.owed, 1)
    )
    return replace(
        trade, owed=owed, checks=tuple(check for check in trade.checks if (day - trade.at).days >= check.days)
    )


def _until(dated: Iterable[Dated], day: date) -> tuple[Dated, ...]:
    return tuple(each for each in dated if each.at <= day)
