"""Every coral's part in its system's uptake: shares, what if, large changes, and what a new colony would do."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from generator.reckon.arrivals.baseline import baseline_of, if_unchanged, readings_that_tell
from generator.reckon.arrivals.colony import Colony
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.informed import own_factors
from generator.reckon.arrivals.known import KnownWater, Waters, known_waters
from generator.reckon.arrivals.of_place import anywhere_in, spot_of
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.arrivals.what_if import OtherWater, WhatIf, what_if, what_ifs, without
from generator.reckon.dosing.phases import Phase, added_doses
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.deliveries import GRAMS_PER_MEQ
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.system import System, Water


def what_ifs_in(id: str, known: Mapping[str, KnownWater], systems: Mapping[str, System]) -> tuple[WhatIf, ...]:
    """What cutting or moving each coral of a system would do, if their shares are known."""
    found = known[id].shares
    if isinstance(found, CannotTell):
        return ()
    others = _others(id, known, systems)
    told = what_ifs(found, systems[id].water, others, known[id].spots)
    return tuple(_as_known(each, known[id], systems[id].water) for each in told)


def _as_known(told: WhatIf, known: KnownWater, water: Water) -> WhatIf:
    """Without a newcomer that nobody has read the water since, uptake is as sure as it was before it came."""
    told, unread = replace(told, predicted=bool(known.unread)), known.unread
    came = any((each.event.coral, each.event.what) == (told.coral, "arrival") for each in unread)
    before = unread[0].baseline.measured if came and unread[0].baseline else None
    if not isinstance(before, Finding) or isinstance(told.gone, CannotTell):
        return told
    a_gram = GRAMS_PER_MEQ * water.volume.canonical()
    others = [each.step.scaled(a_gram, "g/day") for each in unread if each.step and each.event.coral != told.coral]
    gone = without(told.gone, before, others, water)
    moved = ((id, each if isinstance(each, CannotTell) else replace(each, leaving=gone)) for id, each in told.moved)
    return replace(told, gone=gone, moved=tuple(moved))


def _others(id: str, known: Mapping[str, KnownWater], systems: Mapping[str, System]) -> dict[str, OtherWater]:
    return {
        other: OtherWater(known[other].factor, system.water, anywhere_in(system))
        for other, system in systems.items()
        if other != id
    }


def analyse_what_if(journal: Journal, coral: Coral, part: float, as_of: datetime) -> WhatIf | CannotTell:
    """What cutting away a part of a coral, taking it out or moving it would do, at a moment on the keeper's clock."""
    place = coral.placement_on(as_of.date())
    if place is None:
        return CannotTell("coral-not-here", "name-a-coral-of-this-system")
    known = known_waters(journal, as_of, past=False)
    found = known[place.system].shares
    if isinstance(found, CannotTell):
        return found
    if found.of(coral.id) is None:
        return CannotTell("no-skeleton", "nothing-to-tell")
    others, home = _others(place.system, known, journal.systems), journal.systems[place.system]
    told = what_if(found, coral.id, part, home.water, others, spot_of(place, home))
    return _as_known(told, known[place.system], home.water)


@dataclass(frozen=True, slots=True)
class Foresight:
    """What a colony that is in no file yet would take up from a moment on, and what follows from it."""

    uptake: ExpectedUptake
    unchanged: Forecast | CannotTell
    added: Phase
    plan: ReadingPlan | None


def foresee(waters: Waters, system: System, colony: Colony, as_of: datetime) -> Foresight | CannotTell:
    """What a colony would do to a system's uptake if it went in now (`as_of` on the keeper's own clock).

    Answers `CannotTell` as `expected` does.
    """
    log, told, day = waters.log_of(system.id), waters.events(system.id, as_of), as_of.date()
    known = baseline_of(system, log, [each.event for each in told], as_of)
    own = own_factors(waters.corals, told, day)
    factor = present_factor(waters.corals.values(), system.id, day, known.measured, own)
    uptake = expected(colony, system.water, factor)
    if isinstance(uptake, CannotTell):
        return uptake
    step = uptake.alkalinity.estimate
    return Foresight(
        uptake,
        if_unchanged(known, log, step),
        added_doses(system, log, uptake.grams_per_day, as_of),
        readings_that_tell(known, as_of, step.value),
    )
