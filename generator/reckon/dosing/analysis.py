"""All that is said of a system's dosing at a moment: the plan, its cautions, stocks, recipes, salt and new water."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from generator.reckon.dosing.new_water import ChangeEffect, left_behind, salinity_drift, water_change
from generator.reckon.dosing.outlook import levels_to_hold, outlook
from generator.reckon.dosing.phases import Phase
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.pouring import Pouring, ReactorSetting, pourings, reactor_setting
from generator.reckon.dosing.recipe import CautionId, Recipe, of_compounds, of_plan, recipe
from generator.reckon.dosing.stocks import OutOfReach, Shortfall, Stock, out_of_reach, shortfalls, stock
from generator.reckon.dosing.volume_by_dose import VolumeByDose, volume
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.deliveries import relative_volume_error
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.reckon.water.health import measured
from generator.reckon.water.uptake import interval
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.compounds import COMPOUNDS
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# A water change is shown as large as the last one, or this share of the water where none was made. Common practice.
USUAL_CHANGE = 0.10


@dataclass(frozen=True, slots=True)
class NewWater:
    """What a water change of a `fraction` (0 to 1) with a `mix` does; `litres` is how much that is."""

    mix: str
    fraction: float
    litres: float
    effects: tuple[ChangeEffect, ...]


@dataclass(frozen=True, slots=True)
class DosingFindings:
    """What to dose in a system and what follows from it.

    `pourings` are the doses by hand up to the plan's next test, `reactor` how a reactor is to be set, `shortfalls` what
    the doses that hold leave uncovered, `out_of_reach` what would bring up a level that they cannot. `stocks` and
    `recipes` are by solution; a recipe is for a full stock as it is written. `salinity_drift` is that of the last phase
    of the plan, psu a month (None: without a plan, or salts in it).
    """

    plan: Plan | CannotTell
    cautions: tuple[CautionId, ...]
    stocks: dict[str, Stock | CannotTell]
    recipes: dict[str, Recipe | CannotTell]
    salinity_drift: Finding | None
    new_water: tuple[NewWater, ...]
    volume: VolumeByDose | CannotTell
    pourings: tuple[Pouring, ...] = ()
    reactor: ReactorSetting | None = None
    shortfalls: tuple[Shortfall, ...] = ()
    out_of_reach: tuple[OutOfReach, ...] = ()

    @property
    def hold(self) -> Phase | None:
        """The doses that hold the band once what had to be corrected is."""
        return self.plan.phases[-1] if isinstance(self.plan, Plan) else None


def analyse_dosing(system: System, log: SystemLog, water: WaterFindings, as_of: datetime) -> DosingFindings:
    """Everything about a system's dosing at a moment."""
    plan = dosing_plan(system, log, water, as_of)
    hold, believed = plan.phases[-1] if isinstance(plan, Plan) else None, outlook(system, water, "alkalinity")
    level = levels_to_hold(system).get("alkalinity", believed.level.value if believed else 0.0)
    planned = {dose.supply: dose.rate.estimate for dose in hold.doses} if hold else {}
    salts = any(id in system.solutions and left_behind(system.solutions[id]) for id in planned)
    recipes = _recipes(system)
    compounds = [solution.compound for solution in system.solutions.values() if solution.compound]
    return DosingFindings(
        plan=plan,
        cautions=of_plan(plan, system) if isinstance(plan, Plan) else of_compounds(compounds) if compounds else (),
        stocks=stocks_of(system, log, planned, as_of),
        recipes=recipes,
        salinity_drift=salinity_drift(planned, system.solutions, system.water) if salts else None,
        new_water=_new_water(system, log, water, as_of),
        volume=volume(system, log, water, as_of),
        pourings=pourings(system, log, plan.phases, as_of, plan.next_test.at) if isinstance(plan, Plan) else (),
        reactor=reactor_setting(system, log, plan.phases[0], level, as_of) if isinstance(plan, Plan) else None,
        shortfalls=shortfalls(system, log, plan, believed, as_of) if isinstance(plan, Plan) and believed else (),
        out_of_reach=out_of_reach(system, plan) if isinstance(plan, Plan) else (),
    )


def stocks_of(
    system: System, log: SystemLog, planned: Mapping[str, Estimate], as_of: datetime
) -> dict[str, Stock | CannotTell]:
    """Every stock by the planned doses where there are any, else as its pump runs."""
    found = {}
    for id in system.solutions:
        filled = [filling for filling in log.fillings if filling.solution == id and filling.at <= as_of]
        rate = planned.get(id)
        last = filled[-1] if filled else None
        planned_rate = rate if rate and rate.value else None
        if last is None:
            found[id] = stock(system, log, id, None, as_of, planned_rate)
        else:
            found[id] = stock(system, log, id, last.at, as_of, planned_rate, last.amount.canonical())
    return found


def _recipes(system: System) -> dict[str, Recipe | CannotTell]:
    return {
        id: recipe(solution.compound, solution.strength.canonical(), solution.stock.canonical())
        for id, solution in system.solutions.items()
        if solution.compound in COMPOUNDS and solution.strength and solution.stock
    }


def _new_water(system: System, log: SystemLog, water: WaterFindings, as_of: datetime) -> tuple[NewWater, ...]:
    """Each mix in the amount last changed, on the level as it is now."""
    whole = system.water.volume.canonical()
    past = [change.volume.canonical() for change in log.water_changes if change.at <= as_of]
    litres = min(past[-1] if past else USUAL_CHANGE * whole, whole)
    levels = {
        kind: interval(latest.value, measured(system, latest.reading, latest.value).standard, KINDS[kind].canonical)
        for kind, latest in water.latest.items()
        if not latest.doubtful
    }
    for kind, forecast in water.forecasts.items():
        if isinstance(forecast, Forecast):
            levels[kind] = forecast.track[0][1]
    unsure = relative_volume_error(system.water)
    return tuple(
        NewWater(id, litres / whole, litres, water_change(levels, mix, litres / whole, unsure))
        for id, mix in system.mixes.items()
    )
