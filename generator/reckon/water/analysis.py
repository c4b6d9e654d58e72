"""All that is found about one system's water at a moment: the one way into this room."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, time, tzinfo
from itertools import chain

import numpy as np
from msgspec import Struct

from generator.reckon.water.calcification import (
    Steps,
    calcification,
    of_calcification,
    of_forecast,
    of_uptake,
    unexplained_shifts,
)
from generator.reckon.water.canonical import band, canonical_errors, canonical_value, canonical_values
from generator.reckon.water.deliveries import Deliveries, changes_by_habit, deliveries, habits
from generator.reckon.water.demand_events import DemandEvent, demand_events, demand_steps
from generator.reckon.water.estimate import SETTLES, Past, Stretch, order_in_ledger, settled
from generator.reckon.water.findings import AgainstBand, Latest, LedgerLine, Replayed, Trend, Uptake, WaterFindings
from generator.reckon.water.forecast import going_on, trends
from generator.reckon.water.health import WaterHealth, water_health
from generator.reckon.water.ledger import Evidence, account_of, in_days, payments, renewals
from generator.reckon.water.replay import LATELY, Record, nearest_predictions, replay, track_records
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import doubtful_readings, run_all, telling_track, uptake
from generator.reckon.water.when_to_test import LESS, next_tests, reading_plans
from generator.records.coral import Coral
from generator.records.log import Reading, SystemLog
from generator.records.source import Source
from generator.records.system import System
from generator.units.kinds import TAKEN_UP

# Those taken up that go into the skeleton together.
OF_SKELETON = ("alkalinity", "calcium")


def analyse_water(
    system: System,
    log: SystemLog,
    corals: Iterable[Coral],
    as_of: datetime,
    events: Sequence[DemandEvent] | None = None,
    past: bool = True,
    predicted: Steps = (),
) -> WaterFindings:
    """Ledger, uptake, calcification, forecasts and trends of a system, from its log up to a moment.

    `events` are what may have changed its demand, with what each is predicted to do; None: as the files alone tell.
    Not `past`: only what a forecast or a dosing plan asks for, without the uptake's track, what water changes and the
    coral made of the ledger, trends, health and what was predicted of past readings. `predicted` are those of the
    events' steps, meq/L/day, that nobody has read since, each from a moment on.
    """
    log = log.until(as_of)
    read = tuple(zip(log.readings, canonical_values(log.readings), strict=True))
    if events is None:
        events = demand_events(system.id, log, corals, as_of)
    evidence, found = gather(system, log, events, as_of)
    uptakes = {kind: uptake(evidence[kind], found[kind], system.water, as_of, past) for kind in TAKEN_UP}
    latest = _latest(system, read, uptakes, as_of)
    poured, changing = habits(log, as_of), changes_by_habit(log, as_of)
    ahead = {kind: going_on(evidence[kind], found[kind], system, poured, changing, as_of) for kind in TAKEN_UP}
    forecasts = {kind: told for kind, (told, _) in ahead.items()}
    without = {kind: bare for kind, (_, bare) in ahead.items() if bare is not None}
    grams = calcification(
        evidence["alkalinity"], evidence["calcium"], found["alkalinity"], found["calcium"], system.water, as_of, past
    )
    if predicted:
        litres = system.water.volume.canonical()
        uptakes["alkalinity"] = of_uptake(uptakes["alkalinity"], predicted, litres)
        grams = of_calcification(grams, predicted, litres)
        ends = band(system, "alkalinity")
        for each in (forecasts, without):
            each |= {kind: of_forecast(told, predicted, *ends) for kind, told in each.items() if kind == "alkalinity"}
    plans = reading_plans(system, evidence, found, events, as_of)
    return WaterFindings(
        system=system.id,
        as_of=as_of,
        latest=latest,
        ledger=_ledger(log, evidence, found if past else dict.fromkeys(found)),
        uptake=uptakes,
        calcification=grams,
        forecasts=forecasts,
        trends=_trends(read, as_of) if past else {},
        readings=read,
        health=_health(system, read, uptakes, as_of) if past else None,
        next_tests=next_tests(
            system, latest, forecasts, plans, as_of, {kind: found.parted_by for kind, found in uptakes.items()}
        ),
        plans=plans,
        habits=poured,
        changing=changing,
        gone=tuple((event.at, event.share) for event in events if event.what in LESS),
        if_nothing_given=without,
        replayed=tuple(chain.from_iterable(replay(evidence[kind], found[kind]) for kind in TAKEN_UP)) if past else (),
    )


def stretch_told(
    system: System, log: SystemLog, events: Sequence[DemandEvent], stretch: Stretch, zone: tzinfo | None
) -> Past:
    """What is told for good of a stretch, by what of a log is `counting_for_stretch` and by all events."""
    begin, end = stretch.moments(zone)
    at = end + SETTLES
    evidence, found = gather(system, log, [event for event in events if event.at <= at], at)
    known = {kind: (evidence[kind], each) for kind, each in found.items() if each is not None}
    alkalinity = known.get("alkalinity")
    # The first holds what was paid in before the first reading too.
    since = begin if log.readings and log.readings[0].at < begin else datetime.min.replace(tzinfo=UTC)
    return Past(
        readings=tuple(zip(log.readings, canonical_values(log.readings), strict=True)),
        ledger=_ledger(log, evidence, found),
        tracks={kind: telling_track(*each) for kind, each in known.items()},
        doubtful={kind: doubtful_readings(*each) for kind, each in known.items()},
        shifts=unexplained_shifts(*alkalinity) if alkalinity else (),
        replayed=tuple(chain.from_iterable(replay(*each, begin, end) for each in known.values())),
    ).between(since, end)


def gather(
    system: System, log: SystemLog, events: Sequence[DemandEvent], as_of: datetime, kinds: Sequence[str] = TAKEN_UP
) -> tuple[dict[str, Evidence], dict[str, StateEstimate | None]]:
    """What is known of each quantity coral takes up, and its track, from the log up to a moment.

    `kinds` are the quantities asked for, alkalinity and calcium among them.
    """
    evidence = evidence_of(system, log, events, as_of, kinds)
    return evidence, run_all(evidence, as_of)


def evidence_of(
    system: System, log: SystemLog, events: Sequence[DemandEvent], as_of: datetime, kinds: Sequence[str] = TAKEN_UP
) -> dict[str, Evidence]:
    """What is known of each quantity coral takes up, from the log up to a moment."""
    log = log.until(as_of)
    read = tuple(zip(log.readings, canonical_values(log.readings), strict=True))
    sure = deliveries(system, log)
    return {kind: _evidence(system, log, kind, read, events, sure, as_of) for kind in kinds}


def _evidence(
    system: System,
    log: SystemLog,
    kind: str,
    read: Sequence[tuple[Reading, float]],
    events: Sequence[DemandEvent],
    sure: Deliveries,
    as_of: datetime,
) -> Evidence:
    of_kind = [(reading, value) for reading, value in read if reading.kind == kind]
    levels = {k: [(reading.at, value) for reading, value in read if reading.kind == k] for k in TAKEN_UP}
    values = np.array([value for _, value in of_kind])
    errors = canonical_errors(system, [reading for reading, _ in of_kind])
    lines = payments(system, log, kind, levels, as_of)
    usual = float(np.median(values)) if len(values) else 0.0
    return Evidence(
        kind=kind,
        readings=tuple(reading for reading, _ in of_kind),
        values=values,
        errors=None if errors is None else np.array(errors),
        account=account_of(lines, renewals(system, log, kind, usual), as_of, sure),
        lines=lines,
        demand_steps=tuple(demand_steps(events, kind)),
        deliveries=sure,
        kit_names=_kits([reading for reading, _ in of_kind]),
        wider=_wider(system, kind),
        deeds=tuple(_deeds(log, events)),
    )


def _wider(system: System, kind: str) -> tuple[float, float]:
    """How many times as wide as calculated a quantity's ranges are, and from when on (days)."""
    if (ranges := system.likely_ranges) is None:
        return 1.0, np.inf
    return ranges.of(kind), in_days(datetime.combine(ranges.since, time(), UTC))


def _kits(readings: Sequence[Reading]) -> tuple[str, ...]:
    """The kits of readings, in order of their first; none where one of them names none."""
    names = [reading.kit for reading in readings]
    return tuple(dict.fromkeys(name for name in names if name)) if all(names) else ()


def _deeds(log: SystemLog, events: Sequence[DemandEvent]) -> Iterator[tuple[datetime, Source]]:
    """The lines of water changes, and of those events that may have changed demand."""
    opened = {(event.at, event.what, event.coral) for event in events}
    yield from ((change.at, change.source) for change in log.water_changes)
    yield from ((event.at, event.source) for event in log.events if (event.at, event.what, event.coral) in opened)


def _trends(read: Sequence[tuple[Reading, float]], as_of: datetime) -> dict[str, Trend]:
    """The trends of all that is only watched."""
    watched = [(reading, value) for reading, value in read if reading.kind not in TAKEN_UP]
    return trends([reading for reading, _ in watched], [value for _, value in watched], as_of)


def _health(
    system: System, read: Sequence[tuple[Reading, float]], uptakes: Mapping[str, Uptake], as_of: datetime
) -> WaterHealth:
    """The water's health from all readings that are not doubtful."""
    doubtful = {doubt.reading for found in uptakes.values() for doubt in found.doubtful}
    sound = [(reading, value) for reading, value in read if reading not in doubtful]
    learned = {kind: found.kit_error.value for kind, found in uptakes.items()}
    return water_health(system, [reading for reading, _ in sound], [value for _, value in sound], as_of, learned)


def _ledger(
    log: SystemLog, evidence: Mapping[str, Evidence], found: Mapping[str, StateEstimate | None]
) -> tuple[LedgerLine, ...]:
    """Every payment, with what water changes and the coral made of it, by kind and in order of time."""
    lines: list[LedgerLine] = []
    for kind, of_kind in evidence.items():
        lines += of_kind.lines
        if (known := found[kind]) is not None:
            lines += settled(log, of_kind, known)
    return tuple(sorted(lines, key=order_in_ledger))


def _latest(
    system: System, read: Sequence[tuple[Reading, float]], uptakes: Mapping[str, Uptake], as_of: datetime
) -> dict[str, Latest]:
    doubtful = {d.reading for found in uptakes.values() for d in found.doubtful}
    last = {reading.kind: (reading, value) for reading, value in read}
    found = {}
    for kind, (reading, value) in sorted(last.items()):
        low, high = band(system, kind)
        target = system.target.of(kind) if system.target else None
        found[kind] = Latest(
            reading=reading,
            value=value,
            low=low,
            high=high,
            target=canonical_value(target) if target else None,
            standing=against_band(system, kind, value),
            age_days=(as_of - reading.at).total_seconds() / 86400.0,
            doubtful=reading in doubtful,
        )
    return found


def against_band(system: System, kind: str, value: float) -> AgainstBand:
    """Where a value in the canonical unit stands against the system's band."""
    low, high = band(system, kind)
    if low is None and high is None:
        return "no-band"
    if low is not None and value < low:
        return "low"
    if high is not None and value > high:
        return "high"
    return "within"


class ReadingsHeld(Struct, frozen=True):
    """How a water's readings fell into the ranges predicted: every record, and the last predictions a step ahead."""

    records: tuple[Record, ...]
    last: tuple[Replayed, ...]


def readings_held(water: WaterFindings) -> ReadingsHeld:
    """How well what was predicted of a water's readings held."""
    told = water.replayed
    return ReadingsHeld(tuple(track_records(told)), tuple(nearest_predictions(told)[-LATELY:]))
