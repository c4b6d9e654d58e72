"""What a litre of each solution gives the water, and how far what went in may differ from what the log says.

Calcification takes and solutions give in exact proportions: Ca2+ + 2 HCO3- -> CaCO3 + CO2 + H2O. Source: Smith & Key
1975, Limnol. Oceanogr. 20:493 (alkalinity anomaly); Dickson, Sabine & Christian 2007, ch. 2; molar masses from standard
atomic weights.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from math import hypot

from generator.nature.constants import ALKALINITY_PER_CACO3, CALCIUM_PER_CACO3, LIME_SOLUBILITY_AT_20C
from generator.reckon.water.canonical import canonical_value
from generator.records.log import SystemLog
from generator.records.system import Solution, System, Water
from generator.units.compounds import COMPOUNDS, molar_mass

# mg of calcium that leave with each meq of alkalinity.
CALCIUM_PER_MEQ = molar_mass("Ca") * CALCIUM_PER_CACO3.value / ALKALINITY_PER_CACO3.value
# g of CaCO3 laid down for each meq of alkalinity.
GRAMS_PER_MEQ = molar_mass("CaCO3") / ALKALINITY_PER_CACO3.value / 1000.0


def per_litre(solution: Solution, kind: str) -> float:
    """What a litre of a solution gives of a kind, in its canonical unit times litres (meq, mg).

    Calcium hydroxide counts no further than it dissolves: the rest lies on the bottom of the container.
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


@dataclass(frozen=True, slots=True)
class Factor:
    """Something that makes payments count for more or less than written: the causes, each with its error as a share."""

    causes: tuple[tuple[str, float], ...]

    @property
    def error(self) -> float:
        """Standard deviation of the factor's logarithm."""
        return hypot(*(error for _, error in self.causes))


@dataclass(frozen=True, slots=True)
class Pump:
    """A pump that can be seen to wear: what it gives counts by a `column` of its own. `measured` is when its rate was.

    It brings alkalinity or calcium, not both: as it gives less, the two drift apart.
    """

    solution: str
    column: int
    measured: tuple[datetime, ...]


@dataclass(frozen=True, slots=True)
class Deliveries:
    """The factors of a system, the volume first, and which of them each way of paying in counts by.

    `by` is keyed by solution (or `REACTOR`) and way: ``dose``, ``pump``, ``measured`` (a pump whose rate was) or
    ``top-off``. The columns of `pumps` come after the factors.
    """

    factors: tuple[Factor, ...]
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
    """How far a solution's strength may be off, as a share."""
    return STRENGTH_ERROR if solution.strength_error is None else solution.strength_error


def pump_error(solution: Solution) -> float:
    """How far what a solution's pump gives may be off, as a share, where it was not measured."""
    return RATE_ERROR if solution.pump_error is None else solution.pump_error


def rate_error(system: System, log: SystemLog, solution: str) -> float:
    """The same for a pump of a system, by its log: less where what it gives was measured."""
    measured = any(rate.solution == solution for rate in log.measured_rates)
    return MEASURED_RATE_ERROR if measured else pump_error(system.solutions[solution])


def deliveries(system: System, log: SystemLog) -> Deliveries:
    """What all payments of a log may be off by. A solution that goes in one way only has one factor for all of it."""
    factors = [Factor(((VOLUME, relative_volume_error(system.water)),))]
    by: dict[tuple[str, str], tuple[int, ...]] = {}
    measured = {rate.solution for rate in log.measured_rates}
    for id, solution in system.solutions.items():
        strength, pump = strength_error(solution), pump_error(solution)
        ways = _ways(log, id, pump, id in measured)
        if len(ways) == 1:
            ((way, error),) = ways.items()
            causes = (("strength", strength), *((("pump-rate", error),) if error else ()))
            by[id, way] = (len(factors),)
            factors.append(Factor(causes))
        elif ways:
            shared = len(factors)
            factors.append(Factor((("strength", strength),)))
            for way, error in ways.items():
                by[id, way] = (shared,) if error == 0.0 else (shared, len(factors))
                if error:
                    factors.append(Factor((("pump-rate", error),)))
    if log.effluents:
        by[REACTOR, "reactor"] = (len(factors),)
        factors.append(Factor((("strength", STRENGTH_ERROR), ("pump-rate", RATE_ERROR))))
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
