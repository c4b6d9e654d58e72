"""All that is said of a system's dosing at a moment: the plan, its cautions, stocks, recipes, salt and new water."""

from collections.abc import Callable, Iterator, Mapping
from datetime import datetime, timedelta
from itertools import pairwise
from math import exp, hypot, log, sqrt

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.dosing.outlook import levels_to_hold, outlook
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.pouring import Pouring, ReactorSetting, pourings, reactor_setting
from generator.reckon.dosing.stocks import (
    CautionId,
    OutOfReach,
    Recipe,
    Shortfall,
    Stock,
    of_compounds,
    of_plan,
    out_of_reach,
    recipe,
    shortfalls,
    stock,
)
from generator.reckon.dosing.supplies import left_behind, salinity_drift
from generator.reckon.estimate.uncertainty import Mixture
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart
from generator.reckon.water.account import Account
from generator.reckon.water.analysis import evidence_of
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.deliveries import STRENGTH_ERROR, relative_volume_error
from generator.reckon.water.estimate import lately, track_learning
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.reckon.water.health import measured_with_error
from generator.reckon.water.ledger import LEAST_DEMAND, MIX_ERROR, Evidence, in_days
from generator.reckon.water.uptake import interval
from generator.records.log import SystemLog
from generator.records.source import Source
from generator.records.system import Levels, System
from generator.units.compounds import COMPOUNDS
from generator.units.kinds import KINDS, WATER_KINDS
from generator.units.quantity import Estimate, coverage_factor

# Before the readings speak the volume may be anything within a factor of some 2.7 (two standard deviations).
OPEN = 0.5
# The account is about linear in the volume's logarithm: it is laid out again at what was found until that converges.
ROUNDS = 4
STILL = 0.005
# A volume so many times the declared one, or the declared one divided by it, means that readings do not tell it.
AT_MOST = log(10.0)
# Doses and readings of so long tell the volume; a standard uncertainty beyond this share of it says nothing.
LOOKS_BACK = timedelta(days=365)
TOO_UNSURE = 0.4
# A volume is offered when it lies further from the declared one than this many standard uncertainties of both.
DISAGREES_FROM = 2.5

# Which factor of an account is sought, the one that all doses count by; the volume, factor 0, is as declared.
_DOSES = 1


class VolumeByDose(Struct, frozen=True):
    """The water volume (L) that doses tell, beside the declared one.

    `doses` counts those it rests on; `disagrees` says whether the two lie further apart than their
    uncertainties allow, so that the keeper should be asked.
    """

    volume: Finding
    declared: Estimate
    doses: int
    disagrees: bool


def volume(
    system: System, log_: SystemLog, learned_error: Callable[[str], float | None], as_of: datetime
) -> VolumeByDose | CannotTell:
    """The water volume by every dose of the log, whatever came of it.

    The volume is one more number of the state that level and uptake are told with: a dose lifts the level by so
    much less, the more water there is. Pumps do not tell, for the uptake is not known without them. How well a dose
    is known does not become better by dosing again, for the measure and the stock are the same. Answers `CannotTell`
    where no dose, or too little, was read. `learned_error` tells by how much readings of a kind stray whose kit
    declares no error. Source: conservation of mass; JCGM 100:2008 (GUM), 5.1.
    """
    told = []
    for evidence in evidence_of(system, lately(log_, as_of - LOOKS_BACK), (), as_of).values():
        recent = _recent(evidence, learned_error, as_of)
        if recent is not None and (found := learned(recent, as_of)) is not None:
            sources = [*(r.source for r in recent.readings), *(x.source for x in recent.lines if x.cause == "dose")]
            told.append((found, sources, sum(line.cause == "dose" for line in recent.lines)))
    told = [each for each in told if each[0][1] <= TOO_UNSURE]
    if not told:
        return CannotTell("no-telling-dose", "read-around-a-dose")
    weights = [spread**-2 for (_, spread), _, _ in told]
    middle = sum(w * value for w, ((value, _), _, _) in zip(weights, told, strict=True)) / sum(weights)
    return _found(system, middle, sum(weights) ** -0.5, [s for _, s, _ in told], sum(count for _, _, count in told))


def learned(evidence: Evidence, as_of: datetime) -> tuple[float, float] | None:
    """The logarithm of the volume over the declared one, and its standard deviation, by the readings alone.

    None where the search does not converge.
    """
    shift, account = 0.0, evidence.account
    series, floor = evidence.series(), LEAST_DEMAND[evidence.kind]
    for _ in range(ROUNDS):
        told = track_learning(series, _by_dose(account.scaled(exp(-shift))), in_days(as_of), floor, OPEN)
        step, spread = _without_prior(told)
        shift += step
        if abs(shift) > AT_MOST:
            return None
        if abs(step) < STILL:
            return shift, spread
    return (shift, spread) if abs(step) < OPEN / 5.0 else None


def _without_prior(told: Mixture) -> tuple[float, float]:
    """By how much the logarithm of the volume is still off, and its standard deviation, as the readings tell them.

    The prior is wide and centred on the declared volume, so it is divided out.
    """
    mean, spread = (float(each) for each in told.moments())
    precision = max(spread**-2 - OPEN**-2, 1e-6)
    # Doses that raise the level by more mean less water.
    return -(mean * spread**-2) / precision, sqrt(1.0 / precision)


def _by_dose(account: Account) -> Account:
    """The account with its doses, and only those, counted by the factor of the volume."""
    return replace(
        account,
        steady=tuple(replace(each, factors=()) for each in account.steady),
        doses=tuple(replace(each, factors=(_DOSES,)) for each in account.doses),
    )


def _recent(evidence: Evidence, learned_error: Callable[[str], float | None], as_of: datetime) -> Evidence | None:
    """The evidence of the last year; None without a dose between readings in it."""
    since = as_of - LOOKS_BACK
    known = [index for index, reading in enumerate(evidence.readings) if reading.at >= since]
    if len(known) < 3:
        return None
    first, last = evidence.readings[known[0]].at, evidence.readings[known[-1]].at
    lines = tuple(line for line in evidence.lines if line.cause == "dose" and first <= line.at < last)
    if not lines:
        return None
    errors = evidence.errors
    errors = np.full(len(known), learned_error(evidence.kind)) if errors is None else errors[known]
    readings = tuple(evidence.readings[index] for index in known)
    return replace(evidence, readings=readings, values=evidence.values[known], errors=errors, lines=lines)


def _found(system: System, middle: float, of_readings: float, sources: list[list[Source]], doses: int) -> VolumeByDose:
    stated, unsure = system.water.volume.canonical(), system.water.uncertainty.canonical()
    value, whole = stated * exp(middle), hypot(of_readings, STRENGTH_ERROR)
    k = coverage_factor()
    parts = (UncertaintyPart("readings-around", value * of_readings), UncertaintyPart("dose", value * STRENGTH_ERROR))
    estimate = Estimate(value, value * exp(-k * whole), value * exp(k * whole), "L")
    inputs = tuple(dict.fromkeys(source for each in sources for source in each))
    declared = Estimate(stated, stated - k * unsure, stated + k * unsure, "L")
    apart = abs(log(value / stated)) > DISAGREES_FROM * hypot(whole, unsure / stated)
    return VolumeByDose(Finding(estimate, "volume-by-dose", inputs, parts), declared, doses, apart)


class ChangeEffect(Struct, frozen=True):
    """One quantity before and after a water change, canonical unit; `mix` is the new water's as written."""

    kind: str
    before: Estimate
    after: Estimate
    mix: float


def water_change(
    levels: Mapping[str, Estimate], mix: Levels, fraction: float, volume_error: float = 0.0
) -> tuple[ChangeEffect, ...]:
    """What replacing a fraction f of the water by a mix does: C ← (1 - f) C + f C_mix, for each kind the mix states.

    Both ends of a level's interval move with its value. The mix is known to 3 % of what is written, as in the ledger;
    `volume_error` is the water volume's standard uncertainty as a share of it. Source of the uncertainty: JCGM 100:2008
    (GUM), 5.1, for each side of the interval.
    """
    found = []
    for kind in WATER_KINDS:
        new, before = mix.of(kind), levels.get(kind)
        if new is None or before is None or kind == "ph":
            continue
        level, unit = canonical_value(new), KINDS[kind].canonical
        error = fraction * hypot(MIX_ERROR * level, volume_error * (level - before.value))
        added, left = coverage_factor(before.level) * error, 1.0 - fraction
        after = left * before.value + fraction * level
        low = after - hypot(left * (before.value - before.low), added)
        high = after + hypot(left * (before.high - before.value), added)
        found.append(ChangeEffect(kind, before, Estimate(after, low, high, unit, before.level), level))
    return tuple(found)


# A water change is shown as large as the last one, or this share of the water where none was made. Common practice.
USUAL_CHANGE = 0.10


class NewWater(Struct, frozen=True):
    """What a water change of a `fraction` (0 to 1) with a `mix` does; `litres` is how much that is."""

    mix: str
    fraction: float
    litres: float
    effects: tuple[ChangeEffect, ...]


class DosingFindings(Struct, frozen=True):
    """What to dose in a system and what follows from it.

    `pourings` are the doses by hand up to the plan's next test, `reactor` how a reactor is to be set, `shortfalls` what
    the doses that hold leave uncovered, `out_of_reach` what would bring up a level that they cannot. `stocks` and
    `recipes` are by solution; a recipe is for a full stock as it is written. `salinity_drift` is that of the last phase
    of the plan, psu a month (None: without a plan, or salts that it doses).
    """

    plan: Plan | CannotTell
    cautions: tuple[CautionId, ...]
    stocks: dict[str, Stock | CannotTell]
    recipes: dict[str, Recipe | CannotTell]
    salinity_drift: Finding | None
    new_water: tuple[NewWater, ...]
    pourings: tuple[Pouring, ...] = ()
    reactor: ReactorSetting | None = None
    shortfalls: tuple[Shortfall, ...] = ()
    out_of_reach: tuple[OutOfReach, ...] = ()


def analyse_dosing(system: System, log: SystemLog, water: WaterFindings, as_of: datetime) -> DosingFindings:
    """Everything about a system's dosing at a moment."""
    plan = dosing_plan(system, log, water, as_of)
    hold, believed = plan.phases[-1] if isinstance(plan, Plan) else None, outlook(system, water, "alkalinity")
    level = levels_to_hold(system).get("alkalinity", believed.level.value if believed else 0.0)
    planned = {dose.supply: dose.rate.estimate for dose in hold.doses} if hold else {}
    salts = any(
        rate.value > 0.0 and left_behind(system.solutions[id]) for id, rate in planned.items() if id in system.solutions
    )
    recipes = _recipes(system)
    compounds = [solution.compound for solution in system.solutions.values() if solution.compound]
    short = shortfalls(system, log, plan, believed, as_of) if isinstance(plan, Plan) and believed else ()
    reach = out_of_reach(system, plan) if isinstance(plan, Plan) else ()
    # What the page says to weigh out: recipes of all solutions, and what would cover what the plan cannot.
    weighed = [*compounds, *(each.compound for each in reach)]
    weighed += [cure.what for each in short for cure in each.remedies if cure.how == "compound"]
    return DosingFindings(
        plan=plan,
        cautions=of_plan(plan, system, weighed) if isinstance(plan, Plan) else of_compounds(weighed) if weighed else (),
        stocks=stocks_of(system, log, planned, as_of),
        recipes=recipes,
        salinity_drift=salinity_drift(planned, system.solutions, system.water) if salts else None,
        new_water=_new_water(system, log, water, as_of),
        pourings=pourings(system, log, plan.phases, as_of, plan.next_test.at) if isinstance(plan, Plan) else (),
        reactor=reactor_setting(system, log, plan.phases[0], level, as_of) if isinstance(plan, Plan) else None,
        shortfalls=short,
        out_of_reach=reach,
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
        kind: interval(
            latest.value, measured_with_error(system, latest.reading, latest.value).standard, KINDS[kind].canonical
        )
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


class StockHeld(Struct, frozen=True):
    """A stock that was filled and filled again: when it was predicted to be empty, and when it was filled anew.

    Filled before it was empty, a stock says only that it lasted so long: the prediction is wrong for sure (`agree` is
    false) only where it lasted longer than the latest day predicted.
    """

    system: str
    solution: str
    filled: datetime
    earliest: datetime
    latest: datetime
    refilled: datetime

    @property
    def agree(self) -> bool:
        """Whether the stock was filled anew before the latest moment predicted."""
        return self.refilled <= self.latest


def stocks_held(system: System, log: SystemLog) -> Iterator[StockHeld]:
    """Every stock of a system that was filled twice, with what was predicted on the first day."""
    for solution in system.solutions:
        fillings = [each for each in log.fillings if each.solution == solution]
        for first, then in pairwise(fillings):
            # As it was known when the stock was filled: later pump rates were not written yet.
            known = stock(system, log, solution, first.at, first.at, held=first.amount.canonical())
            if isinstance(known, Stock) and known.lasts is not None:
                earliest, latest = (_after(first.at, days) for days in (known.lasts.low, known.lasts.high))
                yield StockHeld(system.id, solution, first.at, earliest, latest, then.at)


def _after(at: datetime, days: float) -> datetime:
    # A pump that may stand still empties nothing: such a day lies beyond any calendar.
    return at + timedelta(days=min(days, 36500.0))
