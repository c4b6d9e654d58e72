"""The compounds keepers dissolve, and what a mole of each gives the water.

Stoichiometry: a carbonate neutralises two equivalents of acid, a hydrogen carbonate or a hydroxide
one each; salts of calcium and magnesium give their metal. Names are the chemical ones.
"""

from dataclasses import dataclass

from generator.units.atomic_weights import molar_mass


@dataclass(frozen=True, slots=True)
class Compound:
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
