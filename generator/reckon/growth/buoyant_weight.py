"""The dry skeleton of a coral weighed in water."""

from dataclasses import dataclass
from datetime import date, timedelta

from generator.nature.constants import (
    ACROPORA_SKELETON_DENSITY,
    CALCITE_DENSITY,
    CORAL_SKELETON_DENSITY,
    STANDARD_SALINITY,
    STANDARD_TEMPERATURE,
    Constant,
)
from generator.nature.genera import genus_of
from generator.reckon.estimate.propagate import Measured, contributions
from generator.reckon.water.canonical import canonical_value
from generator.reckon.water.seawater import density
from generator.records.coral import Weighing
from generator.records.log import SystemLog
from generator.records.source import Source

# Standard uncertainties of a reading (psu, °C), and of water that nobody read; common practice, no source.
SALINITY_READ, TEMPERATURE_READ = 0.5, 0.3
SALINITY_ASSUMED, TEMPERATURE_ASSUMED = 2.0, 2.0
# A reef's salinity and temperature are steady enough to stand for this long; common practice, no source.
STANDS_FOR = timedelta(days=30)


@dataclass(frozen=True, slots=True)
class WeighingWater:
    """The water a coral was weighed in: practical salinity and temperature (°C), and the lines they come from."""

    salinity: Measured
    temperature: Measured
    inputs: tuple[Source, ...] = ()


def skeleton_from_buoyant(buoyant: float, water: float, skeleton: float) -> float:
    """Dry mass (g) of a skeleton from its buoyant mass (g) and the densities (g/cm³) of water and skeleton.

    Source: Jokiel, Maragos & Franzisket 1978; Spencer Davies 1989, Mar. Biol. 101:389-395.
    """
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
    low, high = constant.low or constant.value, constant.high or constant.value
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


def _last_read(log: SystemLog, day: date) -> dict[str, tuple[float, Source]]:
    found = {}
    for reading in log.readings:
        if reading.kind in ("salinity", "temperature") and day - STANDS_FOR <= reading.at.date() <= day:
            found[reading.kind] = (canonical_value(reading.value), reading.source)
    return found


def skeleton_mass(buoyant: Measured, water: WeighingWater, skeleton: Measured) -> tuple[float, dict[str, float]]:
    """Dry skeleton (g) of a buoyant mass (g), and the standard uncertainty that each input gives it.

    Source: as `skeleton_from_buoyant`; density of seawater by TEOS-10; JCGM 100:2008, 5.1.
    """

    def dry(scale: float, salinity: float, temperature: float, skeleton: float) -> float:
        return skeleton_from_buoyant(scale, float(density(salinity, temperature)), skeleton)

    inputs = {
        "scale": buoyant,
        "salinity": water.salinity,
        "temperature": water.temperature,
        "skeleton": skeleton,
    }
    return dry(**{name: measured.value for name, measured in inputs.items()}), contributions(dry, inputs)
