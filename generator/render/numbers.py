"""The only place that rounds, and that joins a value to its unit and a moment to its words."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo

from generator.units.kinds import KINDS
from generator.units.quantity import convert, per_day


@dataclass(frozen=True, slots=True)
class Display:
    """How the journal wants numbers and dates shown: unit by kind of quantity, time zone, date order."""

    zone: ZoneInfo
    units: dict[str, str]
    date_order: str = "year-month-day"

    def unit(self, kind: str) -> str:
        """The unit a kind of quantity is shown in."""
        return self.units.get(kind) or KINDS[kind].canonical

    def level(self, kind: str, canonical: float) -> float:
        """A value in the canonical unit, in the unit shown."""
        return convert(canonical, kind, KINDS[kind].canonical, self.unit(kind))

    def change(self, kind: str, canonical: float) -> float:
        """A difference or a rate in the canonical unit, in the unit shown (no offset)."""
        return per_day(canonical, kind, KINDS[kind].canonical, self.unit(kind))
