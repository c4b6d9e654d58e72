"""How much water there really is: from all that was poured in by hand and all readings."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import exp, hypot, log, sqrt

import numpy as np

from generator.reckon.estimate.mixture import Array, Mixture
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart
from generator.reckon.water.account import Account
from generator.reckon.water.analysis import evidence_of
from generator.reckon.water.deliveries import STRENGTH_ERROR
from generator.reckon.water.estimate import track_learning
from generator.reckon.water.evidence import LEAST_DEMAND, Evidence
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.ledger import in_days
from generator.records.log import SystemLog
from generator.records.source import Source
from generator.records.system import System
from generator.units.quantity import Estimate, coverage_factor

# Before the readings speak the volume may be anything within a factor of some 2.7 (two standard deviations).
OPEN = 0.5
# The account is linear in the volume's logarithm nearby: it is laid out again at what was found until that keeps still.
ROUNDS = 4
STILL = 0.005
# A volume so many times the declared one, or that part of it, is no volume but readings that say nothing of it.
AT_MOST = log(10.0)
# Doses and readings of so long tell the volume; a standard uncertainty beyond this share of it says nothing.
LOOKS_BACK = timedelta(days=365)
TOO_UNSURE = 0.4
# A volume is offered when it lies further from the declared one than this many standard uncertainties of both.
DISAGREES_FROM = 2.5

_VOLUME, _DOSES = 0, 1


@dataclass(frozen=True, slots=True)
class VolumeByDose:
    """The water volume (L) that doses tell, beside the declared one.

    `doses` counts those it rests on; `disagrees` says whether the two lie further apart than their
    uncertainties allow, so that the keeper should be asked.
    """

    volume: Finding
    declared: Estimate
    doses: int
    disagrees: bool


def volume(system: System, log_: SystemLog, water: WaterFindings, as_of: datetime) -> VolumeByDose | CannotTell:
    """The water volume by every dose of the log, whatever came of it.

    The volume is one more number of the state that level and uptake are told with: a dose lifts the level by so
    much less, the more water there is. Pumps do not tell, for the uptake is not known without them. How well a dose
    is known does not become better by dosing again, for the measure and the stock are the same. Answers `CannotTell`
    where no dose, or too little, was read. Source: conservation of mass; JCGM 100:2008 (GUM), 5.1.
    """
    told = []
    for kind, evidence in evidence_of(system, log_, (), as_of).items():
        recent = _recent(evidence, water.uptake[kind].kit_error.value, as_of)
        if recent is not None and (found := learned(recent, as_of)) is not None:
            sources = [*(r.source for r in recent.readings), *(x.source for x in recent.lines if x.cause == "dose")]
            told.append((found, sources, sum(line.cause == "dose" for line in recent.lines)))
    told = [each for each in told if each[0][1] <= TOO_UNSURE]
    if not told:
        return CannotTell("no-telling-dose", "read-around-a-dose")
    weights = [spread**-2 for (_, spread), _, _ in told]
    middle = sum(w * value for w, ((value, _), _, _) in zip(weights, told, strict=True)) / sum(weights)
    return _found(system, middle, sum(weights) ** -0.5, [s for _, s, _ in told], sum(count for _, _, count in told))


def learned(evidence: Evidence, as_of: datetime) -> tuple[float, float] | None:
    """The logarithm of the volume over the declared one, and its standard deviation, by the readings alone.

    None where they do not come to rest at one.
    """
    shift, account = 0.0, evidence.account
    series, floor = evidence.series(), LEAST_DEMAND[evidence.kind]
    for _ in range(ROUNDS):
        told = track_learning(series, _by_dose(account.scaled(exp(-shift))), in_days(as_of), floor, OPEN)
        step, spread = _without_prior(told)
        shift += step
        if abs(shift) > AT_MOST:
            return None
        if abs(step) < STILL:
            return shift, spread
    return (shift, spread) if abs(step) < OPEN / 5.0 else None


def _without_prior(told: Mixture) -> tuple[float, float]:
    """By how much the volume is still off, and the standard deviation, as the readings tell them.

    The prior stays about the declared volume: it is taken out, being wide.
    """
    mean, spread = (float(each) for each in told.moments())
    precision = max(spread**-2 - OPEN**-2, 1e-6)
    # Doses that count for more mean less water.
    return -(mean * spread**-2) / precision, sqrt(1.0 / precision)


def _by_dose(account: Account) -> Account:
    """The account with its doses, and only those, counting by what the volume may be off."""
    return replace(
        account,
        steady=tuple(replace(each, factors=()) for each in account.steady),
        doses=tuple(replace(each, factors=(_DOSES,)) for each in account.doses),
    )


def _recent(evidence: Evidence, kit_error: float, as_of: datetime) -> Evidence | None:
    """The evidence of the last year; None without a dose between readings in it."""
    since = as_of - LOOKS_BACK
    known = [index for index, reading in enumerate(evidence.readings) if reading.at >= since]
    if len(known) < 3:
        return None
    first, last = evidence.readings[known[0]].at, evidence.readings[known[-1]].at
    lines = tuple(line for line in evidence.lines if line.cause == "dose" and first <= line.at < last)
    if not lines:
        return None
    errors: Array = np.full(len(known), kit_error) if evidence.errors is None else evidence.errors[known]
    readings = tuple(evidence.readings[index] for index in known)
    return replace(evidence, readings=readings, values=evidence.values[known], errors=errors, lines=lines)


def _found(system: System, middle: float, of_readings: float, sources: list[list[Source]], doses: int) -> VolumeByDose:
    stated, unsure = system.water.volume.canonical(), system.water.uncertainty.canonical()
    value, whole = stated * exp(middle), hypot(of_readings, STRENGTH_ERROR)
    k = coverage_factor()
    parts = (UncertaintyPart("readings-around", value * of_readings), UncertaintyPart("dose", value * STRENGTH_ERROR))
    estimate = Estimate(value, value * exp(-k * whole), value * exp(k * whole), "L")
    inputs = tuple(dict.fromkeys(source for each in sources for source in each))
    declared = Estimate(stated, stated - k * unsure, stated + k * unsure, "L")
    apart = abs(log(value / stated)) > DISAGREES_FROM * hypot(whole, unsure / stated)
    return VolumeByDose(Finding(estimate, "volume-by-dose", inputs, parts), declared, doses, apart)
