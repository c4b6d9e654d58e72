"""What a system can be fed with: limewater, a reactor's effluent, solutions; what a litre gives and leaves behind."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from math import hypot, inf
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import LIME_SOLUBILITY_AT_20C, REFERENCE_SALINITY, STANDARD_SALINITY
from generator.reckon.finding import Finding, UncertaintyPart
from generator.reckon.water.canonical import band, canonical_value, canonical_values
from generator.reckon.water.deliveries import CALCIUM_PER_MEQ, habits, per_litre, pump_error, strength_error
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.ledger import given_of_set, last_measured
from generator.reckon.water.uptake import interval
from generator.records.log import Effluent, MeasuredRate, SystemLog
from generator.records.system import Solution, System, Water
from generator.units.compounds import METALS, molar_mass
from generator.units.quantity import STANDARD_DENSITY, Estimate, Litres, Quantity, Share

KINDS_HELD = ("alkalinity", "calcium", "magnesium")
LIMEWATER = "Ca(OH)2"
# So long what was turned down or off is still at hand: limewater and a reactor since then, but a reactor that let a
# level down to its target since the level was there. A choice of ours.
LATELY = timedelta(days=30)
# A reactor's effluent weakens as its flow is turned up. Beside pumps it is turned up no higher than it ran; alone, up
# to so many times that flow it is taken to stay as strong as it was measured. An assumption of ours.
REACTOR_MOST_ALONE = 1.25
REACTOR = "reactor"
# A plan turns no reactor lower than this share of its flow, unless it is alone and lets a level down: in a chamber that
# stands still the water goes foul. Common practice, no source.
REACTOR_LEAST = 0.05
# No pump is set higher than to make up for a loss of half: one that was measured to give less is mended before, and
# planned as it gives then. A choice of ours.
LEAST_LEFT = 0.5
# What only readings tell of a pump is made up for as if it gave this share of what it is set to, if not more: one that
# seems to give less is measured first. A choice of ours.
LEAST_LEFT_BY_READINGS = 0.75
# From these odds on a pump that gives less than set is spoken of: it is likelier than not.
EXPLAINED = 0.5

How = Literal["top-off", "reactor", "pump", "hand"]
# The ways of giving a solution that have no upper limit.
BY_SOLUTION = ("pump", "hand")
# The kinds that limewater and a reactor give in the proportions of calcification, and must not overshoot. No
# solution is given for one of them that brings the other where none of that is needed.
BALANCED = ("alkalinity", "calcium")


class Supply(Struct, frozen=True):
    """Something that feeds the water: `gives` meq of alkalinity or mg of a metal a litre, by kind.

    Litres are those a pump is set to. `most` is the litres a day there can be of it, `least` what it is to run at,
    `now` what runs or is poured by habit; `error` how unsure what a litre set to run brings is, as a share: nothing for
    a solution that runs now, for by it the demand was measured. `limited_by` are the kinds of which it gives no more
    than is needed, where it is no solution.
    """

    id: str
    how: How
    gives: Mapping[str, float]
    most: float
    now: float
    error: float = 0.0
    least: float = 0.0
    limited_by: tuple[str, ...] = BALANCED


def supplies(system: System, log: SystemLog, levels: Mapping[str, float], as_of: datetime) -> tuple[Supply, ...]:
    """All that can hold the levels of a system, in the order it is used: limewater, reactor, solutions.

    `levels` are those to hold (canonical): an effluent gives by how much stronger it is than the water, by its last
    reading where there is no level to hold. One that is no stronger in alkalinity gives
    nothing and runs on as it does.
    Limewater goes in with the top-off or by a pump of its own, so there can be as much of it as evaporates: where that
    is not written, as much as goes in. One that never went in is left out where something else brings alkalinity. A
    reactor that was turned off stays off, unless that let a level down to its target and nothing else gives
    alkalinity; with a logged change of equipment it is gone. Beside solutions that do it is not turned down for its
    calcium while that is in its band. A solution that is poured by habit and runs by no pump, or was poured where
    nothing ever ran by pump, is given by hand. What a litre that a pump is set to gives is as the pump was measured.
    """
    log = log.until(as_of)
    poured = {habit.solution: habit.per_day for habit in habits(log, as_of)}
    by_hand = {dose.solution for dose in log.doses} if not any(pump.rate.value for pump in log.pumps) else set()
    limewaters = [_limewater(system, log, id, as_of) for id, s in system.solutions.items() if s.compound == LIMEWATER]
    # What a pump gives is not asked for by hand too: it would be given twice.
    ways: dict[str, How] = {
        id: "hand" if (id in poured or id in by_hand) and not _pumped_now(log, id) else "pump"
        for id in system.solutions
    }
    pumped = [
        _solution(id, solution, gives, ways[id], _pumped_now(log, id) + poured.get(id, 0.0))
        for id, solution in system.solutions.items()
        if solution.compound != LIMEWATER
        and (gives := _gives(solution, _given(log, id, as_of) if ways[id] == "pump" else 1.0))
    ]
    alone = not any("alkalinity" in supply.gives for supply in pumped)
    others = (*_reactor(system, log, levels, alone, as_of), *pumped)
    in_use = any(supply.now and "alkalinity" in supply.gives for supply in others)
    return (*(s for s in limewaters if s.most and (was_used(log, s.id) or not in_use)), *others)


def was_used(log: SystemLog, limewater: str) -> bool:
    """Whether a limewater ever went in, with the top-off or by a pump."""
    topped, pumped = (each.solution for each in log.top_offs), (each.solution for each in log.pumps)
    return limewater in (*topped, *pumped)


def as_it_gives(supply: Supply, water: WaterFindings) -> Supply:
    """A supply by the litre that its pump is set to, where the readings tell that this gives less."""
    lacking = [pump for pump in water.calcification.pumps if pump.solution == supply.id and supply.how == "pump"]
    for pump in lacking:
        left = max(1.0 - max(pump.lacks.value, 0.0), LEAST_LEFT_BY_READINGS)
        supply = replace(supply, gives={kind: given * left for kind, given in supply.gives.items()})
    return supply


def to_measure(water: WaterFindings) -> list[str]:
    """The solutions whose pumps seem to give so little that they are measured before the plan makes up for it."""
    likely = (pump for pump in water.calcification.pumps if pump.odds >= EXPLAINED)
    return [pump.solution for pump in likely if pump.lacks.value > 1.0 - LEAST_LEFT_BY_READINGS]


def _solution(id: str, solution: Solution, gives: Mapping[str, float], how: How, now: float) -> Supply:
    error = hypot(strength_error(solution), pump_error(solution) if how == "pump" else 0.0)
    return Supply(id, how, gives, inf, now, 0.0 if now else error)


def _gives(solution: Solution, share: Share = 1.0) -> dict[str, float]:
    return {kind: share * given for kind in KINDS_HELD if (given := per_litre(solution, kind))}


def _given(log: SystemLog, id: str, as_of: datetime) -> Share:
    """The share of what a pump is set to that it was last measured to give, or gives once it is mended."""
    share = given_of_set(log, id, as_of)
    return 1.0 if share is None or share < LEAST_LEFT else share


class ToMend(Struct, frozen=True):
    """A pump that runs and `gave`, when it was last measured, less than `LEAST_LEFT` of what it was `set_to`."""

    solution: str
    gave: MeasuredRate
    set_to: Quantity

    def not_given(self, rate: Litres, now: Litres) -> Litres:
        """What it does not give of so many litres a day while it stays set to `now`, also in litres a day."""
        return max(rate - now * self.gave.rate.canonical() / self.set_to.canonical(), 0.0)


def to_mend(system: System, log: SystemLog, as_of: datetime) -> tuple[ToMend, ...]:
    """The pumps to clean or mend before they are set: set higher, they would overdose once they work again."""
    log = log.until(as_of)
    last = ((id, last_measured(log, id, as_of)) for id in system.solutions if _pumped_now(log, id))
    found = (ToMend(id, *each) for id, each in last if each)
    return tuple(each for each in found if each.gave.rate.canonical() < LEAST_LEFT * each.set_to.canonical())


def not_promised(system: System, lacking: Sequence[ToMend], water: WaterFindings) -> dict[str, float]:
    """No day for which a kind is held that a pump to mend or to measure gives."""
    ids = {each.solution for each in lacking} | set(to_measure(water))
    solutions = [each for id, each in system.solutions.items() if id in ids]
    return {kind: 0.0 for kind in KINDS_HELD if any(per_litre(each, kind) for each in solutions)}


def _limewater(system: System, log: SystemLog, id: str, as_of: datetime) -> Supply:
    last = log.top_offs[-1] if log.top_offs else None
    topped = last.rate.canonical() if last and last.solution == id else None
    share = 1.0 if topped is not None else _given(log, id, as_of)
    now = _pumped_now(log, id) if topped is None else topped
    rates = log.top_offs or [pump for pump in log.pumps if pump.solution == id]
    goes_in = _goes_in([(each.at, each.rate.canonical()) for each in rates], as_of)
    evaporates = system.evaporation.canonical() / share if system.evaporation else goes_in
    solubility = LIME_SOLUBILITY_AT_20C
    error = ((solubility.high or 0.0) - (solubility.low or 0.0)) / 12.0**0.5 / solubility.value
    return Supply(id, "top-off", _gives(system.solutions[id], share), evaporates, now, error)


def _reactor(
    system: System, log: SystemLog, levels: Mapping[str, float], alone: bool, as_of: datetime
) -> Iterator[Supply]:
    if (last := last_to_run(log)) is None:
        return
    last_read = _last_read(log)
    over = last_read | dict(levels)
    gives = {kind: above for kind in KINDS_HELD if (above := _above(last, kind, over)) is not None and above > 0.0}
    now = log.effluents[-1].flow.canonical()
    if "alkalinity" not in gives:
        # To turn it up or down changes nothing: it is mended first.
        if now:
            yield Supply(REACTOR, "reactor", {}, now, now, least=now)
    elif (at_hand := _at_hand(system, log, levels, as_of)) and (alone or now):
        read, (_, top) = _read_above(log, levels), band(system, "calcium")
        lets_down = alone and bool(read) and read[-1][1]
        least = 0.0 if lets_down else min(REACTOR_LEAST * at_hand, now)
        is_above = top is not None and last_read.get("calcium", top) > top
        limited_by = BALANCED if alone or is_above else ("alkalinity",)
        most = REACTOR_MOST_ALONE * at_hand if alone else at_hand
        yield Supply(REACTOR, "reactor", gives, most, now, least=least, limited_by=limited_by)


def last_to_run(log: SystemLog) -> Effluent | None:
    """The last effluent of a reactor that ran: one turned off still is as strong as when it was measured."""
    return next((each for each in reversed(log.effluents) if each.flow.value), None)


def _at_hand(system: System, log: SystemLog, levels: Mapping[str, float], as_of: datetime) -> float:
    """The flow (L/day) that a reactor may run at again: a higher one than now where a plan would have turned it down.

    So it is where alkalinity was last read above its target before. It ends `LATELY` after the level was first read
    at its target or below. At such a level a plan still turns it down, out of caution, where no pump gives alkalinity
    beside it: that ends as long after. It never turns it off there: a flow of 0 is the keeper's, and ends it at once.
    So does a flow turned down while such a pump runs, and one of 0 with a change of equipment.
    """
    last = log.effluents[-1]
    if not last.flow.value and any(event.what == "equipment" and event.at == last.at for event in log.events):
        return 0.0
    read = _read_above(log, levels)
    ends = (*(later.at for later in log.effluents[1:]), as_of)
    highest, before, back = 0.0, 0.0, None
    for each, end in zip(log.effluents, ends, strict=True):
        flow = each.flow.canonical()
        if flow < before:
            came_down = next((above for at, above in reversed(read) if at <= each.at), False)
            by_plan = came_down or (flow and not _is_pumped(system, log.until(each.at)))
            back, highest = None if came_down else each.at, highest if by_plan else 0.0
        highest, before = max(highest, flow), flow
        back = back or next((at for at, above in read if each.at < at <= end and not above), None)
        if back and end - back > LATELY:
            highest = flow
    return highest


def _is_pumped(system: System, log: SystemLog) -> bool:
    """Whether a pump gives a solution with alkalinity at the end of a log."""
    return any(_pumped_now(log, id) for id, solution in system.solutions.items() if per_litre(solution, "alkalinity"))


def _read_above(log: SystemLog, levels: Mapping[str, float]) -> list[tuple[datetime, bool]]:
    """When alkalinity was read, and whether above its level to hold (canonical); nothing without one."""
    values = zip(log.readings, canonical_values(log.readings), strict=True)
    target = levels.get("alkalinity")
    return [(r.at, value > target) for r, value in values if target is not None and r.kind == "alkalinity"]


def _last_read(log: SystemLog) -> dict[str, float]:
    """The last reading of each kind to hold (canonical)."""
    values = zip(log.readings, canonical_values(log.readings), strict=True)
    return {reading.kind: value for reading, value in values if reading.kind in KINDS_HELD}


def _goes_in(rates: Sequence[tuple[datetime, float]], as_of: datetime) -> float:
    """The last of the rates, each set at a moment; where it was turned off `LATELY`, the highest that ran before."""
    now = rates[-1][1] if rates else 0.0
    return now or max((rate for (_, rate), (later, _) in pairwise(rates) if later >= as_of - LATELY), default=0.0)


def _above(effluent: Effluent, kind: str, levels: Mapping[str, float]) -> float | None:
    """How much stronger a litre of effluent is than the water.

    Its calcium follows its alkalinity where it, or the water's, is not written.
    """
    strength = getattr(effluent, kind, None)
    if strength is not None and kind in levels:
        return float(strength.canonical()) - levels[kind]
    if kind == "calcium" and "alkalinity" in levels:
        return CALCIUM_PER_MEQ * (effluent.alkalinity.canonical() - levels["alkalinity"])
    return None


def _pumped_now(log: SystemLog, solution: str) -> float:
    rates = [pump.rate.canonical() for pump in log.pumps if pump.solution == solution]
    return rates[-1] if rates else 0.0


DAYS_A_MONTH = 365.25 / 12.0
# Practical salinity for each g/kg of sea salt (TEOS-10 reference salinity).
PSU_PER_G_PER_KG = STANDARD_SALINITY.value / REFERENCE_SALINITY.value

# What a mole of each compound leaves once the coral has taken its alkalinity and its metal: ions, moles.
# Carbonate and hydroxide go with the calcification, water and CO2 with the air.
LEFT_BEHIND: dict[str, tuple[tuple[str, int], ...]] = {
    "NaHCO3": (("Na", 1),),
    "Na2CO3": (("Na", 2),),
    "NaOH": (("Na", 1),),
    "KHCO3": (("K", 1),),
    "Ca(OH)2": (),
    "CaCO3": (),
    "CaCl2": (("Cl", 2),),
    "MgCl2": (("Cl", 2),),
    "MgSO4": (("SO4", 1),),
    "KCl": (("K", 1), ("Cl", 1)),
    "SrCl2": (("Cl", 2),),
}


def left_behind(solution: Solution) -> float:
    """Grams of salt that a litre of a solution leaves in the water, once its alkalinity and metals are taken.

    A solution of which only the strength is declared counts as sodium's salts for its alkalinity and
    chlorides for its metals, as usual.
    """
    grams = 0.0
    if solution.compound is not None and solution.strength is not None:
        moles = solution.strength.canonical() / molar_mass(solution.compound)
        ions = LEFT_BEHIND.get(solution.compound.partition(".")[0], ())
        grams += moles * sum(molar_mass(ion) * count for ion, count in ions)
    if solution.declared is not None:
        if (alkalinity := solution.declared.alkalinity) is not None:
            grams += canonical_value(alkalinity) / 1000.0 * molar_mass("Na")
        for kind in ("calcium", "magnesium"):
            if (metal := solution.declared.of(kind)) is not None:
                grams += 2.0 * canonical_value(metal) / 1000.0 / molar_mass(METALS[kind]) * molar_mass("Cl")
    return grams


def salinity_drift(litres_per_day: Mapping[str, Estimate], solutions: Mapping[str, Solution], water: Water) -> Finding:
    """Rise of salinity, psu a month, that so many litres a day of each solution bring while evaporation is made up.

    Two-part dosing leaves a gram-molecule of NaCl for each equivalent: sodium from one part, chloride
    from the other. Skimming and water changes take salt out again; they are not counted.
    Both parts follow one demand, so their errors are fully correlated.
    """
    rates = [(each, left_behind(solutions[id])) for id, each in litres_per_day.items() if id in solutions]
    grams = sum(each.value * left for each, left in rates)
    unsure = sum(each.standard * left for each, left in rates)
    volume = water.volume.canonical()
    per_month = PSU_PER_G_PER_KG * grams * DAYS_A_MONTH / (volume * STANDARD_DENSITY)
    of_dose = per_month * unsure / grams if grams else 0.0
    of_volume = per_month * water.uncertainty.canonical() / volume
    inputs = (water.source, *(solutions[id].source for id in litres_per_day if id in solutions))
    parts = (UncertaintyPart("uptake", of_dose), UncertaintyPart("water-volume", of_volume))
    return Finding(interval(per_month, hypot(of_volume, of_dose), "psu/month"), "salinity-drift", inputs, parts)
