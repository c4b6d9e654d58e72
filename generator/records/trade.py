"""trades/<date>-<slug>.yaml and partners/<id>.yaml: who gave what for what, and how it travelled."""

from typing import Literal

from pydantic.dataclasses import dataclass

from generator.records import fields
from generator.records.coral import Audience
from generator.records.source import Source
from generator.records.system import Levels


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Partner:
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


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Given:
    """What left: the whole coral, or a number of frags cut from it."""

    source: Source
    coral: fields.Id
    whole: fields.Flag = False
    frags: fields.Count = 1
    worth: fields.Worth | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Received:
    """What came: a coral that has, or will have, a file of its own."""

    source: Source
    coral: fields.Id
    worth: fields.Worth | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class WaterTemperature:
    """Temperatures on the way, some time after leaving."""

    source: Source
    after: fields.Duration
    water: fields.Temperature
    air: fields.Temperature | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Expected:
    """What to expect on the way: the water on leaving, and the air."""

    source: Source
    water: fields.Temperature | None = None
    air: fields.Temperature | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Travel:
    """How it travelled, or will travel: `expected` beforehand, `temperatures` as read on the way."""

    source: Source
    container: fields.ContainerId | None = None
    water: fields.Volume | None = None
    duration: fields.Duration
    distance: fields.Distance | None = None
    expected: Expected | None = None
    temperatures: tuple[WaterTemperature, ...] = ()
    packing: fields.Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Owed:
    """A promise: who owes what, and until when. `settled` is the day it was kept."""

    source: Source
    by: Literal["us", "them"]
    what: fields.Text
    coral: fields.Id | None = None
    worth: fields.Worth | None = None
    due: fields.Day | None = None
    settled: fields.Day | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class State:
    """The corals' condition some days after arrival (0: on arrival)."""

    source: Source
    days: fields.Count
    condition: Literal["good", "fair", "poor", "lost"]
    coral: fields.Id | None = None
    slime: fields.Flag = False
    broken_off: fields.Count = 0
    note: fields.Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=fields.STRICT)
class Trade:
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
