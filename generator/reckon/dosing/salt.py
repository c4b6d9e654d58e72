"""What dosing leaves behind in the water, and what a water change does to every quantity."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

from generator.nature.constants import REFERENCE_SALINITY, STANDARD_SALINITY
from generator.reckon.finding import Finding, UncertaintyPart
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.ledger import MIX_ERROR
from generator.reckon.water.uptake import interval
from generator.records.system import Levels, Solution, Water
from generator.units.compounds import METALS, molar_mass
from generator.units.kinds import KINDS, WATER_KINDS
from generator.units.quantity import STANDARD_DENSITY, Estimate

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
    Both parts follow one demand, so that their errors go together.
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


@dataclass(frozen=True, slots=True)
class ChangeEffect:
    """One quantity before and after a water change, canonical unit; `mix` is the new water's as written."""

    kind: str
    before: Estimate
    after: Estimate
    mix: float


def water_change(
    levels: Mapping[str, Estimate], mix: Levels, fraction: float, volume_error: float = 0.0
) -> tuple[ChangeEffect, ...]:
    """What replacing a fraction of the water by a mix does: C ← (1 - f) C + f C_mix, for all that the mix tells.

    The mix is known to 3 % of what is written, as in the ledger; `volume_error` is the water volume's standard
    uncertainty as a share of it. Source of the uncertainty: JCGM 100:2008 (GUM), 5.1.
    """
    found = []
    for kind in WATER_KINDS:
        new, before = mix.of(kind), levels.get(kind)
        if new is None or before is None or kind == "ph":
            continue
        level, unit = canonical_value(new), KINDS[kind].canonical
        error = hypot(
            (1.0 - fraction) * before.standard,
            fraction * MIX_ERROR * level,
            fraction * volume_error * (level - before.value),
        )
        after = (1.0 - fraction) * before.value + fraction * level
        found.append(ChangeEffect(kind, before, interval(after, error, unit), level))
    return tuple(found)
