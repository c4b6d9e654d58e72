"""What a system can be fed with: limewater, a reactor's effluent, solutions by pump or hand; what a litre gives."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import pairwise
from math import hypot, inf
from typing import Literal

from generator.nature.constants import LIME_SOLUBILITY_AT_20C
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, habits, per_litre, pump_error, strength_error
from generator.reckon.water.findings import WaterFindings
from generator.records.log import Effluent, SystemLog
from generator.records.system import Solution, System

KINDS_HELD = ("alkalinity", "calcium", "magnesium")
LIMEWATER = "Ca(OH)2"
# A reactor's effluent weakens as its flow is turned up. Beside pumps it stays as it runs; alone, up to so
# many times the highest flow of these days it is taken to stay as strong as it was measured. Assumptions of ours.
REACTOR_MOST_ALONE, REACTOR_LATELY = 1.25, timedelta(days=30)
REACTOR = "reactor"
# No pump is set higher than to make up for a loss of half: it is measured or mended before. A choice of ours.
LEAST_LEFT = 0.5

How = Literal["top-off", "reactor", "pump", "hand"]
# The ways of giving a solution that have no upper limit.
BY_SOLUTION = ("pump", "hand")


@dataclass(frozen=True, slots=True)
class Supply:
    """Something that feeds the water: `gives` meq of alkalinity or mg of a metal a litre, by kind.

    `most` is the litres a day there can be of it, `now` what runs or is poured by habit; `error` how unsure what a
    litre set to run brings is, as a share: nothing for a solution that runs now, for by it the demand was measured.
    """

    id: str
    how: How
    gives: Mapping[str, float]
    most: float
    now: float
    error: float = 0.0


def supplies(system: System, log: SystemLog, levels: Mapping[str, float], as_of: datetime) -> tuple[Supply, ...]:
    """All that can hold the levels of a system, in the order it is used: limewater, reactor, solutions.

    `levels` are those to hold (canonical): an effluent gives by how much stronger it is than the water.
    Limewater goes in with the top-off or by a pump of its own, so there can be as much of it as evaporates. A solution
    that is poured by habit, or was poured where nothing ever ran by pump, is given by hand.
    """
    log = log.until(as_of)
    poured = {habit.solution: habit.per_day for habit in habits(log, as_of)}
    by_hand = {dose.solution for dose in log.doses} if not any(pump.rate.value for pump in log.pumps) else set()
    limewaters = [_limewater(system, log, id) for id, s in system.solutions.items() if s.compound == LIMEWATER]
    pumped = [
        _solution(
            id,
            solution,
            gives,
            "hand" if id in poured or id in by_hand else "pump",
            _pumped_now(log, id) + poured.get(id, 0.0),
        )
        for id, solution in system.solutions.items()
        if solution.compound != LIMEWATER and (gives := _gives(solution))
    ]
    alone = not any("alkalinity" in supply.gives for supply in pumped)
    reactor = _reactor(log, levels, alone, as_of)
    return (*(s for s in limewaters if s.most), *reactor, *pumped)


def as_it_gives(supply: Supply, water: WaterFindings) -> Supply:
    """A supply by the litre that its pump is set to, where the readings tell that this gives less."""
    lacking = [pump for pump in water.calcification.pumps if pump.solution == supply.id and supply.how == "pump"]
    for pump in lacking:
        left = max(1.0 - max(pump.lacks.value, 0.0), LEAST_LEFT)
        supply = replace(supply, gives={kind: given * left for kind, given in supply.gives.items()})
    return supply


def _solution(id: str, solution: Solution, gives: Mapping[str, float], how: How, now: float) -> Supply:
    error = hypot(strength_error(solution), pump_error(solution) if how == "pump" else 0.0)
    return Supply(id, how, gives, inf, now, 0.0 if now else error)


def _gives(solution: Solution) -> dict[str, float]:
    return {kind: given for kind in KINDS_HELD if (given := per_litre(solution, kind))}


def _limewater(system: System, log: SystemLog, id: str) -> Supply:
    last = log.top_offs[-1] if log.top_offs else None
    now = last.rate.canonical() if last and last.solution == id else _pumped_now(log, id)
    evaporates = system.evaporation.canonical() if system.evaporation else (last.rate.canonical() if last else now)
    solubility = LIME_SOLUBILITY_AT_20C
    error = ((solubility.high or 0.0) - (solubility.low or 0.0)) / 12.0**0.5 / solubility.value
    return Supply(id, "top-off", _gives(system.solutions[id]), evaporates, now, error)


def _reactor(log: SystemLog, levels: Mapping[str, float], alone: bool, as_of: datetime) -> Iterator[Supply]:
    last = log.effluents[-1] if log.effluents else None
    if last is None or not last.flow.value:
        return
    gives = {kind: above for kind in levels if (above := _above(last, kind, levels)) is not None and above > 0.0}
    flow, since = last.flow.canonical(), as_of - REACTOR_LATELY
    flows = [each.flow.canonical() for each, later in pairwise(log.effluents) if later.at >= since]
    most = REACTOR_MOST_ALONE * max([flow, *flows]) if alone else flow
    yield Supply(REACTOR, "reactor", gives, most, flow)


def _above(effluent: Effluent, kind: str, levels: Mapping[str, float]) -> float | None:
    """How much stronger a litre of effluent is; its calcium follows its alkalinity where it is not written."""
    strength = getattr(effluent, kind, None)
    if strength is not None:
        return float(strength.canonical()) - levels[kind]
    if kind == "calcium" and "alkalinity" in levels:
        return CALCIUM_PER_MEQ * (effluent.alkalinity.canonical() - levels["alkalinity"])
    return None


def _pumped_now(log: SystemLog, solution: str) -> float:
    rates = [pump.rate.canonical() for pump in log.pumps if pump.solution == solution]
    return rates[-1] if rates else 0.0
