"""The ledger: every payment into a system's water that its log tells of, and all else an estimate rests on."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from operator import attrgetter
from typing import TypeVar

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.estimate.uncertainty import Array
from generator.reckon.water.account import Account, DemandStep, Paid, Renewal, SteadyInflow
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, REACTOR, Deliveries, per_litre
from generator.reckon.water.findings import Cause, LedgerLine
from generator.reckon.water.process import Series
from generator.records.log import Effluent, MeasuredRate, PumpRate, Reading, SystemLog, TopOff
from generator.records.source import Source
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity, Share

# How well the keeper knows the new water's level: a mix as it is written, or no mix written at all.
# Shares of the level, one standard deviation; assumptions of ours.
MIX_ERROR = 0.03
UNKNOWN_MIX_ERROR = 0.15

_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
_FOREVER = float("inf")

Levels = Mapping[str, Sequence[tuple[datetime, float]]]
Setting = TypeVar("Setting", PumpRate, TopOff, Effluent)


def in_days(moment: datetime) -> float:
    """A moment as days since the start of 2000, UTC."""
    return (moment - _EPOCH).total_seconds() / 86400.0


def payments(system: System, log: SystemLog, kind: str, levels: Levels, as_of: datetime) -> tuple[LedgerLine, ...]:
    """Doses and steady inflows of one kind up to a moment, in order of time.

    `levels` are the readings of each kind (time, canonical value): a reactor pays in by how much
    stronger its effluent is than the water it was drawn from, for which the last reading stands.
    """
    lines = [*_doses(system, log, kind), *_pumps(system, log, kind, as_of), *_top_offs(system, log, kind, as_of)]
    lines += _reactor(system, log, kind, levels, as_of)
    return tuple(sorted((line for line in lines if line.change != 0.0), key=lambda line: (line.at, line.source)))


def account_of(
    lines: Iterable[LedgerLine], renewals: Iterable[Renewal], as_of: datetime, sure: Deliveries | None = None
) -> Account:
    """The ledger as an account. What still runs at `as_of` runs on, so that the future can be told.

    `sure` says how sure each way of paying in is; None: all of them as written.
    """
    doses, steady = [], []
    for line in lines:
        start, end = in_days(line.at), in_days(line.until)
        way = "measured" if line.measured else line.cause
        by = sure.by.get((line.solution or REACTOR, way), ()) if sure else ()
        if line.until == line.at:
            doses.append(Paid(start, line.change, by))
        else:
            on = _FOREVER if line.until == as_of else end
            steady.append(SteadyInflow(start, on, line.change / (end - start), by))
    return Account(tuple(steady), tuple(doses), tuple(renewals))


def renewals(system: System, log: SystemLog, kind: str, usual_level: float) -> tuple[Renewal, ...]:
    """Every water change as the share of water renewed and the level it came with."""
    volume = system.water.volume.canonical()
    found = []
    for change in log.water_changes:
        mix = system.mixes[change.mix].of(kind) if change.mix else None
        level = canonical_value(mix) if mix else usual_level
        error = (MIX_ERROR if mix else UNKNOWN_MIX_ERROR) * level
        found.append(Renewal(in_days(change.at), min(change.volume.canonical() / volume, 1.0), level, error))
    return tuple(found)


def _doses(system: System, log: SystemLog, kind: str) -> Iterator[LedgerLine]:
    for dose in log.doses:
        given = dose.amount.canonical() * per_litre(system.solutions[dose.solution], kind)
        yield _line(system, kind, dose.at, dose.at, given, "dose", dose.source, dose.solution)


def _pumps(system: System, log: SystemLog, kind: str, as_of: datetime) -> Iterator[LedgerLine]:
    for solution in dict.fromkeys(pump.solution for pump in log.pumps):
        strength = per_litre(system.solutions[solution], kind)
        for run in pumped(log, solution, as_of):
            given = run.litres_a_day * _days(run.start, run.end) * strength
            line = _line(system, kind, run.start, run.end, given, "pump", run.source, solution)
            yield replace(line, measured=run.measured)


class Pumped(Struct, frozen=True):
    """What a pump gave from one moment to another: litres a day, as it was measured to give or else as it was set."""

    start: datetime
    end: datetime
    litres_a_day: float
    measured: bool
    source: Source


def pumped(log: SystemLog, solution: str, as_of: datetime) -> Iterator[Pumped]:
    """Every stretch over which the pump of a solution gave the same, up to a moment."""
    settings = [pump for pump in log.pumps if pump.solution == solution]
    found = [rate for rate in log.measured_rates if rate.solution == solution]
    for pump, until in _spans(settings, as_of):
        cuts = [pump.at, *(rate.at for rate in found if pump.at < rate.at < until), until]
        for start, end in pairwise(cuts):
            share = given_of_set(log, solution, start)
            rate = pump.rate.canonical() * (1.0 if share is None else share)
            yield Pumped(start, end, rate, share is not None, pump.source)


def given_of_set(log: SystemLog, solution: str, at: datetime) -> Share | None:
    """The share of what is set that a pump gives at a moment, by when it was last measured; None: never yet.

    A pump that was found to give nothing gives 0.
    """
    found = last_measured(log, solution, at)
    return found and found[0].rate.canonical() / found[1].canonical()


def last_measured(log: SystemLog, solution: str, at: datetime) -> tuple[MeasuredRate, Quantity] | None:
    """What a pump was last measured to give, and what it was set to then.

    What is set in the same entry is set after the measurement, unless nothing ran before.
    """
    found = [rate for rate in log.measured_rates if rate.solution == solution and rate.at <= at]
    # Most pumps are never measured, however often they are set.
    settings = [(pump.at, pump.rate) for pump in log.pumps if pump.solution == solution] if found else []
    for rate in reversed(found):
        before = [set_to for since, set_to in settings if since < rate.at][-1:]
        with_it = [set_to for since, set_to in settings if since == rate.at]
        if set_then := next((set_to for set_to in (*before, *with_it) if set_to.value), None):
            return rate, set_then
    return None


def _top_offs(system: System, log: SystemLog, kind: str, as_of: datetime) -> Iterator[LedgerLine]:
    for top_off, until in _spans(log.top_offs, as_of):
        if top_off.solution is not None:
            litres = top_off.rate.canonical() * _days(top_off.at, until)
            given = litres * per_litre(system.solutions[top_off.solution], kind)
            yield _line(system, kind, top_off.at, until, given, "top-off", top_off.source, top_off.solution)


def _reactor(system: System, log: SystemLog, kind: str, levels: Levels, as_of: datetime) -> Iterator[LedgerLine]:
    """Effluent against the water as last read; without any reading the reactor's share is not told.

    Where the effluent's calcium is not written it follows its alkalinity, for the medium is CaCO3.
    """
    for effluent, until in _spans(log.effluents, as_of):
        basis, factor, strength = kind, 1.0, getattr(effluent, kind, None)
        if kind == "calcium" and strength is None:
            basis, factor, strength = "alkalinity", CALCIUM_PER_MEQ, effluent.alkalinity
        if strength is None or effluent.flow.value == 0:
            continue
        for at, end, level in _stretches(levels.get(basis, ()), effluent.at, until):
            litres = effluent.flow.canonical() * _days(at, end)
            given = factor * litres * (strength.canonical() - level)
            yield _line(system, kind, at, end, given, "reactor", effluent.source)


def _stretches(
    levels: Sequence[tuple[datetime, float]], start: datetime, end: datetime
) -> Iterator[tuple[datetime, datetime, float]]:
    """[start, end) cut at every reading, each piece with the level last read (the first one, before any)."""
    known = [(at, level) for at, level in levels if at < end]
    if not known:
        return
    before = [level for at, level in known if at <= start]
    pieces = [(start, before[-1] if before else known[0][1]), *(pair for pair in known if pair[0] > start)]
    for (at, level), until in zip(pieces, [*(at for at, _ in pieces[1:]), end], strict=True):
        yield at, until, level


def _spans(settings: Sequence[Setting], as_of: datetime) -> Iterator[tuple[Setting, datetime]]:
    """Each steady setting with the moment the next one, or `as_of`, ends it."""
    ends = [*(later.at for later in settings[1:]), as_of]
    for setting, until in zip(settings, ends, strict=False):
        if until > setting.at:
            yield setting, until


def _line(
    system: System,
    kind: str,
    at: datetime,
    until: datetime,
    given: float,
    cause: Cause,
    source: Source,
    solution: str = "",
) -> LedgerLine:
    """A payment of `given` (canonical unit times litres) into the system's whole water."""
    change = given / system.water.volume.canonical()
    return LedgerLine(at, until, kind, change, KINDS[kind].canonical, cause, source, solution)


def _days(start: datetime, end: datetime) -> float:
    return (end - start).total_seconds() / 86400.0


def moment_of_days(days: float) -> datetime:
    """The moment so many days after the start of 2000, to the second."""
    return _EPOCH + timedelta(seconds=round(days * 86400.0))


# What a kit strays by where its keeper declared nothing, by kind in its canonical unit. Common practice, no source;
# only where learning starts.
USUAL_KIT_ERROR = {"alkalinity": 0.054, "calcium": 10.0, "magnesium": 30.0}
# How far one kit reads from another, or from the truth, beside each one's own scatter (one standard deviation): some
# 0.3 dKH, 10 mg/L, 40 mg/L. Common practice, no source.
USUAL_OFFSET = {"alkalinity": 0.107, "calcium": 10.0, "magnesium": 40.0}
# The least demand a day worth thinking of. Common practice, no source.
LEAST_DEMAND = {"alkalinity": 0.1, "calcium": 2.0, "magnesium": 1.0}


class Evidence(Struct, frozen=True):
    """Everything the estimate of one quantity rests on, readings in order of time.

    `deeds` are the log's lines that pay nothing in and yet count: water changes, and events that opened the uptake.
    `kit_names` are the kits it was read with, in order of their first reading. `wider` is how many times as wide as
    calculated ranges are, and from when on (days).
    """

    kind: str
    readings: tuple[Reading, ...]
    values: Array
    errors: Array | None
    account: Account
    lines: tuple[LedgerLine, ...]
    demand_steps: tuple[DemandStep, ...]
    deliveries: Deliveries
    deeds: tuple[tuple[datetime, Source], ...] = ()
    kit_names: tuple[str, ...] = ()
    wider: tuple[float, float] = (1.0, np.inf)

    @property
    def times(self) -> Array:
        """Times of the readings, in days."""
        return np.array([in_days(reading.at) for reading in self.readings])

    def since(self, moment: datetime, least: int = 0) -> "Evidence":
        """What it is with the readings from a moment on alone, and with so many at least."""
        first = bisect_left(self.readings, moment, key=attrgetter("at"))
        first = min(first, max(len(self.readings) - least, 0))
        errors = None if self.errors is None else self.errors[first:]
        return replace(self, readings=self.readings[first:], values=self.values[first:], errors=errors)

    def pumped(self, solution: str) -> list[Source]:
        """The lines by which a pump gives a solution, in order of time; none where it brings none of the quantity."""
        return [line.source for line in self.lines if line.solution == solution and line.cause == "pump"]

    def times_as_wide(self, at: Array | float) -> Array:
        """How many times as wide as calculated ranges are at some times (days)."""
        times, since = self.wider
        return np.where(np.asarray(at) >= since, times, 1.0)

    def series(self, errors: Array | float | None = None) -> Series:
        """The readings with their errors, or with others."""
        own = self.errors if errors is None else errors
        usual = USUAL_KIT_ERROR[self.kind] if own is None else own
        kits = np.array([self.kit_names.index(reading.kit) for reading in self.readings if reading.kit], dtype=np.intp)
        others = (USUAL_OFFSET[self.kind],) * (len(self.kit_names) - 1)
        spread = np.broadcast_to(usual, len(self.readings))
        return Series(self.times, self.values, spread, kits if others else None, others)
