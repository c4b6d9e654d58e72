"""How a chart puts its rows: in the journal's units, wall clock and words."""

from dataclasses import dataclass
from datetime import UTC, datetime

from generator.render.base.chart import wall_clock
from generator.render.base.numbers import Display, decimals, plain, say_level, say_moment, say_per_day, with_unit
from generator.render.base.words import Words
from generator.units.quantity import Estimate


@dataclass(frozen=True, slots=True)
class Known:
    """An estimate at a moment, in numbers and in words."""

    at: int
    moment: str
    value: float
    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True)
class Telling:
    """One quantity, in one journal's units, clock and words, from one moment until another."""

    kind: str
    display: Display
    words: Words
    since: datetime
    until: datetime

    def clock(self, moment: datetime) -> int:
        """The wall clock's time, as the axis counts it."""
        return wall_clock(moment, self.display.zone)

    def moment(self, at: datetime) -> str:
        """The same in words."""
        return say_moment(self.display, self.words, at).text

    def told(self, clock: int) -> str:
        """A time of the axis in words."""
        return self.moment(datetime.fromtimestamp(clock / 1000, UTC).replace(tzinfo=self.display.zone))

    def shows(self, moment: datetime) -> bool:
        """Whether the chart reaches so far."""
        return self.since <= moment <= self.until

    def level(self, at: datetime, found: Estimate) -> Known:
        """What the quantity was, from its estimate in the canonical unit."""
        shown = self.display.estimate(self.kind, found, of_level=True)
        said = say_level(self.display, self.words, self.kind, found)
        return Known(
            self.clock(at), self.moment(at), shown.value, shown.low, shown.high, f"{said.value}, {said.interval}"
        )

    def rate(self, at: datetime, found: Estimate) -> Known:
        """What it changed by in a day, from its estimate in the canonical unit a day."""
        shown = self.display.estimate(self.kind, found, of_level=False)
        said = say_per_day(self.display, self.words, self.kind, found)
        return Known(
            self.clock(at), self.moment(at), shown.value, shown.low, shown.high, f"{said.value}, {said.interval}"
        )

    def change(self, canonical: float) -> str:
        """What a deed changed, exact to two digits, with its sign."""
        value = self.display.change(self.kind, canonical)
        number = plain(self.words, value, decimals(abs(value) / 10))
        return with_unit(f"+{number}" if value > 0 else number, self.words.unit(self.display.unit(self.kind)))
