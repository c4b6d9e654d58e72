"""The water's salts against those of the sea, freed of its salinity; and whether it is rather the salinity that strays.

A wrong salinity makes every salt look wrong by the same share. Brought to S = 35 first, what is left is
what this water really has too much or too little of.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
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
from generator.reckon.estimate.uncertainty import Measured, contributions
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart, ValidRange
from generator.reckon.water.seawater import VALID_SALINITY, density
from generator.records.log import Reading
from generator.records.source import Source
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, coverage_factor


@dataclass(frozen=True, slots=True)
class SaltStanding:
    """One salt as last read, brought to S = 35: when, how much, and its ratio to what the sea has."""

    kind: str
    at: datetime
    normalised: Answer
    ratio: Answer


@dataclass(frozen=True, slots=True)
class SaltBalance:
    """The salts beside the sea's, and what they say together of the salinity reading.

    `factor` is what all of them share (× sea). `together`: they agree on it, and it is not 1; then it is
    the salinity reading that strays, by `salinity_error` (psu; positive: there is more salt than was read).
    """

    salts: tuple[SaltStanding, ...]
    factor: Answer
    salinity_error: Answer
    together: bool


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


def beside_the_sea(
    kind: str, measured: Measured, salinity: Measured | None, inputs: tuple[Source, ...] = ()
) -> tuple[Answer, Answer]:
    """A salt of `REFERENCE` at S = 35 (canonical unit), and its ratio to the sea's, with 90 % intervals.

    The uncertainty of `measured` (canonical unit) and that of `salinity` (psu) are both carried. Without a salinity, or
    with one no sea has, the answers are `CannotTell`.
    """
    if salinity is None or not _SALINITY.holds(salinity.value):
        unknown = CannotTell("no-salinity", "read-salinity", inputs=inputs)
        return unknown, unknown
    value, reference = normalised(measured.value, salinity.value), reference_concentration(kind)
    parts = contributions(normalised, {"concentration": measured, "salinity": salinity})
    level = _finding(value, parts, KINDS[kind].canonical, "normalised-to-35", inputs)
    of_sea = {cause: standard / reference for cause, standard in parts.items()}
    return level, _finding(value / reference, of_sea, "× sea", "composition", inputs)


def _finding(value: float, parts: Mapping[str, float], unit: str, method: str, inputs: tuple[Source, ...]) -> Finding:
    return Finding(
        Estimate.normal(value, hypot(*parts.values()), unit),
        method,
        inputs,
        tuple(UncertaintyPart(cause, standard) for cause, standard in parts.items()),
    )


# How far a kept water's salts stray from the sea's of themselves, as a share (one standard deviation):
# what corals take and keepers add. The usual bands of keepers are about twice as wide; common practice, no source.
STRAYS = {"calcium": 0.05, "magnesium": 0.05, "potassium": 0.05, "strontium": 0.15, "boron": 0.15}
# A laboratory's readings come by the month; a meter of salinity strays slowly.
LOOKS_BACK = timedelta(days=45)
SALINITY_STANDS_FOR = timedelta(days=14)
# Two salts may agree by chance.
LEAST_SALTS = 3
# Salts agree when each lies within so many of its standard errors of what all share.
AGREE_WITHIN = 2.0

_Z = coverage_factor()

Measurements = Mapping[str, Sequence[tuple[Reading, Measured]]]


def salt_balance(found: Measurements, as_of: datetime) -> SaltBalance:
    """Every salt read lately at S = 35 beside the sea's, and the factor by which all of them are off.

    `found`: readings with their measurements by kind, in order of time. Each salt is taken with the salinity
    read nearest to it.
    """
    salts, pairs = [], []
    for kind in STRAYS:
        recent = [(reading, value) for reading, value in found.get(kind, ()) if reading.at >= as_of - LOOKS_BACK]
        if not recent:
            continue
        reading, value = recent[-1]
        salinity = _salinity(found, reading)
        inputs = (reading.source, salinity[0].source) if salinity else (reading.source,)
        level, ratio = beside_the_sea(kind, value, salinity[1] if salinity else None, inputs)
        salts.append(SaltStanding(kind, reading.at, level, ratio))
        if salinity and isinstance(ratio, Finding):
            pairs.append((kind, ratio, salinity[1]))
    factor, error, together = _shared(pairs)
    return SaltBalance(tuple(salts), factor, error, together)


def _salinity(found: Measurements, reading: Reading) -> tuple[Reading, Measured] | None:
    near = [pair for pair in found.get("salinity", ()) if abs(pair[0].at - reading.at) <= SALINITY_STANDS_FOR]
    return min(near, key=lambda pair: abs(pair[0].at - reading.at), default=None)


def _shared(pairs: Sequence[tuple[str, Finding, Measured]]) -> tuple[Answer, Answer, bool]:
    """The weighted mean of the salts' ratios, the salinity error it means, and whether the salts agree on it.

    A salinity read too low by a share makes every salt look too high by about that share.
    Source: weighted mean, JCGM 100:2008 (GUM), H.9 and 5.1; constancy of seawater's composition.
    """
    if len(pairs) < LEAST_SALTS:
        unknown = CannotTell("too-few-salts", "read-three-salts", (("salts", f"{len(pairs)}"),))
        return unknown, unknown, False
    inputs = tuple(dict.fromkeys(source for _, ratio, _ in pairs for source in ratio.inputs))
    errors = [hypot(STRAYS[kind], _own(ratio)) for kind, ratio, _ in pairs]
    weights = [error**-2 for error in errors]
    mean = sum(w * ratio.estimate.value for w, (_, ratio, _) in zip(weights, pairs, strict=True)) / sum(weights)
    salinity = max((each for _, _, each in pairs), key=lambda each: each.standard)
    parts = (
        UncertaintyPart("salts", sum(weights) ** -0.5),
        UncertaintyPart("salinity", mean * salinity.standard / salinity.value),
    )
    half = _Z * hypot(*(part.standard for part in parts))
    factor = Finding(Estimate(mean, mean - half, mean + half, "× sea"), "salt-balance", inputs, parts)
    read = sum(each.value for _, _, each in pairs) / len(pairs)
    off, wide = read * (mean - 1.0), read * half
    agree = all(
        abs(ratio.estimate.value - mean) <= AGREE_WITHIN * error
        for error, (_, ratio, _) in zip(errors, pairs, strict=True)
    )
    in_psu = tuple(UncertaintyPart(part.cause, read * part.standard) for part in parts)
    error = Finding(Estimate(off, off - wide, off + wide, "psu"), "salt-balance", inputs, in_psu)
    return factor, error, agree and not factor.estimate.low <= 1.0 <= factor.estimate.high


def _own(ratio: Finding) -> float:
    """A ratio's uncertainty but for that of the salinity, which all salts share."""
    return hypot(*(part.standard for part in ratio.parts if part.cause != "salinity"))
