"""CaCO3 laid down, from alkalinity and calcium together, and the alkalinity it does not explain."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import sqrt

import numpy as np

from generator.reckon.estimate.candidates import Candidates, average
from generator.reckon.estimate.kalman import Array, Model
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.account import Account, TwoLevels, passages
from generator.reckon.water.estimate import (
    MORE_WATER,
    OPEN_START,
    USUAL_GROWTH,
    Track,
    build,
    drift_candidates,
    volume_slope,
)
from generator.reckon.water.findings import Calcification, UnexplainedShift
from generator.reckon.water.ledger import in_days, moment_of
from generator.reckon.water.stoichiometry import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.reckon.water.uptake import Evidence, cannot_tell, interval, recent_inputs, relative_volume_error
from generator.records.source import Source
from generator.records.system import Water

# What else takes or gives alkalinity (nitrate made or used up, a kit that drifts): as a share of the
# demand, one standard deviation, and how many days it keeps. Assumptions of ours.
OTHER_SHARE = 0.15
OTHER_MEMORY = 30.0


def calcification(
    alkalinity: Evidence,
    calcium: Evidence,
    found: Track | None,
    calcium_found: Track | None,
    water: Water,
    as_of: datetime,
) -> Calcification:
    """Grams of CaCO3 a day with and without the calcium readings, and what alkalinity is left unexplained.

    `found` and `calcium_found` are each quantity's own track: its doubtful readings stay down-weighted here.
    Answers `CannotTell` where alkalinity itself cannot be told; the unexplained part needs calcium too.
    """
    if found is None:
        unknown = CannotTell("no-readings", "read-twice")
        return Calcification(unknown, unknown, unknown)
    shifts = _shifts(alkalinity, found)
    if (why := cannot_tell(alkalinity, found)) is not None:
        return Calcification(why, why, why, shifts)
    alone = _together(alkalinity, calcium, found, None, as_of)
    if calcium_found is None or cannot_tell(calcium, calcium_found) is not None:
        no_calcium = CannotTell("no-calcium", "read-calcium", inputs=recent_inputs(alkalinity, as_of))
        grams = alone.grams(water)
        return Calcification(grams, grams, no_calcium, shifts)
    both = _together(alkalinity, calcium, found, calcium_found, as_of)
    return Calcification(both.grams(water), alone.grams(water), both.unexplained(water), shifts)


@dataclass(frozen=True, slots=True)
class _Together:
    """The joint state (alkalinity, calcium, calcification, its growth, other) at the end of its track.

    `slope` is the derivative of the state by the logarithm of the water volume.
    """

    mean: Array
    variance: Array
    slope: Array
    inputs: tuple[Source, ...]

    def grams(self, water: Water) -> Answer:
        """CaCO3 a day in the whole system."""
        factor = water.volume.canonical() * GRAMS_PER_MEQ
        value = factor * float(self.mean[2])
        from_readings = factor * sqrt(self.variance[2, 2])
        from_volume = abs(factor * float(self.mean[2] + self.slope[2])) * relative_volume_error(water)
        return self._finding(value, from_readings, from_volume, "g/day")

    def unexplained(self, water: Water) -> Answer:
        """Alkalinity a day that goes elsewhere than into CaCO3 (positive: leaves the water)."""
        from_volume = abs(float(self.slope[4])) * relative_volume_error(water)
        return self._finding(float(self.mean[4]), sqrt(self.variance[4, 4]), from_volume, "meq/L/day")

    def _finding(self, value: float, from_readings: float, from_volume: float, unit: str) -> Finding:
        parts = (UncertaintyPart("readings-and-drift", from_readings), UncertaintyPart("water-volume", from_volume))
        whole = interval(value, sqrt(from_readings**2 + from_volume**2), unit)
        return Finding(whole, "calcification", self.inputs, parts)


def _together(
    alkalinity: Evidence, calcium: Evidence, found: Track, calcium_found: Track | None, as_of: datetime
) -> _Together:
    """Smooth both quantities' readings (or alkalinity's alone) with the proportions of calcification."""
    inputs = recent_inputs(alkalinity, as_of)
    if calcium_found is not None:
        inputs = tuple(dict.fromkeys([*inputs, *recent_inputs(calcium, as_of)]))
    accounts = [alkalinity.account, calcium.account]
    model = _model(accounts, alkalinity, found, calcium_found, in_days(as_of))
    thinner = _model([a.scaled(1.0 / MORE_WATER) for a in accounts], alkalinity, found, calcium_found, in_days(as_of))
    candidates = drift_candidates(np.ones(1))
    averaged = average(model, candidates, find_jumps=False)
    best = [int(np.argmax(averaged.weights))]
    slope = volume_slope(model, thinner, averaged.model, Candidates(candidates.q2[best], np.ones(1), np.zeros(1)))
    return _Together(averaged.mean[-1], averaged.variance[-1], slope[-1], inputs)


def _model(
    accounts: Sequence[Account], alkalinity: Evidence, found: Track, calcium_found: Track | None, until: float
) -> Model:
    """Both quantities' readings in one row of moments; each keeps the noise its own track gave it."""
    rows = [(t, y, s, 0) for t, y, s in zip(*_read(found), strict=True)]
    if calcium_found is not None:
        rows += [(t, y, s, 1) for t, y, s in zip(*_read(calcium_found), strict=True)]
    rows.sort(key=lambda row: row[0])
    moments = [row[0] for row in rows] + [max(until, rows[-1][0])]
    h = np.zeros((len(moments), 5))
    for index, row in enumerate(rows):
        h[index, row[3]] = 1.0
    dynamics = TwoLevels(found.demand, CALCIUM_PER_MEQ, OTHER_SHARE * found.demand, OTHER_MEMORY)
    opened = [(o.at, o.mean, o.variance(found.demand)) for o in alkalinity.openings]
    tracks = [found] if calcium_found is None else [found, calcium_found]
    steps = passages(dynamics, accounts, opened, moments)
    wide = OPEN_START * found.kit_error
    first = {level: next((y for _, y, _, which in rows if which == level), 0.0) for level in (0, 1)}
    model = build(
        steps,
        h,
        np.array([row[1] for row in rows] + [np.nan]),
        np.array([row[2] for row in rows] + [1.0]),
        np.array([first[0], first[1], 0.0, 0.0, 0.0]),
        np.diag(
            [wide**2, (CALCIUM_PER_MEQ * wide) ** 2, wide**2, (USUAL_GROWTH * found.demand) ** 2, dynamics.other**2]
        ),
    )
    for level, track in enumerate(tracks):
        for jump in track.averaged.jumps:
            at = track.moments[jump.index]
            index = next(i for i, row in enumerate(rows) if row[0] == at and row[3] == level)
            model.fixed[index, level, level] += jump.size**2
    return model


def _read(found: Track) -> tuple[Array, Array, Array]:
    """A track's readings: times, values, and the variance each was given."""
    return found.moments[:-1], found.averaged.model.y[:-1], found.reading_variance


def _shifts(alkalinity: Evidence, found: Track) -> tuple[UnexplainedShift, ...]:
    """Jumps of alkalinity between two readings that no payment explains."""
    return tuple(
        UnexplainedShift(
            after=moment_of(float(found.moments[jump.index - 1])),
            before=moment_of(float(found.moments[jump.index])),
            size=interval(jump.size, jump.error, "meq/L"),
            surprise=jump.surprise,
            inputs=tuple(alkalinity.readings[i].source for i in (jump.index - 1, jump.index)),
        )
        for jump in found.averaged.jumps
    )
