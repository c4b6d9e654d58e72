"""The water volume by doses, in tanks whose volume is known: declared to 4 %, solutions strong as written to 3 %.

Alkalinity is read morning and evening with an error of 0.15 dKH for 60 days, and doses follow a morning's reading: what
is poured every day and read once a day cannot be told from what is taken up. A pump of another solution gives the rest.
"""

from collections.abc import Iterator

import numpy as np

from generator.reckon.dosing.analysis import VolumeByDose, volume
from generator.reckon.water.deliveries import STRENGTH_ERROR
from generator.records.log import Dose, PumpRate, SystemLog
from generator.units.quantity import parse_quantity
from tests.accuracy.experiment import Row
from tests.accuracy.tanks import KIT_ERROR
from tests.reckon.water.journals import STRENGTH, VOLUME, here, moment, readings, system

DAYS, DRIFT, DECLARED_TO = 60, 0.015, 0.04
# Days on which so much (dKH) is poured.
DOSES = {
    "four of 1.5 dKH": (range(8, 60, 14), 1.5),
    "eight of 0.45 dKH": (range(6, 60, 7), 0.45),
    "daily 0.5 dKH": (range(1, 60), 0.5),
}


def _lived(rng: np.random.Generator, days: range, size: float) -> tuple[SystemLog, float]:
    """A log, and the true litres. Doses lift the level by what is really in them, in the water that is really there."""
    litres = VOLUME * (1.0 + DECLARED_TO * float(rng.standard_normal()))
    strong = 1.0 + STRENGTH_ERROR * float(rng.standard_normal())
    uptake, level, values, pumps = float(rng.uniform(0.6, 1.4)), 8.0, [], []
    gives = 0.0
    for half in range(2 * DAYS):
        day, evening = divmod(half, 2)
        values.append(level + KIT_ERROR * float(rng.standard_normal()))
        if day % 7 == 0 and not evening:
            gives = max(uptake - size * len(days) / DAYS + (8.0 - level) / 14.0, 0.0)
            rate = parse_quantity(f"{gives * VOLUME / STRENGTH:.6f} L/day", "rate")
            pumps.append(PumpRate(source=here(3000 + day), at=moment(day + 0.01), solution="balanced", rate=rate))
        dose = size * strong if day in days and not evening else 0.0
        level += (dose + gives / 2.0) * VOLUME / litres - uptake / 2.0
        uptake *= float(np.exp(DRIFT * 0.5**0.5 * rng.standard_normal()))
    amount = parse_quantity(f"{size * VOLUME / STRENGTH:.6f} L", "volume")
    doses = (Dose(source=here(2000 + day), at=moment(day + 0.02), solution="soda", amount=amount) for day in days)
    read = readings("alkalinity", "dKH", np.arange(2.0 * DAYS) / 2.0, values)
    return SystemLog(system="lagoon", readings=tuple(read), doses=tuple(doses), pumps=tuple(pumps)), litres


def volume_by_dose(seed: int, systems: int) -> Iterator[Row]:
    """Bias, cover, and how often a right volume is said to disagree."""
    home = system(f"{DECLARED_TO * VOLUME} L", kit=f"{KIT_ERROR} dKH")
    for name, (days, size) in DOSES.items():
        off, held, disagrees = [], [], []
        for number in range(systems):
            log, litres = _lived(np.random.default_rng([seed, len(days), number]), days, size)
            found = volume(home, log, {}.get, moment(DAYS))
            if isinstance(found, VolumeByDose):
                told = found.volume.estimate
                off.append(np.log(told.value / litres))
                held.append(told.low <= litres <= told.high)
                disagrees.append(found.disagrees)
        yield Row(f"doses, {name}: volume's bias, share", float(np.median(off)), -0.03, 0.03)
        yield Row(f"doses, {name}: volume's interval covers", float(np.mean(held)), 0.85, 0.95)
        yield Row(f"doses, {name}: a right volume disagrees, of 100", 100.0 * float(np.mean(disagrees)), None, 3.0)
        yield Row(f"doses, {name}: told at all", len(off) / systems)
