"""What to weigh out for a stock, if it dissolves, and the cautions beside a plan or a recipe."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from generator.nature.constants import LIME_SOLUBILITY_AT_20C, SOLUBILITY
from generator.reckon.dosing.outlook import MOST_A_DAY
from generator.reckon.dosing.phases import Phase
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.supplies import KINDS_HELD, LIMEWATER
from generator.reckon.finding import CannotTell
from generator.records.system import System
from generator.units.compounds import COMPOUNDS, molar_mass

CautionId = Literal[
    "caustic", "dusty", "heat-on-dissolving", "fast-rise", "ph-rise", "electricity-by-water", "maker-and-local-codes"
]

# What handling each compound calls for, as any safety sheet of it says; from memory.
CAUSTIC = frozenset({"NaOH", "Ca(OH)2", "Na2CO3"})
HOT = frozenset({"NaOH", "CaCl2", "MgCl2", "MgSO4", "Na2CO3"})
RAISES_PH = frozenset({"NaOH", "Ca(OH)2", "Na2CO3"})
# A correction of at least this share of the daily cap counts as a fast rise. A choice of ours.
FAST_FROM = 0.5


def of_compounds(compounds: Iterable[str]) -> tuple[CautionId, ...]:
    """Cautions of mixing stocks from compounds: what burns, dusts or heats; always the maker's sheet."""
    anhydrous = [compound for compound in compounds if "." not in compound]
    bases = {compound.partition(".")[0] for compound in compounds}
    found: list[CautionId] = []
    if bases & CAUSTIC:
        found.append("caustic")
    if bases:
        found.append("dusty")
    # A hydrate that already holds its water warms far less, or cools; calcium chloride's dihydrate still heats.
    if set(anhydrous) & HOT or "CaCl2.2H2O" in compounds:
        found.append("heat-on-dissolving")
    return (*found, "maker-and-local-codes")


def of_phases(phases: Sequence[Phase], system: System, fast: bool = False) -> tuple[CautionId, ...]:
    """Cautions of dosing: those of the compounds given, of a `fast` rise, of pumps and cables beside water."""
    used = [system.solutions[d.supply] for phase in phases for d in phase.doses if d.supply in system.solutions]
    compounds = [solution.compound for solution in used if solution.compound is not None]
    found: list[CautionId] = [c for c in of_compounds(compounds) if c != "maker-and-local-codes"]
    if fast:
        found.append("fast-rise")
    if {compound.partition(".")[0] for compound in compounds} & RAISES_PH:
        found.append("ph-rise")
    return (*found, "electricity-by-water", "maker-and-local-codes")


def of_plan(plan: Plan, system: System) -> tuple[CautionId, ...]:
    """Cautions of a dosing plan; a correction near the daily cap counts as a fast rise."""
    fast = any(c.change.value >= FAST_FROM * c.days * MOST_A_DAY[c.kind] for c in plan.corrections)
    return of_phases(plan.phases, system, fast)


# A stock is kept below what dissolves at 20 °C: a cabinet can be cooler. A choice of ours.
SAFE_SHARE = 0.9


@dataclass(frozen=True, slots=True)
class Recipe:
    """`grams` of a compound made up to `litres`: `strength` g/L, and what a litre gives (meq, mg) by kind.

    `most` is the g/L that a stock may have at all.
    """

    compound: str
    grams: float
    litres: float
    strength: float
    most: float
    gives: Mapping[str, float]


def recipe(compound: str, strength: float, litres: float) -> Recipe | CannotTell:
    """The grams of a compound of `COMPOUNDS` for so many litres of a strength in g/L of that compound.

    Answers `CannotTell` above `most_dissolved`. Limewater is made by letting an excess settle, so it may
    be as strong as dissolves, and no stronger.
    """
    most = most_dissolved(compound)
    if strength > most * (1.0 + 1e-9):
        numbers = (("compound", compound), ("wanted", f"{strength:.4g}"), ("most", f"{most:.3g}"))
        return CannotTell("does-not-dissolve", "write-a-weaker-stock", numbers)
    gives = {kind: strength * per for kind in KINDS_HELD if (per := COMPOUNDS[compound].per_gram(kind))}
    return Recipe(compound, strength * litres, litres, strength, most, gives)


def recipe_giving(compound: str, kind: str, per_litre: float, litres: float) -> Recipe | CannotTell:
    """The grams of a compound for a stock that gives so many meq (alkalinity) or mg of a kind a litre."""
    per_gram = COMPOUNDS[compound].per_gram(kind)
    if per_gram <= 0.0:
        return CannotTell("gives-none", "choose-another-compound", (("compound", compound), ("kind", kind)))
    return recipe(compound, per_litre / per_gram, litres)


def most_dissolved(compound: str) -> float:
    """The strongest stock of a compound, in g/L of it as it is weighed, water of crystals and all.

    A litre of solution holds less than a litre of water, so grams in a litre of water are a little
    generous; `SAFE_SHARE` is more careful than that for what keepers mix.
    """
    if compound == LIMEWATER:
        return LIME_SOLUBILITY_AT_20C.value
    anhydrous, _, water = compound.partition(".")
    solubility = SOLUBILITY[anhydrous]
    grams = 10.0 * (solubility.value if solubility.low is None else solubility.low)
    return SAFE_SHARE * grams * (molar_mass(compound) / molar_mass(anhydrous) if water else 1.0)
