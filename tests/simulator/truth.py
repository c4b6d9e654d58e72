"""What was really so, beside what the log says. No test may show it to the code it judges."""

from datetime import date, datetime

from msgspec import Struct, field


class Unlogged(Struct, frozen=True):
    """Something that happened and is not in the log, or is there wrongly."""

    system: str
    at: datetime
    what: str
    amount: str


class DayTruth(Struct, frozen=True):
    """A system at the end of a local day: CaCO3 laid down (g) and uptake (dKH, mg/L) that day, levels after it."""

    day: date
    grams: float
    alkalinity_uptake: float
    calcium_uptake: float
    magnesium_uptake: float
    levels: dict[str, float]


class SystemTruth(Struct):
    """One system: its real volume, its days, and per coral the mass (g) at each month's end.

    `ledger` holds, by kind, what it started and ended with and all that came and went (meq or mg).
    """

    litres: float
    days: list[DayTruth] = field(default_factory=list)
    ledger: dict[str, dict[str, float]] = field(default_factory=dict)


class Truth(Struct):
    """The whole journal's truth: `grams` of CaCO3 a day are kept for the watched corals only."""

    systems: dict[str, SystemTruth] = field(default_factory=dict)
    unlogged: list[Unlogged] = field(default_factory=list)
    masses: dict[str, list[tuple[date, float]]] = field(default_factory=dict)
    grams: dict[str, dict[date, float]] = field(default_factory=dict)
