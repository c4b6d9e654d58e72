"""What the water needs: the demand to meet every day, and the change that brings a level to its target."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart, scaled_parts
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.findings import Forecast, WaterFindings
from generator.reckon.water.stoichiometry import CALCIUM_PER_MEQ, GRAMS_PER_MEQ
from generator.records.source import Source
from generator.records.system import System
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate

# No faster than this a day, up or down, in the canonical unit a litre: 1 dKH of alkalinity, 20 mg/L of
# calcium, 100 mg/L of magnesium. Common practice, no source.
MOST_A_DAY = {"alkalinity": MEQ_PER_DKH, "calcium": 20.0, "magnesium": 100.0}
# A level nearer to its target than this share of its band is left there. A choice of ours.
WORTH_CORRECTING = 0.10
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


@dataclass(frozen=True, slots=True)
class Correction:
    """A change of level (canonical unit) that brings a kind to its target, over days under the daily cap."""

    kind: str
    change: Estimate
    target: float
    days: int


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


def band(system: System, kind: str) -> tuple[float | None, float | None]:
    """The two ends of a kind's band in the canonical unit; None: no such end."""
    low, high = system.low.of(kind), system.high.of(kind)
    return (canonical_value(low) if low else None, canonical_value(high) if high else None)


def demand(water: WaterFindings) -> tuple[Need, ...] | CannotTell:
    """Alkalinity from its own uptake, calcium from the calcification both tell, magnesium where it is clearly taken.

    Calcium's own readings are too coarse to dose by: the proportions of CaCO3 carry it.
    """
    alkalinity = water.uptake["alkalinity"].amount
    if isinstance(alkalinity, CannotTell):
        return alkalinity
    needs = [Need("alkalinity", alkalinity.estimate, alkalinity.method, alkalinity.inputs, alkalinity.parts)]
    grams = water.calcification.grams_per_day
    if isinstance(grams, Finding):
        calcium = grams.estimate.scaled(CALCIUM_PER_GRAM, "mg/day")
        needs.append(Need("calcium", calcium, grams.method, grams.inputs, scaled_parts(grams.parts, CALCIUM_PER_GRAM)))
    magnesium = water.uptake["magnesium"].amount
    if isinstance(magnesium, Finding) and magnesium.estimate.low > 0.0:
        needs.append(Need("magnesium", magnesium.estimate, magnesium.method, magnesium.inputs, magnesium.parts))
    return tuple(needs)


def corrections(
    system: System, water: WaterFindings, levels: Mapping[str, float], needs: Sequence[Need]
) -> tuple[Correction, ...]:
    """The changes that bring to its target a level off by more than `WORTH_CORRECTING` of its band and its own error.

    Its own error is one standard uncertainty. A kind whose last reading is doubtful, or of which too
    little is known, is left as it is; so is one that has a target and no band. A level falls no faster
    than the corals draw it down, and one they do not draw on cannot be lowered by dosing.
    """
    volume = system.water.volume.canonical()
    drawn = {need.kind: need.per_day.value / volume for need in needs}
    found = []
    for kind, target in levels.items():
        latest, forecast = water.latest.get(kind), water.forecasts.get(kind)
        if latest is None or latest.doubtful or not isinstance(forecast, Forecast):
            continue
        level, (low, high) = forecast.track[0][1], band(system, kind)
        if low is None or high is None:
            continue
        error = (level.high - level.low) / 2.0 / coverage_factor(level.level)
        if abs(target - level.value) > max(WORTH_CORRECTING * (high - low), error):
            change = Estimate(target - level.value, target - level.high, target - level.low, level.unit, level.level)
            most = MOST_A_DAY[kind] if change.value > 0.0 else min(MOST_A_DAY[kind], drawn.get(kind, 0.0))
            if most > 0.0:
                found.append(Correction(kind, change, target, ceil(abs(change.value) / most - 1e-9)))
    return tuple(found)
