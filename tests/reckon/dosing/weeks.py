"""A week lived by a dosing plan: the keeper doses as planned and reads again when the plan says so.

The demand goes on drifting while it is dosed for, every reading carries the kit's error, and the levels
are looked at every quarter of a day.
"""

from collections.abc import Iterable, Iterator
from datetime import UTC

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.attention.water import of_water
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.pouring import pourings
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, per_litre
from generator.records.log import Dose, Effluent, PumpRate, SystemLog, TopOff, WaterChange
from generator.records.system import Solution, System
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.accuracy.experiment import Row
from tests.reckon.dosing.systems import CHLORIDE, LIME, SODA, to_test
from tests.reckon.water.journals import VOLUME, here, log_of, moment, readings, system
from tests.reckon.water.journals import levels as levels_of
from tests.simulator.water import CALCIUM_PER_DKH, simulate_water

STEP = 0.25
KINDS = ("alkalinity", "calcium")
# The bands of the system that is dosed, dKH and mg/L.
BANDS = {"alkalinity": (7.5, 9.0), "calcium": (400.0, 460.0)}
WEEK = 7.0
EFFLUENT_DKH = 20.0
MIX_CALCIUM = 440.0
TWO_PART = {"soda": SODA, "chloride": CHLORIDE}


class Changing(Struct, frozen=True):
    """A share of the water changed every so many days, with a mix of so many dKH."""

    share: float
    days: float
    dkh: float


class Way(Struct, frozen=True):
    """What a plan may use; the past was dosed with a balanced solution. `effluent`: the reactor's, L a day.

    `poured`: what is dosed is poured by hand, and was. `changing`: the keeper's own water changes, which go on; `mix`
    is there to change water with where the plan says so, dKH. `uptake` in dKH a day.
    """

    solutions: dict[str, Solution]
    evaporation: str = "1.5 L/day"
    effluent: float = 0.0
    poured: bool = False
    changing: Changing | None = None
    mix: float = 8.0
    uptake: float = 0.9


RICH, WEAK = Changing(0.1, 2.0, 11.0), Changing(0.2, 7.0, 7.0)
WAYS: dict[str, Way] = {
    "two-part": Way(TWO_PART),
    "limewater": Way({"lime": LIME}, evaporation="5 L/day"),
    "reactor": Way({}, effluent=32.0),
    "two-part by hand": Way(TWO_PART, poured=True),
    "water changes": Way({}, mix=12.0, uptake=0.3),
    "limewater, reactor and two-part": Way({"lime": LIME, **TWO_PART}, effluent=10.0),
    "reactor and two-part": Way(TWO_PART, effluent=15.0),
    "limewater and two-part by hand": Way({"lime": LIME, **TWO_PART}, poured=True),
    "rich water changes and two-part": Way(TWO_PART, changing=RICH),
    "weak water changes and two-part": Way(TWO_PART, changing=WEAK),
    "rich water changes and two-part by hand": Way(TWO_PART, poured=True, changing=RICH),
    "rich water changes and reactor": Way({}, effluent=32.0, changing=RICH),
    "rich water changes and limewater": Way({"lime": LIME}, evaporation="5 L/day", changing=RICH),
}

Doses = dict[str, float]


class Week(Struct, frozen=True):
    """The true levels by kind (dKH, mg/L), every quarter of a day while a plan says that it holds them.

    One that stands outside its band is looked at from when it should be corrected.

    `plans` is how many plans it took; none: no plan. `above` are the quantities that an alert says
    are above their band, at readings after a plan was followed from within it.
    """

    levels: dict[str, list[float]]
    plans: int
    above: tuple[str, ...] = ()


class _Tank(Struct):
    rng: np.random.Generator
    solutions: dict[str, Solution]
    now: float
    level: float
    calcium: float
    uptake: float
    drift: float
    mix: float

    @property
    def levels(self) -> dict[str, float]:
        return {"alkalinity": self.level, "calcium": self.calcium}

    def live(self, doses: Doses) -> None:
        """A quarter of a day at so many litres a day of each supply."""
        first, second = self.rng.standard_normal(2)
        taken = self.uptake * STEP + self.drift * STEP**1.5 * (first / 2.0 + second / 12.0**0.5)
        gives = {kind: sum(litres * self._per_litre(id, kind) for id, litres in doses.items()) for kind in KINDS}
        self.level += gives["alkalinity"] * STEP - float(taken)
        self.calcium += gives["calcium"] * STEP - CALCIUM_PER_DKH * float(taken)
        self.uptake += self.drift * STEP**0.5 * float(first)
        self.now += STEP

    def pour(self, solution: str, litres: float) -> None:
        """A dose at once."""
        self.level += litres * self._per_litre(solution, "alkalinity")
        self.calcium += litres * self._per_litre(solution, "calcium")

    def renew(self, share: float) -> None:
        """A water change."""
        self.level += share * (self.mix - self.level)
        self.calcium += share * (MIX_CALCIUM - self.calcium)

    def _per_litre(self, supply: str, kind: str) -> float:
        """What a litre adds to the level, dKH or mg/L."""
        if supply == "reactor":
            return (EFFLUENT_DKH - self.level) / VOLUME * (CALCIUM_PER_DKH if kind == "calcium" else 1.0)
        return per_litre(self.solutions[supply], kind) / VOLUME / (MEQ_PER_DKH if kind == "alkalinity" else 1.0)


def week_by_plan(seed: int, way: str, kit_error: float = 0.15, drift: float = 0.02) -> Week:
    """Forty-five days of a keeper's log, then a week by the plan that follows from it."""
    rng, by = np.random.default_rng(seed), WAYS[way]
    run = simulate_water(
        rng,
        45.0,
        tests_every=(0.9, 2.1),
        kit_error=kit_error,
        calcium_every=3,
        uptake=by.uptake,
        drift=drift,
        rate_every=6.0,
        change_every=by.changing.days if by.changing else 14.0,
        change_fraction=by.changing.share if by.changing else 0.1,
        mix=(by.changing.dkh if by.changing else 8.0, MIX_CALCIUM),
    )
    home, log = _home(by, kit_error), log_of(run)
    log = _poured(log, home) if by.poured else _set_up(log, run.end, by.effluent)
    tank = _Tank(
        rng,
        home.solutions,
        run.end,
        run.end_level,
        run.end_calcium,
        run.end_uptake,
        drift,
        by.changing.dkh if by.changing else by.mix,
    )
    changed = float(run.water_changes.times[-1])
    doses: list[tuple[float, Doses]] = []
    levels: dict[str, list[float]] = {kind: [] for kind in KINDS}
    holds_from, plans, due, times = dict.fromkeys(KINDS, np.inf), 0, by.changing, None
    above, begun = [], np.inf
    while tank.now < run.end + WEEK - 1e-9:
        plan, pours, high = _plan(home, log, by, tank.now)
        if plan is None and not plans:
            return Week(levels, 0)
        above += high if plans and begun <= BANDS["alkalinity"][1] else []
        begun = tank.level
        lasts = 1.0
        if plan is not None:
            plans, lasts, doses = plans + 1, _until_read(plan), _doses(plan, tank.now)
            log = _written(log, home, tank.now, doses)
            due, times = by.changing, None
            if plan.water_change:
                times = plan.water_change.times
                due = Changing(plan.water_change.litres / VOLUME, float(plan.water_change.days), tank.mix)
                changed = tank.now + plan.water_change.first - due.days
            corrected = {each.kind: each.days for each in plan.corrections}
            for kind, level in tank.levels.items():
                wait = 0 if BANDS[kind][0] <= level <= BANDS[kind][1] else corrected.get(kind, 0)
                begins = min(holds_from[kind], tank.now + wait)
                holds_from[kind] = begins if kind in plan.held else np.inf
        until = min(tank.now + lasts, run.end + WEEK)
        while tank.now < until - 1e-9:
            for at, solution, litres in [each for each in pours if each[0] < tank.now + STEP - 1e-9]:
                tank.pour(solution, litres)
                log = replace(log, doses=(*log.doses, _dose(max(at, tank.now), solution, litres)))
            pours = [each for each in pours if each[0] >= tank.now + STEP - 1e-9]
            if due and times != 0 and tank.now >= changed + due.days - 1e-9:
                tank.renew(due.share)
                times = times and times - 1
                log, changed = replace(log, water_changes=(*log.water_changes, _change(tank.now, due.share))), tank.now
            tank.live([each for since, each in doses if since <= tank.now + 1e-9][-1])
            for kind, level in tank.levels.items():
                if tank.now >= holds_from[kind]:
                    levels[kind].append(level)
        value = tank.level + rng.normal(0.0, kit_error)
        log = replace(log, readings=(*log.readings, *readings("alkalinity", "dKH", [tank.now], [value], 6000)))
    return Week(levels, plans, tuple(above))


def held_in_band(weeks: Iterable[Week]) -> dict[str, tuple[int, int]]:
    """Of each kind, in how many weeks it never left its band while held, and in how many it was held at all."""
    found = {}
    for kind, (low, high) in BANDS.items():
        lived = [week.levels[kind] for week in weeks if week.levels[kind]]
        found[kind] = (sum(all(low <= level <= high for level in levels) for levels in lived), len(lived))
    return found


def weeks_by_plan(seed: int, systems: int) -> Iterator[Row]:
    """Weeks in which what a plan holds stays in its band, and readings that are above it nevertheless, by way."""
    for way in WAYS:
        weeks = [week_by_plan(each, way) for each in range(1000 * seed, 1000 * seed + systems)]
        for kind, (held, lived) in held_in_band(weeks).items():
            yield Row(f"{way}: weeks in which {kind} stays where the plan holds it", held / lived, least=0.95)
        above, read = sum(len(week.above) for week in weeks), sum(week.plans - 1 for week in weeks)
        yield Row(f"{way}: readings above the band after doses as planned", above / read, most=0.05)


Pours = list[tuple[float, str, float]]


def _home(by: Way, kit_error: float) -> System:
    past = system("12 L", kit=f"{kit_error} dKH")
    dkh = by.changing.dkh if by.changing else by.mix
    return replace(
        past,
        solutions=past.solutions | by.solutions,
        evaporation=parse_quantity(by.evaporation, "rate"),
        mixes={"sea": levels_of(alkalinity=f"{dkh} dKH", calcium=f"{MIX_CALCIUM} mg/L")},
    )


def _plan(home: System, log: SystemLog, by: Way, now: float) -> tuple[Plan | None, Pours, list[str]]:
    """The plan of a moment, when to pour how much of what, and what was read just then and is above its band."""
    at, at_hand = moment(now), replace(home, solutions=by.solutions)
    water = analyse_water(home, log, (), at, past=False)
    plan = dosing_plan(at_hand, log, water, at)
    alerts = [each for each in of_water(home, water, at, UTC) if each.kind == "out-of-band"]
    high = [
        each.quantity
        for each in alerts
        if each.facts["side"] == "high" and water.latest[each.quantity].reading.at == at
    ]
    if not isinstance(plan, Plan):
        return None, [], high
    told = pourings(at_hand, log, plan.phases, at, plan.next_test.at)
    days = [((when - at).total_seconds() / 86400.0 + now, each) for each in told for when in each.at]
    pours = [
        (when + portion / each.portions, each.solution, each.litres / each.portions)
        for when, each in days
        for portion in range(each.portions)
    ]
    return plan, pours, high


def _poured(log: SystemLog, home: System) -> SystemLog:
    """The same past with two-part poured by hand, four times a day, in place of the pump."""
    doses, ends = [], [*(pump.at for pump in log.pumps[1:]), moment(45.0)]
    for pump, end in zip(log.pumps, ends, strict=True):
        meq_a_day = pump.rate.canonical() * per_litre(home.solutions["balanced"], "alkalinity")
        for solution, kind, times in (("soda", "alkalinity", 1.0), ("chloride", "calcium", CALCIUM_PER_MEQ)):
            litres = meq_a_day * times / per_litre(home.solutions[solution], kind) * STEP
            start = (pump.at - moment(0.0)).total_seconds() / 86400.0
            until = (end - moment(0.0)).total_seconds() / 86400.0
            doses += [_dose(float(at), solution, litres) for at in np.arange(start + STEP / 2.0, until, STEP)]
    return replace(log, pumps=(), doses=tuple(sorted(doses, key=lambda dose: dose.at)))


def _dose(at: float, solution: str, litres: float) -> Dose:
    return Dose(source=here(7000), at=moment(at), solution=solution, amount=parse_quantity(f"{litres:.6f} L", "volume"))


def _change(at: float, share: float) -> WaterChange:
    litres = parse_quantity(f"{share * VOLUME:.3f} L", "volume")
    return WaterChange(source=here(8000), at=moment(at), volume=litres, mix="sea")


def _set_up(log: SystemLog, now: float, effluent: float) -> SystemLog:
    """The way of dosing in place of the past's balanced solution, which stops."""
    stop = PumpRate(source=here(4900), at=moment(now), solution="balanced", rate=parse_quantity("0 L/day", "rate"))
    log = replace(log, pumps=(*log.pumps, stop))
    return replace(log, effluents=(_effluent(now, effluent),)) if effluent else log


def _effluent(at: float, flow: float) -> Effluent:
    return Effluent(
        source=here(4901),
        at=moment(at),
        flow=parse_quantity(f"{flow:.6f} L/day", "rate"),
        alkalinity=parse_quantity(f"{EFFLUENT_DKH} dKH", "alkalinity"),
        calcium=None,
        magnesium=None,
    )


def _until_read(plan: Plan) -> float:
    """Days until the plan asks for the next test; a step where it is due."""
    return max(to_test(plan), STEP)


def _doses(plan: Plan, now: float) -> list[tuple[float, Doses]]:
    """When each phase begins, and its litres a day."""
    found, start = [], now
    for phase in plan.phases:
        found.append((start, {dose.supply: dose.rate.estimate.value for dose in phase.doses if dose.how != "hand"}))
        start += phase.days or 0
    return found


def _written(log: SystemLog, home: System, now: float, doses: list[tuple[float, Doses]]) -> SystemLog:
    """The log with the plan in it, in place of what an earlier plan had for later."""
    pumps = [pump for pump in log.pumps if pump.at <= moment(now)]
    top_offs = [top_off for top_off in log.top_offs if top_off.at <= moment(now)]
    effluents = [effluent for effluent in log.effluents if effluent.at <= moment(now)]
    for start, each in doses:
        rates = {id: parse_quantity(f"{each.get(id, 0.0):.6f} L/day", "rate") for id in home.solutions}
        at = moment(start)
        pumps += [
            PumpRate(source=here(5000), at=at, solution=id, rate=rates[id])
            for id in TWO_PART
            if id in rates and log.pumps
        ]
        if "lime" in rates:
            top_offs.append(TopOff(source=here(5001), at=at, rate=rates["lime"], solution="lime"))
        if "reactor" in each:
            effluents.append(_effluent(start, each["reactor"]))
    return replace(log, pumps=tuple(pumps), top_offs=tuple(top_offs), effluents=tuple(effluents))
