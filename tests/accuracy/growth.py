"""How fast a coral grew between its weighings, and how fast it will: cuttings and colonies whose true mass is known.

Masses follow dW/dt = c W^b with b from 0.6 to 1.0, or are cuttings that slow down from about 1.9 to 1.3 % a day
within a month, as has been seen of real ones; the rate wanders about that from week to week. Each is written down as
a keeper would, by a scale of 0.01 g, and weighed with an error of repeatability beside it.
"""

from collections.abc import Callable, Iterator, Sequence
from datetime import timedelta
from math import exp, log

import numpy as np

from generator.reckon.finding import Answer, Finding
from generator.reckon.growth.analysis import SOON_DAYS, Growth, analyse_growth
from tests.accuracy.experiment import Row
from tests.reckon.growth.corals import START, coral, weighing

# Days of a cutting's weighings: weekly or fortnightly, up to the 14th, 21st or 28th day.
SHORT = ((0, 14), (0, 7, 14), (0, 7, 14, 21), (0, 14, 28), (0, 7, 14, 21, 28))
LONG = (tuple(range(0, 196, 14)),)
REPEATS = (0.003, 0.02)

Masses = list[float]
Grower = Callable[[np.random.Generator, int], Masses]


def by_power(power: float, wandering: float = 0.0) -> Grower:
    """Corals of 5 to 200 g that grow 0.3 to 1.9 % a day at first, with a power of their mass."""

    def grow(rng: np.random.Generator, days: int) -> Masses:
        return _grown(rng, days, rng.uniform(5.0, 200.0), rng.uniform(0.003, 0.019), power, wandering)

    return grow


def cuttings(rng: np.random.Generator, days: int) -> Masses:
    """Cuttings of 5 to 30 g whose rate falls by a third in a month: faster than by any published power."""
    first = 0.019 * exp(rng.normal(0.0, 0.15))
    return _grown(rng, days, rng.uniform(5.0, 30.0), first, 1.0, 0.08, log(1.9 / 1.3) / 30.0)


def _grown(
    rng: np.random.Generator, days: int, mass: float, rate: float, power: float, wandering: float, slowing: float = 0.0
) -> Masses:
    found = [mass]
    stray = wandering * rng.normal()
    for day in range(days):
        found.append(found[-1] * exp(rate * (found[-1] / mass) ** (power - 1.0) * exp(-slowing * day) * (1.0 + stray)))
        # From week to week, so that half of it is forgotten in three.
        stray = stray * exp(-1.0 / 28.0) + wandering * (1.0 - exp(-2.0 / 28.0)) ** 0.5 * rng.normal()
    return found


def analysed(rng: np.random.Generator, masses: Masses, days: Sequence[int], repeats: float) -> Growth:
    """What is found on the day of the last weighing."""
    written = tuple(weighing(day, f"{masses[day] * exp(rng.normal(0.0, repeats)):.2f} g") for day in days)
    return analyse_growth(coral(weighings=written), {}, START + timedelta(days=days[-1]))


class Score:
    """How often intervals held the truth, and how wide they were beside it."""

    def __init__(self) -> None:
        """Nothing held yet."""
        self.held: list[bool] = []
        self.widths: list[float] = []

    def add(self, answer: Answer, truth: float) -> None:
        """One more answer, in %/day."""
        assert isinstance(answer, Finding)
        told = answer.estimate
        self.held.append(told.low <= truth <= told.high)
        self.widths.append((told.high - told.low) / 2.0 / abs(truth))

    def rows(self, name: str, least: float) -> Iterator[Row]:
        """The share that held, and the median half width."""
        yield Row(f"{name}: covers", float(np.mean(self.held)), least)
        yield Row(f"{name}: half width, share of the rate", float(np.median(self.widths)))


def growth(seed: int, systems: int) -> Iterator[Row]:
    """Both answers, for so many corals in each row."""
    rng = np.random.default_rng(seed)
    for count in (2, 3, 6):
        for repeats in REPEATS:
            yield from _so_far(rng, systems, count, repeats)
    for repeats in REPEATS:
        yield from _ahead(rng, systems, f"cuttings that slow down, {repeats:.1%}", cuttings, SHORT, repeats)
        for power in (0.6, 0.8, 1.0):
            grower = by_power(power, 0.15)
            yield from _ahead(rng, systems, f"power {power:g}, {repeats:.1%}", grower, SHORT, repeats)
    yield from _ahead(rng, systems, "calm, 14 weighings in half a year, 0.3%", by_power(0.8), LONG, 0.003)


def _so_far(rng: np.random.Generator, corals: int, count: int, repeats: float) -> Iterator[Row]:
    score = Score()
    for _ in range(corals):
        days = range(0, count * (gap := int(rng.choice((7, 14, 30)))), gap)
        masses = by_power(rng.uniform(0.6, 1.0))(rng, days[-1])
        found = analysed(rng, masses, days, repeats)
        score.add(found.specific, 100.0 * log(masses[-1] / masses[0]) / days[-1])
    yield from score.rows(f"grew, {count} weighings that repeat to {repeats:.1%}", 0.85)


def _ahead(
    rng: np.random.Generator, corals: int, name: str, grower: Grower, designs: Sequence[Sequence[int]], repeats: float
) -> Iterator[Row]:
    score = Score()
    for _ in range(corals):
        days = designs[rng.integers(len(designs))]
        masses = grower(rng, days[-1] + SOON_DAYS)
        found = analysed(rng, masses, days, repeats)
        score.add(found.specific_ahead, 100.0 * log(masses[-1] / masses[days[-1]]) / SOON_DAYS)
    yield from score.rows(f"will grow, {name}", 0.80)
