"""What the supplies at hand leave uncovered, and what would cover it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from generator.reckon.dosing.needs import levels_to_hold
from generator.reckon.dosing.new_water import WaterChanges, upkeep
from generator.reckon.dosing.outlook import Outlook
from generator.reckon.dosing.phases import Phase, Unmet
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.safe import Correction
from generator.reckon.dosing.supplies import LIMEWATER, supplies
from generator.reckon.water.stoichiometry import per_litre
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.compounds import COMPOUNDS

# What keepers most often make up for each kind. Common practice, no source.
USUAL_COMPOUND = {"alkalinity": "NaHCO3", "calcium": "CaCl2.2H2O", "magnesium": "MgCl2.6H2O"}


@dataclass(frozen=True, slots=True)
class Remedy:
    """One thing that would cover a shortfall by itself.

    ``compound``: `amount` grams a day of `what`; ``evaporation``: `amount` litres a day more limewater of solution
    `what`; ``effluent``: the reactor's effluent at `amount` meq/L, at the flow planned.
    """

    how: Literal["compound", "evaporation", "effluent"]
    what: str
    amount: float


@dataclass(frozen=True, slots=True)
class OutOfReach:
    """A rise to target that nothing at hand can give: `grams` of a compound would, over `days`."""

    correction: Correction
    compound: str
    grams: float
    days: int


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What is left of a need, and each thing that would cover it; `by_water` are all water changes that would."""

    unmet: Unmet
    remedies: tuple[Remedy, ...]
    by_water: WaterChanges | None


def shortfalls(system: System, log: SystemLog, plan: Plan, found: Outlook, as_of: datetime) -> tuple[Shortfall, ...]:
    """What the doses that hold leave of each need, where they leave any."""
    hold, counted = plan.phases[-1], sum(each.per_day.value for each in plan.changing if each.per_day)
    volume, targets = system.water.volume.canonical(), levels_to_hold(system)
    short = []
    for unmet in hold.unmet:
        if unmet.per_day.value:
            changes = None
            if unmet.kind == "alkalinity":
                need = unmet.per_day.value / volume + max(counted, 0.0)
                changes = upkeep(system, found, targets.get(unmet.kind, found.level.value), need)
            by_water = changes if changes and changes.meets else None
            short.append(Shortfall(unmet, tuple(_remedies(system, log, hold, unmet, as_of)), by_water))
    return tuple(short)


def out_of_reach(system: System, plan: Plan) -> tuple[OutOfReach, ...]:
    """What would bring the levels to target that the plan cannot, within the daily cap."""
    found = []
    for each in plan.out_of_reach:
        compound, missing = USUAL_COMPOUND[each.kind], each.change.value * system.water.volume.canonical()
        found.append(OutOfReach(each, compound, missing / COMPOUNDS[compound].per_gram(each.kind), each.days))
    return tuple(found)


def _remedies(system: System, log: SystemLog, hold: Phase, unmet: Unmet, as_of: datetime) -> Iterator[Remedy]:
    missing, compound = unmet.per_day.value, USUAL_COMPOUND[unmet.kind]
    yield Remedy("compound", compound, missing / COMPOUNDS[compound].per_gram(unmet.kind))
    litres = {dose.supply: dose.rate.estimate.value for dose in hold.doses}
    for supply in supplies(system, log, levels_to_hold(system), as_of):
        if (
            supply.how == "reactor"
            and unmet.kind in supply.gives
            and litres.get(supply.id)
            and unmet.kind == "alkalinity"
        ):
            strength = log.until(as_of).effluents[-1].alkalinity.canonical()
            yield Remedy("effluent", supply.id, strength + missing / litres[supply.id])
    for id, solution in system.solutions.items():
        if solution.compound == LIMEWATER and (gives := per_litre(solution, unmet.kind)):
            yield Remedy("evaporation", id, missing / gives)
