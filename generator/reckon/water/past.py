"""A water's past, told in stretches: once one is over and read on, what is told of it stays as it is.

What is told of a moment rests on the readings of the months before it and of the month after it; older and later
ones hardly count. So a new reading changes what is told of the last months alone.
A stretch is a year, or the first half of the year that is not over yet.
"""

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta, tzinfo

from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.water.findings import (
    DoubtfulReading,
    LedgerLine,
    Replayed,
    TrackPoint,
    UnexplainedShift,
    WaterFindings,
)
from generator.reckon.water.ledger import LEAST_DEMAND
from generator.records.log import Reading, SystemLog

# So long before a moment readings still count, and so many of each quantity at least. A choice of ours.
LOOKS_BACK, LEAST_READ = timedelta(days=180), 12
# So long before a stretch that is over: its own readings tell more of it. A choice of ours.
STRETCH_LOOKS_BACK = timedelta(days=90)
# A stretch is told once it has been over for so long. A choice of ours: a test after a month parts all stories.
SETTLES = timedelta(days=30)


class Past(Struct, frozen=True):
    """What is told of some time of a water. Mappings are by kind of quantity, as in `WaterFindings`."""

    readings: tuple[tuple[Reading, float], ...]
    ledger: tuple[LedgerLine, ...]
    tracks: Mapping[str, tuple[TrackPoint, ...]]
    doubtful: Mapping[str, tuple[DoubtfulReading, ...]]
    shifts: tuple[UnexplainedShift, ...]
    replayed: tuple[Replayed, ...]

    def between(self, begin: datetime, end: datetime | None = None) -> "Past":
        """What is told from one moment to another, or to the end (None)."""

        def within(at: datetime) -> bool:
            return begin <= at and (end is None or at < end)

        return Past(
            readings=tuple(each for each in self.readings if within(each[0].at)),
            ledger=tuple(_within(self.ledger, begin, end)),
            tracks={kind: tuple(p for p in points if within(p.at)) for kind, points in self.tracks.items()},
            doubtful={kind: tuple(d for d in doubts if within(d.reading.at)) for kind, doubts in self.doubtful.items()},
            shifts=tuple(shift for shift in self.shifts if within(shift.before)),
            replayed=tuple(each for each in self.replayed if within(each.reading.at)),
        )


class Stretch(Struct, frozen=True):
    """A calendar year, or (not `whole`) the first half of it."""

    year: int
    whole: bool = True

    def moments(self, zone: tzinfo | None) -> tuple[datetime, datetime]:
        """When it begins and ends on a keeper's clock."""
        end = date(self.year + 1, 1, 1) if self.whole else date(self.year, 7, 1)
        return datetime(self.year, 1, 1, tzinfo=zone), datetime(end.year, end.month, 1, tzinfo=zone)


def stretches_told(log: SystemLog, day: date, zone: tzinfo | None) -> tuple[Stretch, ...]:
    """The stretches that are told for good on a day, from the first reading on."""
    if not log.readings:
        return ()
    first, settled = log.readings[0].at.astimezone(zone).date(), day - SETTLES
    half = Stretch(settled.year, whole=False)
    begun = settled.month > 6 and first < half.moments(zone)[1].date()
    return (*map(Stretch, range(first.year, settled.year)), *([half] if begun else ()))


def told_until(log: SystemLog, day: date, zone: tzinfo | None) -> datetime | None:
    """The moment up to which a log is told for good on a day; None if none is."""
    stretches = stretches_told(log, day, zone)
    return stretches[-1].moments(zone)[1] if stretches else None


def counting(log: SystemLog, day: date, zone: tzinfo | None) -> SystemLog:
    """What of a log counts for a day: all but what stands behind what is told for good alone."""
    end = told_until(log, day, zone)
    return lately(log, end) if end else log


def lately(log: SystemLog, since: datetime, back: timedelta = LOOKS_BACK) -> SystemLog:
    """A log from a moment on, with what counts from before it: readings, what was paid in since, and all that runs.

    Readings count from so long `back` on. A log without any before the moment is kept whole.
    """
    if not log.readings or log.readings[0].at >= since:
        return log
    times: dict[str, list[datetime]] = {}
    for reading in log.readings:
        times.setdefault(reading.kind, []).append(reading.at)
    starts = {kind: _start(of_kind, since, back) for kind, of_kind in times.items()}
    # What was paid in counts for what coral takes up alone.
    start = min((start for kind, start in starts.items() if kind in LEAST_DEMAND), default=since)
    return replace(
        log,
        readings=tuple(reading for reading in log.readings if reading.at >= starts[reading.kind]),
        doses=tuple(dose for dose in log.doses if dose.at >= start),
        water_changes=tuple(change for change in log.water_changes if change.at >= start),
    )


def counting_for_stretch(log: SystemLog, stretch: Stretch, zone: tzinfo | None) -> SystemLog:
    """What of a log counts for a stretch that is told for good: up to `SETTLES` after it, from before it on."""
    begin, end = stretch.moments(zone)
    return lately(log.until(end + SETTLES), begin, STRETCH_LOOKS_BACK)


def _start(times: Sequence[datetime], since: datetime, back: timedelta) -> datetime:
    """From when on readings count, by the times of all of them, in order."""
    before = bisect_left(times, since)
    return min(since - back, times[max(before - LEAST_READ, 0)] if before else since)


def with_past(found: WaterFindings, stretches: Sequence[Past], begin: datetime) -> WaterFindings:
    """Findings that from `begin` on are these, and before it those of the stretches."""
    own = Past(
        found.readings,
        found.ledger,
        {kind: uptake.track for kind, uptake in found.uptake.items()},
        {kind: uptake.doubtful for kind, uptake in found.uptake.items()},
        found.calcification.shifts,
        found.replayed,
    )
    every = (*stretches, own.between(begin))
    return replace(
        found,
        readings=tuple(each for told in every for each in told.readings),
        ledger=tuple(sorted((line for told in every for line in told.ledger), key=order_in_ledger)),
        uptake={
            kind: replace(
                uptake,
                track=tuple(point for told in every for point in told.tracks.get(kind, ())),
                doubtful=tuple(doubt for told in every for doubt in told.doubtful.get(kind, ())),
            )
            for kind, uptake in found.uptake.items()
        },
        calcification=replace(found.calcification, shifts=tuple(shift for told in every for shift in told.shifts)),
        replayed=tuple(each for told in every for each in told.replayed),
    )


def _within(lines: Sequence[LedgerLine], begin: datetime, end: datetime | None) -> Iterator[LedgerLine]:
    """The lines from one moment to another; of one that lasts longer the part that is between them."""
    for line in lines:
        if line.at == line.until:
            if begin <= line.at and (end is None or line.at < end):
                yield line
        elif line.until > begin and (end is None or line.at < end):
            at, until = max(line.at, begin), line.until if end is None else min(line.until, end)
            yield replace(line, at=at, until=until, change=line.change * ((until - at) / (line.until - line.at)))


def order_in_ledger(line: LedgerLine) -> tuple[object, ...]:
    """How the lines of a ledger are sorted: by kind and in order of time."""
    return line.kind, line.at, line.until, line.cause, line.source
