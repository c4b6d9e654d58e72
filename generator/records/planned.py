"""plans/<slug>.yaml: what is planned to come, go or move, from 'perhaps' to arrived.

Everything about it is recorded here once. When it has arrived, it becomes corals, a trade and log events by itself (see
`carried_out`).
"""

import re
from dataclasses import dataclass as plain
from datetime import date, datetime
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo

from pydantic import BeforeValidator, WithJsonSchema
from pydantic.dataclasses import dataclass
from pydantic_core import core_schema

from generator.records import fields
from generator.records.coral import Form, Origin
from generator.records.source import Source
from generator.records.system import Flow
from generator.records.trade import Given, Owed, State, Travel


@plain(frozen=True, slots=True)
class Appointed:
    """A day on the keeper's calendar, and the moment (UTC) if the hour is known."""

    day: date
    at: datetime | None = None

    def come_by(self, moment: datetime, zone: ZoneInfo) -> bool:
        """Whether it has come by a moment. Without an hour it comes at the start of its day."""
        return self.at <= moment if self.at is not None else self.day <= moment.astimezone(zone).date()


_A_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def _appointed(value: Any, info: core_schema.ValidationInfo) -> Appointed:
    if isinstance(value, Appointed):
        return value
    if not isinstance(value, str) or _A_DAY.fullmatch(value.strip()):
        return Appointed(fields.calendar_day(value))
    zone = (info.context or {}).get("zone", ZoneInfo("UTC"))
    at = fields.local_time(value, zone)
    return Appointed(at.astimezone(zone).date(), at)


DayOrHour = Annotated[
    Appointed,
    BeforeValidator(_appointed),
    WithJsonSchema(
        {"type": "string", "description": "a day, with or without the hour", "examples": ["2026-03-02 14:30"]}
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Newcomer:
    """A colony that is coming: `coral` is the id that it will have.

    `light` and `light_to` are the lowest and highest light it wants, `used_to` is the light it has now; `mass` is
    drained, in air. `system`, `place`, `x` and `y` are its position here, if that is decided.
    """

    source: Source
    coral: fields.Id
    name: fields.Name
    species: fields.Text
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


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Moving:
    """One of our corals that moves; `all_of` names a system, all corals of which move."""

    source: Source
    coral: fields.Id | None = None
    all_of: fields.Id | None = None
    to: fields.Id
    place: fields.Id | None = None
    x: fields.Length | None = None
    y: fields.Length | None = None


Stage = Literal["perhaps", "agreed", "arrived"]


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Planned:
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
    moving: tuple[Moving, ...] = ()
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
