"""What every coral has to do with its system's uptake: shares, what if, large changes, and what a colony would do."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from generator.reckon.arrivals.changes import CoralChange, coral_changes
from generator.reckon.arrivals.colony import Colony
from generator.reckon.arrivals.eve import eve_of, if_unchanged, readings_that_tell
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.informed import informed
from generator.reckon.arrivals.known import KnownWater, known_waters
from generator.reckon.arrivals.shares import Shares, present_factor, shares
from generator.reckon.arrivals.what_if import WhatIf, what_if, what_ifs
from generator.reckon.dosing.newcomer import added_doses
from generator.reckon.dosing.phases import Phase
from generator.reckon.finding import CannotTell
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.log import SystemLog
from generator.records.system import System


@dataclass(frozen=True, slots=True)
class DemandFindings:
    """Each by system: every coral's share, what cutting or moving one would do, and the changes that were large."""

    shares: Mapping[str, Shares | CannotTell] = field(default_factory=dict)
    what_if: Mapping[str, tuple[WhatIf, ...]] = field(default_factory=dict)
    changes: Mapping[str, tuple[CoralChange, ...]] = field(default_factory=dict)


def survey_demand(journal: Journal, known: Mapping[str, KnownWater], as_of: datetime) -> DemandFindings:
    """The corals' parts in every system's demand at a moment on the keeper's own clock."""
    today, every = as_of.date(), tuple(journal.corals.values())
    grams = {id: known[id].water.calcification.grams_per_day for id in journal.systems}
    factors = {
        id: (present_factor(every, id, today, grams[id]), system.water) for id, system in journal.systems.items()
    }
    found = {id: shares(id, system.water, every, grams[id], today) for id, system in journal.systems.items()}
    return DemandFindings(
        shares=found,
        what_if={
            id: what_ifs(shared, journal.systems[id].water, {k: v for k, v in factors.items() if k != id})
            for id, shared in found.items()
            if isinstance(shared, Shares)
        },
        changes={
            id: coral_changes(system, journal.log_of(id), journal.corals, known[id].events, as_of)
            for id, system in journal.systems.items()
        },
    )


def survey_what_if(journal: Journal, coral: Coral, part: float, as_of: datetime) -> WhatIf | CannotTell:
    """What cutting away a part of a coral, taking it out or moving it would do, at a moment on the keeper's clock."""
    today, every = as_of.date(), tuple(journal.corals.values())
    place = coral.placement_on(today)
    if place is None:
        return CannotTell("coral-not-here", "name-a-coral-of-this-system")
    grams = {
        id: each.water.calcification.grams_per_day for id, each in known_waters(journal, as_of, past=False).items()
    }
    water = journal.systems[place.system].water
    found = shares(place.system, water, every, grams[place.system], today)
    if isinstance(found, CannotTell):
        return found
    if found.of(coral.id) is None:
        return CannotTell("no-skeleton", "nothing-to-tell")
    others = {
        id: (present_factor(every, id, today, grams[id]), system.water)
        for id, system in journal.systems.items()
        if id != place.system
    }
    return what_if(found, coral.id, part, water, others)


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
