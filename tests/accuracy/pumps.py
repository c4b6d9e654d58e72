"""Pumps that wear: what is taken up is still told, the pump is named in time, and a good one is left alone.

Alkalinity and calcium each have a pump of their own. Alkalinity is read every second day, calcium every sixth.
"""

from collections.abc import Callable, Iterator

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.attention.water import WORN_FROM
from generator.reckon.water.account import Account
from generator.reckon.water.estimate import track_both
from generator.reckon.water.process import Series
from generator.reckon.water.state_estimate import StateEstimate
from generator.units.kinds import MEQ_PER_DKH
from tests.accuracy.experiment import Row
from tests.accuracy.tanks import CALCIUM_KIT_ERROR, KIT_ERROR, Array, Kept, Plan, keep, read_every
from tests.accuracy.water import DELIVERY_ERROR, LEAST_DEMAND, VOLUME_ERROR

BEGINS = 60.0
# Pumps and solutions stray from what is written from the first day on. One that gives so much less than the other, as a
# share, is named rightly.
LACKS = 0.05
# A keeper sees by eye that an alkalinity pump lacks a third, or sooner (common practice, no source).
SEEN = 1.0 / 3.0
_SODA, _CHLORIDE = (1, 3), (2, 4)


def _by(account: Account, columns: tuple[int, ...], factor: float) -> Account:
    scaled = account.scaled(factor)
    renewals = tuple(replace(each, level=each.level * factor) for each in account.renewals)
    return replace(scaled, steady=tuple(replace(s, factors=columns) for s in scaled.steady), renewals=renewals)


def both(kept: Kept, measured: tuple[tuple[float, ...], ...] = ((), ())) -> StateEstimate:
    """The estimate of alkalinity (meq/L) at a tank's last reading, by its two pumps, when each was measured."""
    alkalinity = Series(kept.times, kept.values * MEQ_PER_DKH, np.full(len(kept.times), KIT_ERROR * MEQ_PER_DKH))
    calcium = Series(kept.calcium_times, kept.calcium_values, np.full(len(kept.calcium_times), CALCIUM_KIT_ERROR))
    accounts = _by(kept.account, _SODA, MEQ_PER_DKH), _by(kept.calcium_account, _CHLORIDE, 1.0)
    factors, until = (VOLUME_ERROR, DELIVERY_ERROR, DELIVERY_ERROR), float(kept.times[-1]) + 0.01
    floor = LEAST_DEMAND * MEQ_PER_DKH
    return track_both(alkalinity, calcium, accounts, (), until, floor, factors, measured)[0]


class Worn(Struct, frozen=True):
    """What was told at a reading: whether the interval held the uptake, and the odds that each pump wears."""

    held: bool
    odds: tuple[float, float]


def _told(kept: Kept) -> Worn:
    found = both(kept)
    _, low, high = (float(each) / MEQ_PER_DKH for each in found.uptake.interval())
    odds = tuple(float(found.now.weights[found.worn(pump)].sum()) for pump in (0, 1))
    return Worn(low <= kept.uptake[-1] <= high, (odds[0], odds[1]))


def strays(rng: np.random.Generator) -> Array:
    """By how much more than believed the two pumps give from the first day on, as shares (2,)."""
    return rng.normal(0.0, DELIVERY_ERROR, 2)


def a_tank(rng: np.random.Generator, loses: float, by_soda: bool, days: float) -> Kept:
    """A tank one of whose pumps loses a share a month from `BEGINS` on, solutions as unsure as is told."""
    off = strays(rng)

    def gives(of_soda: bool) -> Callable[[float], float]:
        own = float(off[0 if of_soda else 1])
        lost = loses if of_soda == by_soda else 0.0
        return lambda at: own - lost * max(at - BEGINS, 0.0) / 30.0

    plan = Plan(
        read_every(rng, 2, days),
        rng.uniform(0.6, 1.4),
        0.015,
        water=rng.normal(0.0, VOLUME_ERROR),
        given=gives(True),
        calcium_given=gives(False),
        calcium_every=3,
    )
    return keep(rng, plan)


def pumps(seed: int, systems: int) -> Iterator[Row]:
    """A pump that loses 10 or 20 % a month: cover of the uptake, when it is named; and good pumps that are."""
    for loses in (0.1, 0.2):
        for by_soda in (True, False):
            name = f"{'alkalinity' if by_soda else 'calcium'} pump loses {loses:.0%} a month"
            worn, least = (0 if by_soda else 1), (0.86 if loses == 0.1 else None)
            last = BEGINS + SEEN / loses * 30.0
            at: dict[float, list[Worn]] = {BEGINS + 30.0: [], BEGINS + 60.0: [], last: []}
            for number in range(systems):
                rng = np.random.default_rng([seed, round(100 * loses), worn, number])
                kept = a_tank(rng, loses, by_soda, last + 2.0)
                for day, found in at.items():
                    if day <= last:
                        found.append(_told(kept.until(int(np.searchsorted(kept.times, day)))))
            for day, found in at.items():
                if found:
                    yield Row(f"{name}, +{day - BEGINS:.0f} d: covers", _mean([w.held for w in found]), least)
                    named = _mean([w.odds[worn] >= WORN_FROM for w in found])
                    yield Row(
                        f"{name}, +{day - BEGINS:.0f} d: is named", named, 0.6 if day == last and by_soda else None
                    )
                    wrong = _mean([w.odds[1 - worn] >= WORN_FROM for w in found])
                    yield Row(f"{name}, +{day - BEGINS:.0f} d: the other is named", wrong, most=0.1)
    held, named = [], 0
    for number in range(systems):
        kept = a_tank(np.random.default_rng([seed, 0, number]), 0.0, True, 365.0)
        off = strays(np.random.default_rng([seed, 0, number]))
        lacks = off[::-1] - off > LACKS
        months = [_told(kept.until(int(np.searchsorted(kept.times, day)))) for day in range(65, 366, 30)]
        held += [each.held for each in months]
        alarms = [bool(np.any((np.array(each.odds) >= WORN_FROM) & ~lacks)) for each in months]
        named += sum(now and not before for before, now in zip([False, *alarms], alarms, strict=False))
    yield Row("good pumps: covers", _mean(held), 0.86, 1.0)
    yield Row("good pumps: named, in 100 months", 100.0 * named / len(held), most=1.0)


def _mean(told: list[bool]) -> float:
    return float(np.mean(told))
