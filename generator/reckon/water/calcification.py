"""CaCO3 laid down, from alkalinity and calcium together, and the alkalinity it does not explain."""

from collections.abc import Iterator
from datetime import datetime

import numpy as np

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.estimate import OTHER_SHARE
from generator.reckon.water.evidence import Evidence
from generator.reckon.water.findings import Calcification, UnexplainedShift, WornPump
from generator.reckon.water.ledger import moment_of
from generator.reckon.water.rivals import JUMP
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.stoichiometry import GRAMS_PER_MEQ
from generator.reckon.water.uptake import as_estimate, cannot_tell, in_whole, interval, recent_inputs, run, told
from generator.records.system import Water

# A shift is shown from these odds on that there was one.
SHOWN = 0.5


def calcification(
    alkalinity: Evidence,
    calcium: Evidence,
    found: StateEstimate | None,
    calcium_found: StateEstimate | None,
    water: Water,
    as_of: datetime,
    past: bool = True,
) -> Calcification:
    """Grams of CaCO3 a day with and without the calcium readings, and what alkalinity is left unexplained.

    `found` and `calcium_found` are the quantities' tracks. Answers `CannotTell` where alkalinity itself cannot be
    told; the unexplained part needs calcium too. Not `past`: without what only a page of the water asks for.
    """
    if found is None:
        unknown = CannotTell("no-readings", "read-twice")
        return Calcification(unknown, unknown, unknown)
    shifts = _shifts(alkalinity, found) if past else ()
    if (why := cannot_tell(alkalinity, found)) is not None:
        return Calcification(why, why, why, shifts)
    by_itself = _by_itself(alkalinity, found, water, as_of) if past else None
    if not _by_both(calcium, found, calcium_found):
        no_calcium = CannotTell("no-calcium", "read-calcium", inputs=recent_inputs(alkalinity, as_of))
        alone = by_itself or _by_itself(alkalinity, found, water, as_of)
        return Calcification(alone, alone, no_calcium, shifts)
    grams = _together(alkalinity, calcium, found, water, as_of)
    other = np.eye(found.laid.layout.size)[4]
    unexplained = told(
        found, alkalinity.deliveries, other, 1.0, "meq/L/day", "calcification", grams.inputs, signed=True
    )
    return Calcification(grams, by_itself, unexplained, shifts, tuple(_pumps(alkalinity, calcium, found)))


def _pumps(alkalinity: Evidence, calcium: Evidence, found: StateEstimate) -> Iterator[WornPump]:
    """What each pump that may wear lacks, with the lines of its rates and the last calcium readings."""
    for place, pump in enumerate(alkalinity.deliveries.pumps):
        for evidence in (alkalinity, calcium):
            if given := evidence.pumped(pump.solution):
                read = [reading.source for each in (alkalinity, calcium) for reading in each.readings[-3:]]
                odds = float(found.now.weights[found.worn(place)].sum())
                lacks = as_estimate(found.lacks(place).interval(), "1")
                inputs = tuple(dict.fromkeys([given[-1], *read]))
                yield WornPump(pump.solution, evidence.kind, odds, lacks, inputs)


def grams_per_day(
    alkalinity: Evidence,
    calcium: Evidence,
    found: StateEstimate | None,
    calcium_found: StateEstimate | None,
    water: Water,
    as_of: datetime,
) -> Answer:
    """Grams of CaCO3 a day alone, as in `calcification`."""
    if found is None:
        return CannotTell("no-readings", "read-twice")
    if (why := cannot_tell(alkalinity, found)) is not None:
        return why
    if _by_both(calcium, found, calcium_found):
        return _together(alkalinity, calcium, found, water, as_of)
    return _by_itself(alkalinity, found, water, as_of)


def _by_both(calcium: Evidence, found: StateEstimate, calcium_found: StateEstimate | None) -> bool:
    """Whether calcium was tracked together with alkalinity, and says something."""
    together = found.laid.dynamics.levels == 2
    return together and calcium_found is not None and cannot_tell(calcium, calcium_found) is None


def _together(alkalinity: Evidence, calcium: Evidence, found: StateEstimate, water: Water, as_of: datetime) -> Finding:
    inputs = tuple(dict.fromkeys([*recent_inputs(alkalinity, as_of), *recent_inputs(calcium, as_of)]))
    laid_down = in_whole(found, np.eye(found.laid.layout.size)[2])
    volume = water.volume.canonical() * GRAMS_PER_MEQ
    return told(found, alkalinity.deliveries, laid_down, volume, "g/day", "calcification", inputs)


def _by_itself(alkalinity: Evidence, found: StateEstimate, water: Water, as_of: datetime) -> Answer:
    alone = found if found.laid.dynamics.levels == 1 else run(alkalinity, as_of)
    if alone is None:
        return CannotTell("no-readings", "read-twice")
    return told(
        alone,
        alkalinity.deliveries,
        in_whole(alone, alone.takes),
        water.volume.canonical() * GRAMS_PER_MEQ,
        "g/day",
        "calcification",
        recent_inputs(alkalinity, as_of),
        beside=OTHER_SHARE * alone.demand,
    )


def _shifts(alkalinity: Evidence, found: StateEstimate) -> tuple[UnexplainedShift, ...]:
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
