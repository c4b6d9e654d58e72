"""What is known of a system's alkalinity just before a change, and what follows for the days after it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from generator.reckon.finding import Answer, CannotTell
from generator.reckon.water.analysis import OF_SKELETON, gather
from generator.reckon.water.calcification import grams_per_day
from generator.reckon.water.canonical import band, kit_error
from generator.reckon.water.deliveries import changes_by_habit, habits
from generator.reckon.water.demand_events import DemandEvent
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.reckon.water.forecast import going_on, with_step
from generator.reckon.water.ledger import Evidence
from generator.reckon.water.state_estimate import StateEstimate
from generator.reckon.water.uptake import cannot_tell
from generator.reckon.water.when_to_test import reading_plan
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate


@dataclass(frozen=True, slots=True)
class Baseline:
    """What is known of a system's alkalinity at a moment, and its measured calcification, g CaCO3/day."""

    system: System
    at: datetime
    alkalinity: Evidence
    found: StateEstimate | None
    measured: Answer

    @property
    def cannot_tell(self) -> CannotTell | None:
        """Why the demand cannot be told; None if it can."""
        return (
            CannotTell("no-readings", "read-twice") if self.found is None else cannot_tell(self.alkalinity, self.found)
        )


def baseline_of(system: System, log: SystemLog, events: Sequence[DemandEvent], at: datetime) -> Baseline:
    """The baseline of a change: all that readings up to a moment tell, and what was predicted of `events` by then."""
    evidence, found = gather(system, log, [event for event in events if event.at <= at], at, OF_SKELETON)
    alkalinity, calcium = evidence["alkalinity"], evidence["calcium"]
    measured = grams_per_day(alkalinity, calcium, found["alkalinity"], found["calcium"], system.water, at)
    return Baseline(system, at, alkalinity, found["alkalinity"], measured)


def if_unchanged(known: Baseline, log: SystemLog, step: Estimate) -> Forecast | CannotTell:
    """Where alkalinity goes with a step of the demand (meq/L/day) if all that runs or is given by habit goes on."""
    by_habit = habits(log, known.at), changes_by_habit(log, known.at)
    before, _ = going_on(known.alkalinity, known.found, known.system, *by_habit, known.at)
    if isinstance(before, CannotTell):
        return before
    return with_step(before, step, *band(known.system, "alkalinity"))


def readings_that_tell(known: Baseline, since: datetime, size: float) -> ReadingPlan | None:
    """The plan of readings for a change of `size` (meq/L/day) at a moment; None where the demand is not known."""
    if known.found is None or known.cannot_tell is not None:
        return None
    error = kit_error(known.system, known.alkalinity.readings[-1], known.found.kit_error)
    return reading_plan(known.alkalinity, known.found, since, size, error, since)
