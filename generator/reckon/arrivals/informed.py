"""Every event among a system's corals with what it is predicted to do, by what was known just before it.

This is what the water is estimated with from the minute of an event on: what was measured before, plus what is
predicted of it, until readings tell better.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import CALCIFICATION_SIZE_EXPONENT
from generator.reckon.arrivals.colony import colony_of, drained, spot_of
from generator.reckon.arrivals.expected import (
    LARGE_SHARE,
    ExpectedUptake,
    Taken,
    expected,
    expected_of,
    factor_of_system,
    followed,
)
from generator.reckon.arrivals.observed import STORY, Baseline
from generator.reckon.arrivals.published import published
from generator.reckon.arrivals.shares import (
    NONE_OWN,
    own_after_cut,
    own_factor,
    present_before,
    published_of,
    still_own,
)
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.change import Step, estimate_steps
from generator.reckon.water.demand_events import DemandEvent, demand_events
from generator.reckon.water.ledger import in_days
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate, spread_of_range

# A cut of which no mass is written counts as half of the coral, as it does among the demand's events; 9 in 10 of
# such cuts take between a fifth and four fifths. An assumption of ours.
HALF_OR_SO = Estimate(0.5, 0.2, 0.8, "share")
# So long after a small event readings have told what it did; of large ones it is always said. A choice of ours.
TOLD_BY = timedelta(days=60)

# However little readings show of an arrival, it counts for so much of what was predicted. A choice of ours.
LEAST_OF_PREDICTED = 0.1

# What is left of a coral that was cut away whole. Keeps a division whole.
_LEAST_LEFT = 1e-6
_OF_CORALS = ("arrival", "cutting", "loss")


class Informed(Struct, frozen=True):
    """An event with what it is predicted to do in it (`step` and `step_error`), if that was told.

    `measured` and `uptake` are the calcification (g CaCO3/day) and the mean uptake of alkalinity (meq/L/day) known just
    before it, `predicted` what the coral takes by that, `step` what the event does to the uptake (negative: less).
    None: nothing is predicted, the readings have to tell. `own` is by how much the coral takes otherwise than published
    from then on (None: as published), and of a newcomer `as_predicted` is that before any reading; `within` is how well
    readings tell what it takes (one standard deviation of the logarithm; None: as predicted).
    """

    event: DemandEvent
    measured: Answer | None = None
    uptake: float = 0.0
    predicted: ExpectedUptake | CannotTell | None = None
    step: Estimate | None = None
    large: bool = False
    own: float | None = None
    as_predicted: float | None = None
    within: float | None = None


# What a coral of an arrival took in the water it came from, if that is one of the keeper's own.
Elsewhere = Callable[[Coral, DemandEvent], Taken | None]


class Listed(Struct, frozen=True):
    """An event, whether what it does is predicted, whether it is large, and whether alkalinity was read since."""

    event: DemandEvent
    predicted: bool
    large: bool
    read: bool


def events_listed(
    system: System,
    log: SystemLog,
    corals: Mapping[str, Coral],
    as_of: datetime,
    events: Sequence[DemandEvent] | None = None,
) -> tuple[Listed, ...]:
    """Every event up to a moment, in order of time. Days are those of the zone of `as_of`, the keeper's.

    `events` are the system's `demand_events`, if they are known already.
    """
    read = [each.at for each in log.readings if each.kind == "alkalinity"]
    last = max((at for at in read if at <= as_of), default=None)
    found = []
    for event in demand_events(system.id, log, corals.values(), as_of) if events is None else events:
        known = event.coral in corals and event.what in _OF_CORALS and bool(read) and event.at > read[0]
        large = known and share_of(system, corals, event) >= LARGE_SHARE * (1.0 - 1e-9)
        found.append(
            Listed(event, known and (large or as_of - event.at <= TOLD_BY), large, last is not None and event.at < last)
        )
    return tuple(found)


def recent(found: Sequence[Informed], at: datetime) -> list[Informed]:
    """The events before a moment of which readings up to it tell how large each was."""
    return [each for each in found if each.step and each.measured and timedelta() < at - each.event.at <= STORY]


def as_read(found: Sequence[Informed], now: Baseline | None) -> list[Informed]:
    """The events so far, with what the readings up to a moment say that each newcomer takes.

    How much more (or less) is taken up than was predicted falls to all that may explain it, as sure as each was and as
    far apart as the readings tell them: every recent event, and what the others took and how that drifts.
    """
    lately = recent(found, now.at) if now else []
    if not (now and now.found and any(each.event.what == "arrival" for each in lately)):
        return list(found)
    steps = [Step(in_days(each.event.at), each.step.value, each.step.standard) for each in lately if each.step]
    read = estimate_steps(now.alkalinity, now.found, steps)
    before = lately[0].uptake
    others = max(read.before[0][0] / before, LEAST_OF_PREDICTED) if before > 0.0 else 1.0
    errors = np.sqrt(np.diagonal(read.variance[-1])).tolist()
    told = {id(each): size for each, *size in zip(lately, read.mean[-1].tolist(), errors, strict=True)}

    def read_now(each: Informed) -> Informed:
        if id(each) not in told or each.as_predicted is None or each.step is None:
            return each
        (size, error), least = told[id(each)], LEAST_OF_PREDICTED * each.step.value
        takes = max(size, least)
        return replace(each, own=each.as_predicted * takes / each.step.value / others, within=error / takes)

    return [read_now(each) for each in found]


def own_factors(corals: Mapping[str, Coral], told: Iterable[Informed], day: date) -> dict[str, float]:
    """By how much single corals take otherwise than published on a day, by what was predicted of each event."""
    own = {
        str(each.event.coral): each.own
        for each in told
        if each.own is not None and still_own(corals[str(each.event.coral)], each.event, day)
    }
    return {id: factor for id, factor in own.items() if factor > 0.0}


def told_within(corals: Mapping[str, Coral], told: Iterable[Informed], day: date) -> dict[str, float]:
    """How well readings tell what single newcomers take (one standard deviation of the logarithm), until they are cut.

    That an arrival was told so well counts for less the longer ago it is; after a year it tells nothing more. Ours.
    """
    found: dict[str, float] = {}
    for each in told:
        coral = str(each.event.coral)
        if each.within is not None:
            found[coral] = each.within / max(1.0 - (day - each.event.day).days / 365.0, 1e-3)
        elif each.own is not None and still_own(corals[coral], each.event, day):
            found.pop(coral, None)
    return found


def informed_of(
    system: System,
    corals: Mapping[str, Coral],
    listed: Listed,
    found: Sequence[Informed],
    baseline: Baseline,
    elsewhere: Elsewhere | None,
) -> Informed:
    """One event by what was known just before it (`baseline`), after all that was told of those before (`found`)."""
    event = listed.event
    coral, before = corals[str(event.coral)], [each.event for each in found]
    present, own = present_before(system.id, corals, event, before), own_factors(corals, found, event.day)
    predicted = predicted_uptake(system, coral, event, baseline.measured, present, own)
    taken = elsewhere(coral, event) if elsewhere and event.what == "arrival" else None
    if taken is not None:
        others = factor_of_system(published_of(present, event.day - timedelta(days=1), own)[0], baseline.measured)
        spot = spot_of(coral.placement_on(event.day), system)
        predicted = followed(taken, colony_of(coral, event.day), system.water, others, spot)
    known = baseline.measured, float(baseline.found.uptake.moments()[0]) if baseline.found else 0.0
    if isinstance(predicted, CannotTell):
        return Informed(event, *known, predicted, None, listed.large)
    step = step_of(event, coral, predicted)
    # Until a reading follows a newcomer counts in full, so that all shares add up. How it settles, readings tell.
    settles = event.settles if listed.read else 0.0
    with_step = replace(event, step=step.value, step_error=step.standard, settles=settles)
    if event.what == "arrival":
        newcomer = own_factor(coral, event, predicted.grams_per_day.estimate.value, baseline.measured, present, own)
        return Informed(with_step, *known, predicted, step, listed.large, newcomer, newcomer)
    return Informed(with_step, *known, predicted, step, listed.large, own_if_cut(corals, event, found))


def own_if_cut(corals: Mapping[str, Coral], event: DemandEvent, found: Sequence[Informed]) -> float | None:
    """By how much a coral takes otherwise than published once it was cut; None for every other event."""
    if event.what != "cutting" or event.coral is None or event.coral not in corals:
        return None
    coral, own = corals[event.coral], own_factors(corals, found, event.day)
    part = part_cut(coral, event) or HALF_OR_SO
    return own_after_cut(coral, event, max(1.0 - lost_by_cutting(part.value), _LEAST_LEFT), own)


def predicted_step(
    system: System, corals: Mapping[str, Coral], event: DemandEvent, measured: Answer
) -> Estimate | None:
    """What an event is predicted to do, given the measured g CaCO3/day before it; None where nothing tells."""
    coral, present = corals[str(event.coral)], present_before(system.id, corals, event, ())
    predicted = predicted_uptake(system, coral, event, measured, present)
    return None if isinstance(predicted, CannotTell) else step_of(event, coral, predicted)


def step_of(event: DemandEvent, coral: Coral, foreseen: ExpectedUptake) -> Estimate:
    """What an event is foreseen to do to the demand, meq/L/day.

    What stays of a cut coral calcifies by its size to a power below one (Carlot et al. 2022). A cut of which no share
    is known is foreseen as `HALF_OR_SO`.
    """
    whole = foreseen.alkalinity.estimate
    if event.what == "arrival":
        return whole
    part = Estimate.exact(1.0, "share") if event.what == "loss" else part_cut(coral, event) or HALF_OR_SO
    least, likely, most = (lost_by_cutting(end) for end in (part.low, part.value, part.high))
    if least == most:
        return _but(whole.scaled(-likely, whole.unit), event.stays)
    lost = LogNormal(likely, spread_of_range(least, most))
    alone = LogNormal(whole.value, spread_of_range(whole.low, whole.high, whole.level))
    return _but(alone.times(lost).estimate(whole.unit).scaled(-1.0, whole.unit), event.stays)


def _but(step: Estimate, stays: float) -> Estimate:
    """A step of which a share stays in the same water: as unsure as if nothing did, for what is cut may take less."""
    return step.moved(-stays * step.value)


def lost_by_cutting(part: float) -> float:
    """The share of a coral's calcification that goes with a share of its mass (0 to 1); it heals in its own time."""
    left: float = (1.0 - part) ** CALCIFICATION_SIZE_EXPONENT.value
    return 1.0 - left


def part_cut(coral: Coral, event: DemandEvent) -> Estimate | None:
    """The share of a coral's mass that was cut away on a day.

    Of one that was weighed under water, or only measured, it is as unsure as what it weighs drained; likely no more
    goes than the high end of `HALF_OR_SO`, if that may be. None where a cut of the day was not weighed, or nothing
    tells how large the coral was.
    """
    day = event.day
    masses = [cutting.mass.canonical() if cutting.mass else 0.0 for cutting in coral.cuttings if cutting.at == day]
    if not masses or not all(masses):
        return None
    cut, whole = sum(masses), drained(colony_of(coral, day - timedelta(days=1)))
    if whole is None:
        return None
    # What was only weighed or measured later had lost the frags already.
    measured = coral.weighings or coral.sizes
    before = 0.0 if any(each.at < day for each in measured) else cut
    value, least, most = (min(cut / (end + before), 1.0) for end in (whole.value, whole.high, whole.low))
    return Estimate(max(min(value, HALF_OR_SO.high), least) if least < most else value, least, most, "share")


def predicted_uptake(
    system: System,
    coral: Coral,
    event: DemandEvent,
    measured: Answer,
    present: Sequence[Coral],
    own: Mapping[str, float] = NONE_OWN,
) -> ExpectedUptake | CannotTell:
    """What the coral of an event takes by what was known just before it, and its share with the others `present`."""
    day = event.day
    day_before = day - timedelta(days=1)
    others = factor_of_system(
        published_of([each for each in present if each.id != coral.id], day_before, own)[0], measured
    )
    if event.what == "arrival":
        return expected(colony_of(coral, day), system.water, others)
    # It was part of what was measured: the factor is that of all, itself among them, times its own. Nobody need have
    # measured it: then it counts as it does in the shares.
    known, unmeasured = published_of(present, day_before, own)
    everyone, colony = factor_of_system(known, measured), colony_of(coral, day_before)
    assumed = known.get(coral.id) if coral.id in unmeasured else None
    of_rates = assumed or published(colony)
    if isinstance(of_rates, CannotTell):
        return of_rates
    times = 1.0 if assumed else own.get(coral.id, 1.0)
    everyone = replace(everyone, ratio=everyone.ratio.times(LogNormal(times, 0.0)))
    found, beside = (expected_of(of_rates, colony.inputs, system.water, each) for each in (everyone, others))
    alone = Finding(Estimate.exact(1.0, "share"), "expected-uptake", colony.inputs)
    return replace(found, share=alone if others.present is None else beside.share)


def share_of(system: System, corals: Mapping[str, Coral], event: DemandEvent) -> float:
    """How much of the whole demand an event moves, as well as it can be told without reckoning the water."""
    unread = CannotTell("uptake-not-known", "read-alkalinity")
    coral, present = corals[str(event.coral)], present_before(system.id, corals, event, ())
    foreseen = predicted_uptake(system, coral, event, unread, present)
    if isinstance(foreseen, CannotTell):
        return 0.0 if foreseen.why == "no-skeleton" else event.share
    share = foreseen.share.estimate.value if isinstance(foreseen.share, Finding) else 1.0
    if event.what != "cutting":
        return share
    part = part_cut(coral, event) or HALF_OR_SO
    return lost_by_cutting(part.value) * share * (1.0 - event.stays)
