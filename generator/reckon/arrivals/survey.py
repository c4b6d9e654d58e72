"""All that is said of every coral's part in its system's demand: shares, what if, and the large changes."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from generator.reckon.arrivals.changes import CoralChange, coral_changes
from generator.reckon.arrivals.known import KnownWater, known_waters
from generator.reckon.arrivals.shares import Shares, present_factor, shares
from generator.reckon.arrivals.what_if import WhatIf, what_if, what_ifs
from generator.reckon.finding import CannotTell
from generator.records.coral import Coral
from generator.records.journal import Journal


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
