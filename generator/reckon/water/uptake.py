"""What the coral takes up of a quantity a day, with its interval and what the interval is made of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import sqrt

import numpy as np

from generator.reckon.estimate.mixture import Array, Mixture
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.estimate.stories import Ints
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.account import Account, Opening
from generator.reckon.water.deliveries import VOLUME, Deliveries
from generator.reckon.water.estimate import Track, track, track_both
from generator.reckon.water.findings import DoubtfulReading, LedgerLine, Noise, Story, StoryKind, TrackPoint, Uptake
from generator.reckon.water.ledger import in_days, moment_of
from generator.reckon.water.process import Series
from generator.reckon.water.rivals import DOUBTFUL, JUMP, STEP, STOP, STRAY
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
# Stories of so many days compete; one told with odds below the least is not worth a word, and one with the
# highest is as good as sure.
COMPETE_FOR = timedelta(days=21)
LEAST_ODDS = 0.10
SURE = 0.95
NAMES: dict[int, StoryKind | None] = {STRAY: "wrong-reading", JUMP: "shift", STEP: None, STOP: "stop"}


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything the estimate of one quantity rests on, readings in order of time.

    `deeds` are the log's lines that pay nothing in and yet count: water changes, and events that opened the uptake.
    `kits` numbers the kit of each reading, and `offsets` is how far each kit but number 0 may be off from that.
    """

    kind: str
    readings: tuple[Reading, ...]
    values: Array
    errors: Array | None
    account: Account
    lines: tuple[LedgerLine, ...]
    openings: tuple[Opening, ...]
    deliveries: Deliveries
    deeds: tuple[tuple[datetime, Source], ...] = ()
    kits: Ints | None = None
    offsets: tuple[float, ...] = ()

    @property
    def times(self) -> Array:
        """Times of the readings, in days."""
        return np.array([in_days(reading.at) for reading in self.readings])

    def series(self, errors: Array | float | None = None) -> Series:
        """The readings with their errors, or with others."""
        own = self.errors if errors is None else errors
        usual = USUAL_KIT_ERROR[self.kind] if own is None else own
        return Series(self.times, self.values, np.broadcast_to(usual, len(self.readings)), self.kits, self.offsets)


def run(evidence: Evidence, as_of: datetime) -> Track | None:
    """The track of one quantity up to a moment; None without a reading."""
    if not evidence.readings:
        return None
    return track(
        evidence.series(),
        evidence.account,
        evidence.openings,
        in_days(as_of),
        LEAST_DEMAND[evidence.kind],
        learn_error=evidence.errors is None,
        factor_errors=evidence.deliveries.errors,
    )


def run_all(evidence: Mapping[str, Evidence], as_of: datetime) -> dict[str, Track | None]:
    """The track of every quantity: alkalinity and calcium as one, where both were read; the others by themselves."""
    alkalinity, calcium = evidence["alkalinity"], evidence["calcium"]
    found: dict[str, Track | None] = {}
    if len(alkalinity.readings) > 1 and len(calcium.readings) > 1:
        first, second = track_both(
            _learned(alkalinity, as_of),
            _learned(calcium, as_of),
            (alkalinity.account, calcium.account),
            alkalinity.openings,
            in_days(as_of),
            LEAST_DEMAND["alkalinity"],
            alkalinity.deliveries.errors,
        )
        found = {"alkalinity": first, "calcium": second}
    return {kind: found.get(kind) or run(each, as_of) for kind, each in evidence.items()}


def _learned(evidence: Evidence, as_of: datetime) -> Series:
    """The readings with the errors declared, or with those they show by themselves."""
    alone = run(evidence, as_of) if evidence.errors is None else None
    return evidence.series(alone.kit_error if alone else None)


def uptake(evidence: Evidence, found: Track | None, water: Water, as_of: datetime) -> Uptake:
    """The uptake at a moment, as concentration and as amount a day, with the whole track behind it."""
    readings = evidence.readings
    if found is None:
        unknown = CannotTell("no-readings", "read-twice")
        none = Noise(USUAL_KIT_ERROR[evidence.kind], "assumed")
        return Uptake(evidence.kind, unknown, unknown, (), (), none, Noise(0.0, "assumed"), 0, None)
    return Uptake(
        kind=evidence.kind,
        per_day=_per_day(evidence, found, as_of),
        amount=_amount(evidence, found, water, as_of),
        track=_telling(track_points(evidence.kind, found), found.demand),
        doubtful=_doubtful(evidence, found),
        kit_error=Noise(found.kit_error, "learned" if evidence.errors is None else "declared"),
        drift=Noise(found.drift, "learned"),
        readings=len(readings),
        last_reading=readings[-1].at,
        stories=_stories(evidence, found, as_of),
    )


def interval(value: float, standard: float, unit: str) -> Estimate:
    """A 90 % interval of the normal distribution about a value."""
    return Estimate(value, value - Z90 * standard, value + Z90 * standard, unit)


def as_estimate(interval_ends: Sequence[Array | float], unit: str) -> Estimate:
    """Value and ends of a 90 % interval as an estimate."""
    value, low, high = (float(each) for each in interval_ends)
    return Estimate(value, low, high, unit)


def at_least_nothing(told: Mixture, unit: str) -> Estimate:
    """What is taken up by a mixture of stories: its median and 90 % interval, and never less than nothing.

    A water that gives more than it takes by all stories stays as it is told.
    """
    value, low, high = (float(each) for each in told.interval())
    if high > 0.0:
        value, low = max(value, 0.0), max(low, 0.0)
    return Estimate(value, low, high, unit)


def cannot_tell(evidence: Evidence, found: Track) -> CannotTell | None:
    """Why these readings say nothing of the uptake yet, or None if they do."""
    sources = tuple(reading.source for reading in evidence.readings)
    if len(sources) == 1:
        return CannotTell("one-reading", "read-again-later", inputs=sources)
    if evidence.readings[0].at == evidence.readings[-1].at:
        return CannotTell("one-time", "read-again-later", inputs=sources)
    if Z90 * float(found.uptake.moments()[1]) > TOO_WIDE * found.demand:
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


def _per_day(evidence: Evidence, found: Track, as_of: datetime) -> Answer:
    if (unknown := cannot_tell(evidence, found)) is not None:
        return unknown
    unit = f"{KINDS[evidence.kind].canonical}/day"
    return told(found, evidence.deliveries, found.takes, 1.0, unit, "uptake", recent_inputs(evidence, as_of))


def _amount(evidence: Evidence, found: Track, water: Water, as_of: datetime) -> Answer:
    """Uptake times volume. Where doses hold the level steady the volume hardly matters: they are the amount."""
    if (unknown := cannot_tell(evidence, found)) is not None:
        return unknown
    unit = f"{KINDS[evidence.kind].canonical.removesuffix('/L')}/day"
    whole = in_whole(found, found.takes)
    volume = water.volume.canonical()
    return told(found, evidence.deliveries, whole, volume, unit, "uptake", recent_inputs(evidence, as_of))


def in_whole(found: Track, combination: Array) -> Array:
    """A rate as it goes with the water volume: the more water there is than declared, the more is all of it."""
    whole = combination.copy()
    whole[found.laid.layout.factors] += float(found.now.of(combination).moments()[0])
    return whole


def told(
    found: Track,
    sure: Deliveries,
    combination: Array,
    factor: float,
    unit: str,
    method: str,
    inputs: tuple[Source, ...],
    signed: bool = False,
) -> Finding:
    """A combination of the state at the end, times a factor, with what its uncertainty is made of.

    `signed`: it may as well be less than nothing.
    """
    mixture = found.now.of(combination)
    scaled = Mixture(mixture.weights, mixture.mean * factor, mixture.sd * factor)
    estimate = as_estimate(scaled.interval(), unit) if signed else at_least_nothing(scaled, unit)
    return Finding(estimate, method, inputs, _parts(found, sure, combination * factor))


def _parts(found: Track, sure: Deliveries, combination: Array) -> tuple[UncertaintyPart, ...]:
    """What readings and drift give to a combination's uncertainty, and what each cause of unsure deliveries does.

    Each factor's part is its covariance with the combination over its own standard deviation.
    """
    _, variance = found.now.moments()
    whole, by_cause = float(combination @ variance @ combination), {VOLUME: 0.0}
    for place, factor in enumerate(sure.factors, start=found.laid.layout.factors):
        own = float(variance[place, place])
        part = float(combination @ variance[place]) ** 2 / own if own > 0.0 else 0.0
        for cause, error in factor.causes if part > 0.0 else ():
            by_cause[cause] = by_cause.get(cause, 0.0) + part * (error / factor.error) ** 2
    of_readings = max(whole - sum(by_cause.values()), 0.0)
    causes = {"readings-and-drift": of_readings} | by_cause
    return tuple(
        UncertaintyPart(cause, sqrt(part))
        for cause, part in causes.items()
        if part > 0.0 or cause in (VOLUME, "readings-and-drift")
    )


def track_points(kind: str, found: Track) -> tuple[TrackPoint, ...]:
    """The track as level and uptake with their intervals: the past by the heaviest stories, the end by all."""
    unit = KINDS[kind].canonical
    ends = [
        [
            np.append(each[:-1], last)
            for each, last in zip(found.along(way).interval(), found.now.of(way).interval(), strict=True)
        ]
        for way in (found.stands, found.takes)
    ]
    levels, rates = (np.array(each).T.tolist() for each in ends)
    return tuple(
        TrackPoint(moment_of(days), as_estimate(level, unit), as_estimate(rate, f"{unit}/day"))
        for days, level, rate in zip(found.moments.tolist(), levels, rates, strict=True)
    )


def _telling(points: tuple[TrackPoint, ...], demand: float) -> tuple[TrackPoint, ...]:
    """The moments at which the readings determine uptake; empty if there is only one reading."""
    return tuple(p for p in points if p.per_day.high - p.per_day.low <= 2.0 * TOO_WIDE * demand)


def _doubtful(evidence: Evidence, found: Track) -> tuple[DoubtfulReading, ...]:
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


def _stories(evidence: Evidence, found: Track, as_of: datetime) -> tuple[Story, ...]:
    """What competes to explain the last weeks, the likeliest first; nothing where what happened is as good as sure."""
    stories: list[Story] = []
    unit = KINDS[evidence.kind].canonical
    expected, error, _ = found.expected()
    for each in found.told((STRAY, JUMP, STEP, STOP), in_days(as_of - COMPETE_FOR), LEAST_ODDS / 4.0):
        before, last = evidence.readings[max(each.index - 1, 0)], evidence.readings[each.index]
        changed = NAMES[each.kind] or ("more" if each.size > 0.0 else "less")
        if each.kind == STRAY:
            off = float(evidence.values[each.index] - expected[each.index])
            size = interval(off, float(error[each.index]), unit)
        else:
            size = interval(each.size, each.error, unit if each.kind == JUMP else f"{unit}/day")
        stories.append(Story(changed, before.at, last.at, each.odds, size, (before.source, last.source)))
    return tuple(_joined(stories))


def _joined(stories: list[Story]) -> list[Story]:
    """One story for what differs only in when it happened; only those that are neither unlikely nor sure."""
    found: dict[object, Story] = {}
    for story in stories:
        key = (story.kind, story.before) if story.kind in ("wrong-reading", "shift") else story.kind
        other = found.get(key)
        if other is not None:
            best = max(story, other, key=lambda each: each.odds)
            ends = min(story.after, other.after), max(story.before, other.before)
            inputs = tuple(dict.fromkeys((*other.inputs, *story.inputs)))
            story = Story(story.kind, *ends, min(story.odds + other.odds, 1.0), best.size, inputs)
        found[key] = story
    kept = [story for story in found.values() if story.odds >= LEAST_ODDS]
    return sorted(kept, key=lambda story: -story.odds) if any(story.odds < SURE for story in kept) else []
