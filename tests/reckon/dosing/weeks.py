"""A week lived by a dosing plan: the keeper doses as planned and reads again when the plan says so.

The demand goes on drifting while it is dosed for, every reading carries the kit's error, and the level
is looked at every quarter of a day.
"""

from dataclasses import dataclass, replace

import numpy as np

from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.water.solutions import per_litre
from generator.reckon.water.survey import survey_water
from generator.records.log import Effluent, PumpRate, SystemLog, TopOff
from generator.records.system import Solution, System
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.reckon.dosing.systems import CHLORIDE, LIME, SODA
from tests.reckon.water.journals import VOLUME, here, log_of, moment, readings, system
from tests.simulator.water import simulate_water

STEP = 0.25
WEEK = 7.0
EFFLUENT_DKH = 20.0
# The solutions that a plan may use, by the way of dosing; the past was dosed with a balanced one.
WAYS: dict[str, dict[str, Solution]] = {
    "two-part": {"soda": SODA, "chloride": CHLORIDE},
    "limewater": {"lime": LIME, "soda": SODA, "chloride": CHLORIDE},
    "reactor": {"soda": SODA, "chloride": CHLORIDE},
}

Doses = dict[str, float]


@dataclass(frozen=True, slots=True)
class Week:
    """The true levels (dKH) once corrected, every quarter of a day, and how many plans it took; none: no plan."""

    levels: tuple[float, ...]
    plans: int


@dataclass(slots=True)
class _Tank:
    rng: np.random.Generator
    solutions: dict[str, Solution]
    now: float
    level: float
    uptake: float
    drift: float

    def live(self, doses: Doses) -> None:
        """A quarter of a day at so many litres a day of each supply."""
        first, second = self.rng.standard_normal(2)
        taken = self.uptake * STEP + self.drift * STEP**1.5 * (first / 2.0 + second / 12.0**0.5)
        given = sum(litres * self._dkh_per_litre(id) for id, litres in doses.items())
        self.level += given * STEP - float(taken)
        self.uptake += self.drift * STEP**0.5 * float(first)
        self.now += STEP

    def _dkh_per_litre(self, supply: str) -> float:
        if supply == "reactor":
            return (EFFLUENT_DKH - self.level) / VOLUME
        return per_litre(self.solutions[supply], "alkalinity") / MEQ_PER_DKH / VOLUME


def week_by_plan(seed: int, way: str, kit_error: float = 0.15, drift: float = 0.02) -> Week:
    """Forty-five days of a keeper's log, then a week by the plan that follows from it."""
    rng = np.random.default_rng(seed)
    run = simulate_water(
        rng, 45.0, tests_every=(0.9, 2.1), kit_error=kit_error, calcium_every=3, drift=drift, rate_every=6.0
    )
    past = system("12 L", kit=f"{kit_error} dKH")
    home = replace(past, solutions=past.solutions | WAYS[way], evaporation=parse_quantity("1.5 L/day", "rate"))
    log = _set_up(log_of(run), run.end, way)
    tank = _Tank(rng, home.solutions, run.end, run.end_level, run.end_uptake, drift)
    doses: list[tuple[float, Doses]] = []
    levels: list[float] = []
    corrected, plans = run.end, 0
    while tank.now < run.end + WEEK - 1e-9:
        plan = _plan(home, log, way, tank.now)
        if plan is None and not plans:
            return Week((), 0)
        lasts = 1.0
        if plan is not None:
            plans, lasts, doses = plans + 1, plan.holds_days, _doses(plan, tank.now)
            log = _written(log, home, tank.now, doses)
            if plans == 1:
                corrected += sum(phase.days or 0 for phase in plan.phases)
        until = min(tank.now + lasts, run.end + WEEK)
        while tank.now < until - 1e-9:
            tank.live([each for since, each in doses if since <= tank.now + 1e-9][-1])
            if tank.now >= corrected:
                levels.append(tank.level)
        value = tank.level + rng.normal(0.0, kit_error)
        log = replace(log, readings=(*log.readings, *readings("alkalinity", "dKH", [tank.now], [value], 6000)))
    return Week(tuple(levels), plans)


def _plan(home: System, log: SystemLog, way: str, now: float) -> Plan | None:
    at = moment(now)
    plan = dosing_plan(replace(home, solutions=WAYS[way]), log, survey_water(home, log, (), at), at)
    return plan if isinstance(plan, Plan) else None


def _set_up(log: SystemLog, now: float, way: str) -> SystemLog:
    """The way of dosing in place of the past's balanced solution, which stops."""
    stop = PumpRate(source=here(4900), at=moment(now), solution="balanced", rate=parse_quantity("0 L/day", "rate"))
    log = replace(log, pumps=(*log.pumps, stop))
    if way != "reactor":
        return log
    effluent = Effluent(
        source=here(4901),
        at=moment(now),
        flow=parse_quantity("10 L/day", "rate"),
        alkalinity=parse_quantity(f"{EFFLUENT_DKH} dKH", "alkalinity"),
        calcium=None,
        magnesium=None,
    )
    return replace(log, effluents=(effluent,))


def _doses(plan: Plan, now: float) -> list[tuple[float, Doses]]:
    """When each phase begins, and its litres a day."""
    found, start = [], now
    for phase in plan.phases:
        found.append((start, {dose.supply: dose.rate.estimate.value for dose in phase.doses}))
        start += phase.days or 0
    return found


def _written(log: SystemLog, home: System, now: float, doses: list[tuple[float, Doses]]) -> SystemLog:
    """The log with the plan in it, in place of what an earlier plan had for later."""
    pumps = [pump for pump in log.pumps if pump.at <= moment(now)]
    top_offs = [top_off for top_off in log.top_offs if top_off.at <= moment(now)]
    for start, each in doses:
        rates = {id: parse_quantity(f"{each.get(id, 0.0):.6f} L/day", "rate") for id in home.solutions}
        at = moment(start)
        pumps += [PumpRate(source=here(5000), at=at, solution=id, rate=rates[id]) for id in ("soda", "chloride")]
        if "lime" in rates:
            top_offs.append(TopOff(source=here(5001), at=at, rate=rates["lime"], solution="lime"))
    return replace(log, pumps=tuple(pumps), top_offs=tuple(top_offs))
