"""The compounds keepers dissolve, what a mole of each gives the water, and molar masses from standard atomic weights.

Stoichiometry: a carbonate neutralises two equivalents of acid, a hydrogen carbonate or a hydroxide
one each; salts of calcium and magnesium give their metal. Names are the chemical ones.
Source of weights: IUPAC abridged and conventional standard atomic weights 2021 (Prohaska et al. 2022,
Pure Appl. Chem. 94:573-600).
"""

import re
from functools import cache

from msgspec import Struct

# g/mol; abridged (or, where IUPAC gives a range, conventional) values.
ATOMIC_WEIGHTS: dict[str, float] = {
    "H": 1.008,
    "B": 10.81,
    "C": 12.011,
    "N": 14.007,
    "O": 15.999,
    "F": 18.998,
    "Na": 22.990,
    "Mg": 24.305,
    "Si": 28.085,
    "P": 30.974,
    "S": 32.06,
    "Cl": 35.45,
    "K": 39.098,
    "Ca": 40.078,
    "Br": 79.904,
    "Sr": 87.62,
    "I": 126.90,
}

_TOKEN = re.compile(r"([A-Z][a-z]?)(\d*)|\(|\)(\d*)")
_PART = re.compile(r"(\d*)(.+)")


class UnknownFormula(ValueError):
    """A formula that is not made of known elements, counts and brackets."""


@cache
def molar_mass(formula: str) -> float:
    """Molar mass of a compound, g/mol; hydrates are written with a dot: ``CaCl2.2H2O``.

    Raises `UnknownFormula` when the text is not a formula of elements in `ATOMIC_WEIGHTS`.
    """
    total = 0.0
    for part in formula.replace("·", ".").split("."):
        match = _PART.fullmatch(part)
        if match is None:
            raise UnknownFormula(formula)
        total += int(match.group(1) or 1) * _mass_of_part(match.group(2), formula)
    return total


def _mass_of_part(text: str, formula: str) -> float:
    stack = [0.0]
    position = 0
    for match in _TOKEN.finditer(text):
        if match.start() != position:
            raise UnknownFormula(formula)
        position = match.end()
        if match.group() == "(":
            stack.append(0.0)
        elif match.group().startswith(")"):
            if len(stack) < 2:
                raise UnknownFormula(formula)
            inner = stack.pop()
            stack[-1] += inner * int(match.group(3) or 1)
        else:
            element = match.group(1)
            if element not in ATOMIC_WEIGHTS:
                raise UnknownFormula(formula)
            stack[-1] += ATOMIC_WEIGHTS[element] * int(match.group(2) or 1)
    if position != len(text) or len(stack) != 1:
        raise UnknownFormula(formula)
    return stack[0]


class Compound(Struct, frozen=True):
    """A compound by formula; `equivalents` of alkalinity and moles of each dissolved kind a mole gives."""

    formula: str
    name: str
    equivalents: float = 0.0
    calcium: float = 0.0
    magnesium: float = 0.0
    potassium: float = 0.0
    strontium: float = 0.0

    def per_gram(self, kind: str) -> float:
        """What a gram gives of a kind, in its canonical unit times litres: meq of alkalinity, mg of a metal."""
        millimoles = 1000.0 / molar_mass(self.formula)
        if kind == "alkalinity":
            return self.equivalents * millimoles
        element = METALS.get(kind)
        return getattr(self, kind) * molar_mass(element) * millimoles if element else 0.0


METALS = {"calcium": "Ca", "magnesium": "Mg", "potassium": "K", "strontium": "Sr"}

COMPOUNDS: dict[str, Compound] = {
    compound.formula: compound
    for compound in (
        Compound("NaHCO3", "sodium hydrogen carbonate", equivalents=1),
        Compound("Na2CO3", "sodium carbonate", equivalents=2),
        Compound("Na2CO3.10H2O", "sodium carbonate decahydrate", equivalents=2),
        Compound("NaOH", "sodium hydroxide", equivalents=1),
        Compound("KHCO3", "potassium hydrogen carbonate", equivalents=1, potassium=1),
        Compound("Ca(OH)2", "calcium hydroxide", equivalents=2, calcium=1),
        Compound("CaCO3", "calcium carbonate", equivalents=2, calcium=1),
        Compound("CaCl2", "calcium chloride, anhydrous", calcium=1),
        Compound("CaCl2.2H2O", "calcium chloride dihydrate", calcium=1),
        Compound("CaCl2.6H2O", "calcium chloride hexahydrate", calcium=1),
        Compound("MgCl2", "magnesium chloride, anhydrous", magnesium=1),
        Compound("MgCl2.6H2O", "magnesium chloride hexahydrate", magnesium=1),
        Compound("MgSO4", "magnesium sulfate, anhydrous", magnesium=1),
        Compound("MgSO4.7H2O", "magnesium sulfate heptahydrate", magnesium=1),
        Compound("KCl", "potassium chloride", potassium=1),
        Compound("SrCl2.6H2O", "strontium chloride hexahydrate", strontium=1),
    )
}
