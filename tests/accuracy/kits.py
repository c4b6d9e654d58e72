"""The offset between two kits, in tanks where it is known: one kit is changed for another, or both read for a while.

Each kit reads with an error of 0.15 dKH of its own, and off from the other by as much as is taken for usual. Nothing
else changes, so that a step of the readings that is told as one of the uptake is wrong.
"""

from collections.abc import Callable, Iterator

import numpy as np
from msgspec.structs import replace

from generator.reckon.water.analysis import analyse_water
from generator.reckon.water.ledger import USUAL_OFFSET
from generator.records.log import PumpRate, SystemLog
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, parse_quantity
from tests.accuracy.experiment import Row
from tests.accuracy.tanks import KIT_ERROR, Array, Kept, Plan, keep, read_every
from tests.reckon.water.journals import STRENGTH, VOLUME, here, moment, readings, system

CHANGED, DAYS, DRIFT = 40.0, 70.0, 0.015
# Which readings (times, days) are made with the other kit, beside or in place of the first one.
WAYS: dict[str, Callable[[Array], tuple[Array, Array]]] = {
    "changed for another": lambda times: (times < CHANGED, times >= CHANGED),
    "both read three times, then the other": lambda times: (times < CHANGED + 5.0, times >= CHANGED),
    "by turns": lambda times: (np.arange(len(times)) % 2 == 0, np.arange(len(times)) % 2 == 1),
}


def kits(seed: int, systems: int) -> Iterator[Row]:
    """How often the offset and, some days after the change, the uptake lie where they are said to."""
    home = replace(system(kit=f"{KIT_ERROR} dKH"), target=None)
    home = replace(home, kits={"drops": home.kits["drops"], "other": home.kits["drops"]})
    for name, way in WAYS.items():
        offsets, uptakes, off = [], [], []
        for number in range(systems):
            rng = np.random.default_rng([seed, number])
            kept = keep(rng, Plan(read_every(rng, 2, DAYS), rng.uniform(0.6, 1.4), DRIFT, renewed_every=np.inf))
            offset = float(rng.normal(0.0, USUAL_OFFSET["alkalinity"] / MEQ_PER_DKH))
            log = _log(kept, offset + KIT_ERROR * rng.standard_normal(len(kept.times)), *way(kept.times))
            for after in (5.0, 25.0):
                at = int(np.searchsorted(kept.times, CHANGED + after))
                found = analyse_water(home, log, (), moment(float(kept.times[at]) + 1e-4), past=False)
                told = found.uptake["alkalinity"]
                uptakes.append(_holds(getattr(told.per_day, "estimate", None), float(kept.uptake[at])))
            offsets.append(_holds(told.kits[0].size, offset))
            off.append(told.kits[0].size.value / MEQ_PER_DKH - offset)
        yield Row(f"kits {name}: offset's interval covers", float(np.mean(offsets)), 0.85, 0.97)
        yield Row(f"kits {name}: offset is off by, dKH", float(np.sqrt(np.mean(np.square(off)))))
        yield Row(f"kits {name}: uptake's interval covers", float(np.mean(uptakes)), 0.85, 1.0)


def _holds(told: Estimate | None, truth: float) -> bool:
    return told is not None and told.low <= truth * MEQ_PER_DKH <= told.high


def _log(kept: Kept, strays: Array, by_first: Array, by_other: Array) -> SystemLog:
    """A tank's log: what it reads is read with the first kit, and `strays` from its level with the other."""
    first = readings("alkalinity", "dKH", kept.times[by_first], kept.values[by_first])
    other = readings("alkalinity", "dKH", kept.times[by_other], (kept.levels + strays)[by_other], 1000)
    pumps = (
        PumpRate(
            source=here(3000),
            at=moment(each.start),
            solution="balanced",
            rate=parse_quantity(f"{each.per_day * VOLUME / STRENGTH:.6f} L/day", "rate"),
        )
        for each in kept.account.steady
    )
    both = [*first, *(replace(each, kit="other") for each in other)]
    return SystemLog(system="lagoon", readings=tuple(sorted(both, key=lambda each: each.at)), pumps=tuple(pumps))
