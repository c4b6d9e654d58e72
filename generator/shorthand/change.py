"""What a line of shorthand becomes: changes, each one fact; and what was not understood."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time

from generator.units.quantity import Quantity

# A fact's value: a quantity, sides of a size, a count, or text (an id, a choice, the keeper's words).
Value = Quantity | tuple[Quantity, ...] | int | str


@dataclass(frozen=True, slots=True)
class Moment:
    """A day, and the hour if one was said, on the keeper's own clock."""

    day: date
    clock: time | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """One fact for the files.

    `into` is the field of a log's entry or of a coral's file; `values` are its parts by the names that the files use.
    `coral` is the coral whose file it belongs to, "" for a system's log. `said` is the part of the line it comes from.
    """

    into: str
    values: Mapping[str, Value]
    at: Moment
    said: str
    coral: str = ""


@dataclass(frozen=True, slots=True)
class Refusal:
    """A part of a line that was not understood, and what to write instead."""

    said: str
    wrong: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.wrong} ({self.remedy})"


@dataclass(frozen=True, slots=True)
class Known:
    """What a journal knows, as far as a line can speak of it.

    `now` is the moment of writing on the keeper's own clock. `units` has the unit of a bare number of each kind.
    `names` maps, for each kind of name (solution, mix, kit, coral, place, system, partner), what it may be called to
    its id. `volume` is the water volume, `stocks` a full container of each solution. `coral` is the coral that the
    line is about, if it names none. `homes` has the system of each coral, `places` those of each system, `steps` the
    step of the scale that last weighed a coral.
    """

    now: datetime
    units: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    volume: Quantity | None = None
    stocks: Mapping[str, Quantity] = field(default_factory=dict)
    coral: str = ""
    homes: Mapping[str, str] = field(default_factory=dict)
    places: Mapping[str, Collection[str]] = field(default_factory=dict)
    steps: Mapping[str, Quantity] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Understood:
    """All changes of a line, in its order, and every part that was not understood."""

    changes: tuple[Change, ...]
    refusals: tuple[Refusal, ...]
