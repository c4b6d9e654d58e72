"""What coral takes up, in tanks whose demand is known: steady, growing, changed with and without a word in the log.

Every tank is read with an error of 0.15 dKH and its volume known to 4 %, as the estimate is told. An error is told
beside that of the difference of the last two readings, doses added back.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.water.account import DemandStep
from generator.reckon.water.deliveries import RATE_ERROR, STRENGTH_ERROR
from generator.reckon.water.dynamics import DOUBTFUL, STEP, STOP
from generator.reckon.water.estimate import track
from generator.reckon.water.process import Series
from generator.reckon.water.state_estimate import StateEstimate
from generator.units.quantity import coverage_factor
from tests.accuracy.experiment import Row
from tests.accuracy.oracle import knowing_when
from tests.accuracy.tanks import KIT_ERROR, Array, Kept, Plan, keep, read_every

LEAST_DEMAND = 0.28
VOLUME_ERROR = 0.04
DELIVERY_ERROR = float(np.hypot(STRENGTH_ERROR, RATE_ERROR))
# The reading that counts as the first to show a change: by then it moved the level by so many kit errors.
VISIBLE = 3.0
# How the demand drifts after and before a change, a share of itself per square root of a day.
DRIFT = 0.015
# Days of readings after a change, and after how many the interval is as narrow again as it was, by rhythm.
FOLLOWED = {1: 14.0, 3: 24.0, 7: 35.0}
NARROW_AFTER = {1: 10.0, 3: 21.0}


class Answer(Struct, frozen=True):
    """Whether the interval held the truth, how far estimate and hand strayed from it, how wide the interval was."""

    held: bool
    error: float
    by_hand: float
    width: float


class Compared(Struct, frozen=True):
    """An answer, and that of one that knows when the demand changed."""

    ours: Answer
    by_oracle: Answer


def told(
    kept: Kept, demand_steps: tuple[DemandStep, ...] = (), factors: tuple[float, ...] = (VOLUME_ERROR,)
) -> StateEstimate:
    """The estimate at a tank's last reading."""
    series = Series(kept.times, kept.values, np.full(len(kept.times), KIT_ERROR))
    return track(series, kept.account, demand_steps, float(kept.times[-1]), LEAST_DEMAND, factor_errors=factors)


def answer(
    kept: Kept, demand_steps: tuple[DemandStep, ...] = (), factors: tuple[float, ...] = (VOLUME_ERROR,)
) -> Answer:
    """How good the estimate at a tank's last reading is; a demand is shown as nothing at least."""
    return _answer(kept, *told(kept, demand_steps, factors).uptake.interval())


def _answer(kept: Kept, *interval: Array | float) -> Answer:
    value, low, high = (max(float(each), 0.0) for each in interval)
    truth = float(kept.uptake[-1])
    return Answer(low <= truth <= high, value - truth, kept.by_hand - truth, (high - low) / max(truth, 0.1))


def _always(off: float) -> Callable[[float], float]:
    return lambda _: off


def covers(answers: list[Answer]) -> float:
    return float(np.mean([each.held for each in answers]))


def beside_hand(answers: list[Answer]) -> float:
    ours, hand = ([getattr(each, name) for each in answers] for name in ("error", "by_hand"))
    return float(np.sqrt(np.mean(np.square(ours)) / np.mean(np.square(hand))))


def width(answers: list[Answer]) -> float:
    return float(np.median([each.width for each in answers]))


def unlogged(seed: int, systems: int) -> Iterator[Row]:
    """A demand that changes at once with no word in the log: at the first reading that shows it, and after."""
    for every in (1, 3, 7):
        for factor in (2.0, 0.5, 0.0, 1.25):
            yield from _changed(seed, systems, every, factor)


def _changed(seed: int, systems: int, every: int, factor: float) -> Iterator[Row]:
    found: defaultdict[str, list[Compared]] = defaultdict(list)
    for number in range(systems):
        rng = np.random.default_rng([seed, every, round(100 * factor), number])
        day, base = rng.uniform(35.0, 42.0), rng.uniform(0.6, 1.4)
        times = read_every(rng, every, day + FOLLOWED[every])
        kept = keep(rng, Plan(times, base, DRIFT, 0.0, day, factor, water=rng.normal(0.0, VOLUME_ERROR)))
        shown = abs(factor - 1.0) * base * (times - day) >= VISIBLE * KIT_ERROR
        first = int(np.argmax(shown)) if shown.any() else len(times)
        at = {"before": int(np.searchsorted(times, day)) - 1, "first": first, "next": first + 1, "third": first + 3}
        if every in NARROW_AFTER:
            at["narrow"] = int(np.searchsorted(times, day + NARROW_AFTER[every]))
        for name, index in at.items():
            if index < len(times):
                found[name].append(_compared(kept.until(index + 1), day, base, factor))
    name = f"uptake times {factor:g} unlogged, read every {every} d"
    if factor != 1.25:
        yield Row(f"{name}: first visible reading covers", covers([each.ours for each in found["first"]]), 0.75, 1.0)
    for when, at_most, later in (("next", 1.0, "next reading"), ("third", 0.9, "two readings later")):
        ours, by_oracle = [each.ours for each in found[when]], [each.by_oracle for each in found[when]]
        yield Row(f"{name}: {later} covers", covers(ours), 0.85, 0.97)
        yield Row(f"{name}: {later}, the same of one that knows when", covers(by_oracle))
        yield Row(f"{name}: {later}, interval beside that one's", width(ours) / width(by_oracle))
        yield Row(f"{name}: {later}, error beside the hand difference", beside_hand(ours), None, at_most)
        yield Row(f"{name}: {later}, the error of one that knows when", beside_hand(by_oracle))
    if "narrow" in found and factor > 1.0:
        narrow, before = (width([each.ours for each in found[when]]) for when in ("narrow", "before"))
        yield Row(f"{name}: width after {NARROW_AFTER[every]:g} d over steady width", narrow / before, None, 1.3)


def _compared(kept: Kept, day: float, base: float, factor: float) -> Compared:
    value, error = knowing_when(kept, day, base, factor, DRIFT, VOLUME_ERROR)
    half = coverage_factor() * error
    return Compared(answer(kept), _answer(kept, value, value - half, value + half))


def steady(seed: int, systems: int) -> Iterator[Row]:
    """A demand that only wanders or grows, half a year of it: cover, false alarms, and one typing mistake each."""
    for every, growth in ((1, 0.0), (3, 0.0), (7, 0.0), (3, 0.004)):
        held, doubted, caught, alarms, months = [], [], defaultdict(list), 0, 0
        for number in range(systems):
            rng = np.random.default_rng([seed, every, round(1e4 * growth), number])
            times = read_every(rng, every, 180.0)
            kept = keep(rng, Plan(times, rng.uniform(0.6, 1.4), 0.015, growth))
            found = told(kept, factors=(0.0,))
            if number % 4 == 0:
                counts = range(20, len(times), len(times) // 6)
                held += [answer(kept.until(count), factors=(0.0,)).held for count in counts]
            doubted += list(found.wild >= DOUBTFUL)
            stepped = np.isin(found.followed.kinds, (STEP, STOP))
            for start in range(0, 180, 30):
                within = (found.laid.times >= start) & (found.laid.times < start + 30)
                alarms += float(found.now.weights[stepped[within].any(axis=0)].sum()) > 0.9
                months += 1
            for size in (0.8, 1.8):
                place = int(rng.integers(10, len(times) - 6))
                values = kept.values.copy()
                values[place] += size * rng.choice([-1.0, 1.0])
                caught[size].append(told(replace(kept, values=values), factors=(0.0,)).wild[place] >= DOUBTFUL)
        name = f"read every {every} d, growing {growth:.1%} a day" if growth else f"steady, read every {every} d"
        yield Row(f"{name}: covers", float(np.mean(held)), 0.88, 0.97)
        yield Row(f"{name}: good readings called doubtful, of 100", 100.0 * float(np.mean(doubted)), None, 1.5)
        yield Row(f"{name}: false 'uptake changed' in 100 months", 100.0 * alarms / months, None, 1.0)
        yield Row(f"{name}: a typing mistake of 1.8 dKH is caught", float(np.mean(caught[1.8])), 0.95)
        yield Row(f"{name}: a typing mistake of 0.8 dKH is caught", float(np.mean(caught[0.8])), 0.90)


def arrivals(seed: int, systems: int) -> Iterator[Row]:
    """A logged newcomer, predicted within a factor of two or so, that settles over some days."""
    for ramp in (0.0, 7.0, 14.0):
        for every in (1, 3):
            found: defaultdict[int, list[Answer]] = defaultdict(list)
            for number in range(systems):
                rng = np.random.default_rng([seed, round(ramp), every, number])
                day, base, factor = rng.uniform(35.0, 42.0), rng.uniform(0.6, 1.4), rng.uniform(1.3, 2.0)
                times = read_every(rng, every, day + 22.0)
                kept = keep(rng, Plan(times, base, 0.015, 0.0, day, factor, ramp))
                predicted = (factor - 1.0) * base * float(np.exp(rng.normal(0.0, 0.4)))
                demand_step = DemandStep(day, mean=predicted, error=0.45 * predicted, settles=14.0)
                for after in (3, 9, 20):
                    found[after].append(answer(kept.until(int(np.searchsorted(times, day + after))), (demand_step,)))
            for after, answers in found.items():
                name = f"newcomer settling over {ramp:g} d, read every {every} d, +{after} d: covers"
                yield Row(name, covers(answers), 0.85, 1.0)


def deliveries(seed: int, systems: int) -> Iterator[Row]:
    """Solutions weaker or stronger than written, at the stated defaults of 3 % and 5 %."""
    for wrong in (0.0, 0.03, 0.06):
        found = []
        for number in range(systems):
            rng = np.random.default_rng([seed, round(100 * wrong), number])
            off = wrong * rng.choice([-1.0, 1.0])
            kept = keep(rng, Plan(read_every(rng, 2, 60.0), rng.uniform(0.6, 1.4), 0.015, given=_always(off)))
            found.append(answer(kept, factors=(VOLUME_ERROR, DELIVERY_ERROR)))
        yield Row(f"solutions {wrong:.0%} off: covers", covers(found), 0.86, 1.0)
