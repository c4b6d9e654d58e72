"""A water's past: each reading as it was predicted from the lines before it; the ledger of its last days; its years."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo
from math import hypot, sqrt
from statistics import NormalDist, median

import numpy as np
from msgspec import Struct

from generator.reckon.estimate.uncertainty import Array, Ints, Mixture
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.calcification import laid_down
from generator.reckon.water.deliveries import relative_volume_error
from generator.reckon.water.dynamics import LOGGED, READ_BEFORE_STEP
from generator.reckon.water.findings import Cause, LedgerLine, Replayed, Uptake, WaterFindings
from generator.reckon.water.ledger import Evidence, in_days
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import as_estimate, interval
from generator.records.log import Reading
from generator.records.source import Source
from generator.records.system import Water
from generator.units.kinds import KINDS, WATER_KINDS
from generator.units.quantity import LEVEL, Estimate

# Days ahead that are replayed. A prediction made more than twice as long before says nothing of that horizon.
HORIZONS = (1.0, 3.0, 7.0)
_LATEST = 2.0
# A moment's heaviest stories that are carried forward; the others together weigh next to nothing.
_STORIES = 6
# So many predictions are made at once: each holds all moments on its way, of hourly readings some 170 or more.
_AT_ONCE = 500
# Beyond so many standard errors a chance is no longer told apart from nought or one.
_FAR = 6.0

_NORMAL = NormalDist()


def replay(
    evidence: Evidence, found: StateEstimate | None, since: datetime | None = None, until: datetime | None = None
) -> tuple[Replayed, ...]:
    """Every reading that something was predicted of, by time and days ahead; or those between two moments alone.

    A prediction uses the readings up to so many days before and the doses, water changes and arrivals in the log.
    The first readings of a water, by which its uptake is still being found, are left out.
    """
    begin, end = (in_days(since) if since else -np.inf), (in_days(until) if until else np.inf)
    told = [each for each in _wanted(found) if begin <= found.moments[each.place] < end] if found else []
    if found is None or not told:
        return ()
    places = [each.place for each in told]
    values, logged = evidence.values[places], _with_logged(found)
    parts = [_predicted(found, told[at : at + _AT_ONCE], *logged) for at in range(0, len(told), _AT_ONCE)]
    weights, mean, sd = map(np.concatenate, zip(*parts, strict=True))
    mixture = Mixture(weights, mean, sd).wider(evidence.times_as_wide(found.moments[places]))
    edge = _NORMAL.cdf(-_FAR)
    chances = np.clip(mixture.cdf(values), edge, 1.0 - edge)
    unit = KINDS[evidence.kind].canonical
    return tuple(
        Replayed(
            evidence.readings[each.place], float(value), each.days, as_estimate(ends, unit), _NORMAL.inv_cdf(chance)
        )
        for each, value, chance, ends in zip(told, values, chances, zip(*mixture.interval(), strict=True), strict=True)
    )


class _Told(Struct, frozen=True):
    """A reading, by its place, that is predicted so many days ahead, from a moment on."""

    place: int
    days: float
    start: int


def _wanted(found: StateEstimate) -> Iterator[_Told]:
    """Every reading with each number of days ahead of which something is predicted, in order of time."""
    times, readings = found.laid.times, found.readings
    for place in range(READ_BEFORE_STEP + 1, len(readings)):
        at = times[readings[place]]
        for days in HORIZONS:
            start = int(np.searchsorted(times, at - days, side="right")) - 1
            if start >= readings[READ_BEFORE_STEP] and at - times[start] <= _LATEST * days:
                yield _Told(place, days, start)


def _predicted(found: StateEstimate, told: Sequence[_Told], c: Array, fixed: Array) -> tuple[Array, Array, Array]:
    """What was predicted of some readings (P): weights, means and standard deviations (P, `_STORIES`) of normals.

    `c` and `fixed` are the moves with what is logged (`_with_logged`).

    The means go forward from all moments at once; the variances backward from all readings at once, by how much a unit
    of each state before a move counts in the level later.
    """
    model, process = found.laid.model, found.followed.process
    begun, until = np.array([each.start for each in told]), found.readings[[each.place for each in told]]
    steps, last = until - begun, int((until - begun).max())
    starts, of_start = np.unique(begun, return_inverse=True)
    ends, of_end = np.unique(until, return_inverse=True)
    weights, candidate, mean, variance = _heaviest(found, starts)
    # So many moves after each moment (S) the level by each story, and the pace on the way there.
    levels, paces = np.empty((2, last, *weights.shape))
    for i in range(last):
        t = np.minimum(starts + 1 + i, len(c) - 1)
        paces[i] = process.pace(mean[..., process.rate])
        mean = mean @ model.F[t].transpose(0, 2, 1) + c[t][:, None]
        levels[i] = mean @ found.stands
    # So many moves before each reading (E) how each state counts, and what the move's two noises come to in the level.
    count = np.tile(found.stands, (len(ends), 1))
    counts, (drifts, sure) = np.empty((last, *count.shape)), np.empty((2, last, len(ends)))
    for i in range(last):
        t = np.maximum(ends - i, 0)
        for way, noise in ((drifts, model.drift), (sure, fixed)):
            way[i] = ((count[:, None] @ noise[t])[:, 0] * count).sum(axis=1)
        count = counts[i] = (count[:, None] @ model.F[t])[:, 0]
    count = counts[steps - 1, of_end]
    drifted = np.zeros((len(told), _STORIES))
    for i in range(last):
        on = steps > i
        drifted[on] += drifts[steps[on] - 1 - i, of_end[on], None] * paces[i, of_start[on]]
    own = candidate[of_start]
    spread = process.q2[own] * drifted + model.noise[until, None] * process.r2[own]
    spread += np.cumsum(sure, axis=0)[steps - 1, of_end, None]
    for story in range(_STORIES):
        seen = (variance[of_start, story] @ count[:, :, None])[:, :, 0]
        spread[:, story] += (seen * count).sum(axis=1)
    return weights[of_start], levels[steps - 1, of_start], np.sqrt(spread)


def _heaviest(found: StateEstimate, starts: Ints) -> tuple[Array, Ints, Array, Array]:
    """Weights, candidates (S, `_STORIES`), means (…, n) and variances (…, n, n) of the heaviest stories of moments.

    Where there are fewer, the last is repeated without weight.
    """
    parts = []
    for start in starts:
        now = found.followed.after[start].heaviest(_STORIES)
        places = np.minimum(np.arange(_STORIES), len(now.weights) - 1)
        weights = np.where(np.arange(_STORIES) < len(now.weights), now.weights[places], 0.0)
        parts.append((weights, now.candidate[places], now.mean[places], now.variance[places]))
    weights, candidate, mean, variance = (np.array(part) for part in zip(*parts, strict=True))
    return weights, candidate, mean, variance


def _with_logged(found: StateEstimate) -> tuple[Array, Array]:
    """What moves the state into each moment (T, n), and its variance (T, n, n), with every logged change.

    Such a change counts by all the ways in which it may come about. Its size is its own, the same in all stories.
    """
    model = found.laid.model
    c, fixed = model.c.copy(), model.fixed.copy()
    for t, branches in enumerate(found.laid.branches):
        if branches is not None and branches.kind[0] >= LOGGED:
            odds, ways = np.exp(branches.log_odds), branches.mean[:, None] * branches.direction
            apart = ways - odds @ ways
            c[t] += odds @ ways
            fixed[t] += (odds * branches.spread**2 * branches.direction.T) @ branches.direction
            fixed[t] += (odds * apart.T) @ apart
    return c, fixed


class Record(Struct, frozen=True):
    """How predictions of one quantity have held: of `of` readings `inside` fell in their 90 % interval.

    `days` is how far ahead; None counts each reading once, by its nearest prediction. `factor` is by how much the
    intervals would have to be wider to hold nine in ten (below one: narrower), with its own 90 % interval; None where
    there are fewer than `ENOUGH`.
    """

    kind: str
    days: float | None
    of: int
    inside: int
    factor: Estimate | None

    @property
    def clear(self) -> bool:
        """Whether the intervals are clearly too narrow or too wide."""
        return self.factor is not None and not self.factor.low <= 1.0 <= self.factor.high


# From so many readings on, a factor for the intervals is told.
ENOUGH = 40
# A record looks back over so many readings, so that it tells of the forecasts as they are now.
LATELY = 60


def nearest_predictions(replayed: Sequence[Replayed]) -> list[Replayed]:
    """Each reading once, by its nearest prediction, in order of time."""
    found: dict[tuple[str, Reading], Replayed] = {}
    for each in replayed:
        key = (each.reading.kind, each.reading)
        if key not in found or each.days < found[key].days:
            found[key] = each
    return sorted(found.values(), key=lambda each: each.reading.at)


def track_records(replayed: Sequence[Replayed]) -> tuple[Record, ...]:
    """The record of each quantity, all horizons together and each by itself, over the last `LATELY` readings."""
    found = []
    for kind in dict.fromkeys(each.reading.kind for each in replayed):
        of_kind = [each for each in replayed if each.reading.kind == kind]
        found.append(_record(kind, None, nearest_predictions(of_kind)))
        for days in HORIZONS:
            found.append(_record(kind, days, [each for each in of_kind if each.days == days]))
    return tuple(record for record in found if record.of)


def _record(kind: str, days: float | None, replayed: list[Replayed]) -> Record:
    last = sorted(replayed, key=lambda each: each.reading.at)[-LATELY:]
    return Record(kind, days, len(last), sum(each.inside for each in last), widening([each.score for each in last]))


def widening(scores: Sequence[float]) -> Estimate | None:
    """By how much intervals would have to be wider for nine in ten of these scores to lie inside.

    The ninth decile of the scores' sizes over that of the normal distribution, with the distribution-free interval
    of a quantile by order statistics. Source: David & Nagaraja 2003, Order Statistics, 3rd ed., 7.1 (from memory).
    """
    n = len(scores)
    if n < ENOUGH:
        return None
    sizes = sorted(abs(score) for score in scores)
    half = _NORMAL.inv_cdf(0.5 + LEVEL / 2.0)
    spread = half * sqrt(n * LEVEL * (1.0 - LEVEL))
    low, high = (min(max(round(n * LEVEL + side * spread), 1), n) - 1 for side in (-1.0, 1.0))
    value = float(np.quantile(sizes, LEVEL))
    return Estimate(value / half, sizes[low] / half, sizes[high] / half, "1")


PAID: tuple[Cause, ...] = ("dose", "pump", "top-off", "reactor", "water-change")


class Balance(Struct, frozen=True):
    """One quantity's account over some days, as change of its level in the canonical unit.

    `paid` is what each cause came to by the log; what was `taken_up` (negative: it left the water) balances it
    against the level's own `change`. `inputs` are the lines of each cause.
    """

    kind: str
    paid: dict[Cause, float]
    taken_up: Answer
    change: Answer
    inputs: dict[Cause, tuple[Source, ...]]


def balance(found: WaterFindings, water: Water, kind: str, days: int) -> Balance:
    """The account of one quantity over the days before the findings' moment.

    The uptake is as unsure as the level at both ends, and as the water volume that turns doses into level.
    What was taken up between two readings is spread evenly over the time between them.
    """
    since = found.as_of - timedelta(days=days)
    lines = [line for line in found.ledger if line.kind == kind and _within(line, since) != 0.0]
    paid = {cause: total for cause in PAID if (total := _total(lines, cause, since)) != 0.0}
    inputs = {cause: _sources(lines, cause) for cause in (*PAID, "uptake")}
    uptake = found.uptake[kind]
    if isinstance(uptake.per_day, CannotTell):
        return Balance(kind, paid, uptake.per_day, uptake.per_day, inputs)
    taken, unit = _total(lines, "uptake", since), KINDS[kind].canonical
    of_level = hypot(_level_error(uptake, since), _level_error(uptake, found.as_of))
    of_volume = relative_volume_error(water) * abs(sum(paid.values()))
    parts = UncertaintyPart("readings-and-drift", of_level), UncertaintyPart("water-volume", of_volume)
    every = tuple(dict.fromkeys(source for each in inputs.values() for source in each))
    return Balance(
        kind,
        paid,
        Finding(interval(taken, hypot(of_level, of_volume), unit), "ledger", every, parts),
        Finding(interval(taken + sum(paid.values()), of_level, unit), "ledger", every, parts[:1]),
        inputs,
    )


def _level_error(uptake: Uptake, at: datetime) -> float:
    """The level's standard uncertainty at a moment: as at the nearest reading, and what may have come since.

    From there the uptake is unsure by its own interval, and drifts: the integral of a random walk.
    """
    near = min(uptake.track, key=lambda point: abs(point.at - at))
    days = abs(near.at - at) / timedelta(days=1)
    level, rate = (each.standard for each in (near.level, near.per_day))
    return hypot(level, rate * days, uptake.drift.value * sqrt(days**3 / 3.0))


def _total(lines: Iterable[LedgerLine], cause: Cause, since: datetime) -> float:
    return sum(_within(line, since) for line in lines if line.cause == cause)


def _sources(lines: Sequence[LedgerLine], cause: Cause) -> tuple[Source, ...]:
    return tuple(dict.fromkeys(line.source for line in lines if line.cause == cause))


def _within(line: LedgerLine, since: datetime) -> float:
    """The part of a line's change that falls after a moment."""
    if line.until <= since:
        return 0.0
    if line.at >= since or line.until == line.at:
        return line.change
    return line.change * ((line.until - since) / (line.until - line.at))


class YearOfWater(Struct, frozen=True):
    """One year of one water.

    `weeks` are, by quantity, the weeks (from 0) in which it was read, each with the median of its readings in the
    canonical unit. `grams` of CaCO3 are those that alkalinity tells, from the moment `since` on.
    """

    weeks: Mapping[str, tuple[tuple[int, float], ...]]
    grams: Estimate | None = None
    since: datetime | None = None


def years_of(found: WaterFindings, litres: float, zone: tzinfo) -> dict[int, YearOfWater]:
    """Each year in which something was read, on the keeper's own clock."""
    read: dict[int, dict[str, dict[int, list[float]]]] = {}
    for reading, value in found.readings:
        day = reading.at.astimezone(zone).date()
        if reading.kind in WATER_KINDS:
            weeks = read.setdefault(day.year, {}).setdefault(reading.kind, {})
            weeks.setdefault((day - date(day.year, 1, 1)).days // 7, []).append(value)
    track = found.uptake["alkalinity"].track if "alkalinity" in found.uptake else ()
    years = {}
    for year, kinds in read.items():
        begin, end = (datetime(each, 1, 1, tzinfo=zone) for each in (year, year + 1))
        weeks_of = {
            kind: tuple((week, median(of)) for week, of in sorted(weeks.items())) for kind, weeks in kinds.items()
        }
        grams = laid_down(track, litres, begin, end)
        years[year] = YearOfWater(weeks_of, grams, max(begin, track[0].at) if grams else None)
    return years
