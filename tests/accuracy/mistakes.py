"""Typing mistakes among weekly readings: how many are found out where so many good readings are doubted.

A doubt begins at the odds, whatever they are, from which on a given share of the good readings would be doubted: so
estimates that are more and less ready to doubt can be compared.
"""

from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from msgspec.structs import replace

from tests.accuracy.experiment import Row
from tests.accuracy.oracle import wild_knowing_drift
from tests.accuracy.tanks import Array, Kept, Plan, keep, read_every
from tests.accuracy.water import DRIFT, told

EVERY, SIZE = 7, 0.8
# Of 100 good readings so many are doubted.
DOUBTED = (0.5, 1.0, 1.5)


def mistakes(seed: int, systems: int) -> Iterator[Row]:
    """The share of mistakes caught by our odds, and by those of one that knows more."""
    good, wrong = defaultdict[str, list[Array]](list), defaultdict[str, list[float]](list)
    for number in range(systems):
        rng = np.random.default_rng([seed, EVERY, number])
        times = read_every(rng, EVERY, 180.0)
        kept = keep(rng, Plan(times, rng.uniform(0.6, 1.4), DRIFT))
        place, values = int(rng.integers(10, len(times) - 6)), kept.values.copy()
        values[place] += SIZE * rng.choice([-1.0, 1.0])
        for name, odds in _odds(kept):
            good[name].append(odds)
        for name, odds in _odds(replace(kept, values=values)):
            wrong[name].append(float(odds[place]))
    for doubted in DOUBTED:
        for name, odds in good.items():
            begins = np.quantile(np.concatenate(odds), 1.0 - doubted / 100.0)
            caught = float(np.mean(np.array(wrong[name]) >= begins))
            yield Row(f"{doubted:g} of 100 good ones doubted: caught by {name}", caught)


def _odds(kept: Kept) -> Iterator[tuple[str, Array]]:
    """The chance that each reading is wild (N,), by who tells it."""
    found = told(kept, factors=(0.0,))
    yield "our odds", found.wild
    yield "one that knows the drift", wild_knowing_drift(found, DRIFT, alone=False)
    yield "one that knows nothing else happens", wild_knowing_drift(found, DRIFT, alone=True)
