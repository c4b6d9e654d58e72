"""What is foreseen at a moment: what a colony takes, what it adds to the doses, and when a reading will tell."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from generator.reckon.arrivals.colony import Colony
from generator.reckon.arrivals.eve import eve_of, if_unchanged, readings_that_tell
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.informed import informed
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.dosing.newcomer import added_doses
from generator.reckon.dosing.phases import Phase
from generator.reckon.finding import CannotTell
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System


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
    events = [each.event for each in informed(system, log, corals, as_of)]
    known = eve_of(system, log, events, as_of)
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
