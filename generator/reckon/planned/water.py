"""What a plan does to the water: its uptake once it is carried out, and what to do: pumps in steps, stocks, tests."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from math import hypot, inf

from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.informed import Informed, own_factors
from generator.reckon.arrivals.known import Waters, even_if_unread, water_with
from generator.reckon.arrivals.observed import Baseline, baseline_of, readings_that_tell
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.dosing.analysis import stocks_of
from generator.reckon.dosing.outlook import CALCIUM_PER_GRAM, MOST_A_DAY, Need, levels_to_hold, worth_a_dose
from generator.reckon.dosing.phases import Phase, added_doses, given_a_day, phase
from generator.reckon.dosing.plan import Plan, dosing_plan
from generator.reckon.dosing.stocks import Stock
from generator.reckon.dosing.supplies import Supply, as_it_gives, supplies
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.canonical import band
from generator.reckon.water.deliveries import GRAMS_PER_MEQ
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.findings import Forecast, ReadingPlan, WaterFindings
from generator.reckon.water.uptake import as_estimate
from generator.reckon.water.uptake import uptake as uptake_of
from generator.records.carried_out import Affected, movers, told_with
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.log import SystemLog
from generator.records.system import System
from generator.records.trade import Appointed, Planned
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, Litres

# Stocks that would be empty within so many days of the change are named. A choice of ours.
SOON_EMPTY = 30.0
# So long after it is carried out every event of a plan has happened.
_JUST_AFTER = timedelta(minutes=1)


class PumpStep(Struct, frozen=True):
    """Litres a day of one supply: what runs `now`, and what holds the band without the change (`base`).

    `first` runs from the hour of the change, as the plan of that hour will say; `likely` meets what the change likely
    is, `cap` the most of uptake that is likely then, as far as it raises no level by more than `MOST_A_DAY` beyond
    `base` if the newcomer takes nothing; of a fall that is the dose before it. `likely`, even if it is more than that,
    runs once a test has shown so; all of them only once its pump is `mended`, where that is true.
    """

    supply: str
    how: str
    now: float
    base: float
    first: float
    likely: float
    cap: float
    mended: bool = False


def left_of(grams: Estimate, before: Plan | CannotTell, at_hand: Sequence[Supply], worth: Mapping[str, float]) -> Phase:
    """The doses that are left of a plan once so many g CaCO3/day fall away: limewater and reactor go on the longest."""
    per_gram = {"alkalinity": 1.0 / GRAMS_PER_MEQ, "calcium": CALCIUM_PER_GRAM}
    needs = [] if isinstance(before, CannotTell) else before.needs
    less = tuple(_less(need, grams, per_gram.get(need.kind, 0.0)) for need in needs)
    return phase(less, {}, at_hand, None, worth)


def _less(need: Need, grams: Estimate, factor: float) -> Need:
    per_day = need.per_day
    ends = zip((per_day.value, per_day.low, per_day.high), (grams.value, grams.low, grams.high), strict=True)
    value, low, high = (max(end + factor * change, 0.0) for end, change in ends)
    return replace(need, per_day=replace(per_day, value=value, low=low, high=high))


def pump_steps(
    added: Phase,
    rises: bool,
    before: Plan | CannotTell,
    after: Plan | CannotTell,
    at_hand: Sequence[Supply],
    volume: Litres,
) -> Iterator[PumpStep]:
    """The doses that hold the band before and from the hour of the change, and those with the whole change."""
    today, first, running = _held(before), _held(after), {supply.id: supply.now for supply in at_hand}
    most = {dose.supply: dose.rate.estimate.high for dose in added.doses}
    # The most that a level may rise a day, beside what so many litres give of it.
    given = [supply for supply in at_hand if supply.id in most]
    raised = ((a_day, given_a_day(most, given, kind)) for kind, a_day in MOST_A_DAY.items())
    safe = min((min(a_day * volume / more, 1.0) for a_day, more in raised if more), default=1.0)
    lacking = {each.solution for each in after.to_mend} if isinstance(after, Plan) else set()
    for dose in added.doses:
        rate, now = dose.rate.estimate, running.get(dose.supply, 0.0)
        base = today.get(dose.supply, now)
        if rate.high if rises else now or base:
            whole = (base + rate.low, base + rate.value, base + safe * rate.high) if rises else (0.0, rate.value, base)
            begins = first.get(dose.supply, whole[0])
            likely = max(whole[1], begins)
            yield PumpStep(
                dose.supply, dose.how, now, base, begins, likely, max(whole[2], likely), dose.supply in lacking
            )


def _held(plan: Plan | CannotTell) -> dict[str, float]:
    """Litres a day of each supply that hold the band by a plan."""
    return {dose.supply: dose.rate.estimate.value for dose in plan.phases[-1].doses} if isinstance(plan, Plan) else {}


class Outcomes(Struct, frozen=True):
    """What alkalinity (meq/L) a reading at a moment would show, with the first step running since the change.

    `all` if uptake changes as is likely, `half` if by half of that, `none` if not at all; `error` is the standard
    deviation that such a reading has beside it. `rises` if uptake does. By then the level has left its band with all of
    it (`out`), or with no change at all (`astray`).
    """

    at: datetime
    all: float
    half: float
    none: float
    error: float
    rises: bool
    out: bool
    astray: bool


class PlanSteps(Struct, frozen=True):
    """What to do in one water about a change of uptake.

    `added` is what it adds to the doses (of a fall: the doses that are left), `unchanged` where alkalinity goes with
    those that run. It happens `at` a moment. `test` is when the plan of that hour reads alkalinity next (None: it was
    never read), `plan` are the readings that tell how large the change is, and `outcomes` what the first of them means.
    """

    at: datetime
    added: Phase
    unchanged: Forecast | CannotTell
    pumps: tuple[PumpStep, ...]
    stocks: tuple[Stock, ...]
    test: datetime | None
    plan: ReadingPlan | None
    outcomes: Outcomes | None


def steps(
    system: System,
    log: SystemLog,
    baseline: Baseline,
    changed: tuple[Finding, Estimate],
    before: Plan | CannotTell,
    then: WaterFindings,
    at: datetime,
) -> PlanSteps:
    """The steps for a change of uptake at a moment, negative where it falls.

    `changed` is the change in g CaCO3/day and in meq/L/day, `before` the plan without it, `then` the water with it.
    """
    (grams, step), after = changed, dosing_plan(system, log, then, at)
    at_hand = supplies(system, log, levels_to_hold(system), at)
    if step.value < 0.0:
        given = [as_it_gives(supply, then) for supply in at_hand]
        added = left_of(grams.estimate, before, given, worth_a_dose(system))
    else:
        added = added_doses(system, log, grams, at)
    pumps = tuple(pump_steps(added, step.value >= 0.0, before, after, at_hand, system.water.volume.canonical()))
    plan = readings_that_tell(baseline, at, step.value)
    return PlanSteps(
        at,
        added,
        then.forecasts["alkalinity"],
        pumps,
        _stocks(system, log, pumps, at),
        _test(after, then, at),
        plan,
        _outcomes(system, at_hand, baseline, step, pumps, plan) if plan and plan.readings else None,
    )


def _test(after: Plan | CannotTell, then: WaterFindings, at: datetime) -> datetime | None:
    """When the plan of the hour of the change asks for a test: at the change itself, where it asks at once."""
    if isinstance(after, CannotTell):
        return None
    return after.next_test.at if after.next_test.at > then.as_of else at


def _stocks(system: System, log: SystemLog, pumps: tuple[PumpStep, ...], at: datetime) -> tuple[Stock, ...]:
    """The stocks that would soon be empty at the likely dose."""
    planned: Mapping[str, Estimate] = {
        step.supply: Estimate(step.likely, step.first, step.cap, "L/day") for step in pumps if step.likely
    }
    return tuple(
        stock
        for id, stock in stocks_of(system, log, planned, at).items()
        if id in planned and isinstance(stock, Stock) and (stock.lasts or stock.full_lasts).value < SOON_EMPTY
    )


def _outcomes(
    system: System,
    at_hand: Sequence[Supply],
    baseline: Baseline,
    step: Estimate,
    pumps: Sequence[PumpStep],
    plan: ReadingPlan,
) -> Outcomes | None:
    """The level before, less what is taken up until the reading, plus what the first step gives beyond the old dose."""
    if baseline.found is None:
        return None
    now = baseline.found.now.of(baseline.found.stands).wider(baseline.found.times_as_wide)
    level = as_estimate(now.interval(), KINDS["alkalinity"].canonical)
    first = plan.readings[0]
    days = (first.at - baseline.at).total_seconds() / 86400.0
    more = {pump.supply: pump.first - pump.base for pump in pumps}
    given = given_a_day(more, [each for each in at_hand if each.id in more], "alkalinity")
    met = days * given / system.water.volume.canonical()
    error = hypot(level.standard, baseline.found.kit_error)
    taken = step.value * days
    none, (low, high) = level.value + met, band(system, "alkalinity")
    below, above = (-inf if low is None else low), (inf if high is None else high)
    out = none - taken < below if taken > 0.0 else none - taken > above
    astray = none > above if taken > 0.0 else none < below
    return Outcomes(first.at, none - taken, none - taken / 2.0, none, error, taken > 0.0, out, astray)


class After(Struct, frozen=True):
    """A system just after a plan is carried out.

    `events` are the plan's own in it, with what each is predicted to do; `before` and `after` are the uptake of
    alkalinity (meq/L/day) on either side of it, `steps` what to do about all of them together (None: nothing is
    predicted of any).
    """

    system: str
    events: tuple[Informed, ...]
    before: Answer
    after: Answer
    steps: PlanSteps | None


def afters(
    plan: Planned,
    chosen: Mapping[str, str],
    journal: Journal,
    held: Mapping[str, Plan | CannotTell],
    told: Mapping[str, Sequence[Informed]],
    at: datetime,
) -> tuple[After, ...]:
    """Every system that a plan changes, at the moment (on the keeper's own clock) it is carried out.

    `chosen` is the system of each newcomer, as decided or the best; `held` and `told` are the doses and
    the events today, by system.
    """
    coming = tuple(replace(new, system=new.system or chosen.get(new.coral)) for new in plan.coming)
    when = Appointed(at.date(), at.astimezone(UTC))
    done = told_with(Affected(journal.corals, journal.trades, journal.logs), replace(plan, coming=coming), when)
    names = {new.coral for new in coming} | {given.coral for given in plan.going if given.whole}
    names |= {coral.id for _, coral in movers(plan, journal.corals, at.date())}
    then, found = at + _JUST_AFTER, []
    waters = Waters(journal.systems, done.logs, done.corals, journal.settings.time_zone)
    for id, system in journal.systems.items():
        log = waters.log_of(id)
        if not any(event.at == when.at and event.coral in names for event in log.events):
            continue
        known = waters.known(id, then, past=False)
        its = (each for each in known.events if each.event.coral in names and each.event.at == when.at)
        own = tuple(even_if_unread(each, system, waters) for each in its)
        baseline = baseline_of(system, journal.log_of(id), [each.event for each in told[id]], at)
        before = uptake_of(baseline.alkalinity, baseline.found, system.water, at, past=False).per_day
        changed = _changed(system, own, before)
        found.append(
            After(
                id,
                own,
                before,
                known.water.uptake["alkalinity"].per_day,
                steps(system, log, baseline, changed, held[id], known.water, at) if changed else None,
            )
        )
    return tuple(found)


def _changed(system: System, events: Sequence[Informed], before: Answer) -> tuple[Finding, Estimate] | None:
    """What events do to the uptake together, g CaCO3/day and meq/L/day; no more can fall away than was taken up."""
    least = -max(before.estimate.value, 0.0) if isinstance(before, Finding) else -inf
    if not (values := [each.step for each in events if each.step is not None]):
        return None
    value = sum(step.value for step in values)
    below = sum((step.value - step.low) ** 2 for step in values) ** 0.5
    above = sum((step.high - step.value) ** 2 for step in values) ** 0.5
    low, middle, high = (max(each, least) for each in (value - below, value, value + above))
    step = Estimate(middle, low, high, values[0].unit)
    grams = step.scaled(GRAMS_PER_MEQ * system.water.volume.canonical(), "g/day")
    inputs = [s for e in events if isinstance(e.predicted, ExpectedUptake) for s in e.predicted.grams_per_day.inputs]
    return Finding(grams, "expected-uptake", tuple(dict.fromkeys(inputs))), step


class InWater(Struct, frozen=True):
    """What a colony would take out of one system's water, and what to do about it hour by hour.

    `after` is the uptake of alkalinity (meq/L/day) with it. No steps and no `after`: its uptake cannot be told, or it
    is not the only one that changes this water, so that their sum counts.
    """

    system: str
    uptake: ExpectedUptake | CannotTell
    steps: PlanSteps | None = None
    after: Answer | None = None


def in_water(
    coral: Coral,
    system: System,
    log: SystemLog,
    corals: Mapping[str, Coral],
    held: Plan | CannotTell,
    told: Sequence[Informed],
    at: datetime,
    alone: bool = True,
) -> InWater:
    """What a coral takes of a system's water from the moment it goes in (`at`, on the keeper's own clock).

    `corals` ever stood in the system, `held` are its doses and `told` its events so far, with what was predicted of
    each; `alone` whether nothing else of its plan changes a water.
    """
    baseline = baseline_of(system, log, [each.event for each in told], at)
    own = own_factors(corals, told, at.date())
    factor = present_factor(corals.values(), system.id, at.date(), baseline.measured, own)
    uptake = expected(colony_of(coral, coral.arrival.at), system.water, factor)
    if isinstance(uptake, CannotTell) or not alone:
        return InWater(system.id, uptake)
    step = uptake.alkalinity.estimate
    day, error = at.date(), step.standard
    whole = baseline.measured.estimate.value if isinstance(baseline.measured, Finding) else 0.0
    grams = uptake.grams_per_day.estimate.value
    share = min(grams / whole, 1.0) if whole > 0.0 else 1.0
    arrival = DemandEvent(at, share, "arrival", coral.id, coral.source, day, step=step.value, step_error=error)
    with_it = water_with(system, log, [*told, Informed(arrival, step=step)], at, past=False)
    what_to_do = steps(system, log, baseline, (uptake.grams_per_day, step), held, with_it, at)
    return InWater(system.id, uptake, what_to_do, _at_least(step, with_it.uptake["alkalinity"].per_day))


def _at_least(step: Estimate, after: Answer) -> Answer:
    """The uptake with a coral: no less than its own, since the uptake of all others is never negative."""
    if isinstance(after, CannotTell):
        return after
    found = after.estimate
    value, low, high = (max(getattr(found, end), getattr(step, end)) for end in ("value", "low", "high"))
    return replace(after, estimate=Estimate(value, low, high, found.unit))
