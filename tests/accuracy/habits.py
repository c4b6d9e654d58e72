"""Doses by hand that go on as before: whether the level seven days ahead lies where the forecast said."""

from collections.abc import Iterator

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.findings import Forecast
from generator.records.log import Dose, SystemLog
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import parse_quantity
from tests.accuracy.experiment import Row
from tests.reckon.water.journals import STRENGTH, VOLUME, here, moment, readings, system

PAST, AHEAD, KIT_ERROR, DRIFT = 40.0, 7.0, 0.15, 0.02
# dKH a day: so little that nobody need correct what uneven pourings leave.
DEMAND = 0.4


class Hand(Struct, frozen=True):
    """How a keeper pours: days between pourings, by how much gaps and amounts stray, how often one is left out."""

    days: float
    gaps: float = 0.1
    amounts: float = 0.1
    left_out: float = 0.0


HANDS = {
    "every day": Hand(1.0),
    "every third day": Hand(3.0),
    "every day, one in ten left out": Hand(1.0, left_out=0.1),
    "every other day, as it comes": Hand(2.0, gaps=0.25, amounts=0.3),
}


def going_on(seed: int, systems: int) -> Iterator[Row]:
    """How often the level in seven days lies in the forecast's interval, by hand."""
    for name, hand in HANDS.items():
        found = [_holds(np.random.default_rng([seed, each]), hand) for each in range(systems)]
        told = [each for each in found if each is not None]
        yield Row(f"doses poured {name}: 7-day forecast covers", float(np.mean(told)), least=0.85, most=0.98)
        yield Row(f"doses poured {name}: told", len(told) / systems, least=0.97)


def _holds(rng: np.random.Generator, hand: Hand) -> bool | None:
    demand = DEMAND * float(np.exp(0.3 * rng.standard_normal()))
    pourings = list(_pourings(rng, hand, demand))
    times = np.arange(0.0, PAST + 1e-9, 2.0)
    levels, at, level = [], 0.0, 8.2
    for time in (*times, PAST + AHEAD):
        level += sum(amount for when, amount in pourings if at <= when < time)
        steps = demand * (1.0 + DRIFT * np.sqrt(time - at) * rng.standard_normal()) if time > at else demand
        level -= (demand + steps) / 2.0 * (time - at)
        demand, at = float(steps), float(time)
        levels.append(level)
    read = readings("alkalinity", "dKH", times, np.array(levels[:-1]) + KIT_ERROR * rng.standard_normal(len(times)))
    doses = tuple(
        Dose(source=here(2000), at=moment(when), solution="balanced", amount=_litres(amount))
        for when, amount in pourings
        if when < PAST
    )
    log = SystemLog(system="lagoon", readings=tuple(read), doses=doses)
    home = replace(system("16 L"), target=None)
    forecast = analyse_water(home, log, (), moment(PAST)).forecasts["alkalinity"]
    if not isinstance(forecast, Forecast):
        return None
    then = next(each for when, each in forecast.track if when >= moment(PAST + AHEAD))
    return bool(then.low <= levels[-1] * MEQ_PER_DKH <= then.high)


def _pourings(rng: np.random.Generator, hand: Hand, demand: float) -> Iterator[tuple[float, float]]:
    at = float(rng.uniform(0.0, hand.days))
    while at < PAST + AHEAD:
        if rng.random() >= hand.left_out:
            yield (
                at,
                demand
                * hand.days
                / (1.0 - hand.left_out)
                * max(1.0 + hand.amounts * float(rng.standard_normal()), 0.1),
            )
        at += hand.days * max(1.0 + hand.gaps * float(rng.standard_normal()), 0.1)


def _litres(dkh: float):
    return parse_quantity(f"{dkh * VOLUME / STRENGTH:.6f} L", "volume")
