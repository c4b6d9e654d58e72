"""What a colony that is to come would take out of the water it goes into, and what to do about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from generator.reckon.arrivals.baseline import baseline_of
from generator.reckon.arrivals.colony import colony_of
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.informed import Informed, own_factors
from generator.reckon.arrivals.known import water_with
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.dosing.analysis import DosingFindings
from generator.reckon.finding import CannotTell
from generator.reckon.planned.steps import Steps, steps
from generator.reckon.water.demand_events import DemandEvent
from generator.records.coral import Coral
from generator.records.journal import Journal


@dataclass(frozen=True, slots=True)
class InWater:
    """What a colony would take out of one system's water, and what to do about it hour by hour.

    No steps: its uptake cannot be told, or it is not the only one that changes this water, so that their sum counts.
    """

    system: str
    uptake: ExpectedUptake | CannotTell
    steps: Steps | None = None


def in_water(
    coral: Coral,
    id: str,
    journal: Journal,
    dosing: DosingFindings,
    told: Sequence[Informed],
    at: datetime,
    alone: bool = True,
) -> InWater:
    """What a coral asks of a system's water from the moment it goes in (`at`, on the keeper's own clock).

    `told` are the events of the system so far, with what was predicted of each; `alone` whether nothing else of its
    plan changes a water.
    """
    system, log, corals = journal.systems[id], journal.log_of(id), journal.corals.values()
    events = [each.event for each in told]
    baseline = baseline_of(system, log, events, at)
    own = own_factors(journal.corals, told, at.date())
    factor = present_factor(corals, id, at.date(), baseline.measured, own)
    uptake = expected(colony_of(coral, coral.arrival.at), system.water, factor)
    if isinstance(uptake, CannotTell) or not alone:
        return InWater(id, uptake)
    step = uptake.alkalinity.estimate
    day, error = at.date(), step.standard
    arrival = DemandEvent(at, 0.0, "arrival", coral.id, coral.source, day, step=step.value, step_error=error)
    with_it = water_with(system, log, [*told, Informed(arrival, step=step)], at, past=False)
    return InWater(id, uptake, steps(system, log, baseline, (uptake.grams_per_day, step), dosing.plan, with_it, at))
