"""trades/<date>-<slug>.yaml and partners/<id>.yaml: who gave what for what, and how it travelled."""

from typing import Literal

from pydantic.dataclasses import dataclass

from generator.records.coral import Audience
from generator.records.fields import (
    STRICT,
    Count,
    Day,
    Distance,
    Duration,
    Flag,
    Id,
    Name,
    Temperature,
    Text,
    Volume,
    Worth,
)
from generator.records.source import Source
from generator.records.system import Levels


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Partner:
    """partners/<id>.yaml: someone to trade corals with. The public site uses `public_name` if they agree.

    `water` is the water their corals are used to, `quarantine` how long they quarantine a coral before a trade.
    """

    source: Source
    id: Id
    name: Name
    public_name: Name | None = None
    since: Day | None = None
    water: Levels | None = None
    quarantine: Duration | None = None
    shows: tuple[Literal["name", "trades", "photos"], ...] = ()
    private: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Given:
    """What left: the whole coral, or a number of frags cut from it."""

    source: Source
    coral: Id
    whole: Flag = False
    frags: Count = 1
    worth: Worth | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Received:
    """What came: a coral that has, or will have, a file of its own."""

    source: Source
    coral: Id
    worth: Worth | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class WaterTemperature:
    """Temperatures on the way, some time after leaving."""

    source: Source
    after: Duration
    water: Temperature
    air: Temperature | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Expected:
    """What to expect on the way: the water on leaving, and the air."""

    source: Source
    water: Temperature | None = None
    air: Temperature | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Travel:
    """How it travelled, or will travel: `expected` beforehand, `temperatures` as read on the way."""

    source: Source
    container: Id | None = None
    water: Volume | None = None
    duration: Duration
    distance: Distance | None = None
    expected: Expected | None = None
    temperatures: tuple[WaterTemperature, ...] = ()
    packing: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Owed:
    """A promise: who owes what, and until when. `settled` is the day it was kept."""

    source: Source
    by: Literal["us", "them"]
    what: Text
    coral: Id | None = None
    worth: Worth | None = None
    due: Day | None = None
    settled: Day | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class State:
    """The corals' condition some days after arrival (0: on arrival)."""

    source: Source
    days: Count
    condition: Literal["good", "fair", "poor", "lost"]
    coral: Id | None = None
    slime: Flag = False
    broken_off: Count = 0
    note: Text | None = None


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Trade:
    """trades/<date>-<slug>.yaml."""

    source: Source
    id: Id
    at: Day
    partner: Id
    gave: tuple[Given, ...] = ()
    received: tuple[Received, ...] = ()
    paid: Worth | None = None
    was_paid: Worth | None = None
    owed: tuple[Owed, ...] = ()
    travel: Travel | None = None
    inspection: Text | None = None
    checks: tuple[State, ...] = ()
    note: Text | None = None
    audience: Audience = "partners"
    private: Text | None = None
