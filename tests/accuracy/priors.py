"""What a newcomer is expected to take, against the published rates and drawn colonies of its own kind."""

from collections.abc import Iterator

import numpy as np

from generator.nature.rates import RATES, Rate
from generator.reckon.arrivals.colony import Colony, footprint
from generator.reckon.arrivals.published import DAYS_A_YEAR, Published, published
from generator.reckon.growth.measurements import Body
from tests.accuracy.experiment import Row

CENSUS = tuple(rate for rate in RATES if rate.basis == "planar-area")


def priors(seed: int, systems: int) -> Iterator[Row]:
    """Census rates at so many drawn sizes of every genus, 2 to 80 cm across, with and without width and height."""
    rng = np.random.default_rng(seed)
    held, spreads = [], []
    for rate in CENSUS:
        for _ in range(max(1, systems // 10)):
            colony = drawn(rng, rate)
            found = published(colony)
            assert isinstance(found, Published)
            assert colony.body is not None
            # kg a square metre and year is 0.1 g a square centimetre and year.
            grams = rate.value * 0.1 / DAYS_A_YEAR * footprint(colony, colony.body).median
            told = found.combined.estimate("g/day")
            held.append(told.low <= grams <= told.high)
            spreads.append(told.high / told.value)
    yield Row("newcomer's prior holds the census rate of its genus", float(np.mean(held)), 0.90)
    yield Row("newcomer's prior: upper end over the middle, half of all within", float(np.median(spreads)))
    yield Row("newcomer's prior: upper end over the middle, the widest", float(np.max(spreads)))


def drawn(rng: np.random.Generator, rate: Rate) -> Colony:
    """A colony of a rate's genus and one of its forms."""
    length = float(np.exp(rng.uniform(np.log(2.0), np.log(80.0))))
    measured = rng.random() < 0.5
    body = Body(length, length * rng.uniform(0.6, 1.0), length * rng.uniform(0.2, 0.9)) if measured else Body(length)
    return Colony(genus=rate.genus, form=rate.forms[rng.integers(len(rate.forms))], body=body)
