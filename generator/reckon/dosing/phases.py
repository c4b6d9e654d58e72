"""Doses phase by phase: what each supply gives for a demand and for what corrects a level, and what it leaves."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from generator.reckon.dosing.combination import combination, given
from generator.reckon.dosing.needs import CALCIUM_PER_GRAM, Need, levels_to_hold
from generator.reckon.dosing.safe import Correction
from generator.reckon.dosing.supplies import How, Supply, supplies
from generator.reckon.finding import Finding, UncertaintyPart
from generator.reckon.water.stoichiometry import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, coverage_factor

# What is left of a need, as a share of it, before a plan says that the solutions at hand do not meet it.
UNMET = 0.02
# What is at hand may take so many days for a correction that the daily cap would allow sooner. A choice of ours.
LONGEST_CORRECTION = 14
# Of a rise that it cannot give in that time, so much must be in reach to be planned. A choice of ours.
WORTH_A_PART = 0.1


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


def phases(
    needs: Sequence[Need], to_correct: Sequence[Correction], at_hand: Sequence[Supply], volume: float
) -> tuple[Phase, ...]:
    """One phase up to each day on which a correction is done, and one from then on."""
    found, start = [], 0
    for end in sorted({correction.days for correction in to_correct}):
        extra = _extra([each for each in to_correct if each.days >= end], volume)
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
        ends.append((wanted, _litres(wanted, at_hand)))
    middle, low, high = (litres for _, litres in ends)
    doses = tuple(
        DoseRate(supply.id, supply.how, _rate(supply, middle, low, high, needs), supply.now)
        for supply in at_hand
        if middle[supply.id] or supply.now
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
    of_strength = supply.error * value
    half = coverage_factor() * of_strength
    below = ((value - ends[0]) ** 2 + half**2) ** 0.5
    above = ((ends[2] - value) ** 2 + half**2) ** 0.5
    inputs = tuple(dict.fromkeys(s for need in needs if need.kind in supply.gives for s in need.inputs))
    parts = (
        UncertaintyPart("uptake", (ends[2] - ends[0]) / 2.0 / coverage_factor()),
        UncertaintyPart("strength", of_strength),
    )
    return Finding(Estimate(value, max(value - below, 0.0), value + above, "L/day"), "dosing", inputs, parts)


def _unmet(
    ends: Sequence[tuple[Mapping[str, float], Mapping[str, float]]], at_hand: Sequence[Supply]
) -> Iterator[Unmet]:
    """What is left of each need, from the needs and the litres at the demand's value and its two ends."""
    for kind, per_day in ends[0][0].items():
        missing = [wanted[kind] - given(litres, at_hand, kind) for wanted, litres in ends]
        most = max(abs(wanted[kind]) for wanted, _ in ends)
        if missing[0] > UNMET * most or max(missing) < -UNMET * abs(per_day):
            unit = f"{KINDS[kind].canonical.removesuffix('/L')}/day"
            yield Unmet(kind, Estimate(missing[0], min(missing), max(missing), unit))


def within_reach(
    wanted: Sequence[Correction], needs: Sequence[Need], at_hand: Sequence[Supply], volume: float
) -> Iterator[Correction]:
    """The corrections that what is at hand can give beside the demand, over more days where it cannot as fast.

    Where even so it is too much, the part of it that can be given. To let a level down takes nothing but giving less;
    calcium that only comes with alkalinity is not let down.
    """
    tied = not _apart(at_hand, "alkalinity", "calcium")
    met = {need.kind: need.per_day.value for need in needs}
    for correction in wanted:
        if correction.change.value < 0.0:
            if correction.kind != "calcium" or not tied:
                yield correction
            continue
        kind, longest = correction.kind, max(correction.days, LONGEST_CORRECTION)
        before = given(_litres(met, at_hand), at_hand, kind)
        for days in range(correction.days, longest + 1):
            extra = _extra([replace(correction, days=days)], volume)
            corrected = {each: met.get(each, 0.0) + extra.get(each, 0.0) for each in met | extra}
            gained = given(_litres(corrected, at_hand), at_hand, kind) - before
            share = gained / extra[kind]
            if share >= 1.0 - UNMET:
                yield replace(correction, days=days)
                break
        else:
            if share >= WORTH_A_PART:
                yield _part(correction, share, longest)


def _part(correction: Correction, share: float, days: int) -> Correction:
    """As much of a rise as can be given in so many days."""
    change, missing = correction.change, (1.0 - share) * correction.change.value
    part = replace(change, value=change.value - missing, low=change.low - missing, high=change.high - missing)
    return replace(correction, change=part, target=correction.target - missing, days=days)


def _extra(to_correct: Sequence[Correction], volume: float) -> dict[str, float]:
    """What corrections ask beside the demand, meq or mg a day."""
    return {each.kind: each.change.value * volume / each.days for each in to_correct}


def _litres(wanted: Mapping[str, float], at_hand: Sequence[Supply]) -> dict[str, float]:
    """Litres a day of each supply for what is wanted of each kind.

    Where nothing brings alkalinity alone, alkalinity leads: the calcium that goes with it (7 mg/L for each dKH) is let
    come too, and no more is asked where nothing brings calcium alone.
    """
    if "alkalinity" not in wanted or _apart(at_hand, "alkalinity", "calcium"):
        return combination(wanted, at_hand)
    with_it = wanted["alkalinity"] * CALCIUM_PER_MEQ
    alone = _apart(at_hand, "calcium", "alkalinity")
    return combination({**wanted, "calcium": max(wanted.get("calcium", 0.0), with_it) if alone else with_it}, at_hand)


def _apart(at_hand: Sequence[Supply], kind: str, other: str) -> bool:
    return any(kind in supply.gives and other not in supply.gives for supply in at_hand)


def fallen_short(phases: Sequence[Phase], kind: str, volume: float, days: float) -> float:
    """By how much a level is lower after so many days for what the supplies left of its need (negative: higher)."""
    short = 0.0
    for each in phases:
        lasts = days if each.days is None else min(days, each.days)
        short += lasts * sum(unmet.per_day.value for unmet in each.unmet if unmet.kind == kind) / volume
        days -= lasts
    return short


def added_doses(system: System, log: SystemLog, grams_per_day: Finding, as_of: datetime) -> Phase:
    """Litres a day of each supply, beside what runs now, that meet so many more g CaCO3/day.

    What evaporation and the reactor still allow goes first. This is what to expect, with an interval as
    wide as the expectation's; it becomes a plan when readings have told what the newcomer takes.
    """
    free = [
        replace(supply, most=max(supply.most - supply.now, 0.0), now=0.0)
        for supply in supplies(system, log, levels_to_hold(system), as_of)
    ]
    more, method, inputs = grams_per_day.estimate, grams_per_day.method, grams_per_day.inputs
    needs = (
        Need("alkalinity", more.scaled(1.0 / GRAMS_PER_MEQ, "meq/day"), method, inputs),
        Need("calcium", more.scaled(CALCIUM_PER_GRAM, "mg/day"), method, inputs),
    )
    return phase(needs, {}, free, None)
