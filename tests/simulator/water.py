"""One system's water as plain arrays, with its true level and uptake, for tests of the estimator.

The model is the trade's account: between events dC = (inflow - uptake) dt, and the uptake drifts as
du = drift dW. Nothing is stepped: over a gap of any length the uptake's end and its integral are
drawn from their joint normal distribution (covariance drift^2 [[d, d^2/2], [d^2/2, d^3/3]] for a gap
of d days), so a run is an exact draw from the model, however irregular its times.
"""

import numpy as np
from msgspec import Struct, field
from numpy.typing import NDArray

from generator.units.compounds import molar_mass
from generator.units.kinds import MEQ_PER_DKH

Array = NDArray[np.float64]

# CaCO3 takes one calcium for two equivalents of alkalinity; mg/L a dKH.
CALCIUM_PER_DKH = molar_mass("Ca") / 2.0 * MEQ_PER_DKH


class Readings(Struct, frozen=True):
    """Readings of one quantity: `times` (days), `values` as read, the true `levels`, and which ones are `wild`."""

    times: Array
    values: Array
    levels: Array
    wild: NDArray[np.bool_]


class Inflow(Struct, frozen=True):
    """What the log says was paid in. Rates hold from their time to the next one's.

    `rates` and `dose_amounts` are of alkalinity (dKH a day, dKH); calcium comes with it in balance,
    `CALCIUM_PER_DKH` times as much.
    """

    rate_times: Array
    rates: Array
    dose_times: Array
    dose_amounts: Array


class WaterChanges(Struct, frozen=True):
    """New water: the `fraction` replaced at each time, and the mix's levels (dKH, mg/L)."""

    times: Array
    fractions: Array
    mix_alkalinity: float
    mix_calcium: float


class WaterRun(Struct, frozen=True):
    """A log and its truth. Times in days from 0, alkalinity in dKH, calcium in mg/L, uptake in dKH a day.

    `uptake` is the true uptake at each alkalinity reading; `end_*` hold at `end`, after everything.
    `unlogged_*` went into the water and not into the log.
    """

    end: float
    alkalinity: Readings
    calcium: Readings
    inflow: Inflow
    water_changes: WaterChanges
    kit_error: float
    calcium_kit_error: float
    drift: float
    uptake: Array
    end_uptake: float
    end_level: float
    end_calcium: float
    unlogged_times: Array
    unlogged_amounts: Array


def simulate_water(
    rng: np.random.Generator,
    days: float = 60.0,
    *,
    tests_every: tuple[float, float] = (1.0, 4.0),
    daily_from: float | None = None,
    kit_error: float = 0.15,
    calcium_every: int = 0,
    calcium_kit_error: float = 10.0,
    level: float = 8.2,
    calcium: float = 425.0,
    uptake: float = 0.9,
    drift: float = 0.03,
    step: tuple[float, float] | None = None,
    rate_every: float | None = 20.0,
    dose_every: float | None = None,
    change_every: float | None = 14.0,
    change_fraction: float = 0.1,
    mix: tuple[float, float] = (8.0, 440.0),
    unlogged: tuple[tuple[float, float], ...] = (),
    wild_every: int = 0,
    wild_size: float = 5.0,
    tests_at: Array | None = None,
) -> WaterRun:
    """One system's log of alkalinity (and every `calcium_every`-th time calcium), with the truth.

    Tests come `tests_every` (least, most) days apart, daily from `daily_from` on, or just `tests_at`.
    `drift` is the uptake's random walk (dKH/day per square root of a day); `step` (day, size) raises
    it at once. The standing dose is set anew every `rate_every` days, about what the water then
    needs; `dose_every` adds manual doses. One reading in `wild_every` strays by `wild_size` kit errors.
    """
    tests = _test_times(rng, days, tests_every, daily_from) if tests_at is None else np.asarray(tests_at, dtype=float)
    events = _events(rng, days, tests, rate_every, dose_every, change_every, step, unlogged)
    account = _Account(level, calcium, uptake, drift, rate=uptake, target=level, rates=[(0.0, uptake)])
    for at, _, what, size in events:
        account.run_to(rng, at)
        account.happen(rng, what, size, change_fraction, mix)
    account.run_to(rng, days)
    picks = slice(None, None, calcium_every) if calcium_every else slice(0, 0)
    return WaterRun(
        end=float(days),
        alkalinity=_read(rng, tests, np.array(account.levels), kit_error, wild_every, wild_size),
        calcium=_read(rng, tests[picks], np.array(account.calciums)[picks], calcium_kit_error, 0, 0.0),
        inflow=Inflow(*_columns(account.rates), *_columns(account.doses)),
        water_changes=WaterChanges(np.array(account.changes), np.full(len(account.changes), change_fraction), *mix),
        kit_error=kit_error,
        calcium_kit_error=calcium_kit_error,
        drift=drift,
        uptake=np.array(account.uptakes),
        end_uptake=account.uptake,
        end_level=account.level,
        end_calcium=account.calcium,
        unlogged_times=_columns(list(unlogged))[0],
        unlogged_amounts=_columns(list(unlogged))[1],
    )


class _Account(Struct):
    """The water's true state, moved from moment to moment, and all that was seen and done on the way."""

    level: float
    calcium: float
    uptake: float
    drift: float
    rate: float
    target: float
    rates: list[tuple[float, float]]
    now: float = 0.0
    doses: list[tuple[float, float]] = field(default_factory=list)
    changes: list[float] = field(default_factory=list)
    levels: list[float] = field(default_factory=list)
    calciums: list[float] = field(default_factory=list)
    uptakes: list[float] = field(default_factory=list)

    def happen(
        self, rng: np.random.Generator, what: str, size: float, fraction: float, mix: tuple[float, float]
    ) -> None:
        if what == "test":
            self.levels.append(self.level)
            self.calciums.append(self.calcium)
            self.uptakes.append(self.uptake)
        elif what == "rate":
            need = self.uptake + (self.target - self.level) / 14.0 + rng.normal(0.0, 0.08)
            self.rate = max(0.0, round(need, 2))
            self.rates.append((self.now, self.rate))
        elif what == "dose":
            self.pay(size)
            self.doses.append((self.now, size))
        elif what == "unlogged":
            self.level += size
        elif what == "change":
            self.mix(fraction, mix)
            self.changes.append(self.now)
        elif what == "step":
            self.uptake += size

    def run_to(self, rng: np.random.Generator, at: float) -> None:
        gap = at - self.now
        if gap <= 0.0:
            return
        # The normal pair (end of a Wiener process, its integral), by Cholesky of its covariance.
        first, second = rng.standard_normal(2)
        walked = self.drift * np.sqrt(gap) * first
        taken = self.uptake * gap + self.drift * gap**1.5 * (first / 2.0 + second / np.sqrt(12.0))
        self.uptake = float(self.uptake + walked)
        self.pay(self.rate * gap - float(taken))
        self.now = at

    def pay(self, change: float) -> None:
        self.level += change
        self.calcium += change * CALCIUM_PER_DKH

    def mix(self, fraction: float, levels: tuple[float, float]) -> None:
        self.level += fraction * (levels[0] - self.level)
        self.calcium += fraction * (levels[1] - self.calcium)


def _test_times(
    rng: np.random.Generator, days: float, tests_every: tuple[float, float], daily_from: float | None
) -> Array:
    """Irregular days, a test a little earlier or later than the clock says; the last not after `days`."""
    times = [float(rng.uniform(0.2, 0.8))]
    while times[-1] < days:
        daily = daily_from is not None and times[-1] >= daily_from - 1.0
        gap = rng.uniform(0.9, 1.1) if daily else rng.uniform(*tests_every)
        times.append(times[-1] + float(gap))
    return np.array([time for time in times if time <= days])


Happening = tuple[float, int, str, float]


def _events(
    rng: np.random.Generator,
    days: float,
    tests: Array,
    rate_every: float | None,
    dose_every: float | None,
    change_every: float | None,
    step: tuple[float, float] | None,
    unlogged: tuple[tuple[float, float], ...],
) -> list[Happening]:
    """Everything that happens, in order of time; a reading comes before what is done on it."""
    found: list[Happening] = [(float(at), 0, "test", 0.0) for at in tests]
    found += [(at, 1, "rate", 0.0) for at in _repeats(rng, days, rate_every)]
    found += [(at, 2, "dose", round(rng.uniform(0.1, 0.5), 2)) for at in _repeats(rng, days, dose_every)]
    found += [(at, 3, "change", 0.0) for at in _repeats(rng, days, change_every)]
    found += [(at, 4, "unlogged", size) for at, size in unlogged]
    found += [(step[0], 5, "step", step[1])] if step else []
    return sorted(happening for happening in found if happening[0] <= days)


def _repeats(rng: np.random.Generator, days: float, every: float | None) -> list[float]:
    if every is None:
        return []
    times, at = [], float(rng.uniform(0.5, 1.0)) * every
    while at < days:
        times.append(at)
        at += every * float(rng.uniform(0.8, 1.2))
    return times


def _read(
    rng: np.random.Generator, times: Array, levels: Array, kit_error: float, wild_every: int, wild_size: float
) -> Readings:
    values = levels + rng.normal(0.0, kit_error, len(levels))
    wild = np.zeros(len(levels), dtype=bool)
    if wild_every:
        wild[np.arange(wild_every // 2, len(levels), wild_every)] = True
        values = values + np.where(wild, wild_size * kit_error * rng.choice([-1.0, 1.0], len(levels)), 0.0)
    return Readings(times, values, levels, wild)


def _columns(pairs: list[tuple[float, float]]) -> tuple[Array, Array]:
    return np.array([pair[0] for pair in pairs], dtype=float), np.array([pair[1] for pair in pairs], dtype=float)
