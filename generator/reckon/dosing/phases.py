"""Doses phase by phase: how the supplies share a demand and what corrects a level, and what they leave."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from itertools import combinations
from math import ceil

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.dosing.outlook import CALCIUM_PER_GRAM, Need, levels_to_hold, worth_a_dose
from generator.reckon.dosing.safe import Correction
from generator.reckon.dosing.supplies import BALANCED, BY_SOLUTION, REACTOR_MOST_ALONE, How, Supply, supplies
from generator.reckon.estimate.uncertainty import Array
from generator.reckon.finding import Finding, UncertaintyPart
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, coverage_factor

# Two sets of solutions are as good as each other when what they leave differs by less than this share of the need.
AS_GOOD = 0.01
# Alkalinity leads: what is left of its need counts so many times as much as of the others'. A solution of another
# balance than the coral's, given alone, then meets it to within 0.2 % up to twice the calcium. A choice of ours.
LEADS = 30.0
# A need that is so small a share of what it is the difference of is none.
NO_NEED = 1e-9


def combination(needs: Mapping[str, float], supplies: Sequence[Supply]) -> dict[str, float]:
    """Litres a day of each supply that meet `needs` (meq or mg a day, by kind) as nearly as can be, none negative.

    Limewater as far as evaporation allows and no kind that limits it is overshot, then the reactor likewise. What is
    left falls to the solutions by pump or hand that bring no alkalinity or calcium of which none is needed: of all
    sets that come nearest (least squares, each kind as a share of its need, alkalinity `LEADS` times as heavy) the
    smallest, then the one that is mostly running, then the first listed.
    """
    litres = {supply.id: supply.least for supply in supplies}
    left = {kind: max(need - given_a_day(litres, supplies, kind), 0.0) for kind, need in needs.items()}
    for supply in supplies:
        if supply.how not in BY_SOLUTION:
            more = _as_far_as_it_goes(left, supply)
            litres[supply.id] += more
            left = {kind: need - more * supply.gives.get(kind, 0.0) for kind, need in left.items()}
    return litres | _by_solutions(left, needs, [s for s in supplies if s.how in BY_SOLUTION])


def given_a_day(litres: Mapping[str, float], supplies: Sequence[Supply], kind: str) -> float:
    """What so many litres a day give of a kind, meq or mg a day."""
    return sum(litres[supply.id] * supply.gives.get(kind, 0.0) for supply in supplies)


def _as_far_as_it_goes(left: Mapping[str, float], supply: Supply) -> float:
    limits = [left[kind] / supply.gives[kind] for kind in supply.limited_by if kind in left and supply.gives.get(kind)]
    return max(min(supply.most - supply.least, *limits), 0.0) if limits else 0.0


def _by_solutions(left: Mapping[str, float], needs: Mapping[str, float], pumps: Sequence[Supply]) -> dict[str, float]:
    kinds = [kind for kind, need in needs.items() if need > 0.0]
    unwanted = [kind for kind in BALANCED if needs.get(kind, 1.0) <= 0.0]
    useful = [
        supply
        for supply in pumps
        if any(supply.gives.get(kind) for kind in kinds) and not any(supply.gives.get(kind) for kind in unwanted)
    ]
    if not kinds or not useful:
        return {}
    scale = np.array([needs[kind] / (LEADS if kind == "alkalinity" else 1.0) for kind in kinds])
    wanted = np.array([max(left[kind], 0.0) for kind in kinds]) / scale
    gives = np.array([[supply.gives.get(kind, 0.0) for supply in useful] for kind in kinds]) / scale[:, None]
    fits = list(_fits(gives, wanted))
    nearest = min(misfit for _, _, misfit in fits)
    chosen, amounts, _ = min(
        (fit for fit in fits if fit[2] <= nearest + AS_GOOD),
        key=lambda fit: (len(fit[0]), sum(not useful[i].now for i in fit[0]), fit[0]),
    )
    return {useful[i].id: float(amount) for i, amount in zip(chosen, amounts, strict=True)}


def _fits(gives: Array, wanted: Array) -> Iterator[tuple[tuple[int, ...], Array, float]]:
    """Every set of solutions whose least-squares amounts are all non-negative, with what it misses.

    The non-negative least-squares answer is among them. Source: Lawson & Hanson 1974, Solving Least
    Squares Problems, ch. 23 (from memory).
    """
    yield (), np.zeros(0), float(np.linalg.norm(wanted))
    for size in range(1, min(gives.shape) + 1):
        for chosen in combinations(range(gives.shape[1]), size):
            columns = gives[:, chosen]
            amounts, _, rank, _ = np.linalg.lstsq(columns, wanted, rcond=None)
            if rank == size and (amounts >= 0.0).all():
                yield chosen, np.asarray(amounts, dtype=np.float64), float(np.linalg.norm(columns @ amounts - wanted))


# Less than this share of a need that is left is none: a rounding.
UNMET = 0.02
# A pump is set to no less than so many litres a day, unless the level would miss it (`worth_a_dose`): it gives a
# millilitre or two no more exactly than that. Common practice, no source.
LEAST_PUMPED = 0.002
# What is at hand may take so many days for a correction that the daily cap would allow sooner. A choice of ours.
LONGEST_CORRECTION = 14
# A rise that it cannot give in that time is planned if at least this share of it is in reach, and more than the level
# is unsure by (one standard uncertainty): less could not be told from none. A choice of ours.
WORTH_A_PART = 0.1


class DoseRate(Struct, frozen=True):
    """So many litres a day of one supply, with the interval that comes of the uptake's; `now` is what runs."""

    supply: str
    how: How
    rate: Finding
    now: float


class Unmet(Struct, frozen=True):
    """What the supplies leave of a kind's need (negative: give too much), meq or mg a day, as unsure as the need.

    `matters` where a keeper would want to hear of it: it is `worth_a_dose`, or may be, and nothing at hand gives any.
    """

    kind: str
    per_day: Estimate
    matters: bool = True


class Phase(Struct, frozen=True):
    """Doses for so many days (None: from then on)."""

    days: int | None
    doses: tuple[DoseRate, ...]
    unmet: tuple[Unmet, ...]

    @property
    def to_tell(self) -> tuple[Unmet, ...]:
        """What is left, or is too much, so that a keeper would want to hear of it."""
        return tuple(each for each in self.unmet if each.matters)


def phases(
    needs: Sequence[Need],
    to_correct: Sequence[Correction],
    at_hand: Sequence[Supply],
    volume: float,
    worth: Mapping[str, float],
) -> tuple[Phase, ...]:
    """One phase up to each day on which a correction is done, and one from then on; `worth` as in `phase`."""
    found, start, turned_up = [], 0, _turned_up_once(needs, at_hand)
    for end in sorted({correction.days for correction in to_correct}):
        extra = _extra([each for each in to_correct if each.days >= end], volume)
        found.append(phase(needs, extra, turned_up, end - start, worth))
        start = end
    return (*found, phase(needs, {}, at_hand, None, worth))


def phase(
    needs: Sequence[Need],
    extra: Mapping[str, float],
    at_hand: Sequence[Supply],
    days: int | None,
    worth: Mapping[str, float],
) -> Phase:
    """The doses for the demand and for what corrects it (`extra`, meq or mg a day) over so many days.

    Their interval comes of the demand's lower and upper end and of each supply's strength. `worth` is what of each kind
    is worth a dose (meq or mg a day): less than `LEAST_PUMPED` is not set where that gives no such amount.
    """
    ends = []
    for end in ("value", "low", "high"):
        wanted: dict[str, float] = {}
        for need in needs:
            wanted[need.kind] = wanted.get(need.kind, 0.0) + getattr(need.per_day, end)
        for kind, more in extra.items():
            whole = wanted.get(kind, 0.0) + more
            # What is left of a need that a fall takes up whole is a rounding, and no need of its own.
            wanted[kind] = whole if abs(whole) > NO_NEED * abs(more) else 0.0
        ends.append((wanted, _litres(wanted, at_hand)))
    middle, low, high = (litres for _, litres in ends)
    for supply in at_hand:
        if supply.how == "pump" and _is_too_little(supply, middle[supply.id], worth):
            for litres in (middle, low):
                litres[supply.id] = 0.0
    doses = tuple(
        DoseRate(supply.id, supply.how, _rate(supply, middle, low, high, needs), supply.now)
        for supply in at_hand
        if middle[supply.id] or supply.now
    )
    return Phase(days, doses, tuple(_unmet(ends, at_hand, worth)))


def _is_too_little(supply: Supply, litres: float, worth: Mapping[str, float]) -> bool:
    """Whether so much a day is less than a pump is set to, and nothing that a level would miss."""
    return litres < LEAST_PUMPED and all(litres * gives < worth.get(kind, 0.0) for kind, gives in supply.gives.items())


def as_now(at_hand: Sequence[Supply], days: float) -> Phase:
    """What runs or is poured by habit now, for so many days, begun ones whole."""
    runs = (
        DoseRate(each.id, each.how, Finding(Estimate.exact(each.now, "L/day"), "dosing"), each.now)
        for each in at_hand
        if each.now
    )
    return Phase(max(ceil(days), 1), tuple(runs), ())


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
    ends: Sequence[tuple[Mapping[str, float], Mapping[str, float]]],
    at_hand: Sequence[Supply],
    worth: Mapping[str, float],
) -> Iterator[Unmet]:
    """What is left of each need: by the needs and litres at the demand's value and at both ends of its interval."""
    for kind, per_day in ends[0][0].items():
        missing = [wanted[kind] - given_a_day(litres, at_hand, kind) for wanted, litres in ends]
        most = max(abs(wanted[kind]) for wanted, _ in ends)
        if missing[0] > UNMET * most or max(missing) < -UNMET * abs(per_day):
            unit = f"{KINDS[kind].canonical.removesuffix('/L')}/day"
            none = not any(kind in supply.gives for supply in at_hand)
            matters = (max(missing) if none else abs(missing[0])) >= worth.get(kind, 0.0)
            yield Unmet(kind, Estimate(missing[0], min(missing), max(missing), unit), matters)


def within_reach(
    wanted: Sequence[Correction], needs: Sequence[Need], at_hand: Sequence[Supply], volume: float
) -> Iterator[Correction]:
    """The corrections that what is at hand can give beside the demand, over more days where it cannot as fast.

    Where even so it is too much, the part of it that can be given. To let alkalinity down takes nothing but giving
    less; calcium is let down by what can be left out of it without alkalinity.
    """
    met, at_hand = {need.kind: need.per_day.value for need in needs}, _turned_up_once(needs, at_hand)
    for correction in wanted:
        if correction.change.value < 0.0 and correction.kind != "calcium":
            yield at_its_fastest(correction)
            continue
        kind, longest = correction.kind, max(correction.days, LONGEST_CORRECTION)
        before = given_a_day(_litres(met, at_hand), at_hand, kind)
        over = (replace(correction, days=days) for days in range(correction.days, longest + 1))
        for tried in (at_its_fastest(correction), *over):
            extra = _extra([tried], volume)
            corrected = {each: met.get(each, 0.0) + extra.get(each, 0.0) for each in met | extra}
            gained = given_a_day(_litres(corrected, at_hand), at_hand, kind) - before
            share = gained / extra[kind]
            if share >= 1.0 - UNMET:
                yield tried
                break
        else:
            if share >= WORTH_A_PART and share * abs(correction.change.value) > correction.change.standard:
                yield _part(correction, share, longest)


def _turned_up_once(needs: Sequence[Need], at_hand: Sequence[Supply]) -> list[Supply]:
    """The supplies as far as a correction may use them: a reactor is not turned up for it day after day.

    It runs at no more than `REACTOR_MOST_ALONE` of the flow that holds, or as it ran; beside pumps a little less.
    """
    holds = _litres({need.kind: need.per_day.value for need in needs}, at_hand)
    most = {each.id: max(REACTOR_MOST_ALONE * holds[each.id], each.most / REACTOR_MOST_ALONE) for each in at_hand}
    return [replace(each, most=min(each.most, most[each.id])) if each.how == "reactor" else each for each in at_hand]


def at_its_fastest(correction: Correction) -> Correction:
    """The change in the nearest whole number of days at its fastest rate; up to half a day's change is left out."""
    if not correction.fastest:
        return correction
    share = correction.fastest / abs(correction.change.value)
    days = max(round(1.0 / share), 1)
    return _part(correction, min(share * days, 1.0), days)


def _part(correction: Correction, share: float, days: int) -> Correction:
    """The part of a change that can be made in so many days."""
    change, missing = correction.change, (1.0 - share) * correction.change.value
    return replace(correction, change=change.moved(-missing), target=correction.target - missing, days=days)


def _extra(to_correct: Sequence[Correction], volume: float) -> dict[str, float]:
    """What corrections need beside the demand, meq or mg a day."""
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
        replace(supply, most=max(supply.most - supply.now, 0.0), least=0.0, now=0.0)
        for supply in supplies(system, log, levels_to_hold(system), as_of)
    ]
    more, method, inputs = grams_per_day.estimate, grams_per_day.method, grams_per_day.inputs
    needs = (
        Need("alkalinity", more.scaled(1.0 / GRAMS_PER_MEQ, "meq/day"), method, inputs),
        Need("calcium", more.scaled(CALCIUM_PER_GRAM, "mg/day"), method, inputs),
    )
    return phase(needs, {}, free, None, worth_a_dose(system))
