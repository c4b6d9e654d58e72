"""What is foreseen at a moment: what a colony takes, what it adds to the doses, and when a reading will tell."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from generator.reckon.arrivals.colony import Colony
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.dosing.needs import band
from generator.reckon.dosing.newcomer import added_doses
from generator.reckon.dosing.phases import Phase
from generator.reckon.finding import Answer, CannotTell
from generator.reckon.water.calcification import calcification
from generator.reckon.water.demand_events import demand_events
from generator.reckon.water.evidence import Evidence
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.reckon.water.forecast import forecast, with_step
from generator.reckon.water.survey import gather
from generator.reckon.water.track import Track
from generator.reckon.water.uptake import cannot_tell
from generator.reckon.water.when_to_test import reading_plan
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate


@dataclass(frozen=True, slots=True)
class Eve:
    """What is known of a system's alkalinity at a moment, and its measured calcification, g CaCO3/day."""

    at: datetime
    alkalinity: Evidence
    found: Track | None
    measured: Answer

    @property
    def cannot_tell(self) -> CannotTell | None:
        """Why the demand cannot be told; None if it can."""
        return (
            CannotTell("no-readings", "read-twice") if self.found is None else cannot_tell(self.alkalinity, self.found)
        )


def eve_of(system: System, log: SystemLog, corals: Mapping[str, Coral], at: datetime) -> Eve:
    """The eve of a change: all that readings up to a moment tell."""
    evidence, found = gather(system, log, demand_events(system.id, log, corals.values(), at), at)
    alkalinity, calcium = evidence["alkalinity"], evidence["calcium"]
    both = calcification(alkalinity, calcium, found["alkalinity"], found["calcium"], system.water, at)
    return Eve(at, alkalinity, found["alkalinity"], both.grams_per_day)


def if_unchanged(system: System, known: Eve, step: Estimate) -> Forecast | CannotTell:
    """Where alkalinity goes with a step of the demand (meq/L/day) if nothing that runs is changed."""
    ends = band(system, "alkalinity")
    before = forecast(known.alkalinity, known.found, *ends, known.at)
    return before if isinstance(before, CannotTell) else with_step(before, step, *ends)


def readings_that_tell(known: Eve, since: datetime, size: float) -> ReadingPlan | None:
    """The plan of readings for a change of `size` (meq/L/day) at a moment; None where the demand is not known."""
    if known.found is None or known.cannot_tell is not None:
        return None
    errors = known.alkalinity.errors
    kit_error = known.found.kit_error if errors is None else float(errors[-1])
    return reading_plan(known.alkalinity, known.found, since, size, kit_error, since)


@dataclass(frozen=True, slots=True)
class Foresight:
    """What a colony that is in no file yet would take, as from a moment, and what follows from it."""

    uptake: ExpectedUptake
    unchanged: Forecast | CannotTell
    added: Phase
    plan: ReadingPlan | None


def foresee(
    system: System, log: SystemLog, corals: Mapping[str, Coral], colony: Colony, as_of: datetime
) -> Foresight | CannotTell:
    """What a colony would do to a system's demand if it went in now (`as_of` on the keeper's own clock).

    Answers `CannotTell` as `expected` does.
    """
    known = eve_of(system, log, corals, as_of)
    factor = present_factor(corals.values(), system.id, as_of.date(), known.measured)
    uptake = expected(colony, system.water, factor)
    if isinstance(uptake, CannotTell):
        return uptake
    step = uptake.alkalinity.estimate
    return Foresight(
        uptake,
        if_unchanged(system, known, step),
        added_doses(system, log, uptake.grams_per_day, as_of),
        readings_that_tell(known, as_of, step.value),
    )
