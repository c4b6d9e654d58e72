"""The tables of a system: readings, uptake, predictions, ledger, doses, tests ahead, large changes."""

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from generator.reckon.arrivals.observed import Observed
from generator.reckon.arrivals.story import CoralChange
from generator.reckon.attention.trades import PREDICTED
from generator.reckon.dosing.phases import DoseRate
from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import Finding
from generator.reckon.water.findings import LedgerLine, NextTest, Replayed
from generator.records.log import Reading
from generator.render.tables.column import Basis, Column, Table, interval_columns
from generator.units.quantity import Estimate


class _Read(NamedTuple):
    reading: Reading
    flagged: bool


class _UptakeAt(NamedTuple):
    at: datetime
    kind: str
    per_day: Estimate
    predicted: bool


class _Predicted(NamedTuple):
    of: Replayed
    value: float
    predicted: Estimate


class _Change(NamedTuple):
    line: LedgerLine
    change: float
    unit: str


class _Dose(NamedTuple):
    phase: int
    days: float | None
    dose: DoseRate


class _Event(NamedTuple):
    of: CoralChange
    predicted: Estimate | None
    measured: Estimate | None
    smallest: float | None
    chance: float | None
    unit: str


def _readings(basis: Basis, system: str) -> Iterator[_Read]:
    if system in basis.found.whole_water:
        found = basis.found.whole_water[system]
        doubtful = {doubt.reading.source for uptake in found.uptake.values() for doubt in uptake.doubtful}
        for reading, _ in found.readings:
            yield _Read(reading, reading.source in doubtful)


def _uptake(basis: Basis, system: str) -> Iterator[_UptakeAt]:
    if system in basis.found.whole_water:
        since = min((each.event.at for each in basis.found.predicted.get(system, ())), default=None)
        for kind, uptake in basis.found.whole_water[system].uptake.items():
            for point in uptake.track:
                predicted = since is not None and point.at > since and kind in PREDICTED
                per_day = basis.display.estimate(kind, point.per_day.at_least_zero(), of_level=False)
                yield _UptakeAt(point.at, kind, per_day, predicted)


def _predictions(basis: Basis, system: str) -> Iterator[_Predicted]:
    if system in basis.found.whole_water:
        for each in basis.found.whole_water[system].replayed:
            kind = each.reading.kind
            predicted = basis.display.estimate(kind, each.predicted, of_level=True)
            yield _Predicted(each, basis.display.level(kind, each.value), predicted)


def _ledger(basis: Basis, system: str) -> Iterator[_Change]:
    if system in basis.found.whole_water:
        for line in basis.found.whole_water[system].ledger:
            yield _Change(line, basis.display.change(line.kind, line.change), basis.display.unit(line.kind))


def _doses(basis: Basis, system: str) -> Iterator[_Dose]:
    plan = basis.found.dosing[system].plan if system in basis.found.dosing else None
    if isinstance(plan, Plan):
        for number, phase in enumerate(plan.phases, 1):
            for dose in phase.doses:
                yield _Dose(number, phase.days, dose)


def _tests(basis: Basis, system: str) -> Iterator[NextTest]:
    if system in basis.found.water:
        yield from basis.found.water[system].next_tests.values()


def _changes(basis: Basis, system: str) -> Iterator[_Event]:
    """Large changes among the corals."""
    show = basis.display
    for change in basis.found.changes.get(system, ()):
        seen = change.observed if isinstance(change.observed, Observed) else None
        rise = seen.rise.estimate if seen and isinstance(seen.rise, Finding) else None
        yield _Event(
            change,
            show.estimate("alkalinity", change.step, of_level=False) if change.step else None,
            show.estimate("alkalinity", rise, of_level=False) if rise else None,
            show.change("alkalinity", seen.matters) if seen else None,
            seen.chance if seen else None,
            f"{show.unit('alkalinity')}/day",
        )


READINGS = Table(
    "readings",
    _readings,
    (
        Column("at", lambda row: row.reading.at, "datetime"),
        Column("quantity", lambda row: row.reading.kind),
        Column("value", lambda row: _as_written(row.reading), "number", unit_in="unit"),
        Column("below", lambda row: row.reading.value.below, "boolean"),
        Column("unit", lambda row: row.reading.value.unit),
        Column("kit", lambda row: row.reading.kit),
        Column("flagged", lambda row: row.flagged, "boolean"),
        Column("source", lambda row: row.reading.source),
    ),
    by_system=True,
)
UPTAKE = Table(
    "uptake",
    _uptake,
    (
        Column("at", lambda row: row.at, "datetime"),
        Column("quantity", lambda row: row.kind),
        *interval_columns("per_day", lambda row: row.per_day),
        Column("unit", lambda row: f"{row.per_day.unit}/day"),
        Column("predicted", lambda row: row.predicted, "boolean"),
    ),
    by_system=True,
)
PREDICTIONS = Table(
    "predictions",
    _predictions,
    (
        Column("at", lambda row: row.of.reading.at, "datetime"),
        Column("quantity", lambda row: row.of.reading.kind),
        Column("value", lambda row: row.value, "number", unit_in="unit"),
        Column("days_ahead", lambda row: row.of.days, "number", "days"),
        *interval_columns("predicted", lambda row: row.predicted),
        Column("inside", lambda row: row.of.inside, "boolean"),
        Column("unit", lambda row: row.predicted.unit),
    ),
    by_system=True,
)
LEDGER = Table(
    "ledger",
    _ledger,
    (
        Column("at", lambda row: row.line.at, "datetime"),
        Column("quantity", lambda row: row.line.kind),
        Column("change", lambda row: row.change, "number", unit_in="unit"),
        Column("unit", lambda row: row.unit),
        Column("cause", lambda row: row.line.cause),
        Column("source", lambda row: row.line.source),
    ),
    by_system=True,
)
DOSING = Table(
    "dosing",
    _doses,
    (
        Column("phase", lambda row: row.phase, "integer"),
        Column("days", lambda row: row.days, "number", "days"),
        Column("supply", lambda row: row.dose.supply),
        Column("how", lambda row: row.dose.how),
        Column("now", lambda row: row.dose.now, "number", unit_in="unit"),
        *interval_columns("per_day", lambda row: row.dose.rate.estimate),
        Column("unit", lambda _: "L/day"),
    ),
    by_system=True,
)
NEXT_TESTS = Table(
    "next_tests",
    _tests,
    (
        Column("at", lambda row: row.at, "datetime"),
        Column("quantity", lambda row: row.kind),
        Column("why", lambda row: row.why),
        Column("odds", lambda row: row.odds, "number"),
    ),
    by_system=True,
)
CHANGES = Table(
    "changes",
    _changes,
    (
        Column("at", lambda row: row.of.at, "datetime"),
        Column("coral", lambda row: row.of.coral),
        Column("what", lambda row: row.of.what),
        *interval_columns("predicted", lambda row: row.predicted, prefix="predicted_"),
        *interval_columns("measured", lambda row: row.measured, prefix="measured_"),
        Column("smallest_change", lambda row: row.smallest, "number", unit_in="unit"),
        Column("chance", lambda row: row.chance, "number"),
        Column("unit", lambda row: row.unit),
    ),
    by_system=True,
)


def _as_written(reading: Reading) -> Decimal:
    return Decimal(f"{reading.value.value:.{reading.value.digits}f}")
