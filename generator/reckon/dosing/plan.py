"""What to dose: litres a day of the keeper's own solutions that hold the band, and bring a level back to target."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from typing import Literal

from generator.reckon.dosing.combination import combination, given
from generator.reckon.dosing.hold import Held, holds_for
from generator.reckon.dosing.needs import Correction, Need, corrections, demand, levels_to_hold
from generator.reckon.dosing.supplies import How, Supply, supplies
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart
from generator.reckon.water.findings import Uptake, WaterFindings
from generator.reckon.water.stoichiometry import CALCIUM_PER_MEQ
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# A plan must hold for so many days at least, or it is better to read first than to dose by it.
LEAST_DAYS = 2.0
# What is left of a need, as a share of it, before a plan says that the solutions at hand do not meet it.
UNMET = 0.02
# What is at hand may take so many days for a correction that the daily cap would allow sooner. A choice of ours.
LONGEST_CORRECTION = 14

_LEVEL = 0.90

NoteId = Literal["read-calcium", "alkalinity-not-explained", "needs-more-evaporation", "out-of-reach"]


@dataclass(frozen=True, slots=True)
class DoseRate:
    """So many litres a day of one supply, with the interval that comes of the uptake's; `now` is what runs."""

    supply: str
    how: How
    rate: Finding
    now: float


@dataclass(frozen=True, slots=True)
class Unmet:
    """What the supplies leave of a kind's need (negative: give too much), meq or mg a day, as unsure as the need."""

    kind: str
    per_day: Estimate


@dataclass(frozen=True, slots=True)
class Phase:
    """Doses for so many days (None: from then on)."""

    days: int | None
    doses: tuple[DoseRate, ...]
    unmet: tuple[Unmet, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What to dose, from which demand, for how long.

    `phases` follow on each other: those that correct, then the one that holds. `held` names what it keeps in
    its band: calcium only where that is known well enough, and neither where the supplies fall so far short
    that it would leave within `LEAST_DAYS`. `holds_days` is how long the held stay there with the odds
    stated in `hold` (without any: how long alkalinity does): read again by then.
    """

    system: str
    as_of: datetime
    needs: tuple[Need, ...]
    corrections: tuple[Correction, ...]
    phases: tuple[Phase, ...]
    held: tuple[str, ...]
    holds_days: float
    notes: tuple[NoteId, ...]


def dosing_plan(system: System, log: SystemLog, water: WaterFindings, as_of: datetime) -> Plan | CannotTell:
    """The doses that meet the measured demand, after a correction to target where readings tell it is needed.

    Answers `CannotTell` where the demand cannot be told, where the last reading of alkalinity does not
    agree with the others, where nothing at hand gives alkalinity, or where by the intervals no dose can
    be trusted to keep alkalinity in its band for `LEAST_DAYS`.
    """
    if (refusal := _refusal(water)) is not None:
        return refusal
    needs = demand(water)
    if isinstance(needs, CannotTell):
        return needs
    levels = levels_to_hold(system)
    at_hand = supplies(system, log, levels, as_of)
    if not any("alkalinity" in supply.gives for supply in at_hand):
        return CannotTell("nothing-to-dose", "write-a-solution")
    volume = system.water.volume.canonical()
    wanted = corrections(system, water, levels, needs)
    to_correct = tuple(_within_reach(wanted, needs, at_hand, volume))
    targets = {correction.kind: correction.target for correction in to_correct}
    phases = _phases(needs, to_correct, at_hand, volume)
    days = {
        kind: holds_for(system, water, kind, targets.get(kind), partial(_fallen_short, phases, kind, volume))
        for kind in ("alkalinity", "calcium")
    }
    alkalinity = days["alkalinity"]
    if isinstance(alkalinity, CannotTell):
        return alkalinity
    if alkalinity.if_met < LEAST_DAYS:
        return CannotTell("no-dose-is-sure", "read-alkalinity-daily", (("days", f"{LEAST_DAYS:g}"),), needs[0].inputs)
    held = {kind: found.days for kind, found in days.items() if isinstance(found, Held) and found.days >= LEAST_DAYS}
    of_calcium = days["calcium"]
    calcium_is_known = isinstance(of_calcium, Held) and of_calcium.if_met >= LEAST_DAYS
    notes = _notes(water, at_hand, phases[-1], calcium_is_known)
    if len(to_correct) < len(wanted):
        notes = (*notes, "out-of-reach")
    holds = min(held.values()) if "alkalinity" in held else alkalinity.days
    return Plan(system.id, as_of, needs, to_correct, phases, tuple(held), holds, notes)


def _within_reach(
    wanted: Sequence[Correction], needs: Sequence[Need], at_hand: Sequence[Supply], volume: float
) -> Iterator[Correction]:
    """The corrections that what is at hand can give beside the demand, over more days where it cannot as fast."""
    met = {need.kind: need.per_day.value for need in needs}
    for correction in wanted:
        kind, longest = correction.kind, max(correction.days, LONGEST_CORRECTION)
        before = given(combination(met, at_hand), at_hand, kind)
        for days in range(correction.days, longest + 1):
            extra = _extra([replace(correction, days=days)], at_hand, volume)
            corrected = {each: met.get(each, 0.0) + extra.get(each, 0.0) for each in met | extra}
            gained = given(combination(corrected, at_hand), at_hand, kind) - before
            if gained / extra[kind] >= 1.0 - UNMET:
                yield replace(correction, days=days)
                break


def _extra(to_correct: Sequence[Correction], at_hand: Sequence[Supply], volume: float) -> dict[str, float]:
    """What corrections ask beside the demand, meq or mg a day.

    Where limewater or a reactor alone brings alkalinity up, the calcium that goes with it is let come too:
    7 mg/L for each dKH.
    """
    extra = {each.kind: each.change.value * volume / each.days for each in to_correct}
    by_pump = any(supply.how == "pump" and "alkalinity" in supply.gives for supply in at_hand)
    if not by_pump and (alkalinity := extra.get("alkalinity", 0.0)) > 0.0:
        extra["calcium"] = max(extra.get("calcium", 0.0), alkalinity * CALCIUM_PER_MEQ)
    return extra


def _fallen_short(phases: Sequence[Phase], kind: str, volume: float, days: float) -> float:
    """By how much a level is lower after so many days for what the supplies left of its need (negative: higher)."""
    short = 0.0
    for each in phases:
        lasts = days if each.days is None else min(days, each.days)
        short += lasts * sum(unmet.per_day.value for unmet in each.unmet if unmet.kind == kind) / volume
        days -= lasts
    return short


def _refusal(water: WaterFindings) -> CannotTell | None:
    latest = water.latest.get("alkalinity")
    if latest is None:
        return CannotTell("no-readings", "read-twice")
    if latest.doubtful:
        return CannotTell("latest-doubtful", "read-this-again", inputs=(latest.reading.source,))
    return None


def _phases(
    needs: Sequence[Need], to_correct: Sequence[Correction], at_hand: Sequence[Supply], volume: float
) -> tuple[Phase, ...]:
    """One phase up to each day on which a correction is done, and one from then on."""
    found, start = [], 0
    for end in sorted({correction.days for correction in to_correct}):
        extra = _extra([each for each in to_correct if each.days >= end], at_hand, volume)
        found.append(phase(needs, extra, at_hand, end - start))
        start = end
    return (*found, phase(needs, {}, at_hand, None))


def phase(needs: Sequence[Need], extra: Mapping[str, float], at_hand: Sequence[Supply], days: int | None) -> Phase:
    """The doses for the demand and for what corrects it (`extra`, meq or mg a day) over so many days.

    Their interval comes of the demand's lower and upper end and of each supply's strength.
    """
    ends = []
    for end in ("value", "low", "high"):
        wanted: dict[str, float] = {}
        for need in needs:
            wanted[need.kind] = wanted.get(need.kind, 0.0) + getattr(need.per_day, end)
        for kind, more in extra.items():
            wanted[kind] = wanted.get(kind, 0.0) + more
        ends.append((wanted, combination(wanted, at_hand)))
    middle, low, high = (litres for _, litres in ends)
    doses = tuple(
        DoseRate(supply.id, supply.how, _rate(supply, middle, low, high, needs), supply.now)
        for supply in at_hand
        if middle[supply.id] > 0.0 or supply.now > 0.0
    )
    return Phase(days, doses, tuple(_unmet(ends, at_hand)))


def _rate(
    supply: Supply,
    middle: Mapping[str, float],
    low: Mapping[str, float],
    high: Mapping[str, float],
    needs: Sequence[Need],
) -> Finding:
    value = middle[supply.id]
    ends = sorted((low[supply.id], high[supply.id], value))
    of_strength = supply.strength_error * value
    half = coverage_factor(_LEVEL) * of_strength
    below = ((value - ends[0]) ** 2 + half**2) ** 0.5
    above = ((ends[2] - value) ** 2 + half**2) ** 0.5
    inputs = tuple(dict.fromkeys(s for need in needs if need.kind in supply.gives for s in need.inputs))
    parts = (
        UncertaintyPart("uptake", (ends[2] - ends[0]) / 2.0 / coverage_factor(_LEVEL)),
        UncertaintyPart("strength", of_strength),
    )
    return Finding(Estimate(value, max(value - below, 0.0), value + above, "L/day", _LEVEL), "dosing", inputs, parts)


def _unmet(
    ends: Sequence[tuple[Mapping[str, float], Mapping[str, float]]], at_hand: Sequence[Supply]
) -> Iterator[Unmet]:
    """What is left of each need, from the needs and the litres at the demand's value and its two ends."""
    for kind, per_day in ends[0][0].items():
        missing = [wanted[kind] - given(litres, at_hand, kind) for wanted, litres in ends]
        if abs(missing[0]) > UNMET * abs(per_day):
            unit = f"{KINDS[kind].canonical.removesuffix('/L')}/day"
            yield Unmet(kind, Estimate(missing[0], min(missing), max(missing), unit, _LEVEL))


def _notes(water: WaterFindings, at_hand: Sequence[Supply], hold: Phase, calcium_is_known: bool) -> tuple[NoteId, ...]:
    notes: list[NoteId] = [] if calcium_is_known else ["read-calcium"]
    unexplained, uptake = water.calcification.unexplained, water.uptake.get("alkalinity")
    if isinstance(unexplained, Finding) and _clearly_not_nothing(unexplained.estimate, uptake):
        notes.append("alkalinity-not-explained")
    rates = {dose.supply: dose.rate.estimate.value for dose in hold.doses}
    if any(s.how == "top-off" and rates.get(s.id, 0.0) >= s.most * (1.0 - 1e-9) for s in at_hand):
        notes.append("needs-more-evaporation")
    return tuple(notes)


def _clearly_not_nothing(part: Estimate, uptake: Uptake | None) -> bool:
    """Beyond its own interval, and a tenth of the demand at least."""
    if uptake is None or not isinstance(uptake.per_day, Finding):
        return False
    return not part.low <= 0.0 <= part.high and abs(part.value) > 0.1 * abs(uptake.per_day.estimate.value)
