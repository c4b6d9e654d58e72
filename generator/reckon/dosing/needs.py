"""What the water needs: the demand to meet every day, and the change that brings a level to its target."""

from collections.abc import Mapping
from dataclasses import dataclass

from generator.reckon.finding import CannotTell, Finding, UncertaintyPart, scaled_parts
from generator.reckon.water.canonical import band, canonical_value
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.stoichiometry import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.records.source import Source
from generator.records.system import System
from generator.units.kinds import KINDS, MEQ_PER_DKH
from generator.units.quantity import Estimate

# No faster than this a day, up or down, in the canonical unit a litre: 1 dKH of alkalinity, 20 mg/L of
# calcium, 100 mg/L of magnesium. Common practice, no source.
MOST_A_DAY = {"alkalinity": MEQ_PER_DKH, "calcium": 20.0, "magnesium": 100.0}
# Calcium that goes with each gram of CaCO3, mg.
CALCIUM_PER_GRAM = CALCIUM_PER_MEQ / GRAMS_PER_MEQ


@dataclass(frozen=True, slots=True)
class Need:
    """What the corals take of a kind in the whole system, meq or mg a day, and the method that found it."""

    kind: str
    per_day: Estimate
    method: str
    inputs: tuple[Source, ...]
    parts: tuple[UncertaintyPart, ...] = ()


def levels_to_hold(system: System) -> dict[str, float]:
    """The target of each kind that has one or has a band (then its middle), in the canonical unit."""
    found = {}
    for kind in MOST_A_DAY:
        target, (low, high) = system.target.of(kind) if system.target else None, band(system, kind)
        if target is not None:
            found[kind] = canonical_value(target)
        elif low is not None and high is not None:
            found[kind] = (low + high) / 2.0
    return found


def demand(water: WaterFindings) -> tuple[Need, ...]:
    """Alkalinity from its own uptake, calcium from the calcification both tell, magnesium where it is clearly taken.

    Calcium's own readings are too coarse to dose by: the proportions of CaCO3 carry it. Nothing where readings do
    not tell the uptake of alkalinity.
    """
    alkalinity = water.uptake["alkalinity"].amount
    if isinstance(alkalinity, CannotTell):
        return ()
    needs = [Need("alkalinity", alkalinity.estimate, alkalinity.method, alkalinity.inputs, alkalinity.parts)]
    grams = water.calcification.grams_per_day
    if isinstance(grams, Finding):
        calcium = grams.estimate.scaled(CALCIUM_PER_GRAM, "mg/day")
        needs.append(Need("calcium", calcium, grams.method, grams.inputs, scaled_parts(grams.parts, CALCIUM_PER_GRAM)))
    magnesium = water.uptake["magnesium"].amount
    if isinstance(magnesium, Finding) and magnesium.estimate.low > 0.0:
        needs.append(Need("magnesium", magnesium.estimate, magnesium.method, magnesium.inputs, magnesium.parts))
    return tuple(needs)


def as_it_runs(system: System, water: WaterFindings, per_day: Mapping[str, Estimate]) -> tuple[Need, ...]:
    """What runs now in place of a demand that readings do not tell: `per_day` by kind, in the level's unit a day."""
    litres = system.water.volume.canonical()
    inputs = tuple(reading.source for reading, _ in water.readings if reading.kind == "alkalinity")
    units = {kind: f"{KINDS[kind].canonical.removesuffix('/L')}/day" for kind in per_day}
    return tuple(Need(kind, each.scaled(litres, units[kind]), "dosing", inputs) for kind, each in per_day.items())
