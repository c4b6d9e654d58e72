"""How other predictions held: the uptake of arrivals, how long stocks lasted, how corals grew and when they touched."""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime, timedelta
from itertools import pairwise

from msgspec import Struct

from generator.nature.constants import RULER_REPEATS_TO
from generator.reckon.arrivals.observed import Observed
from generator.reckon.arrivals.story import CoralChange
from generator.reckon.dosing.stocks import Stock, stock
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.growth.analysis import spreading
from generator.reckon.growth.forecast import Dates, gone_by, spread_of
from generator.reckon.growth.measurements import segments
from generator.reckon.growth.room import nearing, stand
from generator.reckon.water.findings import Replayed, WaterFindings
from generator.reckon.water.replay import LATELY, Record, nearest_predictions, track_records
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate

# So many measured days make a prediction: two tell how fast it grew.
MEASURED = 3


class ReadingsHeld(Struct, frozen=True):
    """How a water's readings fell into the ranges predicted: every record, and the last predictions a step ahead."""

    records: tuple[Record, ...]
    last: tuple[Replayed, ...]


def readings_held(water: WaterFindings) -> ReadingsHeld:
    """How well what was predicted of a water's readings held."""
    told = water.replayed
    return ReadingsHeld(tuple(track_records(told)), tuple(nearest_predictions(told)[-LATELY:]))


class _Held(Struct, frozen=True):
    """What was predicted and what was found, in one unit."""

    predicted: Estimate
    found: Estimate

    @property
    def agree(self) -> bool:
        """Whether both can be true: their 90 % intervals meet."""
        return self.predicted.low <= self.found.high and self.found.low <= self.predicted.high


class ArrivalHeld(_Held, frozen=True):
    """A large change among the corals: what it was predicted to do to the uptake (meq/L/day) and what it did."""

    system: str
    coral: str
    what: str
    day: date


class StockHeld(Struct, frozen=True):
    """A stock that was filled and filled again: when it was predicted to be empty, and when it was filled anew.

    Filled before it was empty, a stock says only that it lasted so long: the prediction is wrong for sure (`agree` is
    false) only where it lasted longer than the latest day predicted.
    """

    system: str
    solution: str
    filled: datetime
    earliest: datetime
    latest: datetime
    refilled: datetime

    @property
    def agree(self) -> bool:
        """Whether the stock was filled anew before the latest moment predicted."""
        return self.refilled <= self.latest


class SizeHeld(_Held, frozen=True):
    """A coral's length (cm) on the day it was last measured, as predicted from what was measured before."""

    coral: str
    day: date


def size_held(coral: Coral, as_of: date) -> SizeHeld | None:
    """The last size of a coral beside what was predicted of it, unless it was cut or broken since the size before."""
    sizes = coral.measured_until(as_of)
    days = sorted({size.at for size in sizes})
    if len(days) < MEASURED:
        return None
    before, last = days[-2:]
    lost = any(before < part.since <= last and part.began in ("cutting", "breakage") for part in segments(coral, as_of))
    spread = spread_of(coral, spreading(coral, before))
    if lost or isinstance(spread, CannotTell):
        return None
    length = next(size for size in sizes if size.at == last).length.canonical()
    found = Estimate.normal(length, RULER_REPEATS_TO.value * length, "cm")
    return SizeHeld(spread.length(last), found, coral.id, last)


class TouchHeld(Struct, frozen=True):
    """Two corals that were seen to touch: when they were predicted to, by what was known before, and when they did.

    `agree` says whether they did so on one of the days of the 90 % interval.
    """

    coral: str
    other: str
    day: date
    predicted: Dates

    @property
    def agree(self) -> bool:
        """Whether the day lies in the interval; an end that is farther away than any prediction goes is open."""
        first, last = self.predicted.earliest or date.max, self.predicted.latest or date.max
        return first <= self.day <= last


def touches_held(
    coral: Coral, corals: Mapping[str, Coral], systems: Mapping[str, System], as_of: date
) -> Iterator[TouchHeld]:
    """Every touch that a coral's file records, with what was predicted when one of the two was last measured or moved.

    Nothing is told of those of which it was not known where they stood or how large they were, nor of those that were
    cut or broke since they were measured: that nobody can predict.
    """
    for touch in (each for each in coral.touches if each.at <= as_of):
        pair = coral, corals[touch.coral]
        days = [size.at for each in pair for size in each.sizes] + [p.since for each in pair for p in each.placements]
        day = max((day for day in days if day < touch.at), default=None)
        if any(_made_smaller_unseen(each, touch.at) for each in pair):
            continue
        place = coral.placement_on(day) if day else None
        if day and place and place.system in systems:
            growths = {each.id: spreading(each, day) for each in pair}
            here, _ = stand(systems[place.system], pair, growths, day)
            if len(here) == len(pair) and all(each.known for each in here):
                yield TouchHeld(coral.id, touch.coral, touch.at, gone_by(nearing(here[0], here[1], day), day))


def _made_smaller_unseen(coral: Coral, until: date) -> bool:
    """Whether a coral was cut or broke after it was last measured before a day."""
    measured = max((size.at for size in coral.sizes if size.at < until), default=date.min)
    return any(measured < lost < until for lost in coral.made_smaller)


def arrivals_held(changes: Mapping[str, Iterable[CoralChange]]) -> tuple[ArrivalHeld, ...]:
    """Every large change with both a prediction and a measured result, by day."""
    found = [
        ArrivalHeld(each.step, each.observed.rise.estimate, each.system, each.coral, each.what, each.day)
        for of_system in changes.values()
        for each in of_system
        if each.step is not None and isinstance(each.observed, Observed) and isinstance(each.observed.rise, Finding)
    ]
    return tuple(sorted(found, key=lambda each: (each.day, each.system, each.coral)))


def stocks_held(system: System, log: SystemLog) -> Iterator[StockHeld]:
    """Every stock of a system that was filled twice, with what was predicted on the first day."""
    for solution in system.solutions:
        fillings = [each for each in log.fillings if each.solution == solution]
        for first, then in pairwise(fillings):
            # As it was known when the stock was filled: later pump rates were not written yet.
            known = stock(system, log, solution, first.at, first.at, held=first.amount.canonical())
            if isinstance(known, Stock) and known.lasts is not None:
                earliest, latest = (_after(first.at, days) for days in (known.lasts.low, known.lasts.high))
                yield StockHeld(system.id, solution, first.at, earliest, latest, then.at)


def _after(at: datetime, days: float) -> datetime:
    # A pump that may stand still empties nothing: such a day lies beyond any calendar.
    return at + timedelta(days=min(days, 36500.0))
