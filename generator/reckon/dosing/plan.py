"""What to dose: litres a day of the keeper's own solutions that hold the band, and bring a level back to target."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from generator.reckon.dosing.combination import combination, given
from generator.reckon.dosing.hold import holds_for
from generator.reckon.dosing.needs import Correction, Need, corrections, demand, levels_to_hold
from generator.reckon.dosing.supplies import How, Supply, supplies
from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart
from generator.reckon.water.findings import Uptake, WaterFindings
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Estimate

# A plan must hold for so many days at least, or it is better to read first than to dose by it.
LEAST_DAYS = 2.0
# What is left of a need, as a share of it, before a plan says that the solutions at hand do not meet it.
UNMET = 0.02

_LEVEL = 0.90

NoteId = Literal["read-calcium", "alkalinity-not-explained", "needs-more-evaporation"]


@dataclass(frozen=True, slots=True)
class DoseRate:
    """So many litres a day of one supply, with the interval that comes of the uptake's; `now` is what runs."""

    supply: str
    how: How
    rate: Finding
    now: float


@dataclass(frozen=True, slots=True)
class Unmet:
    """What the supplies leave of a kind's need (negative: give too much), meq or mg a day."""

    kind: str
    per_day: float


@dataclass(frozen=True, slots=True)
class Phase:
    """Doses for so many days (None: from then on)."""

    days: int | None
    doses: tuple[DoseRate, ...]
    unmet: tuple[Unmet, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """What to dose, from which demand, for how long.

    `phases` follow on each other: those that correct, then the one that holds. `holds_days` is how long
    alkalinity, and calcium where it is known well enough, stay in their bands with the odds stated in
    `hold`: read again by then.
    """

    system: str
    as_of: datetime
    needs: tuple[Need, ...]
    corrections: tuple[Correction, ...]
    phases: tuple[Phase, ...]
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
    to_correct = corrections(system, water, levels, needs)
    targets = {correction.kind: correction.target for correction in to_correct}
    holds = holds_for(system, water, "alkalinity", targets.get("alkalinity"))
    if isinstance(holds, CannotTell):
        return holds
    if holds < LEAST_DAYS:
        return CannotTell("interval-too-wide", "read-daily", (("days", f"{LEAST_DAYS:g}"),), needs[0].inputs)
    of_calcium = holds_for(system, water, "calcium", targets.get("calcium"))
    calcium_is_known = not isinstance(of_calcium, CannotTell) and of_calcium >= LEAST_DAYS
    if not isinstance(of_calcium, CannotTell) and calcium_is_known:
        holds = min(holds, of_calcium)
    phases = _phases(needs, to_correct, at_hand, system.water.volume.canonical())
    notes = _notes(water, at_hand, phases[-1], calcium_is_known)
    return Plan(system.id, as_of, needs, to_correct, phases, holds, notes)


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
        extra = {c.kind: c.change.value * volume / c.days for c in to_correct if c.days >= end}
        found.append(phase(needs, extra, at_hand, end - start))
        start = end
    return (*found, phase(needs, {}, at_hand, None))


def phase(needs: Sequence[Need], extra: Mapping[str, float], at_hand: Sequence[Supply], days: int | None) -> Phase:
    """The doses for the demand and for what corrects it (`extra`, meq or mg a day) over so many days.

    Their interval comes of the demand's lower and upper end and of each supply's strength.
    """
    kinds = list(dict.fromkeys([*(need.kind for need in needs), *extra]))
    ends = []
    for end in ("value", "low", "high"):
        wanted = dict.fromkeys(kinds, 0.0)
        for need in needs:
            wanted[need.kind] += getattr(need.per_day, end)
        for kind, more in extra.items():
            wanted[kind] += more
        ends.append(combination(wanted, at_hand))
    middle, low, high = ends
    doses = tuple(
        DoseRate(supply.id, supply.how, _rate(supply, middle, low, high, needs), supply.now)
        for supply in at_hand
        if middle[supply.id] > 0.0 or supply.now > 0.0
    )
    return Phase(days, doses, _unmet(needs, extra, at_hand, middle))


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
        UncertaintyPart("demand", (ends[2] - ends[0]) / 2.0 / coverage_factor(_LEVEL)),
        UncertaintyPart("strength", of_strength),
    )
    return Finding(Estimate(value, max(value - below, 0.0), value + above, "L/day", _LEVEL), "dosing", inputs, parts)


def _unmet(
    needs: Sequence[Need], extra: Mapping[str, float], at_hand: Sequence[Supply], litres: Mapping[str, float]
) -> tuple[Unmet, ...]:
    wanted = {need.kind: need.per_day.value + extra.get(need.kind, 0.0) for need in needs}
    wanted |= {kind: more for kind, more in extra.items() if kind not in wanted}
    found = []
    for kind, per_day in wanted.items():
        missing = per_day - given(litres, at_hand, kind)
        if abs(missing) > UNMET * abs(per_day):
            found.append(Unmet(kind, missing))
    return tuple(found)


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
