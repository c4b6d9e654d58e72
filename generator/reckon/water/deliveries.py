"""What goes in: what a litre of each solution gives, how far that may differ, what a keeper pours at a rhythm."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from math import ceil, hypot
from statistics import fmean, median, pstdev

import numpy as np
from msgspec import Struct

from generator.nature.constants import ALKALINITY_PER_CACO3, CALCIUM_PER_CACO3, LIME_SOLUBILITY_AT_20C
from generator.reckon.estimate.uncertainty import Array, normal_cdf
from generator.reckon.water.canonical import canonical_value
from generator.records.log import SystemLog
from generator.records.source import Source
from generator.records.system import Solution, System, Water
from generator.units.compounds import COMPOUNDS, molar_mass
from generator.units.quantity import PerLitre

# mg of calcium that leave with each meq of alkalinity.
CALCIUM_PER_MEQ = molar_mass("Ca") * CALCIUM_PER_CACO3.value / ALKALINITY_PER_CACO3.value
# g of CaCO3 laid down for each meq of alkalinity.
GRAMS_PER_MEQ = molar_mass("CaCO3") / ALKALINITY_PER_CACO3.value / 1000.0


def per_litre(solution: Solution, kind: str) -> PerLitre:
    """How much of a kind a litre of a solution gives, in the canonical unit times litres (meq, mg).

    Calcium hydroxide counts only as far as it dissolves: the rest stays on the bottom of the container.
    """
    given = 0.0
    if solution.declared is not None and (declared := solution.declared.of(kind)) is not None:
        given += canonical_value(declared)
    if solution.compound is not None and solution.strength is not None:
        grams = solution.strength.canonical()
        if solution.compound == "Ca(OH)2":
            grams = min(grams, LIME_SOLUBILITY_AT_20C.value)
        given += grams * COMPOUNDS[solution.compound].per_gram(kind)
    return given


# How far a solution's strength and what a pump gives may be off, as a share (one standard deviation), where the keeper
# declares nothing; and a pump whose real rate was measured. Assumptions of ours.
STRENGTH_ERROR = 0.03
RATE_ERROR = 0.05
MEASURED_RATE_ERROR = 0.02

REACTOR = "reactor"
VOLUME = "water-volume"


class DeliveryFactor(Struct, frozen=True):
    """Something that makes payments count for more or less than written: the causes, each with its error as a share."""

    causes: tuple[tuple[str, float], ...]

    @property
    def error(self) -> float:
        """Standard deviation of the factor's logarithm."""
        return hypot(*(error for _, error in self.causes))


class Pump(Struct, frozen=True):
    """A pump that can be seen to wear: what it gives counts by a `column` of its own. `measured` is when its rate was.

    It brings alkalinity or calcium, not both: as it gives less, the two drift apart.
    """

    solution: str
    column: int
    measured: tuple[datetime, ...]


class Deliveries(Struct, frozen=True):
    """The factors of a system, the volume first, and which of them each way of paying in counts by.

    `by` is keyed by solution (or `REACTOR`) and way: ``dose``, ``pump``, ``measured`` (a pump whose rate was) or
    ``top-off``. The columns of `pumps` come after the factors.
    """

    factors: tuple[DeliveryFactor, ...]
    by: Mapping[tuple[str, str], tuple[int, ...]]
    pumps: tuple[Pump, ...] = ()

    @property
    def errors(self) -> tuple[float, ...]:
        """Standard deviations of the factors' logarithms."""
        return tuple(factor.error for factor in self.factors)


def relative_volume_error(water: Water) -> float:
    """The water volume's standard uncertainty as a share of the volume."""
    return water.uncertainty.canonical() / water.volume.canonical()


def strength_error(solution: Solution) -> float:
    """How far a solution's strength may be off, as a share (one standard deviation)."""
    return STRENGTH_ERROR if solution.strength_error is None else solution.strength_error


def pump_error(solution: Solution) -> float:
    """How far an unmeasured pump's rate may be off, as a share (one standard deviation)."""
    return RATE_ERROR if solution.pump_error is None else solution.pump_error


def rate_error(system: System, log: SystemLog, solution: str) -> float:
    """The same for a pump of a system, by its log: less where its rate was measured."""
    measured = any(rate.solution == solution for rate in log.measured_rates)
    return MEASURED_RATE_ERROR if measured else pump_error(system.solutions[solution])


def deliveries(system: System, log: SystemLog) -> Deliveries:
    """By how much all payments of a log may be off. A solution that is given in one way only has one factor in all."""
    factors = [DeliveryFactor(((VOLUME, relative_volume_error(system.water)),))]
    by: dict[tuple[str, str], tuple[int, ...]] = {}
    measured = {rate.solution for rate in log.measured_rates}
    for id, solution in system.solutions.items():
        strength, pump = strength_error(solution), pump_error(solution)
        ways = _ways(log, id, pump, id in measured)
        if len(ways) == 1:
            ((way, error),) = ways.items()
            causes = (("strength", strength), *((("pump-rate", error),) if error else ()))
            by[id, way] = (len(factors),)
            factors.append(DeliveryFactor(causes))
        elif ways:
            shared = len(factors)
            factors.append(DeliveryFactor((("strength", strength),)))
            for way, error in ways.items():
                by[id, way] = (shared,) if error == 0.0 else (shared, len(factors))
                if error:
                    factors.append(DeliveryFactor((("pump-rate", error),)))
    if log.effluents:
        by[REACTOR, "reactor"] = (len(factors),)
        factors.append(DeliveryFactor((("strength", STRENGTH_ERROR), ("pump-rate", RATE_ERROR))))
    pumps = tuple(_wearing(system, log, len(factors)))
    for each in pumps:
        for way in ("pump", "measured"):
            by[each.solution, way] = (*by.get((each.solution, way), ()), each.column)
    return Deliveries(tuple(factors), by, pumps)


def _wearing(system: System, log: SystemLog, first: int) -> Iterator[Pump]:
    """The pumps whose wear would part calcium from alkalinity, with columns from the first free one on."""
    for id in dict.fromkeys(pump.solution for pump in log.pumps):
        brings = [per_litre(system.solutions[id], kind) for kind in ("alkalinity", "calcium")]
        if sum(map(bool, brings)) == 1:
            yield Pump(id, first, tuple(rate.at for rate in log.measured_rates if rate.solution == id))
            first += 1


def _ways(log: SystemLog, solution: str, pump: float, measured: bool) -> dict[str, float]:
    """The ways a solution goes in, each with the error of its rate."""
    found = {}
    if any(dose.solution == solution for dose in log.doses):
        found["dose"] = 0.0
    if any(rate.solution == solution for rate in log.pumps):
        found["pump"] = pump
        if measured:
            found["measured"] = MEASURED_RATE_ERROR
    if any(top_off.solution == solution for top_off in log.top_offs):
        found["top-off"] = RATE_ERROR
    return found


# A rhythm is read off the last so many pourings, of which there must be so many at least. Choices of ours.
LOOKED_AT = 12
LEAST_POURINGS = 4
# What is poured within so short a time is one pouring.
TOGETHER = timedelta(hours=2)
# A gap or an amount more than so many times the usual one (or an amount less than the usual one divided by it) is an
# exception: a holiday, a correction. It does not count. After so many gaps without a pouring the habit has ended. A
# choice of ours.
EXCEPTION = 3.5
# Gaps that stray by more than this share of their mean (one standard deviation) are no rhythm; a habit rarer than this
# is not counted on. Choices of ours.
STEADY = 0.5
RAREST_DAYS = 15.0
# Water changed for fewer days than this is no habit: a plan that lowers a level asks for that. A choice of ours.
CHANGED_FOR = timedelta(days=7)
# Gaps and amounts stray by this share at least, even where the log shows none: nobody is a clock. A choice of ours.
LEAST_STRAY = 0.05
# A pouring is missed when it is late by so many standard deviations of the gaps, and by this share of one at least.
LATE_BY, LATE_SHARE = 2.0, 0.5
# Pourings so many gaps beyond the days asked for no longer count.
_FAR = 4.0


class Habit(Struct, frozen=True):
    """A solution poured by hand, or a mix that water is changed with: `litres` every `days`.

    Each has one standard deviation between pourings. `last` is the last pouring with its line and `last_litres`,
    `pourings` how many the rhythm was read from. A mix without a name is "".
    """

    solution: str
    litres: float
    litres_stray: float
    days: float
    days_stray: float
    last: datetime
    line: Source
    pourings: int
    last_litres: float = 0.0

    @property
    def per_day(self) -> float:
        """Litres a day."""
        return self.litres / self.days

    def ahead(self, as_of: datetime, days: Array) -> tuple[Array, Array]:
        """The litres to come within each number of days (T,), and their standard deviation (T,).

        The k-th pouring to come is due k gaps after the last (the first not before now), as unsure as k gaps and
        their mean are; P(N >= k) is the chance that it has come, so that N has mean sum P(N >= k) and second moment
        sum (2 k - 1) P(N >= k). Every amount strays by itself, their mean by its own error.
        """
        since = (as_of - self.last).total_seconds() / 86400.0
        due, known = max(self.days - since, 0.0), self.pourings - 1
        most = ceil((np.max(days) - due) / self.days + _FAR * (1.0 + self.days_stray / self.days))
        k = np.arange(1.0, most + 1.0)
        centre, error = due + (k - 1.0) * self.days, self.days_stray * np.sqrt(k + k * k / known)
        before = normal_cdf(-centre / error)
        chance = (normal_cdf((days[:, None] - centre) / error) - before) / (1.0 - before)
        mean, second = chance.sum(axis=1), chance @ (2.0 * k - 1.0)
        stray = self.litres**2 * np.maximum(second - mean**2, 0.0) + mean * self.litres_stray**2
        return self.litres * mean, np.sqrt(stray + (mean * self.litres_stray) ** 2 / self.pourings)

    def is_missed(self, as_of: datetime) -> bool:
        """Whether the pouring that was due is late beyond what is usual."""
        late = (as_of - self.last).total_seconds() / 86400.0 - self.days
        return late > max(LATE_BY * self.days_stray, LATE_SHARE * self.days)


def habits(log: SystemLog, as_of: datetime) -> tuple[Habit, ...]:
    """Each solution that is poured by hand at a steady rhythm, as the log stands at a moment.

    One that runs by pump or with the top-off since, or was not poured for `EXCEPTION` gaps, is a habit no more.
    """
    log = log.until(as_of)
    doses = [_Poured(dose.solution, dose.at, dose.amount.canonical(), dose.source) for dose in log.doses]
    return tuple(habit for habit in _kept(doses, as_of) if not _runs_since(log, habit))


def changes_by_habit(log: SystemLog, as_of: datetime) -> tuple[Habit, ...]:
    """Each mix that water is changed with at a steady rhythm, for `CHANGED_FOR` at least."""
    changes = [
        _Poured(change.mix or "", change.at, change.volume.canonical(), change.source)
        for change in log.until(as_of).water_changes
    ]
    first = {change.name: change.at for change in reversed(changes)}
    return tuple(habit for habit in _kept(changes, as_of) if habit.last - first[habit.solution] >= CHANGED_FOR)


class _Poured(Struct, frozen=True):
    name: str
    at: datetime
    litres: float
    source: Source


def _kept(poured: Sequence[_Poured], as_of: datetime) -> Iterator[Habit]:
    """The habit of each name that has one and was kept lately."""
    for name in dict.fromkeys(each.name for each in poured):
        habit = _habit(name, [each for each in poured if each.name == name])
        if habit and (as_of - habit.last).total_seconds() / 86400.0 <= EXCEPTION * habit.days:
            yield habit


def _habit(solution: str, poured: Sequence[_Poured]) -> Habit | None:
    pourings = _together(poured)[-LOOKED_AT:]
    if len(pourings) < LEAST_POURINGS:
        return None
    at = [each[0].at for each in pourings]
    gaps = [(later - earlier).total_seconds() / 86400.0 for earlier, later in pairwise(at)]
    amounts = [sum(each.litres for each in pouring) for pouring in pourings]
    usual_gap, usual, last_litres = median(gaps), median(amounts), amounts[-1]
    if usual <= 0.0:
        return None
    gaps = [gap for gap in gaps if gap <= EXCEPTION * usual_gap]
    amounts = [amount for amount in amounts if usual <= EXCEPTION * amount and amount <= EXCEPTION * usual]
    days, litres = fmean(gaps), fmean(amounts)
    if days > RAREST_DAYS or pstdev(gaps) > STEADY * days:
        return None
    return Habit(
        solution=solution,
        litres=litres,
        litres_stray=max(pstdev(amounts), LEAST_STRAY * litres),
        days=days,
        days_stray=max(pstdev(gaps), LEAST_STRAY * days),
        last=at[-1],
        line=pourings[-1][0].source,
        pourings=len(pourings),
        last_litres=last_litres,
    )


def _together(poured: Sequence[_Poured]) -> list[list[_Poured]]:
    pourings: list[list[_Poured]] = []
    for each in poured:
        if pourings and each.at - pourings[-1][0].at <= TOGETHER:
            pourings[-1].append(each)
        else:
            pourings.append([each])
    return pourings


def _runs_since(log: SystemLog, habit: Habit) -> bool:
    """Whether the solution was set to run by itself after it was last poured."""
    pumps = [pump for pump in log.pumps if pump.solution == habit.solution]
    return bool(pumps and pumps[-1].at >= habit.last and pumps[-1].rate.value)
