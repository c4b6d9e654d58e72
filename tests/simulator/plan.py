"""What is to be simulated: the systems, their water and dosing, the coral, the people's habits, the faults."""

import math
from datetime import date, datetime, time

from msgspec import Struct, field

from generator.units.compounds import molar_mass

# Resolution and spread of one repeat reading, and decimals written, by quantity, in the unit written.
KIT: dict[str, tuple[str, float, float, int]] = {
    "alkalinity": ("dKH", 0.15, 0.1, 1),
    "calcium": ("mg/L", 8.0, 5.0, 0),
    "magnesium": ("mg/L", 25.0, 10.0, 0),
    "nitrate": ("mg/L", 0.8, 0.5, 1),
    "phosphate": ("mg/L", 0.01, 0.01, 2),
    "salinity": ("psu", 0.12, 0.1, 1),
    "temperature": ("°C", 0.1, 0.1, 1),
    "ph": ("NBS", 0.03, 0.01, 2),
}
TITRATOR = ("dKH", 0.05, 0.02, 2)


class Solution(Struct, frozen=True, kw_only=True):
    """A solution as its maker believes it to be, and what one litre really pays in (meq, mg, mg)."""

    id: str
    compound: str | None = None
    grams_per_litre: float | None = None
    alkalinity: float = 0.0
    calcium: float = 0.0
    magnesium: float = 0.0
    stock: float | None = None

    def pays(self) -> dict[str, float]:
        """meq or mg that one litre brings."""
        return {"alkalinity": self.alkalinity, "calcium": self.calcium, "magnesium": self.magnesium}


def of_compound(id: str, compound: str, grams: float, stock: float | None = None) -> Solution:
    """A solution of so many grams of a compound a litre: what it pays follows from the formula."""
    moles = grams / molar_mass(compound) * 1e3
    equivalents = {"NaHCO3": 1.0, "Na2CO3": 2.0, "Ca(OH)2": 2.0}.get(compound, 0.0)
    return Solution(
        id=id,
        compound=compound,
        grams_per_litre=grams,
        alkalinity=moles * equivalents,
        calcium=moles * molar_mass("Ca") if "Ca" in compound else 0.0,
        magnesium=moles * molar_mass("Mg") if "Mg" in compound else 0.0,
        stock=stock,
    )


class Reactor(Struct, frozen=True, kw_only=True):
    """A calcium reactor: flow (L/day), and its effluent's levels (meq/L, mg/L, mg/L)."""

    flow: float
    alkalinity: float
    calcium: float
    magnesium: float


class SystemPlan(Struct, frozen=True, kw_only=True):
    """One system. Litres, days, meq/L, mg/L, psu, °C. `sources` and `sinks` act on nitrate and phosphate.

    `alkalinity_by` and `calcium_by` name the pump solutions, `poured` the one given by hand when
    alkalinity is far too low; `limewater` is (solution, L/day); `by_hand` are further doses
    (day, solution, L). From `titrator_from` on alkalinity is read with a better kit.
    `true_litres` None: drawn from the declared volume and its uncertainty.
    """

    id: str
    name: str
    litres: float
    uncertainty: float
    true_litres: float | None = None
    target: dict[str, float] = field(
        default_factory=lambda: {"alkalinity": 2.92, "calcium": 425.0, "magnesium": 1300.0}
    )
    start: dict[str, float] = field(default_factory=dict)
    solutions: tuple[Solution, ...] = ()
    alkalinity_by: str | None = None
    calcium_by: str | None = None
    poured: str | None = None
    titrator_from: date | None = None
    limewater: tuple[str, float] | None = None
    reactor: Reactor | None = None
    reactor_steps: tuple[tuple[datetime, Reactor], ...] = ()
    change_every: float = 14.0
    change_litres: float = 40.0
    mix: dict[str, float] = field(
        default_factory=lambda: {"alkalinity": 2.85, "calcium": 430.0, "magnesium": 1320.0, "salinity": 35.0}
    )
    tests_every: tuple[float, float] = (2.0, 5.0)
    temperature: float = 25.3
    sources: dict[str, float] = field(default_factory=lambda: {"nitrate": 0.35, "phosphate": 0.004})
    sinks: dict[str, float] = field(default_factory=lambda: {"nitrate": 0.05, "phosphate": 0.07})
    starts: date | None = None
    by_hand: tuple[tuple[date, str, float], ...] = ()


class CoralPlan(Struct, frozen=True, kw_only=True):
    """One coral. Mass in g when it arrives; `settles` days until it calcifies in full.

    It calcifies from the start of the day it arrives, or from the time `at` of that day.

    Above `most` g the keeper breaks a third off, which leaves the house.
    """

    id: str
    name: str
    species: str
    line: str
    form: str
    system: str
    arrives: date
    mass: float
    at: time | None = None
    parent: str | None = None
    how: str = "cutting"
    partner: str | None = None
    trade: str | None = None
    leaves: date | None = None
    end: str | None = None
    place: str | None = None
    settles: float = 14.0
    vigour: float = 1.0
    most: float = math.inf
    measured_every: int = 90
    weighed_every: int = 0
    moves: tuple[tuple[date, str], ...] = ()

    def system_on(self, day: date) -> str:
        """Where it is on a day."""
        return max(((since, to) for since, to in self.moves if since <= day), default=(day, self.system))[1]

    @property
    def first_day(self) -> float:
        """The part of the day it arrives on that it is here."""
        return 1.0 if self.at is None else 1.0 - (self.at.hour * 60 + self.at.minute) / 1440.0


class Wear(Struct, frozen=True, kw_only=True):
    """A pump tube that wears out: what arrives falls from all to `left` of what is logged, until renewed."""

    system: str
    solution: str
    begins: date
    renewed: date
    left: float


class WrongMix(Struct, frozen=True, kw_only=True):
    """New water that is saltier (psu) than the log says, between two days; all its ions with it."""

    system: str
    begins: date
    ends: date
    salinity: float


class Faults(Struct, frozen=True, kw_only=True):
    """What goes wrong, with things and with people. `mistyped` names system, quantity and the first day it can be."""

    wear: tuple[Wear, ...] = ()
    mixes: tuple[WrongMix, ...] = ()
    holidays: tuple[tuple[date, date], ...] = ()
    forgotten: float = 0.02
    mistyped: tuple[tuple[str, str, date], ...] = ()


class JournalPlan(Struct, frozen=True, kw_only=True):
    """Everything: the first day, how many days, the zone, and who does what.

    What each of the `watched` corals lays down is kept day by day in the truth.
    """

    first: date
    days: int
    systems: tuple[SystemPlan, ...]
    corals: tuple[CoralPlan, ...]
    faults: Faults = Faults()
    zone: str = "Atlantic/Azores"
    daily_tests: dict[str, tuple[tuple[date, date], ...]] = field(default_factory=dict)
    watched: tuple[str, ...] = ()
