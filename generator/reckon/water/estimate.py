"""The uptake of one quantity, or of two together, from the readings that still count, in plain numbers; and the past.

A water's past is told in stretches: a year, or the first half of the year that is not over yet. What is told of a
moment rests on the readings of the months before it and of the month after it; older and later ones hardly count. So a
stretch that is over and read on stays as it is, and a new reading changes what is told of the last months alone.
"""

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo
from math import exp, log, sqrt

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.estimate.kalman import Candidates
from generator.reckon.estimate.multiprocess import Followed, Process
from generator.reckon.estimate.stories import follow
from generator.reckon.estimate.uncertainty import Array, Mixture
from generator.reckon.water.account import Account, DemandStep
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ
from generator.reckon.water.dynamics import FRESH, OneLevel, TwoLevels
from generator.reckon.water.findings import (
    DoubtfulReading,
    LedgerLine,
    Replayed,
    TrackPoint,
    UnexplainedShift,
    WaterFindings,
)
from generator.reckon.water.ledger import LEAST_DEMAND, Evidence, in_days, moment_of_days
from generator.reckon.water.process import Course, Series, course
from generator.reckon.water.state_estimate import StateEstimate
from generator.records.log import Reading, SystemLog
from generator.units.kinds import KINDS

# So long before a moment readings still count, and so many of each quantity at least. A choice of ours.
LOOKS_BACK, LEAST_READ = timedelta(days=180), 12
# So long before a stretch that is over: its own readings tell more of it. A choice of ours.
STRETCH_LOOKS_BACK = timedelta(days=90)
# A stretch is told once it has been over for so long. A choice of ours: a test after a month parts all stories.
SETTLES = timedelta(days=30)


class Past(Struct, frozen=True):
    """What is told of some time of a water. Mappings are by kind of quantity, as in `WaterFindings`."""

    readings: tuple[tuple[Reading, float], ...]
    ledger: tuple[LedgerLine, ...]
    tracks: Mapping[str, tuple[TrackPoint, ...]]
    doubtful: Mapping[str, tuple[DoubtfulReading, ...]]
    shifts: tuple[UnexplainedShift, ...]
    replayed: tuple[Replayed, ...]

    def between(self, begin: datetime, end: datetime | None = None) -> "Past":
        """What is told from one moment to another, or to the end (None)."""

        def within(at: datetime) -> bool:
            return begin <= at and (end is None or at < end)

        return Past(
            readings=tuple(each for each in self.readings if within(each[0].at)),
            ledger=tuple(sorted(_within(self.ledger, begin, end), key=order_in_ledger)),
            tracks={kind: tuple(p for p in points if within(p.at)) for kind, points in self.tracks.items()},
            doubtful={kind: tuple(d for d in doubts if within(d.reading.at)) for kind, doubts in self.doubtful.items()},
            shifts=tuple(shift for shift in self.shifts if within(shift.before)),
            replayed=tuple(each for each in self.replayed if within(each.reading.at)),
        )


class Stretch(Struct, frozen=True):
    """A calendar year, or (not `whole`) the first half of it."""

    year: int
    whole: bool = True

    def moments(self, zone: tzinfo | None) -> tuple[datetime, datetime]:
        """When it begins and ends on a keeper's clock."""
        end = date(self.year + 1, 1, 1) if self.whole else date(self.year, 7, 1)
        return datetime(self.year, 1, 1, tzinfo=zone), datetime(end.year, end.month, 1, tzinfo=zone)


def stretches_told(log: SystemLog, day: date, zone: tzinfo | None) -> tuple[Stretch, ...]:
    """The stretches that are told for good on a day, from the first reading on."""
    if not log.readings:
        return ()
    first, settled = log.readings[0].at.astimezone(zone).date(), day - SETTLES
    half = Stretch(settled.year, whole=False)
    begun = settled.month > 6 and first < half.moments(zone)[1].date()
    return (*map(Stretch, range(first.year, settled.year)), *([half] if begun else ()))


def told_until(log: SystemLog, day: date, zone: tzinfo | None) -> datetime | None:
    """The moment up to which a log is told for good on a day; None if none is."""
    stretches = stretches_told(log, day, zone)
    return stretches[-1].moments(zone)[1] if stretches else None


def counting(log: SystemLog, day: date, zone: tzinfo | None) -> SystemLog:
    """What of a log counts for a day: all but what stands behind what is told for good alone."""
    end = told_until(log, day, zone)
    return lately(log, end) if end else log


def lately(log: SystemLog, since: datetime, back: timedelta = LOOKS_BACK) -> SystemLog:
    """A log from a moment on, with what counts from before it: readings, what was paid in since, and all that runs.

    Readings count from so long `back` on. A log without any before the moment is kept whole.
    """
    if not log.readings or log.readings[0].at >= since:
        return log
    times: dict[str, list[datetime]] = {}
    for reading in log.readings:
        times.setdefault(reading.kind, []).append(reading.at)
    starts = {kind: _start(of_kind, since, back) for kind, of_kind in times.items()}
    # What was paid in counts for what coral takes up alone.
    start = min((start for kind, start in starts.items() if kind in LEAST_DEMAND), default=since)
    return replace(
        log,
        readings=tuple(reading for reading in log.readings if reading.at >= starts[reading.kind]),
        doses=tuple(dose for dose in log.doses if dose.at >= start),
        water_changes=tuple(change for change in log.water_changes if change.at >= start),
    )


def counting_for_stretch(log: SystemLog, stretch: Stretch, zone: tzinfo | None) -> SystemLog:
    """What of a log counts for a stretch that is told for good: up to `SETTLES` after it, from before it on."""
    begin, end = stretch.moments(zone)
    return lately(log.until(end + SETTLES), begin, STRETCH_LOOKS_BACK)


def _start(times: Sequence[datetime], since: datetime, back: timedelta) -> datetime:
    """From when on readings count, by the times of all of them, in order."""
    before = bisect_left(times, since)
    return min(since - back, times[max(before - LEAST_READ, 0)] if before else since)


def with_past(found: WaterFindings, stretches: Sequence[Past], begin: datetime) -> WaterFindings:
    """Findings that from `begin` on are these, and before it those of the stretches."""
    every = (*stretches, told_since(found, begin))
    return replace(
        found,
        readings=tuple(each for told in every for each in told.readings),
        ledger=tuple(sorted((line for told in every for line in told.ledger), key=order_in_ledger)),
        uptake={
            kind: replace(
                uptake,
                track=tuple(point for told in every for point in told.tracks.get(kind, ())),
                doubtful=tuple(doubt for told in every for doubt in told.doubtful.get(kind, ())),
            )
            for kind, uptake in found.uptake.items()
        },
        calcification=replace(found.calcification, shifts=tuple(shift for told in every for shift in told.shifts)),
        replayed=tuple(each for told in every for each in told.replayed),
    )


def told_since(found: WaterFindings, begin: datetime | None) -> Past:
    """What findings tell from a moment on, or all of it (None)."""
    told = Past(
        found.readings,
        found.ledger,
        {kind: uptake.track for kind, uptake in found.uptake.items()},
        {kind: uptake.doubtful for kind, uptake in found.uptake.items()},
        found.calcification.shifts,
        found.replayed,
    )
    return told.between(begin) if begin else told


def _within(lines: Sequence[LedgerLine], begin: datetime, end: datetime | None) -> Iterator[LedgerLine]:
    """The lines from one moment to another; of one that lasts longer the part that is between them."""
    for line in lines:
        if line.at == line.until:
            if begin <= line.at and (end is None or line.at < end):
                yield line
        elif line.until > begin and (end is None or line.at < end):
            at, until = max(line.at, begin), line.until if end is None else min(line.until, end)
            yield replace(line, at=at, until=until, change=line.change * ((until - at) / (line.until - line.at)))


def order_in_ledger(line: LedgerLine) -> tuple[object, ...]:
    """How the lines of a ledger are sorted: by kind and in order of time."""
    return line.kind, line.at, line.until, line.cause, line.source


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
