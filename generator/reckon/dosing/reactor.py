"""How a reactor is to be set: the flow, what its effluent must bring, and what it should read next."""

from dataclasses import dataclass
from datetime import datetime

from generator.reckon.dosing.phases import Phase
from generator.reckon.dosing.supplies import BY_SOLUTION, REACTOR
from generator.reckon.water.stoichiometry import per_litre
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate

# Effluents told beside the one expected, as shares of how much stronger than the water it is. A choice of ours.
BESIDE = (0.8, 0.9, 1.0, 1.1, 1.2)


@dataclass(frozen=True, slots=True)
class ReactorSetting:
    """Flows in L/day, alkalinities in meq/L.

    `brings` (meq a day) is what flow times the strength over the water must come to. `expected` is what the effluent
    should read once the flow is set, and `settings` pairs what it may read instead with the flow that then brings it.
    """

    flow_now: float
    flow: float
    effluent_now: float
    brings: float
    expected: Estimate
    settings: tuple[tuple[float, float], ...]


def reactor_setting(
    system: System, log: SystemLog, phase: Phase, level: float, as_of: datetime
) -> ReactorSetting | None:
    """The setting that a phase asks for, in water held at a level; None where a solution gives what a reactor does not.

    With a higher flow the effluent weakens. It stays as strong where the chamber holds enough medium and CO2, and
    brings no more than before where those are what limits it; what it should read lies between the two, and the
    middle is told. Source: conservation of mass; common practice, no source for where between.
    """
    effluents = log.until(as_of).effluents
    flow = next((dose.rate.estimate.value for dose in phase.doses if dose.supply == REACTOR), 0.0)
    by_solution = any(
        per_litre(system.solutions[dose.supply], "alkalinity") for dose in phase.doses if dose.how in BY_SOLUTION
    )
    if not effluents or not flow or by_solution:
        return None
    last = effluents[-1]
    flow_now, strength = last.flow.canonical(), last.alkalinity.canonical()
    over = strength - level
    limited = level + over * flow_now / flow
    low, high = sorted((strength, limited))
    settings = tuple((level + share * over, flow / share) for share in BESIDE)
    expected = Estimate((low + high) / 2.0, low, high, "meq/L")
    return ReactorSetting(flow_now, flow, strength, flow * over, expected, settings)
