"""The keeper's habits with one system: when they test, how well, what they do about it, what they forget.

A `Keeper` sees only readings, never the truth; it writes `Moment`s, the log as it will be typed.
"""

import math
from datetime import date, datetime, time, timedelta

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from generator.units.kinds import MEQ_PER_DKH
from tests.simulator.plan import KIT, TITRATOR, Faults, SystemPlan
from tests.simulator.tank import START, Tank
from tests.simulator.truth import Unlogged

Parts = dict[str, object]
MILLILITRES_A_MINUTE = 1.44  # L/day


class Moment(Struct, frozen=True):
    """One entry of a log: local time, and its parts in the order typed."""

    at: datetime
    parts: Parts


class Keeper(Struct):
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
    seen: list[tuple[float, float]] = field(default_factory=list)
    seen_calcium: float | None = None
    before_wear: float | None = None
    slipped: set[date] = field(default_factory=set)

    def set_up(self, at: datetime, tank: Tank, grams_per_day: float) -> None:
        """First day: set pumps, limewater and reactor to about what the coral needs, and write it down."""
        need = grams_per_day / 100.086 * 2e3 / tank.litres
        parts: Parts = {}
        if self.plan.reactor:
            over = self.plan.reactor.alkalinity - START["alkalinity"]
            enough = math.floor(need * tank.litres / over / MILLILITRES_A_MINUTE) * MILLILITRES_A_MINUTE
            tank.reactor = replace(self.plan.reactor, flow=min(self.plan.reactor.flow, enough))
            parts["reactor"] = reactor_words(tank.reactor)
            need -= tank.reactor.flow * over / tank.litres
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
        # Calcium follows alkalinity by stoichiometry, and is trimmed by the last calcium read.
        trim = (self.plan.target["calcium"] - self.seen_calcium) / 45.0 if self.seen_calcium else 0.0
        calcium = max(0.0, need * 20.039 + (trim if abs(trim) > 0.3 else 0.0))
        wanted = ((self.plan.alkalinity_by, "alkalinity", need), (self.plan.calcium_by, "calcium", calcium))
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
        values = {kind: self._read(kind, float(levels[kind]), at.date()) for kind in self._panel()}
        typed = dict(self._typed(at, values))
        if self._titrates(at.date()):
            self.log.append(Moment(at, {"readings": {"alkalinity": typed.pop("alkalinity")}, "kit": "titrator"}))
            at += timedelta(minutes=6)
        if typed:
            self.log.append(Moment(at, {"readings": typed}))
        self.next_test = at.date() + timedelta(days=max(1, round(self.rng.uniform(*self.plan.tests_every))))
        self.seen.append((tank.now, float(values["alkalinity"].split()[0]) * MEQ_PER_DKH))
        if "calcium" in values:
            self.seen_calcium = float(values["calcium"].split()[0])
        self._act(at, tank)

    def _typed(self, at: datetime, values: dict[str, str]) -> dict[str, str]:
        """The values as they reach the file: the thumb slips on the first chance from a planned day on."""
        for system, kind, day in self.faults.mistyped:
            slip = _transpose(values[kind]) if system == self.plan.id and kind in values else ""
            # A slip that no water could be is caught when it is typed; the others get into the file.
            if slip and slip[0] not in "01" and day <= at.date() and day not in self.slipped:
                self.slipped.add(day)
                self.unlogged.append(Unlogged(self.plan.id, at, f"mistyped {kind}", f"was {values[kind]}"))
                return values | {kind: slip}
        return values

    def _panel(self) -> list[str]:
        chances = {"calcium": 0.34, "magnesium": 0.16, "nitrate": 0.3, "phosphate": 0.3, "salinity": 0.4}
        chances |= {"temperature": 0.55, "ph": 0.25}
        return ["alkalinity", *(kind for kind, chance in chances.items() if self.rng.random() < chance)]

    def _titrates(self, day: date) -> bool:
        return self.plan.titrator_from is not None and day >= self.plan.titrator_from

    def _read(self, kind: str, level: float, day: date) -> str:
        unit, error, step, digits = TITRATOR if kind == "alkalinity" and self._titrates(day) else KIT[kind]
        shown = level / MEQ_PER_DKH if kind == "alkalinity" else level
        read = max(0.0, shown + float(self.rng.normal(0.0, error)))
        return f"{round(read / step) * step:.{digits}f} {unit}"

    def _act(self, at: datetime, tank: Tank) -> None:
        """Turn the pumps when the readings since the last turn say so; pour when it is far too low."""
        if len(self.seen) < 3 or self.adjusted is None:
            return
        level = (self.seen[-1][1] + self.seen[-2][1]) / 2.0
        off = self.plan.target["alkalinity"] - level
        later = at + timedelta(minutes=int(self.rng.integers(3, 25)))
        if off > 0.25 and self.seen[-1][1] < self.plan.target["alkalinity"] - 0.25:
            self._pour(later, tank, off)
            off *= 0.4
        days, (begun, _) = (at.date() - self.adjusted).days, self.seen[0]
        # Far off, one turns the screw again after a few days; else one gives it time.
        if days < (5 if abs(off) > 0.18 else 12) or tank.now - begun < 4.0:
            return
        trend = float(np.polyfit(*np.array(self.seen).T, 1)[0])
        more = off / 20.0 - 0.7 * trend
        if abs(more) * 10.0 < 0.05:
            return
        self.adjusted = at.date()
        del self.seen[:-2]
        tank.run_to(later)
        if self.plan.limewater:
            solution, _ = self.plan.limewater
            strength = tank.solution(solution).alkalinity
            was = tank.limewater
            tank.limewater = max(0.1, min(0.022 * self.plan.litres, round(was + more * self.plan.litres / strength, 1)))
            if tank.limewater == was:
                return
            self.log.append(Moment(later, {"top_off": {"rate": _rate(tank.limewater), "solution": solution}}))
        elif self.plan.alkalinity_by:
            need = self._pumped(tank) + more
            if need < 0.0 and tank.reactor and tank.reactor.flow > 0.0:
                # Pumps off and still rising: close the reactor's valve by a third, to a whole mL a minute.
                drops = math.floor(tank.reactor.flow / MILLILITRES_A_MINUTE * 2.0 / 3.0)
                tank.reactor = replace(tank.reactor, flow=drops * MILLILITRES_A_MINUTE)
                self.log.append(Moment(later, {"reactor": reactor_words(tank.reactor)}))
            self.log.append(Moment(later, {"pumps": self._pumps(tank, max(0.0, need))}))

    def _pumped(self, tank: Tank) -> float:
        """What the soda pump gives, meq/L a day, as the keeper believes."""
        solution = self.plan.alkalinity_by or ""
        return tank.pumps.get(solution, 0.0) * tank.solution(solution).alkalinity / self.plan.litres

    def notice_wear(self, day: date, tank: Tank) -> None:
        """Remember the dose from before a tube wore; when it is renewed, go back to a little above that."""
        for wear in self.faults.wear:
            if wear.system == self.plan.id and day == wear.begins:
                self.before_wear = self._pumped(tank)
            if wear.system == self.plan.id and day == wear.renewed and self.before_wear is not None:
                at = datetime.combine(day, time(11, 20))
                tank.run_to(at)
                self.log.append(Moment(at, {"pumps": self._pumps(tank, self.before_wear * 1.15)}))
                self.adjusted = day
                self.seen.clear()

    def turn_reactor(self, at: datetime, tank: Tank) -> None:
        """Open the reactor's valve as planned."""
        for when, reactor in self.plan.reactor_steps:
            if when == at:
                tank.reactor = reactor
                self.log.append(Moment(at, {"reactor": reactor_words(reactor)}))
                self.adjusted = at.date()
                self.seen.clear()

    def _pour(self, at: datetime, tank: Tank, off: float) -> None:
        solution = self.plan.poured
        if solution is None:
            return
        millilitres = max(10, 10 * round(off * self.plan.litres / tank.solution(solution).alkalinity * 1e3 * 0.6 / 10))
        tank.run_to(at)
        tank.dose(solution, millilitres / 1e3)
        self.seen = [(when, level + off * 0.6) for when, level in self.seen]
        self._write(at, {"doses": {solution: f"{millilitres} mL"}}, "a dose", f"{millilitres} mL of {solution}")

    def dose_by_hand(self, at: datetime, tank: Tank) -> None:
        """Doses planned for a day."""
        for day, solution, litres in self.plan.by_hand:
            if day == at.date():
                tank.dose(solution, litres)
                self.log.append(Moment(at, {"doses": {solution: f"{litres * 1e3:.0f} mL"}}))

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
        "flow": f"{flow / MILLILITRES_A_MINUTE:.0f} mL/min",
        "alkalinity": f"{alkalinity / MEQ_PER_DKH:.1f} dKH",
        "calcium": f"{getattr(reactor, 'calcium', 0.0):.0f} mg/L",
        "magnesium": f"{getattr(reactor, 'magnesium', 0.0):.0f} mg/L",
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
