"""What changed between two states of a journal: water, uptake, doses, corals, growth, lines at risk, promises."""

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from math import hypot
from typing import Literal, Protocol

from msgspec import Struct, field

from generator.reckon.arrivals.informed import Informed
from generator.reckon.finding import Finding
from generator.reckon.growth.analysis import Growth
from generator.reckon.lineage.lines import AtRisk, families, lines_at_risk
from generator.reckon.water.analysis import against_band
from generator.reckon.water.canonical import kit_error
from generator.reckon.water.demand_events import demand_events
from generator.reckon.water.findings import AgainstBand, TrackPoint, WaterFindings
from generator.reckon.water.ledger import USUAL_OFFSET
from generator.records.coral import Coral
from generator.records.log import Reading, SystemLog
from generator.records.system import System
from generator.records.trade import Owed, Trade
from generator.units.kinds import KINDS, TAKEN_UP
from generator.units.quantity import Estimate, Quantity


class Records(Protocol):
    """A journal, or what one audience may see of it."""

    @property
    def systems(self) -> Mapping[str, System]:
        """By id."""

    @property
    def corals(self) -> Mapping[str, Coral]:
        """By id."""

    @property
    def trades(self) -> Mapping[str, Trade]:
        """By id."""

    def log_of(self, system: str) -> SystemLog:
        """A system's log."""


class JournalState(Struct, frozen=True):
    """Records up to a moment on the keeper's clock, and what is found of the water and of the corals' growth in them.

    The findings may be those of a later moment: then the state is what is known by now of the water back then.
    `predicted` are the events of each system that nobody has read the water since.
    """

    at: datetime
    records: Records
    water: Mapping[str, WaterFindings]
    growth: Mapping[str, Growth]
    predicted: Mapping[str, tuple[Informed, ...]] = field(default_factory=dict)

    @property
    def day(self) -> date:
        """The keeper's day."""
        return self.at.date()


class ReadSince(Struct, frozen=True):
    """A reading, its value in the canonical unit, where that stands against the band, and whether it is doubtful."""

    reading: Reading
    value: float
    standing: AgainstBand
    doubtful: bool


class LevelChange(Struct, frozen=True):
    """The last reading of a quantity then that is not doubtful, and the last one now; None: never read by then.

    `by` is in the canonical unit, of two readings whose kits' errors are known; None: not read since, not known, or
    doubtful.
    """

    kind: str
    before: ReadSince | None
    after: ReadSince
    by: Estimate | None


class UptakeChange(Struct, frozen=True):
    """Uptake of a quantity then and now, canonical unit a day; `before` is None if no readings told it then."""

    kind: str
    before: Estimate | None
    after: Estimate
    by: Estimate | None


class PumpChange(Struct, frozen=True):
    """A solution's pump was set to another rate; `before` is None if it was not set before."""

    solution: str
    before: Quantity | None
    after: Quantity


class WaterSince(Struct, frozen=True):
    """What changed in a system's water; `poured` has litres by solution, given by hand since."""

    levels: tuple[LevelChange, ...]
    uptake: tuple[UptakeChange, ...]
    pumps: tuple[PumpChange, ...]
    poured: Mapping[str, float]


class Grown(Struct, frozen=True):
    """A coral was weighed (g) or measured (cm, its mean diameter) again.

    `by` is None if it was cut or broke in between; on the day of a cut it was measured after it.
    """

    coral: str
    what: Literal["mass", "diameter"]
    before: tuple[date, float]
    after: tuple[date, Estimate]
    by: Estimate | None


class Promised(Struct, frozen=True):
    """A promise of a trade, by its number there, from 1."""

    trade: Trade
    number: int
    owed: Owed


class Changes(Struct, frozen=True):
    """What changed between two moments.

    `lost` have no end if their file is gone; `saved` are lines that one loss no longer ends, `ended` those of which
    nothing lives here any more. `overdue` are promises whose day passed in between.
    """

    since: datetime
    until: datetime
    water: Mapping[str, WaterSince]
    gained: tuple[Coral, ...]
    lost: tuple[Coral, ...]
    grown: tuple[Grown, ...]
    at_risk: tuple[AtRisk, ...]
    saved: tuple[str, ...]
    ended: tuple[str, ...]
    made: tuple[Promised, ...]
    kept: tuple[Promised, ...]
    overdue: tuple[Promised, ...]


def is_told(by: Estimate | None) -> bool:
    """Whether the readings show a change: its interval does not include zero."""
    return by is not None and by.is_clear


def changes(then: JournalState, now: JournalState) -> Changes:
    """What changed from one state to a later one.

    The interval of a difference takes the errors of both sides as independent (JCGM 100:2008, 5.1.2). The two ends of
    one track of uptake go up and down together, so their interval is too wide rather than too narrow.
    """
    here, was_here = _living(now), _living(then)
    risks, were = ({each.line: each for each in _at_risk(state)} for state in (now, then))
    lines, had = ({coral.line for coral in living.values()} for living in (here, was_here))
    promises, were_made = _promises(now), _promises(then)
    kept = {id: each for id, each in promises.items() if _kept(each, now.day)}
    lost = (now.records.corals.get(id, coral) for id, coral in was_here.items() if id not in here)
    return Changes(
        since=then.at,
        until=now.at,
        water={id: _water(id, then, now) for id in now.records.systems if id in now.water},
        gained=tuple(coral for id, coral in here.items() if id not in was_here),
        lost=tuple(lost),
        grown=tuple(_grown(then, now)),
        at_risk=tuple(risk for line, risk in risks.items() if line not in were),
        saved=tuple(line for line in were if line in lines and line not in risks),
        ended=tuple(sorted(had - lines)),
        made=tuple(each for id, each in promises.items() if id not in were_made),
        kept=tuple(e for id, e in kept.items() if id not in were_made or not _kept(were_made[id], then.day)),
        overdue=tuple(
            each
            for id, each in promises.items()
            if id not in kept and each.owed.due is not None and then.day <= each.owed.due < now.day
        ),
    )


def _living(state: JournalState) -> dict[str, Coral]:
    return {id: coral for id, coral in state.records.corals.items() if coral.lives_on(state.day)}


def _at_risk(state: JournalState) -> tuple[AtRisk, ...]:
    corals, trades = state.records.corals, state.records.trades.values()
    return lines_at_risk(families(corals.values(), trades, state.day), corals, trades, state.day)


def _promises(state: JournalState) -> dict[tuple[str, int], Promised]:
    trades = (trade for trade in state.records.trades.values() if trade.at <= state.day)
    return {(trade.id, n): Promised(trade, n, owed) for trade in trades for n, owed in enumerate(trade.owed, 1)}


def _kept(promised: Promised, day: date) -> bool:
    return promised.owed.settled is not None and promised.owed.settled <= day


def _water(id: str, then: JournalState, now: JournalState) -> WaterSince:
    known = id in then.water
    return WaterSince(
        tuple(_levels(id, then if known else None, now)),
        tuple(_uptake(then.water[id] if known else None, then.at, now.water[id], now.at, _jumps(now, id))),
        tuple(_pumps(then.records.log_of(id), then.at, now.records.log_of(id), now.at)),
        _poured(then.records.log_of(id), then.at, now.records.log_of(id), now.at),
    )


def _levels(id: str, then: JournalState | None, now: JournalState) -> Iterator[LevelChange]:
    before = {each.reading.kind: each for each in _readings(then, id) if not each.doubtful} if then else {}
    for kind, read in sorted({each.reading.kind: each for each in _readings(now, id)}.items()):
        was, by = before.get(kind), None
        if was and was.reading.at < read.reading.at and then and not read.doubtful:
            error = kit_error(then.records.systems[id], was.reading, then.water[id].learned_error(kind))
            other = kit_error(now.records.systems[id], read.reading, now.water[id].learned_error(kind))
            # Two kits read apart by more than either strays.
            apart = USUAL_OFFSET.get(kind, 0.0) if was.reading.kit != read.reading.kit else 0.0
            by = _difference(was.value, read.value, error, other and hypot(other, apart), KINDS[kind].canonical)
        yield LevelChange(kind, was, read, by)


def _readings(state: JournalState, id: str) -> Iterator[ReadSince]:
    """Every reading up to the state's moment, in order of time."""
    found, system = state.water[id], state.records.systems[id]
    doubtful = {doubt.reading for uptake in found.uptake.values() for doubt in uptake.doubtful}
    for reading, value in found.readings:
        if reading.at <= state.at:
            yield ReadSince(reading, value, against_band(system, reading.kind, value), reading in doubtful)


def _difference(before: float, after: float, error: float | None, other: float | None, unit: str) -> Estimate | None:
    if error is None or other is None:
        return None
    return Estimate.normal(after - before, hypot(error, other), unit)


def _jumps(state: JournalState, system: str) -> list[datetime]:
    """When corals came, went or were cut, so that uptake changed at once."""
    events = demand_events(system, state.records.log_of(system), state.records.corals.values(), state.at)
    return [event.at for event in events if event.what in ("arrival", "cutting", "loss")]


def _uptake(
    then: WaterFindings | None, since: datetime, now: WaterFindings, until: datetime, jumps: Sequence[datetime]
) -> Iterator[UptakeChange]:
    for kind in TAKEN_UP:
        after = _uptake_at(now, kind, until, jumps)
        before = _uptake_at(then, kind, since, jumps) if then else None
        if after is not None:
            by = before and _difference(before.value, after.value, before.standard, after.standard, after.unit)
            yield UptakeChange(kind, before, after, by)


def _uptake_at(found: WaterFindings, kind: str, at: datetime, jumps: Sequence[datetime]) -> Estimate | None:
    """Uptake at a moment up to that of the findings; None where the readings do not tell it."""
    uptake = found.uptake.get(kind)
    if uptake is None:
        return None
    if at >= found.as_of:
        return uptake.per_day.estimate if isinstance(uptake.per_day, Finding) else None
    return _between(uptake.track, at, jumps)


def _between(track: Sequence[TrackPoint], at: datetime, jumps: Sequence[datetime]) -> Estimate | None:
    """The uptake of a track at a moment, straight between its points; None before the first one or after the last.

    Between two points with jumps it is that of the first before them, that of the second after them, and None among
    them.
    """
    place = bisect_right(track, at, key=lambda point: point.at)
    if not 0 < place < len(track):
        return None
    one, other = track[place - 1], track[place]
    between = [jump for jump in jumps if one.at < jump <= other.at]
    if between and between[0] <= at < between[-1]:
        return None
    share = float(at >= between[0]) if between else (at - one.at) / (other.at - one.at)
    ends = zip(*((each.value, each.low, each.high) for each in (one.per_day, other.per_day)), strict=True)
    value, low, high = (max((1.0 - share) * early + share * late, 0.0) for early, late in ends)
    return Estimate(value, low, high, one.per_day.unit)


def _pumps(log: SystemLog, since: datetime, later: SystemLog, until: datetime) -> Iterator[PumpChange]:
    before, after = (
        {pump.solution: pump.rate for pump in each.pumps if pump.at <= at}
        for each, at in ((log, since), (later, until))
    )
    for solution, rate in after.items():
        was = before.get(solution)
        if was is None or was.canonical() != rate.canonical():
            yield PumpChange(solution, was, rate)


def _poured(log: SystemLog, since: datetime, later: SystemLog, until: datetime) -> dict[str, float]:
    before, after = (
        {(dose.at, dose.solution, dose.amount.canonical()) for dose in each.doses if dose.at <= at}
        for each, at in ((log, since), (later, until))
    )
    poured: dict[str, float] = {}
    for _, solution, amount in sorted(after - before):
        poured[solution] = poured.get(solution, 0.0) + amount
    return poured


_Measured = tuple[date, float, float]


def _grown(then: JournalState, now: JournalState) -> Iterator[Grown]:
    for id, growth in now.growth.items():
        was = then.growth.get(id)
        for what in ("mass", "diameter"):
            old = [each for each in (_measured(was, what) if was else []) if each[0] <= then.day]
            new = [each for each in _measured(growth, what) if each[0] <= now.day and each not in old]
            if old and new and old[-1][0] < new[-1][0]:
                (day, value, error), (later, grown, other) = old[-1], new[-1]
                cut = any(day < lost <= later for lost in now.records.corals[id].made_smaller)
                unit = "g" if what == "mass" else "cm"
                by = None if cut else _difference(value, grown, error, other, unit)
                yield Grown(id, what, (day, value), (later, Estimate.normal(grown, other, unit)), by)
                break


def _measured(growth: Growth, what: str) -> list[_Measured]:
    """What was weighed, or measured across, with the standard uncertainty that two such measurements do not share."""
    if what == "diameter":
        return [(point.at, 2.0 * point.value, 2.0 * point.standard) for point in growth.radii]
    weighed = (each for each in growth.weighed if each.kind == growth.mass_kind)
    return [(each.at, each.grams, hypot(each.scale, each.repeats or 0.0)) for each in weighed]
