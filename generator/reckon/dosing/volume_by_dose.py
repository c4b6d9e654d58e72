"""How much water there really is: from known doses and the readings around them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import hypot, sqrt

from generator.reckon.estimate.propagate import Measured, contributions, coverage_factor
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.canonical import canonical_errors
from generator.reckon.water.findings import LedgerLine, WaterFindings
from generator.reckon.water.planning import STANDING
from generator.reckon.water.solutions import per_litre
from generator.records.log import Dose, Reading, SystemLog
from generator.records.source import Source
from generator.records.system import System
from generator.units.quantity import Estimate

# Readings this near to a dose are the ones around it; the water is mixed through after the least time.
AROUND = timedelta(days=1.5)
MIXED_AFTER = timedelta(minutes=30)
# How well a dose is known: the measure and the stock's strength, as a share of it. An assumption of ours.
DOSE_ERROR = 0.03
# A rise that is not so many times its own standard uncertainty tells no volume.
TELLING_RISE = 3.0
# A volume is offered when it lies further from the declared one than this many standard uncertainties of both.
DISAGREES_FROM = 2.0

_LEVEL = 0.90


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


def volume_of_rise(dose: float, before: float, after: float, fall: float) -> float:
    """Litres of water in which a dose (meq or mg) makes the level rise from `before` to `after`.

    `fall` is by how much the level would have fallen between the readings without the dose, in the
    level's unit. Source: conservation of mass.
    """
    return dose / (after - before + fall)


def volume_by_dose(
    dose: Measured, before: Measured, after: Measured, fall: Measured, inputs: tuple[Source, ...] = ()
) -> Answer:
    """The water volume (L) from one known dose, with its uncertainty and what that is made of.

    Answers `CannotTell` when the rise is less than `TELLING_RISE` of its standard uncertainties.
    Source: JCGM 100:2008 (GUM), 5.1.
    """
    rise = after.value - before.value + fall.value
    error = sqrt(before.standard**2 + after.standard**2 + fall.standard**2)
    if rise <= TELLING_RISE * error:
        return CannotTell("rise-too-small", "dose-more-at-once", inputs=inputs)
    measured = {"dose": dose, "before": before, "after": after, "fall": fall}
    value = volume_of_rise(**{name: each.value for name, each in measured.items()})
    parts = contributions(volume_of_rise, measured)
    return _finding(value, [UncertaintyPart(cause, standard) for cause, standard in parts.items()], inputs)


def volume(system: System, log: SystemLog, water: WaterFindings, as_of: datetime) -> VolumeByDose | CannotTell:
    """The water volume by every dose of the log that has readings of its kind around it.

    Doses between the same two readings count as one. Several are put together by the weight of their
    evidence; how well a dose is known does not become better by dosing again, for the measure and the
    stock are the same. Answers `CannotTell` where no dose tells. Source: JCGM 100:2008 (GUM), 5.2.
    """
    found = [each for each in _by_each(system, log.until(as_of), water) if isinstance(each[0], Finding)]
    told = [answer for answer, _ in found if isinstance(answer, Finding)]
    if not told:
        return CannotTell("no-telling-dose", "read-around-a-dose")
    # Litres go with one over the rise, which is what the readings blur: so it is the rises that are averaged.
    weights = [(each.estimate.value**2 / _of_readings(each)) ** 2 for each in told]
    middle = sum(w / each.estimate.value for w, each in zip(weights, told, strict=True)) / sum(weights)
    value, of_readings = 1.0 / middle, 1.0 / sqrt(sum(weights)) / middle**2
    inputs = tuple(dict.fromkeys(source for each in told for source in each.inputs))
    parts = (UncertaintyPart("readings-around", of_readings), UncertaintyPart("dose", DOSE_ERROR * value))
    whole = _finding(value, parts, inputs)
    stated, unsure = system.water.volume.canonical(), system.water.uncertainty.canonical()
    half = coverage_factor(_LEVEL) * unsure
    declared = Estimate(stated, stated - half, stated + half, "L", _LEVEL)
    apart = abs(value - stated) > DISAGREES_FROM * hypot(of_readings, DOSE_ERROR * value, unsure)
    return VolumeByDose(whole, declared, sum(doses for _, doses in found), apart)


def _by_each(system: System, log: SystemLog, water: WaterFindings) -> Iterator[tuple[Answer, int]]:
    """What the doses between each two readings tell, and how many doses those are."""
    doubtful = {d.reading for uptake in water.uptake.values() for d in uptake.doubtful}
    values = {reading: value for reading, value in water.readings if reading not in doubtful}
    for kind in water.uptake:
        readings = [reading for reading in values if reading.kind == kind]
        doses = [dose for dose in log.doses if per_litre(system.solutions[dose.solution], kind) > 0.0]
        for around in dict.fromkeys(found for dose in doses if (found := _around(dose, readings))):
            between = [dose for dose in doses if around[0].at <= dose.at <= around[1].at]
            mixed = all(dose.at + MIXED_AFTER <= around[1].at for dose in between)
            answer = _of_doses(system, between, around, values, water) if mixed and not _changed(around, log) else None
            if answer is not None:
                yield answer, len(between)


def _around(dose: Dose, readings: Sequence[Reading]) -> tuple[Reading, Reading] | None:
    before = [r for r in readings if dose.at - AROUND <= r.at <= dose.at]
    after = [r for r in readings if dose.at + MIXED_AFTER <= r.at <= dose.at + AROUND]
    return (before[-1], after[0]) if before and after else None


def _changed(around: tuple[Reading, Reading], log: SystemLog) -> bool:
    """Whether water was changed between the readings, which blurs what the dose did."""
    return any(around[0].at <= change.at <= around[1].at for change in log.water_changes)


def _of_doses(
    system: System,
    doses: Sequence[Dose],
    around: tuple[Reading, Reading],
    values: Mapping[Reading, float],
    water: WaterFindings,
) -> Answer | None:
    errors = canonical_errors(system, around)
    fall = _fall(around, water)
    if fall is None:
        return None
    kind = around[0].kind
    of_kit = errors or [water.uptake[kind].kit_error.value] * 2
    amount = sum(dose.amount.canonical() * per_litre(system.solutions[dose.solution], kind) for dose in doses)
    before, after = (Measured(values[r], error) for r, error in zip(around, of_kit, strict=True))
    sources = (*(dose.source for dose in doses), around[0].source, around[1].source)
    return volume_by_dose(Measured(amount, DOSE_ERROR * amount), before, after, fall, sources)


def _fall(around: tuple[Reading, Reading], water: WaterFindings) -> Measured | None:
    """What the corals took between the readings, less what ran by itself: uptake's track, the ledger's lines."""
    kind, (first, last) = around[0].kind, around
    track = [point for point in water.uptake[kind].track if point.at <= last.at]
    if not track:
        return None
    days = (last.at - first.at).total_seconds() / 86400.0
    rate = track[-1].per_day
    paid = sum(_paid(line, first.at, last.at) for line in water.ledger if line.kind == kind and line.cause in STANDING)
    return Measured(rate.value * days - paid, (rate.high - rate.low) / 2.0 / coverage_factor(rate.level) * days)


def _paid(line: LedgerLine, start: datetime, end: datetime) -> float:
    """The part of a payment that fell between two moments."""
    if line.at == line.until:
        return line.change if start < line.at <= end else 0.0
    within = (min(line.until, end) - max(line.at, start)).total_seconds()
    return line.change * max(within, 0.0) / (line.until - line.at).total_seconds()


def _finding(value: float, parts: Sequence[UncertaintyPart], inputs: tuple[Source, ...]) -> Finding:
    half = coverage_factor(_LEVEL) * sqrt(sum(part.standard**2 for part in parts))
    return Finding(Estimate(value, value - half, value + half, "L", _LEVEL), "volume-by-dose", inputs, tuple(parts))


def _of_readings(finding: Finding) -> float:
    """The standard uncertainty of a volume by one dose but for that of the dose."""
    return sqrt(sum(part.standard**2 for part in finding.parts if part.cause != "dose"))
