"""What each event did to the uptake: a step at its moment, beside the drift that goes on anyway.

Every event (an arrival, a cutting, a loss, a dose set anew) gets a state of its own, the step it made,
so that several at once are estimated together, and their covariance shows whether they can be told apart.
"""

from collections.abc import Sequence

import numpy as np
from msgspec import Struct

from generator.reckon.estimate.kalman import Model, Transition, filter_forward, mixed, posterior_weights, stay
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.water.account import Account, Renewal, transitions
from generator.reckon.water.dynamics import OneLevel
from generator.reckon.water.estimate import OPEN_START, USUAL_GROWTH, drift_candidates
from generator.reckon.water.ledger import Evidence
from generator.reckon.water.state_estimate import StateEstimate

# The standard deviation of a step of which nothing is known beforehand, in times the demand.
UNKNOWN_STEP = 10.0
# Readings older than so many days before the first event add nothing about a step: level and uptake
# are known no better with them.
MEMORY_DAYS = 180.0
# Where the steps begin in the state: after level, uptake and its growth.
FIRST = 3


class Step(Struct, frozen=True):
    """An event in days, and what is believed of its step before any reading: mean and standard deviation.

    `error` None: nothing is known. Steps are in the quantity's canonical unit a day.
    """

    at: float
    mean: float = 0.0
    error: float | None = None


class UptakeSteps(Struct, frozen=True):
    """The steps after each moment's reading: `moments` (T,) in days, `mean` (T, k), `variance` (T, k, k).

    `rise` and `rise_variance` (T, k) are what has come of each event so far: the uptake since less that just
    before it and less the other events' steps since. A newcomer settles for weeks, so its rise says more
    than its step. `before` (k) and `after` are mean and standard error of the uptake just before each event
    and at the end, as all readings together tell them.
    """

    moments: Array
    mean: Array
    variance: Array
    rise: Array
    rise_variance: Array
    before: tuple[tuple[float, float], ...]
    after: tuple[float, float]


class _WithSteps(Struct, frozen=True):
    """State (level, uptake, growth, step 1 … step k, memory 1 … memory k).

    The first three move as in `OneLevel`; the steps and the memories of the uptake before each keep still.
    """

    inner: OneLevel
    steps: int

    @property
    def size(self) -> int:
        return self.inner.size + 2 * self.steps

    @property
    def levels(self) -> int:
        return 1

    def moving(self, days: Array) -> tuple[Array, Array, Array]:
        """Level and uptake move; steps stay what they are."""
        whole, k = np.zeros((3, len(days), self.size, self.size)), self.inner.size
        whole[0] = np.eye(self.size)
        for each, of_inner in zip(whole, self.inner.moving(days), strict=True):
            each[:, :k, :k] = of_inner
        return whole[0], whole[1], whole[2]


def estimate_steps(evidence: Evidence, found: StateEstimate, steps: Sequence[Step]) -> UptakeSteps:
    """What each of the steps was, reading by reading, and the uptake on either side.

    Doubtful readings stay down-weighted as the whole track found them.
    """
    model, moments = _model(evidence, found, steps)
    candidates = drift_candidates(np.ones(1))
    forward = filter_forward(model, candidates.q2, candidates.r2)
    likelihood = -0.5 * np.sum(np.log(forward.total) + forward.surprise**2 / forward.total, axis=0)
    mean, variance = mixed(*forward.after(model.h), posterior_weights(likelihood, candidates))
    own, since = slice(FIRST, FIRST + len(steps)), _since(steps)

    def at_end(state: int) -> tuple[float, float]:
        return float(mean[-1, state]), float(np.sqrt(variance[-1, state, state]))

    return UptakeSteps(
        moments,
        mean[:, own],
        variance[:, own, own],
        mean @ since.T,
        np.einsum("ki,tij,kj->tk", since, variance, since),
        tuple(at_end(FIRST + len(steps) + index) for index in range(len(steps))),
        at_end(1),
    )


class StepsAhead(Struct, frozen=True, dict=True):
    """What readings yet to be made will tell of the steps: their variance (k, k), and that of the uptake after all.

    Both are known before a reading is made, for they do not depend on what it shows. Times are in days, from the
    track's end on; `error` is a reading's standard deviation.
    """

    dynamics: _WithSteps
    now: float
    known: Array
    drift: Array
    renewals: tuple[Renewal, ...]
    joinings: tuple[tuple[float, Transition], ...]

    def in_a_row(self, times: Sequence[float], error: float) -> tuple[Array, Array]:
        """After each of the readings (T, k, k) and (T,), all before it made."""
        spread = self._filtered(times, len(times), error)[-len(times) :]
        return self._told(spread, error)

    def each_alone(self, made: Sequence[float], times: Sequence[float], error: float) -> tuple[Array, Array]:
        """After each reading (T, k, k) and (T,) by itself, with those `made` before all of them."""
        if not times:
            return np.zeros((0, self.dynamics.steps, self.dynamics.steps)), np.zeros(0)
        spread = self._filtered([*made, *times], len(made), error)[-len(times) :]
        return self._told(spread, error)

    def _filtered(self, times: Sequence[float], read: int, error: float) -> Array:
        """The state's variance just before each time (1 + T, n, n), with readings at the first of the times."""
        count, size = 1 + len(times), self.dynamics.size
        # Of what is paid in, only new water changes how sure a level is.
        account = Account((), (), self.renewals)
        ahead = build(
            transitions(self.dynamics, [account], (), [self.now, *times], self.joinings),
            np.tile(np.eye(size)[0], (count, 1)),
            np.array([np.nan, *np.zeros(read), *np.full(len(times) - read, np.nan)]),
            np.full(count, error**2),
            np.zeros(size),
            self.known,
        )
        return filter_forward(ahead, self.drift, np.ones(1)).spread[..., 0]

    def _told(self, spread: Array, error: float) -> tuple[Array, Array]:
        """What a reading leaves of variances (T, n, n)."""
        seen = spread[:, :, 0]
        left = spread - seen[:, :, None] * (seen / (seen[:, :1] + error**2))[:, None, :]
        own = slice(FIRST, FIRST + self.dynamics.steps)
        return left[:, own, own], left[:, 1, 1]


def foresight(evidence: Evidence, found: StateEstimate, steps: Sequence[Step]) -> StepsAhead:
    """What readings yet to be made will tell of some steps. The past is filtered once for all questions."""
    model, moments = _model(evidence, found, steps)
    drift, now = np.array([(found.drift / found.demand) ** 2]), float(moments[-1])
    dynamics = _WithSteps(OneLevel(found.demand), len(steps))
    return StepsAhead(
        dynamics,
        now,
        filter_forward(model, drift, np.ones(1)).spread[-1, ..., 0],
        drift,
        tuple(renewal for renewal in evidence.account.renewals if renewal.at >= now),
        # An event a moment after the last that is known, such as an arrival told of on its eve, has yet to join.
        tuple(joining for joining in _joinings(dynamics.size, steps) if joining[0] > now),
    )


def _model(evidence: Evidence, found: StateEstimate, steps: Sequence[Step]) -> tuple[Model, Array]:
    """The track's readings, a moment just before the first event, and the track's end, with the steps' states."""
    dynamics = _WithSteps(OneLevel(found.demand), len(steps))
    just_before = float(np.nextafter(min(step.at for step in steps), -np.inf))
    since = int(np.searchsorted(found.moments[:-1], just_before - MEMORY_DAYS))
    moments = np.concatenate([found.moments[since:-1], [just_before], found.moments[-1:]])
    values = np.concatenate([found.values[since:], [np.nan, np.nan]])
    noise = np.concatenate([found.reading_variance[since:], [1.0, 1.0]])
    order = np.argsort(moments, kind="stable")
    joined = {step.at for step in steps}
    opened = [(o.at, o.mean, o.variance(found.demand)) for o in evidence.demand_steps if o.at not in joined]
    wide = (OPEN_START * found.kit_error) ** 2
    beliefs = [(UNKNOWN_STEP * found.demand if s.error is None else s.error) ** 2 for s in steps]
    model = build(
        transitions(dynamics, [evidence.account], opened, list(moments[order]), _joinings(dynamics.size, steps)),
        np.tile([1.0] + [0.0] * (dynamics.size - 1), (len(moments), 1)),
        values[order],
        noise[order],
        np.array([_first(values), 0.0, 0.0, *(step.mean for step in steps), *(0.0 for _ in steps)]),
        np.diag([wide, wide, (USUAL_GROWTH * found.demand) ** 2, *beliefs, *(0.0 for _ in steps)]),
    )
    return model, moments[order]


def _first(values: Array) -> float:
    """The first value read, about which the start is wide; zero where none is."""
    read = values[np.isfinite(values)]
    return float(read[0]) if len(read) else 0.0


def _joinings(size: int, steps: Sequence[Step]) -> list[tuple[float, Transition]]:
    """The moment of each event: the uptake so far is remembered, and the event's step joins it."""
    found = []
    for index, step in enumerate(steps):
        still = stay(size)
        F = still.F.copy()
        memory = FIRST + len(steps) + index
        F[memory], F[memory, 1] = 0.0, 1.0
        F[1, FIRST + index] = 1.0
        found.append((step.at, Transition(F, still.c, still.drift, still.fixed)))
    return found


def _since(steps: Sequence[Step]) -> Array:
    """The matrix (k, n) from the state to each event's rise: uptake less its memory and the steps that came after."""
    k = len(steps)
    weights = np.zeros((k, FIRST + 2 * k))
    weights[:, 1] = 1.0
    for index, step in enumerate(steps):
        weights[index, FIRST + k + index] = -1.0
        for other, another in enumerate(steps):
            # Of events at one moment the transitions are in order, so that each memory holds the earlier ones' steps.
            if another.at > step.at or (another.at == step.at and other > index):
                weights[index, FIRST + other] = -1.0
    return weights


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
