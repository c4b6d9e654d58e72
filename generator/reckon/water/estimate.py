"""The uptake of one quantity from its readings and its account, in plain numbers."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from generator.reckon.estimate.candidates import Averaged, Candidates, average
from generator.reckon.estimate.kalman import Array, Model, smooth
from generator.reckon.estimate.passage import Passage
from generator.reckon.water.account import Account, OneLevel, Opening, passages

# Drift of the uptake, as a share of the demand per square root of a day, and our belief in each before
# the readings speak: about 3 % of it a day, give or take a factor of three. An assumption of ours.
DRIFT_SHARES: Array = np.array([0.004, 0.01, 0.02, 0.04, 0.08, 0.16, 0.32])
USUAL_DRIFT = 0.03
DRIFT_FACTOR = 3.0
# Kit errors tried where the keeper declared none, as multiples of the usual one for the quantity.
ERROR_FACTORS: Array = np.array([0.25, 0.5, 1.0, 2.0, 4.0])
# Width of the start, in kit errors (levels) and kit errors a day (uptake): wide enough to say nothing, narrow
# enough that the smoother keeps its digits.
OPEN_START = 100.0
# How the volume's part in an uncertainty is found: by reckoning again with so many times the water.
MORE_WATER = 1.01
# Growth of the demand, as a share of it a day, before the readings speak (one standard deviation): coral in
# good health lays down skeleton by some tenths of a per cent a day. An assumption of ours.
USUAL_GROWTH = 0.003


@dataclass(frozen=True, slots=True)
class Track:
    """The water at every moment: level, uptake and its growth with their variance, and what could not be explained.

    `moments` (T,) in days, the last one with no reading; `volume_slope` (T, 3) is the derivative of
    level, uptake and its growth by the logarithm of the water volume. `demand` is the scale the drift was tried
    on, `drift` the drift found (per square root of a day), `kit_error` one standard deviation. `error_factor` is
    how many times the errors given the readings were found to stray (1 where they were declared).
    """

    moments: Array
    averaged: Averaged
    volume_slope: Array
    demand: float
    drift: float
    kit_error: float
    error_factor: float

    @property
    def reading_variance(self) -> Array:
        """The variance each reading was given in the end (N,): its kit's, as declared or learned, and any widening."""
        model = self.averaged.model
        return (model.noise * self.error_factor**2 + model.widened)[:-1]


def demand_scale(times: Array, values: Array, error: float, account: Account, floor: float) -> float:
    """About how much leaves the water a day, by first and last reading alone; never under `floor`.

    What two readings `error` off each (two standard errors of their difference) can pretend does not count.
    """
    if len(times) < 2 or times[-1] <= times[0]:
        return floor
    span = float(times[-1] - times[0])
    taken = account.paid_between(float(times[0]), float(times[-1])) + float(values[0] - values[-1])
    return max((abs(taken) - 2.0 * sqrt(2.0) * error) / span, floor)


def drift_candidates(errors: Array) -> Candidates:
    """Every drift with every kit-error factor, with their log prior weights."""
    drift, error = (grid.ravel() for grid in np.meshgrid(DRIFT_SHARES, errors))
    prior = -0.5 * (np.log(drift / USUAL_DRIFT) / np.log(DRIFT_FACTOR)) ** 2
    return Candidates(drift**2, error**2, prior)


def build(steps: Sequence[Passage], h: Array, values: Array, noise: Array, start: Array, spread: Array) -> Model:
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
    times: Array,
    values: Array,
    errors: Array,
    account: Account,
    openings: Sequence[Opening],
    until: float,
    floor: float,
    learn_error: bool = False,
) -> Track:
    """Level and uptake at every reading and at `until`, from at least one reading.

    `times` (N,) in days, not decreasing; `values` (N,) and `errors` (N,; one standard deviation) in
    the account's unit; `floor` the least demand to think of. With `learn_error` the errors are only
    a usual size, and multiples of them are weighed as well.
    """
    demand = demand_scale(times, values, float(np.median(errors)), account, floor)
    dynamics = OneLevel(demand)
    opened = [(o.at, o.mean, o.variance(demand)) for o in openings]
    moments = np.append(times, max(until, float(times[-1])))
    read = np.append(values, np.nan)
    noise = np.append(errors**2, 1.0)
    h = np.tile([1.0, 0.0, 0.0], (len(moments), 1))
    wide = OPEN_START * float(np.median(errors))
    start = np.array([values[0], 0.0, 0.0])
    spread = np.diag([wide**2, wide**2, (USUAL_GROWTH * demand) ** 2])

    def model(of: Account) -> Model:
        return build(passages(dynamics, [of], opened, list(moments)), h, read, noise, start, spread)

    candidates = drift_candidates(ERROR_FACTORS if learn_error else np.ones(1))
    averaged = average(model(account), candidates)
    best = int(np.argmax(averaged.weights))
    only_best = Candidates(candidates.q2[[best]], candidates.r2[[best]], np.zeros(1))
    slope = volume_slope(model(account), model(account.scaled(1.0 / MORE_WATER)), averaged.model, only_best)
    drift = float(np.sqrt(averaged.weights @ candidates.q2)) * demand
    factor = float(np.sqrt(averaged.weights @ candidates.r2))
    return Track(moments, averaged, slope, demand, drift, factor * float(np.median(errors)), factor)


def volume_slope(plain: Model, thinner: Model, widened: Model, candidates: Candidates) -> Array:
    """How level and uptake would move with the water volume, by reckoning again with one per cent more."""
    means = [
        smooth(
            replace(model, widened=widened.widened, fixed=model.fixed + (widened.fixed - plain.fixed)),
            candidates.q2,
            candidates.r2,
        ).mean[:, 0]
        for model in (plain, thinner)
    ]
    return np.asarray((means[1] - means[0]) / np.log(MORE_WATER))
