"""trades/*.yaml, partners/*.yaml: what was given and received; plans/*.yaml: what is planned and may become a trade."""

import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from msgspec import Struct

from generator.records import fields
from generator.records.coral import Audience, Form, Origin
from generator.records.source import FromFile, Source
from generator.records.system import Flow, Levels


class Partner(FromFile, frozen=True, kw_only=True):
    """partners/<id>.yaml: someone to trade corals with. The public site uses `public_name` if they agree.

    `water` is the water their corals are used to, `quarantine` how long they quarantine a coral before a trade.
    """

    source: Source
    id: fields.Id
    name: fields.Name
    public_name: fields.Name | None = None
    since: fields.Day | None = None
    water: Levels | None = None
    quarantine: fields.Duration | None = None
    shows: tuple[Literal["name", "trades", "photos"], ...] = ()
    private: fields.Text | None = None


class Given(FromFile, frozen=True, kw_only=True):
    """What left: the whole coral, or a number of frags cut from it."""

    source: Source
    coral: fields.Id
    whole: fields.Flag = False
    frags: fields.Count = 1
    worth: fields.Worth | None = None


class Received(FromFile, frozen=True, kw_only=True):
    """What came: a coral that has, or will have, a file of its own."""

    source: Source
    coral: fields.Id
    worth: fields.Worth | None = None


class WaterTemperature(FromFile, frozen=True, kw_only=True):
    """Temperatures on the way, some time after leaving."""

    source: Source
    after: fields.Duration
    water: fields.Temperature
    air: fields.Temperature | None = None


class Expected(FromFile, frozen=True, kw_only=True):
    """What to expect on the way: the water on leaving, and the air."""

    source: Source
    water: fields.Temperature | None = None
    air: fields.Temperature | None = None


class Travel(FromFile, frozen=True, kw_only=True):
    """How it travelled, or will travel: `expected` beforehand, `temperatures` as read on the way."""

    source: Source
    container: fields.ContainerId | None = None
    water: fields.Volume | None = None
    duration: fields.Duration
    distance: fields.Distance | None = None
    expected: Expected | None = None
    temperatures: tuple[WaterTemperature, ...] = ()
    packing: fields.Text | None = None


class Owed(FromFile, frozen=True, kw_only=True):
    """A promise: who owes what, and until when. `settled` is the day it was kept."""

    source: Source
    by: Literal["us", "them"]
    what: fields.Text
    coral: fields.Id | None = None
    worth: fields.Worth | None = None
    due: fields.Day | None = None
    settled: fields.Day | None = None


class State(FromFile, frozen=True, kw_only=True):
    """The corals' condition some days after arrival (0: on arrival)."""

    source: Source
    days: fields.Count
    condition: Literal["good", "fair", "poor", "lost"]
    coral: fields.Id | None = None
    slime: fields.Flag = False
    broken_off: fields.Count = 0
    note: fields.Text | None = None


class Trade(FromFile, frozen=True, kw_only=True):
    """trades/<date>-<slug>.yaml."""

    source: Source
    id: fields.Id
    at: fields.Day
    partner: fields.Id
    gave: tuple[Given, ...] = ()
    received: tuple[Received, ...] = ()
    paid: fields.Worth | None = None
    was_paid: fields.Worth | None = None
    owed: tuple[Owed, ...] = ()
    travel: Travel | None = None
    inspection: fields.Text | None = None
    checks: tuple[State, ...] = ()
    note: fields.Text | None = None
    audience: Audience = "partners"
    private: fields.Text | None = None


class Appointed(Struct, frozen=True):
    """A day on the keeper's calendar, and the moment (UTC) if the hour is known."""

    day: date
    at: datetime | None = None

    def come_by(self, moment: datetime, zone: ZoneInfo) -> bool:
        """Whether it has come by a moment. Without an hour it comes at the start of its day."""
        return self.at <= moment if self.at is not None else self.day <= moment.astimezone(zone).date()


_A_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def _appointed(value: Any, context: Mapping[str, Any]) -> Appointed:
    if not isinstance(value, str) or _A_DAY.fullmatch(value.strip()):
        return Appointed(fields.calendar_day(value))
    zone = context.get("zone", ZoneInfo("UTC"))
    at = fields.local_time(value, zone)
    return Appointed(at.astimezone(zone).date(), at)


DayOrHour = Annotated[
    Appointed,
    fields.WrittenAs(
        _appointed,
        {"type": "string", "description": "a day, with or without the hour", "examples": ["2026-03-02 14:30"]},
        True,
    ),
]


class Newcomer(FromFile, frozen=True, kw_only=True):
    """A colony that is coming: `coral` is the id that it will have.

    `light` and `light_to` are the lowest and highest light it wants, `used_to` is the light it has now; `mass` is
    drained, in air. `system`, `place`, `x` and `y` are its position here, if that is decided.
    """

    source: Source
    coral: fields.Id
    name: fields.Name
    species: fields.Name
    form: Form
    line: fields.Id | None = None
    length: fields.Side
    width: fields.Side | None = None
    height: fields.Side | None = None
    mass: fields.Mass | None = None
    light: fields.Light | None = None
    light_to: fields.Light | None = None
    used_to: fields.Light | None = None
    flow: Flow | None = None
    system: fields.Id | None = None
    place: fields.Id | None = None
    x: fields.Length | None = None
    y: fields.Length | None = None
    origin: Origin | None = None
    worth: fields.Worth | None = None


class Mover(FromFile, frozen=True, kw_only=True):
    """One of our corals that moves; `all_of` names a system, all corals of which move."""

    source: Source
    coral: fields.Id | None = None
    all_of: fields.Id | None = None
    to: fields.Id
    place: fields.Id | None = None
    x: fields.Length | None = None
    y: fields.Length | None = None


Stage = Literal["perhaps", "agreed", "arrived"]


class Planned(FromFile, frozen=True, kw_only=True):
    """plans/<slug>.yaml. Without a `date` it is only perhaps; with one it is agreed; with `arrived` it is done.

    A coral that is going has arrived when it leaves our water. `keeps` is the promise it keeps: a trade's id, followed
    by `/2` for the trade's second promise. Without `since` it was planned all along. The other fields are those of the
    trade that it becomes.
    """

    source: Source
    id: fields.Id
    since: fields.Day | None = None
    dropped: fields.Day | None = None
    date: DayOrHour | None = None
    arrived: DayOrHour | None = None
    partner: fields.Id | None = None
    coming: tuple[Newcomer, ...] = ()
    going: tuple[Given, ...] = ()
    moving: tuple[Mover, ...] = ()
    paid: fields.Worth | None = None
    was_paid: fields.Worth | None = None
    owed: tuple[Owed, ...] = ()
    keeps: fields.Text | None = None
    travel: Travel | None = None
    inspection: fields.Text | None = None
    checks: tuple[State, ...] = ()
    note: fields.Text | None = None
    audience: Literal["public", "partners", "own"] = "partners"
    private: fields.Text | None = None

    @property
    def stage(self) -> Stage:
        """Perhaps, agreed or arrived."""
        return "arrived" if self.arrived else "agreed" if self.date else "perhaps"

    @property
    def ways(self) -> tuple[Literal["coming", "going", "moving"], ...]:
        """Which ways its colonies go."""
        ways: tuple[Literal["coming", "going", "moving"], ...] = ("coming", "going", "moving")
        return tuple(way for way in ways if getattr(self, way))

    @property
    def promise(self) -> tuple[str, int | None] | None:
        """The trade whose promise it keeps, and the number of the promise, from 1 (None: not given)."""
        if self.keeps is None:
            return None
        trade, _, number = self.keeps.partition("/")
        return trade, int(number) if number.isdecimal() else None

    def open_at(self, moment: datetime, zone: ZoneInfo) -> bool:
        """Whether it is planned at a moment: not dropped, and not arrived."""
        day = moment.astimezone(zone).date()
        done = self.arrived is not None and self.arrived.come_by(moment, zone)
        return (self.since is None or self.since <= day) and not done and (self.dropped is None or self.dropped > day)


def soonest_first(plans: Iterable[Planned]) -> tuple[Planned, ...]:
    """Plans, the soonest first, those without a day last."""
    return tuple(sorted(plans, key=lambda plan: (plan.date.day if plan.date else date.max, plan.id)))
