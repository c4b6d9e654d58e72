"""The keeper's habits with one system: when they test, how well, what they do about it, what they forget.

A `Keeper` sees only readings, never the truth; it writes `Moment`s, the log as it will be typed.
"""

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

import numpy as np

from generator.units.kinds import MEQ_PER_DKH
from tests.simulator.plan import KIT, Faults, SystemPlan
from tests.simulator.tank import Tank
from tests.simulator.truth import Unlogged

Parts = dict[str, object]


@dataclass(frozen=True, slots=True)
class Moment:
    """One entry of a log: local time, and its parts in the order typed."""

    at: datetime
    parts: Parts


@dataclass(slots=True)
class Keeper:
    """One pair of hands at one system."""

    plan: SystemPlan
    faults: Faults
    rng: np.random.Generator
    daily: tuple[tuple[date, date], ...] = ()
    log: list[Moment] = field(default_factory=list)
    unlogged: list[Unlogged] = field(default_factory=list)
    next_test: date | None = None
    next_change: date | None = None
    adjusted: date | None = None
    tests: int = 0
    seen: list[float] = field(default_factory=list)
    slipped: set[date] = field(default_factory=set)

    def set_up(self, at: datetime, tank: Tank, grams_per_day: float) -> None:
        """First day: set pumps, limewater and reactor to about what the coral needs, and write it down."""
        need = grams_per_day / 100.086 * 2e3 / tank.litres
        parts: Parts = {}
        if self.plan.reactor:
            tank.reactor = self.plan.reactor
            parts["reactor"] = reactor_words(self.plan.reactor)
            need -= self.plan.reactor.flow * (self.plan.reactor.alkalinity - 2.92) / tank.litres
        if self.plan.limewater:
            solution, tank.limewater = self.plan.limewater
            parts["top_off"] = {"rate": _rate(tank.limewater), "solution": solution}
            need -= tank.solution(solution).alkalinity * tank.limewater / tank.litres
        pumps = self._pumps(tank, max(0.0, need))
        if pumps:
            parts["pumps"] = pumps
        if parts:
            self.log.append(Moment(at, parts))
        self.adjusted = at.date()

    def _pumps(self, tank: Tank, need: float) -> dict[str, str]:
        """Set both pumps to a need in meq/L a day, calcium in balance; what is written."""
        written = {}
        wanted = ((self.plan.alkalinity_by, "alkalinity", need), (self.plan.calcium_by, "calcium", need * 20.039))
        for solution, kind, amount in wanted:
            if solution is not None:
                # The keeper reckons with the declared volume, not the true one.
                millilitres = round(amount * self.plan.litres / tank.solution(solution).pays()[kind] * 1e3)
                tank.pumps[solution] = millilitres / 1e3
                written[solution] = f"{millilitres} mL/day"
        return written

    def away(self, day: date) -> bool:
        """Whether everyone is on holiday."""
        return any(begins <= day <= ends for begins, ends in self.faults.holidays)

    def tests_on(self, day: date) -> bool:
        """Whether this is a day with a test."""
        if any(begins <= day <= ends for begins, ends in self.daily):
            return True
        if self.next_test is None:
            self.next_test = day
        return day >= self.next_test and not self.away(day)

    def clock(self, day: date) -> datetime:
        """A likely time of day, mostly to five minutes."""
        morning = self.rng.random() < 0.45
        minutes = int(self.rng.integers(7 * 60, 9 * 60 + 30) if morning else self.rng.integers(18 * 60, 21 * 60 + 50))
        if self.rng.random() < 0.7:
            minutes -= minutes % 5
        return datetime.combine(day, time(minutes // 60, minutes % 60))

    def test(self, at: datetime, tank: Tank) -> None:
        """Read what this day's round covers, write it, and act on the alkalinity read."""
        levels = dict(tank.levels)
        hour = at.hour + at.minute / 60.0
        season = np.cos(2.0 * np.pi * (at.timetuple().tm_yday - 225) / 365.25)
        levels["temperature"] = self.plan.temperature + 0.5 * season + 0.15 * np.sin((hour - 10.0) / 12.0 * np.pi)
        levels["ph"] = 8.14 + 0.1 * np.sin((hour - 11.0) / 12.0 * np.pi) + 0.1 * (levels["alkalinity"] - 2.9)
        values = {kind: self._read(kind, float(levels[kind])) for kind in self._panel()}
        self.log.append(Moment(at, {"readings": self._typed(at, values)}))
        self.tests += 1
        self.next_test = at.date() + timedelta(days=max(1, round(self.rng.uniform(*self.plan.tests_every))))
        self.seen.append(float(values["alkalinity"].split()[0]) * MEQ_PER_DKH)
        self._act(at, tank)

    def _typed(self, at: datetime, values: dict[str, str]) -> dict[str, str]:
        """The values as they reach the file: the thumb slips on the first chance from a planned day on."""
        for kind, day in self.faults.mistyped:
            if kind in values and day <= at.date() and day not in self.slipped:
                self.slipped.add(day)
                self.unlogged.append(Unlogged(self.plan.id, at, f"mistyped {kind}", f"was {values[kind]}"))
                return values | {kind: _transpose(values[kind])}
        return values

    def _panel(self) -> list[str]:
        chances = {"calcium": 0.34, "magnesium": 0.16, "nitrate": 0.3, "phosphate": 0.3, "salinity": 0.4}
        chances |= {"temperature": 0.55, "ph": 0.25}
        return ["alkalinity", *(kind for kind, chance in chances.items() if self.rng.random() < chance)]

    def _read(self, kind: str, level: float) -> str:
        unit, error, step, digits = KIT[kind]
        shown = level / MEQ_PER_DKH if kind == "alkalinity" else level
        read = max(0.0, shown + float(self.rng.normal(0.0, error)))
        return f"{round(read / step) * step:.{digits}f} {unit}"

    def _act(self, at: datetime, tank: Tank) -> None:
        """Turn the pumps when two readings agree that the level is off; pour when it is far too low."""
        if len(self.seen) < 2 or self.adjusted is None:
            return
        off = self.plan.target["alkalinity"] - sum(self.seen[-2:]) / 2.0
        later = at + timedelta(minutes=int(self.rng.integers(3, 25)))
        if off > 0.32 and self.seen[-1] < self.plan.target["alkalinity"] - 0.3:
            self._pour(later, tank, off)
        if abs(off) < 0.11 or (at.date() - self.adjusted).days < 12:
            return
        self.adjusted = at.date()
        tank.run_to(later)
        if self.plan.alkalinity_by:
            now = tank.pumps.get(self.plan.alkalinity_by, 0.0)
            need = now * tank.solution(self.plan.alkalinity_by).alkalinity / self.plan.litres + off / 16.0
            self.log.append(Moment(later, {"pumps": self._pumps(tank, max(0.0, need))}))
        elif self.plan.limewater:
            solution, _ = self.plan.limewater
            strength = tank.solution(solution).alkalinity
            tank.limewater = max(0.2, min(4.0, round(tank.limewater + off / 16.0 * self.plan.litres / strength, 1)))
            self.log.append(Moment(later, {"top_off": {"rate": _rate(tank.limewater), "solution": solution}}))

    def _pour(self, at: datetime, tank: Tank, off: float) -> None:
        solution = self.plan.alkalinity_by
        if solution is None:
            return
        millilitres = 10 * round(off * self.plan.litres / tank.solution(solution).alkalinity * 1e3 * 0.6 / 10)
        tank.run_to(at)
        tank.dose(solution, millilitres / 1e3)
        self._write(at, {"doses": {solution: f"{millilitres} mL"}}, "a dose", f"{millilitres} mL of {solution}")

    def change_water(self, at: datetime, tank: Tank) -> None:
        """A water change, with the mix that the bucket really held."""
        wrong = [mix for mix in self.faults.mixes if mix.system == self.plan.id and mix.begins <= at.date() <= mix.ends]
        tank.change_water(self.plan.change_litres, wrong[0].salinity if wrong else None)
        parts: Parts = {"water_change": {"volume": f"{self.plan.change_litres:g} L", "mix": "new-water"}}
        self._write(at, parts, "a water change", f"{self.plan.change_litres:g} L")
        self.next_change = at.date() + timedelta(days=round(self.plan.change_every * self.rng.uniform(0.85, 1.3)))

    def _write(self, at: datetime, parts: Parts, what: str, amount: str) -> None:
        if self.rng.random() < self.faults.forgotten:
            self.unlogged.append(Unlogged(self.plan.id, at, what, amount))
        else:
            self.log.append(Moment(at, parts))


def reactor_words(reactor: object) -> dict[str, str]:
    """How a reactor's setting is written."""
    flow, alkalinity = getattr(reactor, "flow", 0.0), getattr(reactor, "alkalinity", 0.0)
    return {
        "flow": f"{flow / 1.44:.0f} mL/min",
        "alkalinity": f"{alkalinity / MEQ_PER_DKH:.1f} dKH",
        "calcium": f"{getattr(reactor, 'calcium', 0.0):.0f} mg/L",
    }


def _rate(litres: float) -> str:
    return f"{litres:.1f} L/day"


def _transpose(value: str) -> str:
    """The slip of a thumb: the first two digits change places, ``8.3`` becomes ``3.8``."""
    number, unit = value.split(maxsplit=1)
    digits = [place for place, sign in enumerate(number) if sign.isdigit()][:2]
    signs = list(number)
    signs[digits[0]], signs[digits[1]] = signs[digits[1]], signs[digits[0]]
    return f"{''.join(signs)} {unit}"
