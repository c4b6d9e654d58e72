"""What the coral takes up of a quantity a day, with its interval and what the interval is made of."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from math import sqrt

import numpy as np
from msgspec.structs import replace

from generator.reckon.estimate.uncertainty import Array
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.deliveries import VOLUME, Deliveries
from generator.reckon.water.dynamics import DOUBTFUL
from generator.reckon.water.estimate import track, track_both
from generator.reckon.water.findings import DoubtfulReading, KitOffset, Noise, TrackPoint, Uptake
from generator.reckon.water.ledger import LEAST_DEMAND, USUAL_KIT_ERROR, USUAL_OFFSET, Evidence, in_days, moment_of_days
from generator.reckon.water.process import Series
from generator.reckon.water.state_estimate import StateEstimate, competing
from generator.records.source import Source
from generator.records.system import Water
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, coverage_factor

# An interval wider than so many times the demand says nothing a keeper could act on.
TOO_WIDE = 4.0
# So many days before the last reading a step still counts as predicted. A choice of ours.
PREDICTED_FOR = 7.0
# Readings and payments of so many days stand behind today's uptake; older ones hardly count.
RECENT = timedelta(days=30)


def run(evidence: Evidence, as_of: datetime) -> StateEstimate | None:
    """The track of one quantity up to a moment; None without a reading."""
    if not evidence.readings:
        return None
    found = track(
        evidence.series(),
        evidence.account,
        evidence.demand_steps,
        in_days(as_of),
        LEAST_DEMAND[evidence.kind],
        learn_error=evidence.errors is None,
        factor_errors=evidence.deliveries.errors,
    )
    return _as_wide(evidence, found, as_of)


def _as_wide(evidence: Evidence, found: StateEstimate, as_of: datetime) -> StateEstimate:
    """A track whose ranges are shown as wide as its keeper asks."""
    return replace(found, times_as_wide=float(evidence.times_as_wide(in_days(as_of))))


def run_all(evidence: Mapping[str, Evidence], as_of: datetime) -> dict[str, StateEstimate | None]:
    """The track of every quantity: alkalinity and calcium as one, where both were read; the others by themselves."""
    alkalinity, calcium = evidence["alkalinity"], evidence["calcium"]
    found: dict[str, StateEstimate | None] = {}
    if len(alkalinity.readings) > 1 and len(calcium.readings) > 1:
        first, second = track_both(
            _learned(alkalinity, as_of),
            _learned(calcium, as_of),
            (alkalinity.account, calcium.account),
            alkalinity.demand_steps,
            in_days(as_of),
            LEAST_DEMAND["alkalinity"],
            alkalinity.deliveries.errors,
            [[in_days(at) for at in pump.measured] for pump in alkalinity.deliveries.pumps],
        )
        found = {"alkalinity": _as_wide(alkalinity, first, as_of), "calcium": _as_wide(calcium, second, as_of)}
    return {kind: found.get(kind) or run(each, as_of) for kind, each in evidence.items()}


def _learned(evidence: Evidence, as_of: datetime) -> Series:
    """The readings with the errors declared, or with those they show by themselves."""
    alone = run(evidence, as_of) if evidence.errors is None else None
    return evidence.series(alone.kit_error if alone else None)


def uptake(evidence: Evidence, found: StateEstimate | None, water: Water, as_of: datetime, past: bool = True) -> Uptake:
    """The uptake at a moment, as concentration and as amount a day, with the whole track behind it if `past`."""
    readings = evidence.readings
    if found is None:
        unknown = CannotTell("no-readings", "read-twice")
        none = Noise(USUAL_KIT_ERROR[evidence.kind], "assumed")
        return Uptake(evidence.kind, unknown, unknown, (), (), none, Noise(0.0, "assumed"), 0, None)
    rivals = competing(evidence, found, as_of)
    return Uptake(
        kind=evidence.kind,
        per_day=_per_day(evidence, found, as_of),
        amount=_amount(evidence, found, water, as_of),
        track=telling_track(evidence, found) if past else (),
        doubtful=doubtful_readings(evidence, found),
        kit_error=Noise(found.kit_error, "learned" if evidence.errors is None else "declared"),
        drift=Noise(found.drift, "learned"),
        readings=len(readings),
        last_reading=readings[-1].at,
        stories=rivals.stories,
        parted_by=rivals.parted_by,
        kits=tuple(_kits(evidence, found)),
        off_by=interval(0.0, USUAL_OFFSET[evidence.kind], KINDS[evidence.kind].canonical),
    )


def _kits(evidence: Evidence, found: StateEstimate) -> Iterator[KitOffset]:
    """How far each kit reads above the first one, which is taken for right."""
    unit, first = KINDS[evidence.kind].canonical, found.laid.layout.kits[found.level]
    for place, kit in enumerate(evidence.kit_names[1:], start=first):
        offset = found.now.of(np.eye(found.laid.layout.size)[place])
        yield KitOffset(kit, evidence.kit_names[0], as_estimate(offset.interval(), unit))


def interval(value: float, standard: float, unit: str) -> Estimate:
    """A 90 % interval of the normal distribution about a value."""
    return Estimate.normal(value, standard, unit)


def as_estimate(interval_ends: Sequence[Array | float], unit: str) -> Estimate:
    """Value and ends of a 90 % interval as an estimate."""
    value, low, high = (float(each) for each in interval_ends)
    return Estimate(value, low, high, unit)


def cannot_tell(evidence: Evidence, found: StateEstimate) -> CannotTell | None:
    """Why these readings say nothing of the uptake yet, or None if they do."""
    sources = tuple(reading.source for reading in evidence.readings)
    if len(sources) == 1:
        return CannotTell("one-reading", "read-again-later", inputs=sources)
    if evidence.readings[0].at == evidence.readings[-1].at:
        return CannotTell("one-time", "read-again-later", inputs=sources)
    # What is predicted of late events is told, however unsure: it is the readings that must tell. A first reading a few
    # hours after a step does not make it less known than it was before.
    late = evidence.times[-1] - PREDICTED_FOR
    predicted = sum(each.error**2 for each in evidence.demand_steps if each.at > late)
    of_readings = sqrt(max(float(found.uptake.moments()[1]) ** 2 - predicted, 0.0))
    if coverage_factor() * of_readings > TOO_WIDE * found.demand:
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


def _per_day(evidence: Evidence, found: StateEstimate, as_of: datetime) -> Answer:
    if (unknown := cannot_tell(evidence, found)) is not None:
        return unknown
    unit = f"{KINDS[evidence.kind].canonical}/day"
    return told(found, evidence.deliveries, found.takes, 1.0, unit, "uptake", recent_inputs(evidence, as_of))


def _amount(evidence: Evidence, found: StateEstimate, water: Water, as_of: datetime) -> Answer:
    """Uptake times volume. Where doses hold the level steady the volume hardly matters: they are the amount."""
    if (unknown := cannot_tell(evidence, found)) is not None:
        return unknown
    unit = f"{KINDS[evidence.kind].canonical.removesuffix('/L')}/day"
    whole = in_whole(found, found.takes)
    volume = water.volume.canonical()
    return told(found, evidence.deliveries, whole, volume, unit, "uptake", recent_inputs(evidence, as_of))


def in_whole(found: StateEstimate, combination: Array) -> Array:
    """A rate as it goes with the water volume: the more water there is than declared, the more is all of it."""
    whole = combination.copy()
    whole[found.laid.layout.factors] += float(found.now.of(combination).moments()[0])
    return whole


def told(
    found: StateEstimate,
    sure: Deliveries,
    combination: Array,
    factor: float,
    unit: str,
    method: str,
    inputs: tuple[Source, ...],
    signed: bool = False,
    beside: float = 0.0,
) -> Finding:
    """A combination of the state at the end, times a factor, with what its uncertainty is made of.

    `signed`: it may as well be less than nothing; `beside` is the standard deviation of what the state leaves out.
    """
    mixture = found.now.of(combination)
    scaled = replace(mixture, mean=mixture.mean * factor, sd=np.hypot(mixture.sd, beside) * factor)
    scaled = scaled.wider(found.times_as_wide)
    estimate = as_estimate(scaled.interval(), unit)
    return Finding(
        estimate if signed else estimate.at_least_zero(), method, inputs, _parts(found, sure, combination * factor)
    )


def _parts(found: StateEstimate, sure: Deliveries, combination: Array) -> tuple[UncertaintyPart, ...]:
    """What readings and drift give to a combination's uncertainty, and what each cause of unsure deliveries does.

    Each factor's part is its covariance with the combination over its own standard deviation.
    """
    _, variance = found.now.moments()
    whole, by_cause = float(combination @ variance @ combination), {VOLUME: 0.0}
    for place, factor in enumerate(sure.factors, start=found.laid.layout.factors):
        own = float(variance[place, place])
        part = float(combination @ variance[place]) ** 2 / own if own else 0.0
        for cause, error in factor.causes if part else ():
            by_cause[cause] = by_cause.get(cause, 0.0) + part * (error / factor.error) ** 2
    of_readings = max(whole - sum(by_cause.values()), 0.0)
    causes = {"readings-and-drift": of_readings} | by_cause
    return tuple(
        UncertaintyPart(cause, found.times_as_wide * sqrt(part))
        for cause, part in causes.items()
        if part or cause in (VOLUME, "readings-and-drift")
    )


def track_points(kind: str, found: StateEstimate) -> tuple[TrackPoint, ...]:
    """The track as level and uptake with their intervals: the past by the heaviest stories, the end by all."""
    unit = KINDS[kind].canonical
    ends = [
        [
            np.append(each[:-1], last)
            for each, last in zip(
                found.along(way).interval(), found.now.of(way).wider(found.times_as_wide).interval(), strict=True
            )
        ]
        for way in (found.stands, found.takes)
    ]
    levels, rates = (np.array(each).T.tolist() for each in ends)
    return tuple(
        TrackPoint(moment_of_days(days), as_estimate(level, unit), as_estimate(rate, f"{unit}/day"))
        for days, level, rate in zip(found.moments.tolist(), levels, rates, strict=True)
    )


def telling_track(evidence: Evidence, found: StateEstimate) -> tuple[TrackPoint, ...]:
    """The moments at which the readings determine uptake; empty if there is only one reading."""
    points = track_points(evidence.kind, found)
    return tuple(p for p in points if p.per_day.high - p.per_day.low <= 2.0 * TOO_WIDE * found.demand)


def doubtful_readings(evidence: Evidence, found: StateEstimate) -> tuple[DoubtfulReading, ...]:
    """The readings that the others cannot explain."""
    if not np.any(found.wild >= DOUBTFUL):
        return ()
    unit = KINDS[evidence.kind].canonical
    expected, error, surprise = found.expected()
    return tuple(
        DoubtfulReading(
            reading,
            float(evidence.values[index]),
            interval(float(expected[index]), float(error[index]), unit),
            float(surprise[index]),
            float(found.wild[index]),
        )
        for index, reading in enumerate(evidence.readings)
        if found.wild[index] >= DOUBTFUL
    )
