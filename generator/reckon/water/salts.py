"""The salts as last read against the sea's, and whether it is rather the salinity reading that strays."""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import hypot

from generator.reckon.estimate.propagate import Measured
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.composition import IonStanding, composition
from generator.reckon.water.health_findings import SaltBalance, SaltStanding
from generator.records.log import Reading
from generator.units.quantity import Estimate, coverage_factor

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
        standing = _at_35(reading, value, salinity)
        salts.append(SaltStanding(kind, reading.at, standing.normalised, standing.ratio))
        if salinity and isinstance(standing.ratio, Finding):
            pairs.append((kind, standing.ratio, salinity[1]))
    factor, error, together = _shared(pairs)
    return SaltBalance(tuple(salts), factor, error, together)


def _salinity(found: Measurements, reading: Reading) -> tuple[Reading, Measured] | None:
    near = [pair for pair in found.get("salinity", ()) if abs(pair[0].at - reading.at) <= SALINITY_STANDS_FOR]
    return min(near, key=lambda pair: abs(pair[0].at - reading.at), default=None)


def _at_35(reading: Reading, value: Measured, salinity: tuple[Reading, Measured] | None) -> IonStanding:
    inputs = {reading.kind: (reading.source,)}
    if salinity:
        inputs["salinity"] = (salinity[0].source,)
    return composition({reading.kind: value}, salinity[1] if salinity else None, inputs=inputs)[0]


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
