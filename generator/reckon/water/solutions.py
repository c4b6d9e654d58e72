"""What a litre of each of the keeper's solutions gives the water."""

from generator.nature.constants import LIME_SOLUBILITY_AT_20C
from generator.reckon.water.canonical import canonical_value
from generator.records.system import Solution
from generator.units.compounds import COMPOUNDS


def per_litre(solution: Solution, kind: str) -> float:
    """What a litre of a solution gives of a kind, in its canonical unit times litres (meq, mg).

    Calcium hydroxide counts no further than it dissolves: the rest lies on the bottom of the container.
    """
    given = 0.0
    if solution.declared is not None and (declared := solution.declared.of(kind)) is not None:
        given += canonical_value(declared)
    if solution.compound is not None and solution.strength is not None:
        grams = solution.strength.canonical()
        if solution.compound == "Ca(OH)2":
            grams = min(grams, LIME_SOLUBILITY_AT_20C.value)
        given += grams * COMPOUNDS[solution.compound].per_gram(kind)
    return given
