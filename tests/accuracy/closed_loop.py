"""Thirty days lived by the dosing plan: a keeper who reads, doses and changes water as told.

Beside each life stands that of an oracle that reads at the same times and then knows level and demand exactly, and
of one that knows a change of the demand only once it moved the level as far as a kit can tell: no advice by the same
readings can be better. The demand drifts all the while, the kit strays, and less or more water than declared is there.
"""

from collections.abc import Iterator

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.water.analysis import analyse_water
from generator.records.log import Event, PumpRate, Reading, SystemLog, WaterChange
from generator.records.system import Kit, Solution, System, Water
from generator.units.quantity import parse_quantity
from tests.accuracy.experiment import Row
from tests.reckon.water.journals import here, levels, moment
from tests.simulator.water import CALCIUM_PER_DKH, Array

LITRES, VOLUME_ERROR, KIT_ERROR, CALCIUM_ERROR = 300.0, 0.04, 0.15, 10.0
LOW, HIGH, MIX = 7.4, 8.8, 7.6
# So many kit errors a change must have moved a reading by before anything can tell it: by more, either way, one reading
# in 22 strays of itself.
TELLS = 2.0
# No more than 1 dKH a day, nor a quarter of the water at once: common practice, no source.
MOST_A_DAY, MOST_WATER = 1.0, 0.25
# A keeper reads so often where nothing tells to read sooner, and no sooner than after an hour.
RHYTHM, SOONEST = 3.0, 1.0 / 24.0
HISTORY, DAYS, JUDGED_FROM, STEP = 30.0, 30.0, 7.0, 0.125
# Demand in dKH a day, its spread between systems and its drift, as shares of it (the latter per square root of a day).
DEMAND, SPREAD, DRIFT = 1.0, 0.2, 0.02
# Both parts are so strong, dKH or as much calcium as goes with it.
STRENGTH, PARTS = 1000.0, ("soda", "chloride")
# Litres a day by part.
Doses = dict[str, float]


class Life(Struct, frozen=True):
    """What happens to the demand in the second week, whether it is in the log, and what must come of it.

    Without `as_told` the keeper reads every `RHYTHM` days whatever is told; without `new_water` there is none.
    """

    factor: float = 1.0
    logged: bool = False
    least: float | None = None
    as_told: bool = True
    new_water: bool = True


LIVES = {
    "plain": Life(least=0.97),
    "a newcomer, logged": Life(2.0, logged=True, least=0.93),
    "a newcomer, not logged": Life(2.0, least=0.82),
    "a stop, not logged": Life(0.1, least=0.58),
    "a newcomer, not logged, read every third day": Life(2.0, as_told=False),
    "a stop, not logged, read every third day": Life(0.1, as_told=False),
    "a stop, not logged, no water to change": Life(0.1, new_water=False),
}


class Tank(Struct):
    """The true water: levels (dKH, mg/L), demand (dKH a day), and the litres a day of each part from each moment on."""

    rng: np.random.Generator
    volume: float
    usual: float
    drift: Array
    now: float = 0.0
    factor: float = 1.0
    moved: float = 0.0
    level: float = (LOW + HIGH) / 2.0
    calcium: float = 430.0
    running: list[tuple[float, Doses]] = field(default_factory=list)
    seen: list[tuple[float, float]] = field(default_factory=list)

    @property
    def demand(self) -> float:
        """dKH a day, by the walk that is drawn beforehand."""
        return self.usual * self.factor * float(np.exp(self.drift[int(self.now / STEP + 1e-9)]))

    def live(self, until: float) -> None:
        """Up to a moment, in steps small beside what moves in one."""
        while self.now < until - 1e-9:
            step = min((int(self.now / STEP + 1e-9) + 1) * STEP, until) - self.now
            self.moved += abs(1.0 - 1.0 / self.factor) * self.demand * step
            self.level += (self.gives("soda") - self.demand) * step
            self.calcium += (self.gives("chloride") - self.demand) * step * CALCIUM_PER_DKH
            self.now += step
            self.seen.append((self.now, self.level))

    def gives(self, part: str) -> float:
        """What a part brings now, in dKH a day, or in as much calcium as goes with that."""
        rates = [doses for since, doses in self.running if since <= self.now + 1e-9]
        return rates[-1].get(part, 0.0) * STRENGTH / self.volume if rates else 0.0

    def renew(self, litres: float) -> None:
        """A water change."""
        share = litres / self.volume
        self.level += share * (MIX - self.level)
        self.calcium += share * (420.0 - self.calcium)


class Advice(Struct, frozen=True):
    """What to give from each moment on, water to change now (L), when to read again."""

    doses: tuple[tuple[float, Doses], ...]
    litres: float = 0.0
    read_at: float = np.inf


class Keeper(Struct):
    """The log so far, and what follows from it."""

    system: System
    log: SystemLog
    refused: int = 0

    def read(self, tank: Tank, number: int) -> None:
        """Alkalinity at every reading, calcium at every third."""
        strays = tank.rng.standard_normal(2)
        read = [_reading(tank.now, "alkalinity", f"{tank.level + KIT_ERROR * strays[0]:.2f} dKH")]
        if number % 3 == 0:
            read.append(_reading(tank.now, "calcium", f"{tank.calcium + CALCIUM_ERROR * strays[1]:.0f} mg/L"))
        self.log = replace(self.log, readings=(*self.log.readings, *read))

    def advised(self, now: float) -> Advice | None:
        """What the plan says; None where there is none."""
        at = moment(now)
        plan = dosing_plan(self.system, self.log, analyse_water(self.system, self.log, (), at, past=False), at)
        if not isinstance(plan, Plan):
            self.refused += 1
            return None
        return _told(plan, now)

    def write(self, advice: Advice, now: float) -> None:
        """What is done of it, in place of what an earlier plan had for later."""
        pumps = [pump for pump in self.log.pumps if pump.at < moment(now)]
        for since, doses in advice.doses:
            for part in PARTS:
                rate = parse_quantity(f"{doses.get(part, 0.0):.6f} L/day", "rate")
                pumps.append(PumpRate(source=here(5000), at=moment(since), solution=part, rate=rate))
        self.log = replace(self.log, pumps=tuple(pumps))
        if advice.litres:
            litres = parse_quantity(f"{advice.litres:.3f} L", "volume")
            change = WaterChange(source=here(6000), at=moment(now), volume=litres, mix="sea")
            self.log = replace(self.log, water_changes=(*self.log.water_changes, change))

    def happened(self, now: float) -> None:
        """A coral that came, as an entry of the log."""
        event = Event(source=here(7000), at=moment(now), what="arrival", coral=None, text=None)
        self.log = replace(self.log, events=(*self.log.events, event))


class Lived(Struct, frozen=True):
    """Of a life from `JUDGED_FROM` on: share of days in band, lowest and highest level (dKH); and when it was read."""

    inside: float
    lowest: float
    highest: float
    read_at: tuple[float, ...]
    refused: int


def live(
    seed: int, life: Life, oracle_at: tuple[float, ...] | None = None, history: float = HISTORY, tells: float = 0.0
) -> Lived:
    """A life by the plan, or by an oracle that reads at given times; one that knew, within 10 %, dosed the past.

    An oracle knows a change once it moved the level by as much as `tells` (dKH).
    """
    rng, by_oracle = np.random.default_rng(seed), oracle_at is not None
    volume = LITRES * (1.0 + VOLUME_ERROR * float(rng.standard_normal()))
    drift = np.cumsum(DRIFT * STEP**0.5 * rng.standard_normal(int((history + DAYS) / STEP) + 2))
    tank = Tank(rng, volume, DEMAND * float(np.exp(SPREAD * rng.standard_normal())), drift)
    changes_at, end = history + float(rng.uniform(7.0, 14.0)), history + DAYS
    keeper = Keeper(_home(life.new_water), SystemLog(system="lagoon"))
    told = iter(oracle_at or ())
    number, read_at, due = 0, [], 0.0
    while tank.now < end - 1e-9:
        moved = changes_at <= due and life.factor != 1.0
        tank.live(min(changes_at if moved else due, end))
        if tank.now >= end - 1e-9:
            break
        ours = tank.now >= history - 1e-9
        if moved:
            tank.factor, changes_at = life.factor, np.inf
            if not life.logged or by_oracle:
                continue
            keeper.happened(tank.now)
        else:
            keeper.read(tank, number)
            number += 1
            due = tank.now + RHYTHM
            if ours:
                read_at.append(tank.now)
        known = tank.demand if tank.moved >= tells else tank.demand / tank.factor
        advice = _of_oracle(tank, life, known, not ours) if by_oracle or not ours else keeper.advised(tank.now)
        if advice is not None:
            _follow(tank, keeper, advice)
            if ours and life.as_told:
                due = max(min(due, advice.read_at), tank.now + SOONEST)
        if by_oracle and tank.now >= history - RHYTHM - 1e-9:
            due = next(told, end)
    return _judged(tank, history + JUDGED_FROM, tuple(read_at), keeper.refused)


def closed_loop(seed: int, systems: int) -> Iterator[Row]:
    """Share of days in band by plan and by oracle, and the worst that the plan's extremes were beside the oracle's."""
    for name, life in LIVES.items():
        by_plan = [live(1000 * seed + each, life) for each in range(systems)]
        by_oracle = [live(1000 * seed + each, life, one.read_at) for each, one in enumerate(by_plan)]
        pairs = list(zip(by_plan, by_oracle, strict=True))
        yield Row(f"{name}: share of days in band", float(np.mean([one.inside for one in by_plan])), least=life.least)
        yield Row(f"{name}: the oracle's", float(np.mean([one.inside for one in by_oracle])))
        told = [
            live(1000 * seed + each, life, one.read_at, tells=0.0 if life.logged else TELLS * KIT_ERROR)
            for each, one in enumerate(by_plan)
        ]
        near, could = (_near(lives, by_oracle) for lives in (by_plan, told))
        deeper, higher = max(b.lowest - a.lowest for a, b in pairs), max(a.highest - b.highest for a, b in pairs)
        yield Row(f"{name}: lowest level, dKH under the oracle's", deeper)
        yield Row(f"{name}: highest level, dKH over the oracle's", higher)
        yield Row(f"{name}: lives in which neither is more than 0.8 dKH", near, least=1.0)
        yield Row(f"{name}: the same of one that knows all but a change that no reading tells", could)
        yield Row(f"{name}: days between readings", DAYS / float(np.mean([len(one.read_at) for one in by_plan])))
        yield Row(f"{name}: refusals", float(np.mean([one.refused for one in by_plan])), most=0.0)


def _near(lives: list[Lived], by_oracle: list[Lived]) -> float:
    """The share of lives whose extremes are at most 0.8 dKH worse than the oracle's."""
    pairs = zip(lives, by_oracle, strict=True)
    return float(np.mean([b.lowest - a.lowest <= 0.8 and a.highest - b.highest <= 0.8 for a, b in pairs]))


def _of_oracle(tank: Tank, life: Life, known: float, usual: bool) -> Advice:
    """Demand and the way to the middle of the band, as far as the cap and one water change a day allow."""
    off = (LOW + HIGH) / 2.0 - tank.level
    demand = known * (1.0 + (0.1 * float(tank.rng.standard_normal()) if usual else 0.0))
    down, litres = max(off, -MOST_A_DAY), 0.0
    if off < 0.0 and (left := -down - demand) > 0.0 and tank.level > HIGH and life.new_water:
        share = min(left / (tank.level - MIX), MOST_WATER)
        litres, off = share * tank.volume, off + share * (tank.level - MIX)
    days = max(abs(off) / MOST_A_DAY, -off / demand if off < 0.0 and demand > 0.0 else 0.0)
    now = tank.now
    corrected = max(demand + off / days, 0.0) if days else demand
    doses = ((now, corrected), (now + days, demand))
    litres_a_day = tank.volume / STRENGTH
    parts = tuple((at, {"soda": rate * litres_a_day, "chloride": demand * litres_a_day}) for at, rate in doses)
    return Advice(parts, litres)


def _told(plan: Plan, now: float) -> Advice:
    doses, start = [], now
    for phase in plan.phases:
        doses.append((start, {dose.supply: dose.rate.estimate.value for dose in phase.doses}))
        start += phase.days or 0
    litres = plan.water_change.litres if plan.water_change else 0.0
    return Advice(tuple(doses), litres, (plan.next_test.at - moment(now)).total_seconds() / 86400.0 + now)


def _follow(tank: Tank, keeper: Keeper, advice: Advice) -> None:
    keeper.write(advice, tank.now)
    tank.running = [(since, rate) for since, rate in tank.running if since < tank.now - 1e-9] + list(advice.doses)
    tank.renew(advice.litres)


def _judged(tank: Tank, start: float, read_at: tuple[float, ...], refused: int) -> Lived:
    seen = np.array([level for at, level in tank.seen if at > start])
    inside = float(np.mean((seen >= LOW) & (seen <= HIGH)))
    return Lived(inside, float(seen.min()), float(seen.max()), read_at, refused)


def _home(new_water: bool) -> System:
    kit = Kit(source=here(), precision=levels(alkalinity=f"{KIT_ERROR} dKH", calcium=f"{CALCIUM_ERROR} mg/L"))
    soda = Solution(source=here(), declared=levels(alkalinity=f"{STRENGTH} dKH"))
    chloride = Solution(source=here(), declared=levels(calcium=f"{STRENGTH * CALCIUM_PER_DKH:.4f} mg/L"))
    spread = parse_quantity(f"{LITRES * VOLUME_ERROR} L", "volume")
    return System(
        source=here(),
        id="lagoon",
        name="Lagoon",
        water=Water(source=here(), volume=parse_quantity(f"{LITRES} L", "volume"), uncertainty=spread),
        low=levels(alkalinity=f"{LOW} dKH", calcium="380 mg/L"),
        high=levels(alkalinity=f"{HIGH} dKH", calcium="480 mg/L"),
        kits={"drops": kit},
        solutions={"soda": soda, "chloride": chloride},
        mixes={"sea": levels(alkalinity=f"{MIX} dKH", calcium="420 mg/L")} if new_water else {},
    )


def _reading(at: float, kind: str, value: str) -> Reading:
    line = 100 + round(at * 24.0)
    return Reading(source=here(line), at=moment(at), kind=kind, value=parse_quantity(value, kind), kit="drops")
