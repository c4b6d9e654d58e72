"""What the coral takes up of a quantity a day, with its interval and what the interval is made of."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import sqrt

import numpy as np

from generator.reckon.estimate.kalman import Array
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.account import Account, Opening
from generator.reckon.water.estimate import Track, track
from generator.reckon.water.findings import DoubtfulReading, LedgerLine, Noise, TrackPoint, Uptake
from generator.reckon.water.ledger import in_days, moment_of
from generator.records.log import Reading
from generator.records.source import Source
from generator.records.system import Water
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# Standard errors to either side of a 90 % interval of the normal distribution.
Z90 = coverage_factor(0.90)

# What a kit strays by where its keeper declared nothing, and the least demand a day worth thinking of,
# by kind in its canonical unit. Common practice, no source; the first is only where learning starts.
USUAL_KIT_ERROR = {"alkalinity": 0.054, "calcium": 10.0, "magnesium": 30.0}
LEAST_DEMAND = {"alkalinity": 0.1, "calcium": 2.0, "magnesium": 1.0}

# An interval wider than so many times the demand says nothing a keeper could act on.
TOO_WIDE = 4.0
# Readings and payments of so many days stand behind today's uptake; older ones hardly count.
RECENT = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything the estimate of one quantity rests on, readings in order of time.

    `deeds` are the log's lines that pay nothing in and yet count: water changes, and events that opened the uptake.
    """

    kind: str
    readings: tuple[Reading, ...]
    values: Array
    errors: Array | None
    account: Account
    lines: tuple[LedgerLine, ...]
    openings: tuple[Opening, ...]
    deeds: tuple[tuple[datetime, Source], ...] = ()

    @property
    def times(self) -> Array:
        """Times of the readings, in days."""
        return np.array([in_days(reading.at) for reading in self.readings])


def run(evidence: Evidence, as_of: datetime) -> Track | None:
    """The track of the water up to a moment; None without a reading."""
    if not evidence.readings:
        return None
    usual = np.full(len(evidence.readings), USUAL_KIT_ERROR[evidence.kind])
    return track(
        evidence.times,
        evidence.values,
        usual if evidence.errors is None else evidence.errors,
        evidence.account,
        evidence.openings,
        in_days(as_of),
        LEAST_DEMAND[evidence.kind],
        learn_error=evidence.errors is None,
    )


def uptake(evidence: Evidence, found: Track | None, water: Water, as_of: datetime) -> Uptake:
    """The uptake at a moment, as concentration and as amount a day, with the whole track behind it."""
    readings = evidence.readings
    if found is None:
        unknown = CannotTell("no-readings", "read-twice")
        none = Noise(USUAL_KIT_ERROR[evidence.kind], "assumed")
        return Uptake(evidence.kind, unknown, unknown, (), (), none, Noise(0.0, "assumed"), 0, None)
    return Uptake(
        kind=evidence.kind,
        per_day=_per_day(evidence, found, water, as_of),
        amount=_amount(evidence, found, water, as_of),
        track=_telling(track_points(evidence.kind, found, relative_volume_error(water)), found.demand),
        doubtful=_doubtful(evidence, found),
        kit_error=Noise(found.kit_error, "learned" if evidence.errors is None else "declared"),
        drift=Noise(found.drift, "learned"),
        readings=len(readings),
        last_reading=readings[-1].at,
    )


def relative_volume_error(water: Water) -> float:
    """The water volume's standard uncertainty as a share of the volume."""
    return water.uncertainty.canonical() / water.volume.canonical()


def interval(value: float, standard: float, unit: str) -> Estimate:
    """A 90 % interval of the normal distribution about a value."""
    return Estimate(value, value - Z90 * standard, value + Z90 * standard, unit)


def cannot_tell(evidence: Evidence, found: Track) -> CannotTell | None:
    """Why these readings say nothing of the uptake yet, or None if they do."""
    sources = tuple(reading.source for reading in evidence.readings)
    if len(sources) == 1:
        return CannotTell("one-reading", "read-again-later", inputs=sources)
    if evidence.readings[0].at == evidence.readings[-1].at:
        return CannotTell("one-time", "read-again-later", inputs=sources)
    if Z90 * sqrt(found.averaged.variance[-1, 1, 1]) > TOO_WIDE * found.demand:
        return CannotTell("interval-too-wide", "read-more", inputs=sources)
    return None


def recent_inputs(evidence: Evidence, as_of: datetime) -> tuple[Source, ...]:
    """The lines behind today's figure: readings of the last month (four at least) and what was put in or done since."""
    readings = [r for r in evidence.readings if r.at >= as_of - RECENT]
    if len(readings) < 4:
        readings = list(evidence.readings[-4:])
    paid = [line.source for line in evidence.lines if line.until >= readings[0].at]
    done = [source for at, source in evidence.deeds if at >= readings[0].at]
    return tuple(dict.fromkeys([*(reading.source for reading in readings), *paid, *done]))


def _per_day(evidence: Evidence, found: Track, water: Water, as_of: datetime) -> Answer:
    if (unknown := cannot_tell(evidence, found)) is not None:
        return unknown
    value = float(found.averaged.mean[-1, 1])
    from_readings = sqrt(found.averaged.variance[-1, 1, 1])
    from_volume = abs(float(found.volume_slope[-1, 1])) * relative_volume_error(water)
    return _finding(evidence, value, from_readings, from_volume, f"{KINDS[evidence.kind].canonical}/day", as_of)


def _amount(evidence: Evidence, found: Track, water: Water, as_of: datetime) -> Answer:
    """Uptake times volume. Where doses hold the level steady the volume hardly matters: they are the amount."""
    if (unknown := cannot_tell(evidence, found)) is not None:
        return unknown
    volume = water.volume.canonical()
    value = float(found.averaged.mean[-1, 1])
    from_readings = volume * sqrt(found.averaged.variance[-1, 1, 1])
    slope = volume * (value + float(found.volume_slope[-1, 1]))
    unit = f"{KINDS[evidence.kind].canonical.removesuffix('/L')}/day"
    return _finding(evidence, volume * value, from_readings, abs(slope) * relative_volume_error(water), unit, as_of)


def _finding(
    evidence: Evidence, value: float, from_readings: float, from_volume: float, unit: str, as_of: datetime
) -> Finding:
    parts = (UncertaintyPart("readings-and-drift", from_readings), UncertaintyPart("water-volume", from_volume))
    estimate = interval(value, sqrt(from_readings**2 + from_volume**2), unit)
    return Finding(estimate, "uptake", recent_inputs(evidence, as_of), parts)


def track_points(kind: str, found: Track, volume_error: float) -> tuple[TrackPoint, ...]:
    """The track as level and uptake with their intervals, the volume's uncertainty included."""
    unit = KINDS[kind].canonical
    variance = np.einsum("tii->ti", found.averaged.variance) + (found.volume_slope * volume_error) ** 2
    standard = np.sqrt(variance)
    return tuple(
        TrackPoint(
            moment_of(days),
            interval(float(mean[0]), float(error[0]), unit),
            interval(float(mean[1]), float(error[1]), f"{unit}/day"),
        )
        for days, mean, error in zip(found.moments, found.averaged.mean, standard, strict=True)
    )


def _telling(points: tuple[TrackPoint, ...], demand: float) -> tuple[TrackPoint, ...]:
    """The moments at which the readings determine uptake; empty if there is only one reading."""
    return tuple(p for p in points if p.per_day.high - p.per_day.low <= 2.0 * TOO_WIDE * demand)


def _doubtful(evidence: Evidence, found: Track) -> tuple[DoubtfulReading, ...]:
    unit = KINDS[evidence.kind].canonical
    averaged = found.averaged
    return tuple(
        DoubtfulReading(
            reading,
            float(evidence.values[index]),
            interval(float(averaged.expected[index]), float(averaged.expected_error[index]), unit),
            float(averaged.surprise[index]),
        )
        for index, reading in enumerate(evidence.readings)
        if averaged.doubtful[index]
    )
