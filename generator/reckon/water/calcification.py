"""CaCO3 laid down, from alkalinity and calcium together, and the alkalinity it does not explain."""

from datetime import datetime

import numpy as np

from generator.reckon.finding import CannotTell
from generator.reckon.water.estimate import OTHER_SHARE
from generator.reckon.water.evidence import Evidence
from generator.reckon.water.findings import Calcification, UnexplainedShift
from generator.reckon.water.ledger import moment_of
from generator.reckon.water.rivals import JUMP
from generator.reckon.water.stoichiometry import GRAMS_PER_MEQ
from generator.reckon.water.track import Track
from generator.reckon.water.uptake import cannot_tell, in_whole, interval, recent_inputs, run, told
from generator.records.system import Water

# A shift is shown from these odds on that there was one.
SHOWN = 0.5


def calcification(
    alkalinity: Evidence,
    calcium: Evidence,
    found: Track | None,
    calcium_found: Track | None,
    water: Water,
    as_of: datetime,
) -> Calcification:
    """Grams of CaCO3 a day with and without the calcium readings, and what alkalinity is left unexplained.

    `found` and `calcium_found` are the quantities' tracks. Answers `CannotTell` where alkalinity itself cannot be
    told; the unexplained part needs calcium too.
    """
    if found is None:
        unknown = CannotTell("no-readings", "read-twice")
        return Calcification(unknown, unknown, unknown)
    shifts = _shifts(alkalinity, found)
    if (why := cannot_tell(alkalinity, found)) is not None:
        return Calcification(why, why, why, shifts)
    inputs = recent_inputs(alkalinity, as_of)
    alone = found if found.laid.dynamics.levels == 1 else run(alkalinity, as_of)
    volume = water.volume.canonical() * GRAMS_PER_MEQ
    by_itself = (
        told(
            alone,
            alkalinity.deliveries,
            in_whole(alone, alone.takes),
            volume,
            "g/day",
            "calcification",
            inputs,
            beside=OTHER_SHARE * alone.demand,
        )
        if alone
        else CannotTell("no-readings", "read-twice")
    )
    together = found.laid.dynamics.levels == 2
    if not together or calcium_found is None or cannot_tell(calcium, calcium_found) is not None:
        no_calcium = CannotTell("no-calcium", "read-calcium", inputs=inputs)
        return Calcification(by_itself, by_itself, no_calcium, shifts)
    both = tuple(dict.fromkeys([*inputs, *recent_inputs(calcium, as_of)]))
    size = found.laid.layout.size
    laid_down, other = np.eye(size)[2], np.eye(size)[4]
    grams = told(found, alkalinity.deliveries, in_whole(found, laid_down), volume, "g/day", "calcification", both)
    unexplained = told(found, alkalinity.deliveries, other, 1.0, "meq/L/day", "calcification", both, signed=True)
    return Calcification(grams, by_itself, unexplained, shifts)


def _shifts(alkalinity: Evidence, found: Track) -> tuple[UnexplainedShift, ...]:
    """Jumps of alkalinity between two readings that no payment explains."""
    return tuple(
        UnexplainedShift(
            after=moment_of(float(found.moments[jump.index - 1])),
            before=moment_of(float(found.moments[jump.index])),
            size=interval(jump.size, jump.error, "meq/L"),
            surprise=jump.size / jump.error,
            inputs=tuple(alkalinity.readings[i].source for i in (jump.index - 1, jump.index)),
            odds=jump.odds,
        )
        for jump in found.told((JUMP,), -np.inf, SHOWN)
    )
