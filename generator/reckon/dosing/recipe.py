"""What to weigh out for a stock: grams of a compound or its hydrate for a wanted strength, if it dissolves."""

from collections.abc import Mapping
from dataclasses import dataclass

from generator.nature.constants import LIME_SOLUBILITY_AT_20C, SOLUBILITY
from generator.reckon.dosing.supplies import KINDS_HELD, LIMEWATER
from generator.reckon.finding import CannotTell
from generator.units.compounds import COMPOUNDS, molar_mass

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
