"""The cautions that belong beside a plan or a recipe. Ids only: the words are the pages'."""

from collections.abc import Iterable, Sequence
from typing import Literal

from generator.reckon.dosing.needs import MOST_A_DAY
from generator.reckon.dosing.phases import Phase
from generator.reckon.dosing.plan import Plan
from generator.records.system import System

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
