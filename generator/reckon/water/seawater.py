"""Seawater: density, salinity in all the forms a keeper reads it in, and its salts beside those of the sea.

A wrong salinity makes every salt look wrong by the same share. Brought to S = 35 first, what is left is what this water
really has too much or too little of; what all salts share says whether it is rather the salinity that strays.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from functools import lru_cache
from math import hypot
from typing import TypeVar

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from generator.nature.constants import (
    REFERENCE_SALINITY,
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
from generator.records.log import Reading
from generator.records.source import Source
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, Quantity, convert, coverage_factor, per_day

Number = TypeVar("Number", float, NDArray[np.float64])

# Temperature of the seawater and of the pure water it is compared with, °C. 60 °F is 15.56 °C.
_SIXTY_FAHRENHEIT = (60.0 - 32.0) / 1.8
REFERENCE_PAIRS: dict[str, tuple[float, float]] = {
    "sg 25/25": (25.0, 25.0),
    "sg 20/20": (20.0, 20.0),
    "sg 60F/60F": (_SIXTY_FAHRENHEIT, _SIXTY_FAHRENHEIT),
    "sg 20/4": (20.0, 4.0),
}

# Meters state conductivity as it would be at this temperature, °C.
_CONDUCTIVITY_AT = 25.0

_STEPS = 12

# IOC, SCOR and IAPSO 2010, 2.6: to 42 g/kg of salt, a practical salinity of 41.8, rounded; UNESCO Technical Papers
# in Marine Science 44, below 2 extended by Hill, Dauphinee & Woods 1986. Both from memory.
_TEOS_10, _PSS_78 = "TEOS-10", "the Practical Salinity Scale 1978"
VALID_SALINITY = ValidRange("salinity", "psu", 0.0, 42.0, _TEOS_10)
VALID_TEMPERATURE = ValidRange("temperature", "°C", -6.0, 40.0, _TEOS_10)
_ON_THE_SCALE = ValidRange("salinity", "psu", 0.0, 42.0, _PSS_78)
_CONDUCTS = ValidRange("conductivity", "mS/cm", 0.0, 62.36, _PSS_78)
# The lowest reading of an instrument in pure water, and the rounding allowed at the upper end.
_LIGHTEST, _ROUNDING = 0.99, 5e-5


def density(salinity: Number, temperature: Number) -> Number:
    """Density of seawater (kg/L) from practical salinity and temperature (°C).

    Practical salinity 0 to 42, -6 to 40 °C.
    Source: TEOS-10 Gibbs function (gsw `rho_t_exact`) at zero pressure; IOC, SCOR and IAPSO 2010.
    """
    VALID_SALINITY.check(salinity)
    VALID_TEMPERATURE.check(temperature)
    return _density(salinity, temperature)


def _density(salinity: Number, temperature: Number) -> Number:
    import gsw

    absolute = salinity * (REFERENCE_SALINITY.value / STANDARD_SALINITY.value)
    kg_per_m3: Number = gsw.rho_t_exact(absolute, temperature, 0.0)
    return kg_per_m3 / 1e3


def specific_gravity(salinity: Number, pair: str) -> Number:
    """Specific gravity of seawater for a reference pair, a key of `REFERENCE_PAIRS`.

    The pair names the temperature of the seawater and that of the pure water it is compared with;
    20/4 and 25/25 are two units of salinity apart.
    """
    VALID_SALINITY.check(salinity)
    return _gravity(salinity, pair)


def _gravity(salinity: Number, pair: str) -> Number:
    at, compared_at = REFERENCE_PAIRS[pair]
    return _density(salinity, salinity * 0.0 + at) / _density(0.0, compared_at)


def salinity_from_specific_gravity(gravity: Number, pair: str) -> Number:
    """Practical salinity from specific gravity for a reference pair, a key of `REFERENCE_PAIRS`.

    The instrument is taken to state what the water has at the pair's own temperature, as
    temperature-compensated ones do. Below pure water it answers 0. Inverse of `specific_gravity`,
    to 1e-9.
    """
    heaviest = float(_gravity(VALID_SALINITY.high, pair)) + _ROUNDING
    ValidRange("specific gravity", "", _LIGHTEST, heaviest, f"{_TEOS_10} by {pair}").check(gravity)
    at = STANDARD_SALINITY.value
    rise = _gravity(at + 0.5, pair) - _gravity(at - 0.5, pair)
    salinity = gravity * 0.0 + at
    # The curve is nearly straight: with the slope at 35 each step leaves a tenth of the error or less.
    for _ in range(_STEPS):
        salinity = np.maximum(0.0, salinity + (gravity - _gravity(salinity, pair)) / rise)
    # A reading within rounding of the upper end is the upper end.
    heaviest_water: Number = np.minimum(salinity, VALID_SALINITY.high)
    return heaviest_water


def conductivity(salinity: Number) -> Number:
    """Conductivity (mS/cm) at 25 °C from practical salinity.

    Source: the Practical Salinity Scale 1978 (gsw `C_from_SP`), UNESCO Technical Papers in Marine
    Science 44.
    """
    _ON_THE_SCALE.check(salinity)
    import gsw

    millisiemens: Number = gsw.C_from_SP(salinity, _CONDUCTIVITY_AT, 0.0)
    return millisiemens


def salinity_from_conductivity(millisiemens: Number) -> Number:
    """Practical salinity from conductivity (mS/cm) compensated to 25 °C.

    Source: as `conductivity` (gsw `SP_from_C`). How a meter compensates is its own affair and is not
    undone here; at 25 °C it does not matter.
    """
    _CONDUCTS.check(millisiemens)
    import gsw

    salinity: Number = gsw.SP_from_C(millisiemens, _CONDUCTIVITY_AT, 0.0)
    return salinity


def salinity_from_unit(value: Number, unit: str) -> Number:
    """Practical salinity from a value in any unit of the salinity kind.

    Raises `ValueError` for a unit that salinity does not have.
    """
    if unit in REFERENCE_PAIRS:
        return salinity_from_specific_gravity(value, unit)
    if unit == "mS/cm":
        return salinity_from_conductivity(value)
    return value * convert(1.0, "salinity", unit, KINDS["salinity"].canonical)


def salinity_in_unit(salinity: Number, unit: str) -> Number:
    """A practical salinity in any unit of the salinity kind; the inverse of `salinity_from_unit`."""
    if unit in REFERENCE_PAIRS:
        return specific_gravity(salinity, unit)
    if unit == "mS/cm":
        return conductivity(salinity)
    return salinity * convert(1.0, "salinity", KINDS["salinity"].canonical, unit)


# A scale has few marks, so a log of thousands of readings asks for few different ones.
@lru_cache(maxsize=1024)
def practical_salinity(reading: Quantity) -> float:
    """Practical salinity of a reading in any unit of the salinity kind."""
    return float(salinity_from_unit(reading.value, reading.unit))


def salinity_uncertainty(precision: Quantity, salinity: float = STANDARD_SALINITY.value) -> float:
    """A difference of salinity (a kit's precision, a step of a scale) in practical salinity.

    By the local slope of the unit at `salinity`, since specific gravity and conductivity are not
    proportional to it.
    """
    if precision.unit in REFERENCE_PAIRS or precision.unit == "mS/cm":
        salinity = min(max(salinity, VALID_SALINITY.low + 0.5), VALID_SALINITY.high - 0.5)
        rise = salinity_in_unit(salinity + 0.5, precision.unit) - salinity_in_unit(salinity - 0.5, precision.unit)
        return float(precision.value / rise)
    return per_day(precision.value, "salinity", precision.unit, KINDS["salinity"].canonical)


class SaltStanding(Struct, frozen=True):
    """One salt as last read, brought to S = 35: when, how much, and its ratio to what the sea has."""

    kind: str
    at: datetime
    normalised: Answer
    ratio: Answer


class SaltBalance(Struct, frozen=True):
    """The salts beside the sea's, and what they say together of the salinity reading.

    `together`: they share one factor, and it is not 1; then it is the salinity reading that strays, by `salinity_error`
    (psu; positive: there is more salt than was read).
    """

    salts: tuple[SaltStanding, ...]
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
    return SaltBalance(tuple(salts), *_shared(pairs))


def _salinity(found: Measurements, reading: Reading) -> tuple[Reading, Measured] | None:
    near = [pair for pair in found.get("salinity", ()) if abs(pair[0].at - reading.at) <= SALINITY_STANDS_FOR]
    return min(near, key=lambda pair: abs(pair[0].at - reading.at), default=None)


def _shared(pairs: Sequence[tuple[str, Finding, Measured]]) -> tuple[Answer, bool]:
    """The salinity error that the weighted mean of the salts' ratios means, and whether the salts agree on it.

    A salinity read too low by a share makes every salt look too high by about that share.
    Source: weighted mean, JCGM 100:2008 (GUM), H.9 and 5.1; constancy of seawater's composition.
    """
    if len(pairs) < LEAST_SALTS:
        return CannotTell("too-few-salts", "read-three-salts", (("salts", f"{len(pairs)}"),)), False
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
    read = sum(each.value for _, _, each in pairs) / len(pairs)
    off, wide = read * (mean - 1.0), read * half
    agree = all(
        abs(ratio.estimate.value - mean) <= AGREE_WITHIN * error
        for error, (_, ratio, _) in zip(errors, pairs, strict=True)
    )
    in_psu = tuple(UncertaintyPart(part.cause, read * part.standard) for part in parts)
    error = Finding(Estimate(off, off - wide, off + wide, "psu"), "salt-balance", inputs, in_psu)
    return error, agree and not mean - half <= 1.0 <= mean + half


def _own(ratio: Finding) -> float:
    """A ratio's uncertainty but for that of the salinity, which all salts share."""
    return hypot(*(part.standard for part in ratio.parts if part.cause != "salinity"))
