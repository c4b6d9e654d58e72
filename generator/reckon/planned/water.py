"""What a colony that is to come asks of the water it goes into: pumps in steps, stocks, tests and their outcomes."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import hypot

from generator.reckon.arrivals.baseline import Baseline, baseline_of, if_unchanged, readings_that_tell
from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.informed import Informed, own_factors
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.dosing.analysis import DosingFindings, stocks_of
from generator.reckon.dosing.combination import given
from generator.reckon.dosing.needs import band, levels_to_hold
from generator.reckon.dosing.newcomer import added_doses
from generator.reckon.dosing.phases import Phase
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.stocks import Stock
from generator.reckon.dosing.supplies import supplies
from generator.reckon.finding import CannotTell
from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.reckon.water.uptake import track_points
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate

# Stocks that would be empty within so many days of the arrival are named. A choice of ours.
SOON_EMPTY = 30.0


@dataclass(frozen=True, slots=True)
class PumpStep:
    """Litres a day of one supply: what runs `now`, and what holds the band without the newcomer (`base`).

    `first` runs from the hour of arrival, as the plan of that hour will say; `likely` meets what the newcomer likely
    takes, `cap` the most of it.
    """

    supply: str
    how: str
    now: float
    base: float
    first: float
    likely: float
    cap: float


@dataclass(frozen=True, slots=True)
class Outcomes:
    """What alkalinity (meq/L) a reading at a moment would show, with the first step running since the arrival.

    `all` if it takes what is likely, `half` if half of that, `none` if nothing; `error` is the standard deviation
    that such a reading has beside it. `out` if with all of it the level is below its band by then.
    """

    at: datetime
    all: float
    half: float
    none: float
    error: float
    out: bool


@dataclass(frozen=True, slots=True)
class InWater:
    """What a colony would take out of one system's water, and what to do about it hour by hour.

    Where its uptake cannot be told, nothing else is.
    """

    system: str
    uptake: ExpectedUptake | CannotTell
    added: Phase | None = None
    unchanged: Forecast | CannotTell | None = None
    pumps: tuple[PumpStep, ...] = ()
    stocks: tuple[Stock, ...] = ()
    plan: ReadingPlan | None = None
    outcomes: Outcomes | None = None


def in_water(
    coral: Coral, id: str, journal: Journal, dosing: DosingFindings, told: Sequence[Informed], at: datetime
) -> InWater:
    """What a coral asks of a system's water from the moment it goes in (`at`, on the keeper's own clock).

    `told` are the events of the system so far, with what was predicted of each.
    """
    system, log, corals = journal.systems[id], journal.log_of(id), journal.corals.values()
    events = [each.event for each in told]
    baseline = baseline_of(system, log, events, at)
    own = own_factors(journal.corals, told, at.date())
    factor = present_factor(corals, id, at.date(), baseline.measured, own)
    uptake = expected(colony_of(coral, coral.arrival.at), system.water, factor)
    if isinstance(uptake, CannotTell):
        return InWater(id, uptake)
    step = uptake.alkalinity.estimate
    arrival = DemandEvent(
        at,
        0.0,
        "arrival",
        coral.id,
        coral.source,
        at.date(),
        step=step.value,
        step_error=step.standard,
    )
    with_it = analyse_water(system, log, corals, at, [*events, arrival], past=False)
    added = added_doses(system, log, uptake.grams_per_day, at)
    pumps = _pumps(system, log, added, dosing.plan, dosing_plan(system, log, with_it, at), at)
    plan = readings_that_tell(baseline, at, step.value)
    return InWater(
        id,
        uptake,
        added,
        if_unchanged(system, baseline, step),
        pumps,
        _stocks(system, log, pumps, at),
        plan,
        _outcomes(system, log, baseline, step, pumps, plan) if plan and plan.readings else None,
    )


def _pumps(
    system: System, log: SystemLog, added: Phase, before: Plan | CannotTell, after: Plan | CannotTell, at: datetime
) -> tuple[PumpStep, ...]:
    """The doses that hold the band before and from the hour it is in, and those with the newcomer's on top."""
    running = {supply.id: supply.now for supply in supplies(system, log, levels_to_hold(system), at)}
    today, first = _held(before), _held(after)
    steps = []
    for dose in added.doses:
        more, now = dose.rate.estimate, running.get(dose.supply, 0.0)
        base = today.get(dose.supply, now)
        if more.high > 0.0:
            begins = first.get(dose.supply, base + more.low)
            cap = max(base + more.high, begins)
            steps.append(PumpStep(dose.supply, dose.how, now, base, begins, max(base + more.value, begins), cap))
    return tuple(steps)


def _held(plan: Plan | CannotTell) -> dict[str, float]:
    """Litres a day of each supply that hold the band by a plan."""
    return {dose.supply: dose.rate.estimate.value for dose in plan.phases[-1].doses} if isinstance(plan, Plan) else {}


def _stocks(system: System, log: SystemLog, pumps: tuple[PumpStep, ...], at: datetime) -> tuple[Stock, ...]:
    """The stocks that would soon be empty at the likely dose."""
    planned: Mapping[str, Estimate] = {
        step.supply: Estimate(step.likely, step.first, step.cap, "L/day") for step in pumps if step.likely > 0.0
    }
    found = stocks_of(system, log, planned, at)
    return tuple(
        stock
        for id, stock in found.items()
        if id in planned and isinstance(stock, Stock) and (stock.lasts or stock.full_lasts).value < SOON_EMPTY
    )


def _outcomes(
    system: System, log: SystemLog, baseline: Baseline, step: Estimate, pumps: Sequence[PumpStep], plan: ReadingPlan
) -> Outcomes | None:
    """The level just before, less what is taken until the reading, with what the first step gives more than before."""
    if baseline.found is None:
        return None
    level = track_points("alkalinity", baseline.found)[-1].level
    first = plan.readings[0]
    days = (first.at - baseline.at).total_seconds() / 86400.0
    more = {pump.supply: pump.first - pump.base for pump in pumps}
    at_hand = supplies(system, log, levels_to_hold(system), baseline.at)
    met = (
        days
        * given(more, [each for each in at_hand if each.id in more], "alkalinity")
        / system.water.volume.canonical()
    )
    error = hypot(level.standard, baseline.found.kit_error)
    taken = step.value * days
    low, at_worst = band(system, "alkalinity")[0], level.value + met - taken
    out = low is not None and at_worst < low
    return Outcomes(first.at, at_worst, level.value + met - taken / 2.0, level.value + met, error, out)
