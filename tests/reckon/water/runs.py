"""Simulated water as the estimator takes it."""

import numpy as np

from generator.reckon.water.account import Account, DemandStep, Paid, Renewal, SteadyInflow
from generator.reckon.water.estimate import track
from generator.reckon.water.process import Series
from generator.reckon.water.state_estimate import StateEstimate
from tests.simulator.water import CALCIUM_PER_DKH, WaterRun

LEAST_DEMAND = 0.28


def account_of(run: WaterRun, calcium: bool = False) -> Account:
    """What a simulated log says was paid in: of alkalinity (dKH), or of calcium (mg/L)."""
    factor = CALCIUM_PER_DKH if calcium else 1.0
    inflow, changes = run.inflow, run.water_changes
    ends = np.append(inflow.rate_times[1:], np.inf)
    mix = changes.mix_calcium if calcium else changes.mix_alkalinity
    return Account(
        tuple(SteadyInflow(*s) for s in zip(inflow.rate_times, ends, factor * inflow.rates, strict=True)),
        tuple(Paid(*dose) for dose in zip(inflow.dose_times, factor * inflow.dose_amounts, strict=True)),
        tuple(Renewal(at, share, mix, 0.0) for at, share in zip(changes.times, changes.fractions, strict=True)),
    )


def alkalinity_track(
    run: WaterRun, demand_steps: tuple[DemandStep, ...] = (), values: np.ndarray | None = None
) -> StateEstimate:
    """The estimator's track of a simulated run's alkalinity, in dKH."""
    readings = run.alkalinity
    errors = np.full(len(readings.times), run.kit_error)
    series = Series(readings.times, readings.values if values is None else values, errors)
    return track(series, account_of(run), demand_steps, run.end, LEAST_DEMAND)


def difference_of_the_last_two(run: WaterRun) -> float:
    """What keepers reckon by hand: the last two readings' difference, doses added back, a day."""
    times, values = run.alkalinity.times, run.alkalinity.values
    paid = account_of(run).paid_between(times[-2], times[-1])
    return float((values[-2] - values[-1] + paid) / (times[-1] - times[-2]))
