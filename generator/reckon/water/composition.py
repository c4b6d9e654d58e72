"""The water's salts against those of the sea, freed of its salinity.

A wrong salinity makes every salt look wrong by the same share. Brought to S = 35 first, what is left is
what this water really has too much or too little of.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import hypot

from generator.nature.constants import (
    SEAWATER_ALKALINITY,
    SEAWATER_BORON,
    SEAWATER_CALCIUM,
    SEAWATER_MAGNESIUM,
    SEAWATER_POTASSIUM,
    SEAWATER_STRONTIUM,
    STANDARD_SALINITY,
    STANDARD_TEMPERATURE,
    Constant,
)
from generator.reckon.estimate.propagate import Measured, contributions
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.valid_range import ValidRange
from generator.reckon.water.seawater import VALID_SALINITY, density
from generator.records.source import Source
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# Amounts per kilogram of seawater at S = 35: mg, or meq for alkalinity.
REFERENCE: dict[str, Constant] = {
    "alkalinity": SEAWATER_ALKALINITY,
    "calcium": SEAWATER_CALCIUM,
    "magnesium": SEAWATER_MAGNESIUM,
    "potassium": SEAWATER_POTASSIUM,
    "strontium": SEAWATER_STRONTIUM,
    "boron": SEAWATER_BORON,
}

# From the lowest plausible salinity of a reef to the highest for which the density holds.
_SALINITY = ValidRange("salinity", "psu", 5.0, VALID_SALINITY.high, VALID_SALINITY.source)


@dataclass(frozen=True, slots=True)
class IonStanding:
    """One salt brought to S = 35 (canonical unit), what the sea has there, and the ratio of the two."""

    kind: str
    normalised: Answer
    reference: float
    ratio: Answer


def normalised(concentration: float, salinity: float, temperature: float = STANDARD_TEMPERATURE.value) -> float:
    """A concentration (per litre) brought to S = 35: per kilogram it goes with salinity, X35 = X · 35/S.

    The water's density at its own and at the standard salinity carries it from litres to kilograms and back.
    Source: Millero 2013, Chemical Oceanography, 4th ed. (from memory); constancy of seawater's
    composition. Raises `OutsideRange` for a salinity or temperature that the density does not hold for, and for a
    salinity too low to say anything of a reef.
    """
    _SALINITY.check(salinity)
    standard = STANDARD_SALINITY.value
    per_kg = concentration / density(salinity, temperature) * standard / salinity
    return float(per_kg * density(standard, temperature))


def reference_concentration(kind: str, temperature: float = STANDARD_TEMPERATURE.value) -> float:
    """What a litre of seawater at S = 35 has of a kind in `REFERENCE`, in its canonical unit.

    Source: Millero, Feistel, Wright & McDougall 2008, Deep-Sea Res. I 55:50-72, Table 4.
    """
    return float(REFERENCE[kind].value * density(STANDARD_SALINITY.value, temperature))


def composition(
    measured: Mapping[str, Measured],
    salinity: Measured | None,
    temperature: float = STANDARD_TEMPERATURE.value,
    inputs: Mapping[str, tuple[Source, ...]] | None = None,
) -> tuple[IonStanding, ...]:
    """Each salt of `REFERENCE` that was measured, at S = 35, beside the sea's, with 90 % intervals.

    `measured` in canonical units by kind; its uncertainty and that of `salinity` (psu) are both carried.
    `inputs` names the lines each kind rests on, and under "salinity" those of the salinity. Without a
    salinity, or with one no sea has, the answers are `CannotTell`.
    """
    sources = inputs or {}
    return tuple(
        _standing(kind, measured[kind], salinity, temperature, sources.get(kind, ()) + sources.get("salinity", ()))
        for kind in REFERENCE
        if kind in measured
    )


def _standing(
    kind: str, measured: Measured, salinity: Measured | None, temperature: float, inputs: tuple[Source, ...]
) -> IonStanding:
    reference = reference_concentration(kind, temperature)
    if salinity is None or not _SALINITY.holds(salinity.value):
        unknown = CannotTell("no-salinity", "read-salinity", inputs=inputs)
        return IonStanding(kind, unknown, reference, unknown)

    def at_standard(concentration: float, salinity: float) -> float:
        return normalised(concentration, salinity, temperature)

    value = at_standard(measured.value, salinity.value)
    parts = contributions(at_standard, {"concentration": measured, "salinity": salinity})
    level = _finding(value, parts, KINDS[kind].canonical, "normalised-to-35", inputs)
    of_sea = {cause: standard / reference for cause, standard in parts.items()}
    return IonStanding(kind, level, reference, _finding(value / reference, of_sea, "× sea", "composition", inputs))


def _finding(value: float, parts: Mapping[str, float], unit: str, method: str, inputs: tuple[Source, ...]) -> Finding:
    return Finding(
        Estimate.normal(value, hypot(*parts.values()), unit),
        method,
        inputs,
        tuple(UncertaintyPart(cause, standard) for cause, standard in parts.items()),
    )
