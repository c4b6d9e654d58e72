"""Masses of a coral: weighed in air or under water, as dry skeleton, and what it gained in all."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta
from functools import lru_cache
from math import hypot, sqrt
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import grouped
from generator.nature.constants import (
    ACROPORA_SKELETON_DENSITY,
    CALCITE_DENSITY,
    CORAL_SKELETON_DENSITY,
    CUTTING_SKELETON_SHARE,
    STANDARD_SALINITY,
    STANDARD_TEMPERATURE,
    Constant,
)
from generator.nature.genera import genus_of
from generator.reckon.estimate.uncertainty import Measured, contributions
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart, ValidRange, uncertainty_parts
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.seawater import density
from generator.records.coral import Coral, Weighing
from generator.records.log import Reading, SystemLog
from generator.records.source import Source
from generator.units.quantity import Estimate, Quantity

MassKind = Literal["drained", "skeleton"]


# Of the causes of a mass's uncertainty, those that two weighings do not share.
_NOT_SHARED = ("scale", "repeats")
_SKELETON_SHARE = Measured(CUTTING_SKELETON_SHARE.value, CUTTING_SKELETON_SHARE.standard or 0.0)


class Weight(Struct, frozen=True):
    """A coral's mass (g) on a day: of the drained coral, or of its dry skeleton; `parts` are standard uncertainties.

    `source` is the first of the `count` weighings that went into it. Among the parts is "repeats" once that is known.
    """

    at: date
    kind: MassKind
    grams: float
    parts: tuple[UncertaintyPart, ...]
    source: Source
    inputs: tuple[Source, ...]
    count: int = 1

    @property
    def standard(self) -> float:
        """Standard uncertainty of the mass, g."""
        return hypot(*(part.standard for part in self.parts))

    @property
    def scale(self) -> float:
        """Standard uncertainty that the scale alone gives, g."""
        return next((part.standard for part in self.parts if part.cause == "scale"), 0.0)

    @property
    def repeats(self) -> float | None:
        """Standard error of a repeat, g; None if it is not known yet."""
        return next((part.standard for part in self.parts if part.cause == "repeats"), None)

    def repeating(self, share: float) -> "Weight":
        """The same weight with this error of a repeat (a share of the mass), unless one is recorded."""
        if self.repeats is not None:
            return self
        return replace(self, parts=(*self.parts, UncertaintyPart("repeats", share * self.grams / sqrt(self.count))))

    def finding(self) -> Finding:
        """The mass with its 90 % interval."""
        estimate = Estimate.normal(self.grams, self.standard, "g", least=0.0)
        method = "weighed-mass" if self.kind == "drained" else "buoyant-weight"
        return Finding(estimate, method, self.inputs, self.parts)


def resolution_error(step: Quantity) -> float:
    """Standard uncertainty (canonical unit) of a readout that shows steps of a size.

    Source: JCGM 100:2008 (GUM), F.2.2.1: step/(2√3).
    """
    return step.canonical() / sqrt(12.0)


def on_the_scale(weighing: Weighing) -> Measured:
    """Mass (g) of the coral alone: the reading less the holder, each read to one step of the scale."""
    error = resolution_error(weighing.resolution)
    mass = weighing.mass.canonical()
    if weighing.holder is None:
        return Measured(mass, error)
    return Measured(mass - weighing.holder.canonical(), error * sqrt(2.0))


def single_weights(coral: Coral, logs: Mapping[str, SystemLog], as_of: date) -> tuple[Weight, ...]:
    """Every weighing up to a day, in order.

    `logs` are by system, for the water of a weighing that does not state it. Weighings in water of a
    coral without a solid skeleton, and those that leave nothing but the holder, are left out.
    """
    told = sorted((weighing for weighing in coral.weighings if weighing.at <= as_of), key=lambda each: each.at)
    return tuple(weight for weighing in told if (weight := _weight(coral, weighing, logs)) is not None)


def by_day(singles: Sequence[Weight]) -> tuple[Weight, ...]:
    """Every day's weight, in order; repeats of one kind on one day are averaged."""
    found = grouped(((weight.at, weight.kind), weight) for weight in singles)
    return tuple(_average(of_day) for _, of_day in sorted(found.items()))


def _weight(coral: Coral, weighing: Weighing, logs: Mapping[str, SystemLog]) -> Weight | None:
    scale = on_the_scale(weighing)
    if scale.value <= 0.0:
        return None
    written = (UncertaintyPart("repeats", weighing.repeats.canonical()),) if weighing.repeats else ()
    if not weighing.in_water:
        of_scale = UncertaintyPart("scale", scale.standard)
        return Weight(weighing.at, "drained", scale.value, (of_scale, *written), weighing.source, (weighing.source,))
    skeleton = skeleton_density(coral.species)
    if skeleton is None:
        return None
    stood = coral.placement_on(weighing.at)
    water = weighing_water(weighing, logs.get(stood.system) if stood else None)
    grams, by_cause = skeleton_mass(scale, water, skeleton)
    parts = [UncertaintyPart(cause, standard) for cause, standard in by_cause.items()]
    # The recorded error is of the mass in water; that of the skeleton is the same share.
    parts += [UncertaintyPart("repeats", part.standard * grams / scale.value) for part in written]
    inputs = (weighing.source, *water.inputs)
    return Weight(weighing.at, "skeleton", grams, tuple(parts), weighing.source, inputs)


def _average(of_day: Sequence[Weight]) -> Weight:
    """Averaging reduces the errors of scale and repeats, but not the densities that all weighings share."""
    count = len(of_day)
    first = of_day[0]
    parts = tuple(
        UncertaintyPart(part.cause, part.standard / (sqrt(count) if part.cause in _NOT_SHARED else 1.0))
        for part in first.parts
    )
    inputs = tuple(dict.fromkeys(source for weight in of_day for source in weight.inputs))
    grams = sum(weight.grams for weight in of_day) / count
    return Weight(first.at, first.kind, grams, parts, first.source, inputs, count)


def leading_kind(weighed: tuple[Weight, ...]) -> MassKind | None:
    """The kind of mass a coral's growth is best followed by: the one weighed more often, else the skeleton."""
    if not weighed:
        return None
    drained = sum(weight.kind == "drained" for weight in weighed)
    return "drained" if drained > len(weighed) - drained else "skeleton"


def mass_on(weighed: tuple[Weight, ...], day: date, kind: MassKind | None = None) -> Answer:
    """The mass (g) by the last weighing up to a day, of one kind or whichever came last."""
    past = [weight for weight in weighed if weight.at <= day and kind in (None, weight.kind)]
    return past[-1].finding() if past else CannotTell("never-weighed", "weigh-it")


def grown(coral: Coral, weighed: tuple[Weight, ...], kind: MassKind) -> Answer:
    """Total growth (g) between the first and the last weighing of a kind, with the mass of all cuttings added.

    Cuttings are weighed in air: to a coral followed in water they add the share that is skeleton. What broke off counts
    where it is written as a cutting of the day. `CannotTell` with fewer than two weighings, or where something that
    was cut or broke off in between was not weighed.
    """
    of_kind = [weight for weight in weighed if weight.kind == kind]
    if len(of_kind) < 2:
        return CannotTell("weighed-once", "weigh-again", inputs=tuple(s for w in of_kind for s in w.inputs))
    first, last = of_kind[0], of_kind[-1]
    cut = [cutting for cutting in coral.cuttings if first.at < cutting.at <= last.at]
    masses = [cutting.mass for cutting in cut if cutting.mass is not None]
    if len(masses) < len(cut):
        unweighed = tuple(cutting.source for cutting in cut if cutting.mass is None)
        return CannotTell("cutting-not-weighed", "weigh-cuttings", (("cuttings", f"{len(unweighed)}"),), unweighed)
    weighed_on = {cutting.at for cutting in cut}
    broken = [each for each in coral.breakages if first.at < each.at <= last.at]
    if lost := tuple(each.source for each in broken if each.at not in weighed_on):
        return CannotTell("breakage-not-weighed", "weigh-what-broke-off", inputs=lost)
    share = _SKELETON_SHARE if kind == "skeleton" else Measured(1.0)
    removed = sum(mass.canonical() for mass in masses)
    gained = last.grams - first.grams + removed * share.value
    scales = hypot(first.scale, last.scale)
    repeats = hypot(first.repeats or 0.0, last.repeats or 0.0)
    written = hypot(removed * share.standard, *(written_error(mass) * share.value for mass in masses))
    # Densities are the same at both ends: they scale what was gained, they do not add to each end.
    of_densities = hypot(*(part.standard for part in last.parts if part.cause not in _NOT_SHARED))
    shared = of_densities / last.grams * abs(gained)
    parts = [("scale", scales), ("repeats", repeats), ("cuttings", written), ("densities", shared)]
    return Finding(
        Estimate.normal(gained, hypot(scales, repeats, written, shared), "g"),
        "grown-mass",
        (*first.inputs, *(cutting.source for cutting in cut), *last.inputs),
        uncertainty_parts(parts),
    )


def written_error(quantity: Quantity) -> float:
    """Standard uncertainty of a value by the last digit written, in the canonical unit."""
    return resolution_error(Quantity(10.0**-quantity.digits, quantity.unit, quantity.kind))


# Standard uncertainties of a reading (psu, °C), and of water that nobody read; common practice, no source.
SALINITY_READ, TEMPERATURE_READ = 0.5, 0.3
SALINITY_ASSUMED, TEMPERATURE_ASSUMED = 2.0, 2.0
# A reef's salinity and temperature are steady enough to stand for this long; common practice, no source.
STANDS_FOR = timedelta(days=30)


class WeighingWater(Struct, frozen=True):
    """The water a coral was weighed in: practical salinity and temperature (°C), and the lines they come from."""

    salinity: Measured
    temperature: Measured
    inputs: tuple[Source, ...] = ()


# From pure to the saltiest cold seawater; from below calcite to above aragonite, the skeletons the method was tried on.
_HOLDS_FOR = "weighing in water"
_WATER = ValidRange("density of water", "g/cm³", 0.99, 1.04, _HOLDS_FOR)
_SKELETON = ValidRange("density of a skeleton", "g/cm³", 2.5, 3.0, _HOLDS_FOR)


def skeleton_from_buoyant(buoyant: float, water: float, skeleton: float) -> float:
    """Dry mass (g) of a skeleton from its buoyant mass (g) and the densities (g/cm³) of water and skeleton.

    Source: Jokiel, Maragos & Franzisket 1978; Spencer Davies 1989, Mar. Biol. 101:389-395. Raises `OutsideRange` for
    densities outside those of water and of coral skeletons.
    """
    _WATER.check(water)
    _SKELETON.check(skeleton)
    return buoyant / (1.0 - water / skeleton)


def skeleton_density(species: str) -> Measured | None:
    """Density (g/cm³) of the material of a species' skeleton; None for corals that have no solid one.

    The published range counts as rectangular about the value. A genus that nobody measured takes the
    value of the published method, and the range of all that were.
    """
    genus = genus_of(species)
    if genus is None:
        return _measured(CORAL_SKELETON_DENSITY)
    if genus.skeleton == "none":
        return None
    if genus.skeleton == "calcite":
        return Measured(CALCITE_DENSITY.value, _measured(CORAL_SKELETON_DENSITY).standard)
    return _measured(ACROPORA_SKELETON_DENSITY if genus.name == "Acropora" else CORAL_SKELETON_DENSITY)


def _measured(constant: Constant) -> Measured:
    low, high = constant.ends
    return Measured(constant.value, max(high - constant.value, constant.value - low) / 3.0**0.5)


def weighing_water(weighing: Weighing, log: SystemLog | None) -> WeighingWater:
    """The water of a weighing: as written with it, else by the log's last readings, else the usual."""
    logged = _last_read(log, weighing.at) if log else {}
    salinity = weighing.salinity and Measured(canonical_value(weighing.salinity), SALINITY_READ)
    temperature = weighing.temperature and Measured(canonical_value(weighing.temperature), TEMPERATURE_READ)
    inputs = []
    if salinity is None and "salinity" in logged:
        salinity = Measured(logged["salinity"][0], SALINITY_READ)
        inputs.append(logged["salinity"][1])
    if temperature is None and "temperature" in logged:
        temperature = Measured(logged["temperature"][0], TEMPERATURE_READ)
        inputs.append(logged["temperature"][1])
    return WeighingWater(
        salinity or Measured(STANDARD_SALINITY.value, SALINITY_ASSUMED),
        temperature or Measured(STANDARD_TEMPERATURE.value, TEMPERATURE_ASSUMED),
        tuple(inputs),
    )


def logs_of_weighings(coral: Coral, read_about: Callable[[str, date, date], Iterable[Reading]]) -> dict[str, SystemLog]:
    """The part of the logs, by system, that a coral's weighings in water need: a few readings, or nothing.

    `read_about` gives a system's readings from one day to another, and possibly some of the days beside them.
    """
    found: dict[str, dict[Source, Reading]] = {}
    for weighing in coral.weighings:
        stood = coral.placement_on(weighing.at) if weighing.in_water else None
        if stood:
            about = read_about(stood.system, weighing.at - STANDS_FOR, weighing.at)
            found.setdefault(stood.system, {}).update((each.source, each) for each in _before(about, weighing.at))
    return {
        system: SystemLog(system, readings=tuple(sorted(read.values(), key=lambda reading: reading.at)))
        for system, read in found.items()
        if read
    }


def _before(readings: Iterable[Reading], day: date) -> Iterator[Reading]:
    return (
        reading
        for reading in readings
        if reading.kind in ("salinity", "temperature") and day - STANDS_FOR <= reading.at.date() <= day
    )


def _last_read(log: SystemLog, day: date) -> dict[str, tuple[float, Source]]:
    return {
        reading.kind: (canonical_value(reading.value), reading.source)
        for reading in _before(log.readings_about(day - STANDS_FOR, day), day)
    }


def skeleton_mass(buoyant: Measured, water: WeighingWater, skeleton: Measured) -> tuple[float, dict[str, float]]:
    """Dry skeleton (g) of a buoyant mass (g), and the standard uncertainty that each input gives it.

    Source: as `skeleton_from_buoyant`; density of seawater by TEOS-10; JCGM 100:2008, 5.1.
    """

    def dry(scale: float, salinity: float, temperature: float, skeleton: float) -> float:
        return skeleton_from_buoyant(scale, _density(salinity, temperature), skeleton)

    inputs = {"scale": buoyant, "salinity": water.salinity, "temperature": water.temperature, "skeleton": skeleton}
    return dry(**{name: measured.value for name, measured in inputs.items()}), contributions(dry, inputs)


@lru_cache(maxsize=4096)
def _density(salinity: float, temperature: float) -> float:
    """Density of seawater (g/cm³); corals are weighed in the same few waters again and again."""
    return float(density(salinity, temperature))
