"""Every coral's part in its system's uptake: shares, what if, large changes, and what a new colony would do."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from math import hypot

from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import CALCIFICATION_SIZE_EXPONENT
from generator.reckon.arrivals.colony import (
    NOTHING_RECORDED,
    UNKNOWN,
    Colony,
    LightAndFlow,
    OfPlace,
    anywhere_in,
    of_place,
    spot_of,
)
from generator.reckon.arrivals.expected import ExpectedUptake, SystemFactor, alkalinity_of, expected, times_there
from generator.reckon.arrivals.informed import own_factors
from generator.reckon.arrivals.known import KnownWater, Waters, known_waters
from generator.reckon.arrivals.observed import baseline_of, if_unchanged, readings_that_tell
from generator.reckon.arrivals.shares import Shares, part_of, present_factor
from generator.reckon.dosing.phases import Phase, added_doses
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart, scaled_parts
from generator.reckon.water.deliveries import GRAMS_PER_MEQ
from generator.reckon.water.findings import Forecast, ReadingPlan
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.records.source import Source
from generator.records.system import System, Water
from generator.units.quantity import Estimate, Share, spread_of_range


class Demand(Struct, frozen=True):
    """A system's uptake before and after a change: g CaCO3/day and alkalinity, meq/L/day.

    `parts` are those of the uncertainty of the alkalinity afterwards, `inputs` the lines it rests on beside
    those of the demand before.
    """

    system: str
    before: Estimate
    after: Estimate
    alkalinity_before: Estimate
    alkalinity_after: Estimate
    parts: tuple[UncertaintyPart, ...] = ()
    inputs: tuple[Source, ...] = ()


# What a keeper who cuts to make room usually takes off; common practice, no source.
A_THIRD = 1.0 / 3.0
# Of so many corals in a system it is told what would change without them; nobody reads a longer table. Our choice.
MOST_TOLD = 40


class Moved(Struct, frozen=True):
    """The uptake of another system once a coral has moved there; that of its own is as if it were gone.

    It takes `here` g CaCO3/day where it stands, and `there` so many `times` as much; `place` is what light and flow do
    in that.
    """

    arriving: Demand
    here: Estimate
    times: Estimate
    there: Estimate
    place: OfPlace = NOTHING_RECORDED


class OtherWater(Struct, frozen=True):
    """Another system: its factor, its water, and the light and flow a coral may stand in there."""

    factor: SystemFactor
    water: Water
    spot: LightAndFlow = UNKNOWN


class WhatIf(Struct, frozen=True):
    """The uptake with a `part` of a coral cut away, without the coral, and of each other system with it.

    `predicted`: no reading has followed the last event among its system's corals yet.
    """

    coral: str
    part: float
    cut: Demand | CannotTell
    gone: Demand | CannotTell
    moved: tuple[tuple[str, Moved | CannotTell], ...]
    predicted: bool = False


def what_ifs(
    found: Shares, water: Water, others: Mapping[str, OtherWater], spots: Mapping[str, LightAndFlow]
) -> tuple[WhatIf, ...]:
    """What-ifs of the `MOST_TOLD` corals that take most, the largest first; `spots` are where they stand, by id."""
    most = list(found.corals.values())[:MOST_TOLD]
    return tuple(what_if(found, each.coral, A_THIRD, water, others, spots.get(each.coral, UNKNOWN)) for each in most)


def what_if(
    found: Shares, coral: str, part: float, water: Water, others: Mapping[str, OtherWater], spot: LightAndFlow = UNKNOWN
) -> WhatIf:
    """The uptake with a part of a coral (0 to 1) cut away, without the coral, and with it elsewhere.

    `spot` is where it stands.
    """
    return WhatIf(
        coral,
        part,
        if_cut(found, coral, part, water),
        if_cut(found, coral, 1.0, water),
        tuple((id, if_moved(found, coral, id, other, spot)) for id, other in others.items()),
    )


def if_cut(found: Shares, coral: str, part: float, water: Water) -> Demand | CannotTell:
    """The uptake once `part` (0 to 1) of a coral is cut away; 1 for the whole coral.

    What stays calcifies by its size to a power below one, so a third less coral takes a little less than
    a third less; that it does less while it heals is not counted.
    Source: Carlot et al. 2022 (exponent), as `growth.corals.demand_after`.
    """
    share = found.corals.get(coral)
    if share is None:
        return CannotTell("coral-not-here", "name-a-coral-of-this-system")
    lost = 1.0 - (1.0 - part) ** CALCIFICATION_SIZE_EXPONENT.value
    left = 1.0 - lost * share.share.value
    # The share's interval, read as that of the demand that is left.
    lowest, highest = 1.0 - lost * share.share.high, 1.0 - lost * share.share.low
    kept = LogNormal(left, spread_of_range(max(lowest, 1e-9), highest) if highest > lowest else 0.0)
    whole = found.whole.estimate
    parts = (*scaled_parts(found.whole.parts, left), *scaled_parts(share.parts, lost * whole.value))
    return _demand(found.system, whole, part_of(whole, kept), water, parts, share.inputs)


def without(gone: Demand, before: Finding, others: Sequence[Estimate], water: Water) -> Demand:
    """The uptake without a coral, as sure as what was measured before it came, and the predicted steps since of others.

    Those are in g CaCO3/day. Like what was measured it is not below nothing.
    """
    measured = before.estimate
    below = hypot(measured.value - measured.low, *(each.value - each.low for each in others))
    above = hypot(measured.high - measured.value, *(each.high - each.value for each in others))
    least = min(measured.low, gone.after.value, 0.0)
    after = replace(gone.after, low=max(gone.after.value - below, least), high=gone.after.value + above)
    parts = (*before.parts, UncertaintyPart("prediction", hypot(*(each.standard for each in others))))
    return _demand(gone.system, gone.before, after, water, parts, gone.inputs)


def if_moved(
    found: Shares, coral: str, other: str, there: OtherWater, spot: LightAndFlow = UNKNOWN
) -> Moved | CannotTell:
    """The uptake of another system once a coral has moved there.

    Its grams a day follow it: there it takes what it takes here, times how the two waters and places compare.
    """
    share = found.corals.get(coral)
    if share is None:
        return CannotTell("coral-not-here", "name-a-coral-of-this-system")
    if isinstance(there.factor.measured, CannotTell):
        return there.factor.measured
    place = of_place(spot, there.spot)
    times = times_there(found.factor, there.factor, place)
    here, takes = share.grams_per_day, part_of(share.grams_per_day, times)
    before = there.factor.measured.estimate
    parts = (
        *there.factor.measured.parts,
        *scaled_parts(found.whole.parts, share.share.value * times.median),
        *scaled_parts(share.parts, found.whole.estimate.value * times.median),
        UncertaintyPart("two-waters", abs(takes.value) * times.spread),
    )
    arriving = _demand(other, before, _sum(before, takes), there.water, parts, share.inputs)
    return Moved(arriving, here, times.estimate("times"), takes, place)


def _demand(
    system: str,
    before: Estimate,
    after: Estimate,
    water: Water,
    parts: tuple[UncertaintyPart, ...],
    inputs: tuple[Source, ...],
) -> Demand:
    """An uptake in g/day, with the parts of its uncertainty, as alkalinity."""
    per_gram = alkalinity_of(Estimate.exact(1.0, "g/day"), water).value
    in_alkalinity = alkalinity_of(before, water), alkalinity_of(after, water)
    return Demand(system, before, after, *in_alkalinity, scaled_parts(parts, per_gram), inputs)


def _sum(one: Estimate, other: Estimate) -> Estimate:
    """The sum of two independent estimates; their half-widths add in squares, each side for itself."""
    value = one.value + other.value
    below = hypot(one.value - one.low, other.value - other.low)
    above = hypot(one.high - one.value, other.high - other.value)
    return Estimate(value, value - below, value + above, one.unit, one.level)


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
    before = unread[0].measured if came else None
    if not isinstance(before, Finding) or isinstance(told.gone, CannotTell):
        return told
    a_gram = GRAMS_PER_MEQ * water.volume.canonical()
    others = [each.step.scaled(a_gram, "g/day") for each in unread if each.step and each.event.coral != told.coral]
    return replace(told, gone=without(told.gone, before, others, water))


def _others(id: str, known: Mapping[str, KnownWater], systems: Mapping[str, System]) -> dict[str, OtherWater]:
    return {
        other: OtherWater(known[other].factor, system.water, anywhere_in(system))
        for other, system in systems.items()
        if other != id
    }


def analyse_what_if(journal: Journal, coral: Coral, part: Share, as_of: datetime) -> WhatIf | CannotTell:
    """What cutting away a part of a coral, taking it out or moving it would do, at a moment on the keeper's clock."""
    place = coral.placement_on(as_of.date())
    if place is None:
        return CannotTell("coral-not-here", "name-a-coral-of-this-system")
    known = known_waters(journal, as_of, past=False)
    found = known[place.system].shares
    if isinstance(found, CannotTell):
        return found
    if coral.id not in found.corals:
        return CannotTell("no-skeleton", "nothing-to-tell")
    others, home = _others(place.system, known, journal.systems), journal.systems[place.system]
    told = what_if(found, coral.id, part, home.water, others, spot_of(place, home))
    return _as_known(told, known[place.system], home.water)


class Foresight(Struct, frozen=True):
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
