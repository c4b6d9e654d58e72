"""The uptake of one quantity, or of two together, from readings and account, in plain numbers."""

from collections.abc import Iterator, Sequence
from math import exp, log, sqrt

import numpy as np
from msgspec.structs import replace

from generator.reckon.estimate.kalman import Candidates, Model, Transition
from generator.reckon.estimate.multiprocess import Followed, Process
from generator.reckon.estimate.stories import follow
from generator.reckon.estimate.uncertainty import Array, Mixture
from generator.reckon.water.account import Account, DemandStep
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ
from generator.reckon.water.dynamics import FRESH, OneLevel, TwoLevels
from generator.reckon.water.findings import LedgerLine
from generator.reckon.water.ledger import Evidence, in_days, moment_of_days
from generator.reckon.water.process import Course, Series, course
from generator.reckon.water.state_estimate import StateEstimate
from generator.records.log import SystemLog
from generator.units.kinds import KINDS


def settled(log: SystemLog, evidence: Evidence, found: StateEstimate) -> Iterator[LedgerLine]:
    """The ledger's lines that only the track tells: water changes, by the level then, and the uptake between moments.

    What was taken up is what balances the account: all that was paid in, less what the level rose by. After the
    last reading the forecast level counts, so that the ledger balances up to the track's end.
    """
    unit = KINDS[evidence.kind].canonical
    moments, levels = found.moments, found.middle(found.stands)
    renewed = np.zeros(len(moments))
    for change, renewal in zip(log.water_changes, evidence.account.renewals, strict=True):
        at = in_days(change.at)
        if moments[0] <= at <= moments[-1]:
            difference = renewal.fraction * (renewal.level - float(np.interp(at, moments, levels)))
            renewed[min(int(np.searchsorted(moments, at, "right")), len(moments) - 1)] += difference
            yield LedgerLine(change.at, change.at, evidence.kind, difference, unit, "water-change", change.source)
    if len(evidence.readings) < 2:
        return
    paid = np.diff(evidence.account.paid_before(moments, 1)[:, 0]) + renewed[1:]
    for index, taken in enumerate((paid - np.diff(levels)).tolist(), start=1):
        start, end = float(moments[index - 1]), float(moments[index])
        if end > start:
            source = evidence.readings[min(index, len(evidence.readings) - 1)].source
            yield LedgerLine(moment_of_days(start), moment_of_days(end), evidence.kind, -taken, unit, "uptake", source)


# Drift of the uptake, as a share of the demand per square root of a day, and our belief in each before
# the readings speak: about 3 % of it a day, give or take a factor of three. An assumption of ours.
DRIFT_SHARES: Array = np.array([0.006, 0.015, 0.03, 0.06, 0.12])
USUAL_DRIFT = 0.03
DRIFT_FACTOR = 3.0
# Kit errors tried where the keeper declared none, as multiples of the usual one for the quantity.
ERROR_FACTORS: Array = np.array([0.25, 0.5, 1.0, 2.0, 4.0])
# Width of the start, in kit errors (levels) and kit errors a day (uptake): wide enough to say nothing, narrow
# enough that the smoother loses no precision.
OPEN_START = 100.0
# Growth of the demand, as a share of it a day, before the readings speak (one standard deviation): coral in
# good health lays down skeleton by some tenths of a per cent a day. An assumption of ours.
USUAL_GROWTH = 0.003
# A story's own demand, of which its steps are a share, is at most so many times the whole track's.
MOST_DEMAND = 4.0
# What else takes or gives alkalinity (nitrate made or used up, a kit that drifts): as a share of the
# demand, one standard deviation, and how many days it keeps. Assumptions of ours.
OTHER_SHARE = 0.05
OTHER_MEMORY = 30.0


def demand_scale(times: Array, values: Array, error: float, account: Account, floor: float) -> float:
    """About how much leaves the water a day (level units), by the first and last reading alone; `floor` at least.

    A difference within two standard errors of two readings with this `error` each counts as none. The scale is rounded
    to about a tenth, so that one more reading seldom changes the weights of all others.
    """
    if len(times) < 2 or times[-1] <= times[0]:
        return floor
    span = float(times[-1] - times[0])
    taken = account.paid_between(float(times[0]), float(times[-1])) + float(values[0] - values[-1])
    scale = max((abs(taken) - 2.0 * sqrt(2.0) * error) / span, floor)
    return floor * exp(round(10.0 * log(scale / floor)) / 10.0)


def drift_candidates(errors: Array) -> Candidates:
    """Every drift with every kit-error factor, with their log prior weights."""
    drift, error = (grid.ravel() for grid in np.meshgrid(DRIFT_SHARES, errors))
    prior = -0.5 * (np.log(drift / USUAL_DRIFT) / np.log(DRIFT_FACTOR)) ** 2
    return Candidates(drift**2, error**2, prior)


def build(steps: Sequence[Transition], h: Array, values: Array, noise: Array, start: Array, spread: Array) -> Model:
    """The model of the steps into each moment and what was read there (NaN: nothing)."""
    return Model(
        F=np.array([p.F for p in steps]),
        c=np.array([p.c for p in steps]),
        drift=np.array([p.drift for p in steps]),
        fixed=np.array([p.fixed for p in steps]),
        h=h,
        y=values,
        noise=noise,
        widened=np.zeros(len(values)),
        start=start,
        spread=spread,
    )


def track(
    series: Series,
    account: Account,
    demand_steps: Sequence[DemandStep],
    until: float,
    floor: float,
    learn_error: bool = False,
    factor_errors: Sequence[float] = (0.0,),
) -> StateEstimate:
    """One level and what is taken up of it at every reading and at `until`, from at least one reading.

    Values and errors in the account's unit; `floor` the least demand to think of. With `learn_error` the errors are
    only a usual size, and multiples of them are weighed as well. `factor_errors` are the standard deviations of the
    logarithms of the water volume and of what else the account's payments count by.
    """
    usual = float(np.median(series.errors))
    demand = demand_scale(series.times, series.values, usual, account, floor)
    wide = OPEN_START * usual
    spread = np.diag([wide**2, wide**2, (USUAL_GROWTH * demand) ** 2])
    laid = course(OneLevel(demand), [series], [account], demand_steps, demand, factor_errors, spread, until)
    followed = _follow(laid, demand, floor, drift_candidates(ERROR_FACTORS if learn_error else np.ones(1)))
    return StateEstimate(laid, (account,), followed, 0, demand, usual)


def track_learning(series: Series, account: Account, until: float, floor: float, open_: float) -> Mixture:
    """What the readings tell of the logarithm of an account's factor 1, of which only `open_` is known before.

    `open_` is its standard deviation before any reading; the water volume, factor 0, is taken as declared.
    """
    usual = float(np.median(series.errors))
    demand = demand_scale(series.times, series.values, usual, account, floor)
    wide = OPEN_START * usual
    spread = np.diag([wide**2, wide**2, (USUAL_GROWTH * demand) ** 2])
    laid = course(OneLevel(demand), [series], [account], (), demand, (0.0, open_), spread, until)
    # A volume must not depend on how steady the uptake happens to look: the drift counts as the usual one at least.
    every = drift_candidates(np.ones(1))
    usual_or_more = every.q2 >= USUAL_DRIFT**2
    candidates = Candidates(*(each[usual_or_more] for each in (every.q2, every.r2, every.log_prior)))
    followed = _follow(laid, demand, floor, candidates, learned=1)
    return followed.last.of(np.eye(laid.layout.size)[laid.layout.factors + 1])


def track_both(
    alkalinity: Series,
    calcium: Series,
    accounts: tuple[Account, Account],
    demand_steps: Sequence[DemandStep],
    until: float,
    floor: float,
    factor_errors: Sequence[float],
    pumps: Sequence[Sequence[float]] = (),
) -> tuple[StateEstimate, StateEstimate]:
    """Alkalinity (meq/L) and calcium (mg/L) together, by the proportions of CaCO3; each read at least once.

    `demand_steps` are of alkalinity, `floor` the least demand for it. `pumps` may wear: when each was measured, days.
    """
    usual = float(np.median(alkalinity.errors)), float(np.median(calcium.errors))
    demand = demand_scale(alkalinity.times, alkalinity.values, usual[0], accounts[0], floor)
    dynamics = TwoLevels(demand, CALCIUM_PER_MEQ, OTHER_SHARE * demand, OTHER_MEMORY)
    wide = OPEN_START * usual[0]
    spread = np.diag([wide**2, (OPEN_START * usual[1]) ** 2, wide**2, (USUAL_GROWTH * demand) ** 2, dynamics.other**2])
    laid = course(dynamics, [alkalinity, calcium], accounts, demand_steps, demand, factor_errors, spread, until, pumps)
    followed = _follow(laid, demand, floor, drift_candidates(np.ones(1)))
    first, second = (StateEstimate(laid, accounts, followed, level, demand, usual[level]) for level in (0, 1))
    return first, replace(second, demand=demand * CALCIUM_PER_MEQ)


def _follow(laid: Course, demand: float, floor: float, candidates: Candidates, learned: int = 0) -> Followed:
    """All stories of a course: every candidate noise begins one. The last `learned` factors are found from readings."""
    return follow(
        Process(
            model=laid.model,
            branches=laid.branches,
            times=laid.times,
            q2=candidates.q2,
            r2=candidates.r2,
            log_prior=candidates.log_prior,
            rate=laid.dynamics.levels,
            least=floor,
            most=MOST_DEMAND * demand,
            scale=demand,
            considered=slice(laid.layout.factors, laid.layout.kits[0] - learned),
            telling=np.append(np.arange(laid.dynamics.levels + 1), laid.layout.lacking).astype(np.intp),
            apart=np.array(laid.layout.lacking, dtype=np.intp) + 1,
            fresh=FRESH,
        )
    )
