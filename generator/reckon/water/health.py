"""The water's health: what readings say together that none says alone.

Aragonite saturation, the salts freed of salinity, nitrogen against phosphorus, the swing of temperature.
"""

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from math import sqrt
from types import MappingProxyType

from msgspec import Struct

from generator.door.door import grouped
from generator.nature.constants import STANDARD_SALINITY, STANDARD_TEMPERATURE
from generator.reckon.estimate.uncertainty import Measured
from generator.reckon.finding import Answer, CannotTell, Finding, UncertaintyPart
from generator.reckon.water.canonical import (
    STANDS_FOR,
    bound_uncertainty,
    canonical_errors,
    canonical_value,
    resolution,
)
from generator.reckon.water.carbonate import aragonite_saturation
from generator.reckon.water.seawater import SaltBalance, salt_balance
from generator.records.log import Reading
from generator.records.source import Source
from generator.records.system import System
from generator.units.compounds import molar_mass
from generator.units.quantity import Canonical, Estimate, coverage_factor

# pH moves within hours and alkalinity within days, so the two count as one water when read within a day;
# nutrients move slowly. Common practice, no source.
TOGETHER = timedelta(days=1)
NUTRIENTS_TOGETHER = timedelta(days=7)
CALCIUM_STANDS_FOR = timedelta(days=14)
WEEK = timedelta(days=7)
# Where salinity or temperature was not read, the standard's, give or take what reefs are kept at.
UNREAD_SALINITY = Measured(STANDARD_SALINITY.value, 1.0)
UNREAD_TEMPERATURE = Measured(STANDARD_TEMPERATURE.value, 1.0)

NONE_LEARNED: Mapping[str, Canonical] = MappingProxyType({})

_Z = coverage_factor()


class Nutrients(Struct, frozen=True):
    """Nitrate and phosphate read about together, in µmol/L, and nitrogen per phosphorus in mol/mol.

    Where one of them is below what the kit can see, there is no `ratio`, but it is `at_least` or `at_most`
    so much. Their changes are among the water's trends.
    """

    nitrate: Answer
    phosphate: Answer
    ratio: Answer
    at_least: float | None = None
    at_most: float | None = None


class TemperatureSwing(Struct, frozen=True):
    """How far temperature went up and down in the last week, °C: within any 24 hours, and in all.

    `band` is the width of the band it should stay in; None without one.
    """

    day: Answer
    week: Answer
    band: float | None


class WaterHealth(Struct, frozen=True):
    """What the readings say of the water together that none says alone."""

    saturation: Answer
    salts: SaltBalance
    nutrients: Nutrients
    temperature: TemperatureSwing


class Read(Struct, frozen=True):
    """One reading as a measurement: its value and standard uncertainty in the canonical unit."""

    reading: Reading
    measured: Measured

    @property
    def at(self) -> datetime:
        """When it was read."""
        return self.reading.at

    @property
    def source(self) -> Source:
        """The line it stands on."""
        return self.reading.source


def water_health(
    system: System,
    readings: Sequence[Reading],
    values: Sequence[float],
    as_of: datetime,
    learned: Mapping[str, Canonical] = NONE_LEARNED,
) -> WaterHealth:
    """Saturation, salts, nutrients and temperature of a water up to a moment.

    `readings` in order of time with their canonical `values` beside; leave out those that are doubtful. `learned` is
    how far the readings of a kind stray whose kit declares nothing (one standard deviation).
    """
    by_kind = grouped(
        (reading.kind, Read(reading, measured_with_error(system, reading, value, learned.get(reading.kind, 0.0))))
        for reading, value in zip(readings, values, strict=True)
        if reading.at <= as_of
    )
    return WaterHealth(
        _saturation(by_kind, as_of),
        salt_balance(
            {kind: [(read.reading, read.measured) for read in of_kind] for kind, of_kind in by_kind.items()}, as_of
        ),
        _nutrients(by_kind, as_of),
        _temperature(system, by_kind.get("temperature", []), as_of),
    )


def measured_with_error(system: System, reading: Reading, value: float, learned: Canonical = 0.0) -> Measured:
    """A reading's canonical value with its kit's declared precision.

    Where none is declared, by how far such readings were `learned` to stray, and a step of the last digit at least.
    """
    errors = canonical_errors(system, [reading])
    written = max(resolution(reading.value), bound_uncertainty(reading.value))
    return Measured(value, errors[0] if errors else max(learned, written))


def _nearest(found: Sequence[Read], at: datetime, within: timedelta) -> Read | None:
    near = [read for read in found if abs(read.at - at) <= within]
    return min(near, key=lambda read: (abs(read.at - at), at - read.at), default=None)


def _pair(
    by_kind: Mapping[str, Sequence[Read]], one: str, other: str, together: timedelta, as_of: datetime
) -> tuple[Read, Read] | None:
    """The newest reading of one kind that has a reading of the other beside it, and that one."""
    for read in reversed(by_kind.get(one, [])):
        if read.at < as_of - STANDS_FOR:
            return None
        if beside := _nearest(by_kind.get(other, []), read.at, together):
            return read, beside
    return None


def _saturation(by_kind: Mapping[str, Sequence[Read]], as_of: datetime) -> Answer:
    pair = _pair(by_kind, "ph", "alkalinity", TOGETHER, as_of)
    if pair is None:
        return CannotTell("ph-not-with-alkalinity", "read-ph-with-alkalinity")
    ph, alkalinity = pair
    salinity = _nearest(by_kind.get("salinity", []), ph.at, STANDS_FOR)
    temperature = _nearest(by_kind.get("temperature", []), ph.at, STANDS_FOR)
    calcium = _nearest(by_kind.get("calcium", []), ph.at, CALCIUM_STANDS_FOR)
    return aragonite_saturation(
        alkalinity.measured,
        ph.measured,
        salinity.measured if salinity else UNREAD_SALINITY,
        temperature.measured if temperature else UNREAD_TEMPERATURE,
        calcium.measured if calcium else None,
        tuple(read.source for read in (ph, alkalinity, salinity, temperature, calcium) if read),
    )


def _nutrients(by_kind: Mapping[str, Sequence[Read]], as_of: datetime) -> Nutrients:
    pair = _pair(by_kind, "phosphate", "nitrate", NUTRIENTS_TOGETHER, as_of)
    if pair is None:
        unknown = CannotTell("nutrients-not-together", "read-nitrate-with-phosphate")
        return Nutrients(unknown, unknown, unknown)
    phosphate, nitrate = pair
    n, p = _micromoles(nitrate, "NO3"), _micromoles(phosphate, "PO4")
    inputs = (nitrate.source, phosphate.source)
    of_n, of_p = _level(n, "nitrate", inputs[:1]), _level(p, "phosphate", inputs[1:])
    least, most = max(n.value - _Z * n.standard, 0.0), n.value + _Z * n.standard
    if nitrate.reading.value.below:
        least, most = 0.0, 2.0 * n.value
    seen = p.value - _Z * p.standard > 0.0 and not phosphate.reading.value.below
    if not seen:
        bound = 2.0 * p.value if phosphate.reading.value.below else p.value + _Z * p.standard
        unseen = CannotTell("phosphate-unseen", "read-phosphate-finer", inputs=inputs)
        return Nutrients(of_n, of_p, unseen, at_least=least / bound if bound else None)
    if nitrate.reading.value.below:
        unseen = CannotTell("nitrate-unseen", "read-nitrate-finer", inputs=inputs)
        return Nutrients(of_n, of_p, unseen, at_most=most / (p.value - _Z * p.standard))
    return Nutrients(of_n, of_p, ratio(n, p, inputs))


def ratio(nitrate: Measured, phosphate: Measured, inputs: tuple[Source, ...]) -> Finding:
    """Nitrogen per phosphorus, mol/mol, with the 90 % interval of a quotient; never below nought.

    Both in µmol/L, phosphate more than its own interval above nought: else the interval has no end.
    Source: Fieller 1954, J. R. Stat. Soc. B 16:175-185.
    """
    value = nitrate.value / phosphate.value
    g = (_Z * phosphate.standard / phosphate.value) ** 2
    of_nitrate, of_phosphate = nitrate.standard / phosphate.value, value * phosphate.standard / phosphate.value
    half = _Z * sqrt(of_nitrate**2 * (1.0 - g) + of_phosphate**2)
    return Finding(
        Estimate(value, max((value - half) / (1.0 - g), 0.0), (value + half) / (1.0 - g), "mol/mol"),
        "nutrient-ratio",
        inputs,
        (UncertaintyPart("nitrate", of_nitrate), UncertaintyPart("phosphate", of_phosphate)),
    )


def _micromoles(read: Read, formula: str) -> Measured:
    factor = 1e3 / molar_mass(formula)
    return Measured(read.measured.value * factor, read.measured.standard * factor)


def _level(found: Measured, cause: str, inputs: tuple[Source, ...]) -> Finding:
    estimate = Estimate.normal(found.value, found.standard, "µmol/L", least=0.0)
    return Finding(estimate, "nutrient-ratio", inputs, (UncertaintyPart(cause, found.standard),))


def _temperature(system: System, found: Sequence[Read], as_of: datetime) -> TemperatureSwing:
    low, high = system.low.temperature, system.high.temperature
    band = canonical_value(high) - canonical_value(low) if low and high else None
    week = [read for read in found if read.at >= as_of - WEEK]
    # The widest swing within any 24 hours, whatever the clock says: of the stretches that begin with a reading.
    stretches = [
        [read for read in week[first:] if read.at <= week[first].at + timedelta(days=1)] for first in range(len(week))
    ]
    day = max(stretches, key=_spread, default=[])
    return TemperatureSwing(_swing(day), _swing(week), band)


def _spread(found: Sequence[Read]) -> float:
    values = [read.measured.value for read in found]
    return max(values) - min(values)


def _swing(found: Sequence[Read]) -> Answer:
    if len(found) < 2:
        return CannotTell("temperature-read-too-seldom", "read-temperature-twice-a-day")
    warm = max(found, key=lambda read: read.measured.value)
    cold = min(found, key=lambda read: read.measured.value)
    standard = sqrt(warm.measured.standard**2 + cold.measured.standard**2)
    value = warm.measured.value - cold.measured.value
    return Finding(
        Estimate.normal(value, standard, "°C", least=0.0),
        "temperature-swing",
        (cold.source, warm.source),
        (UncertaintyPart("kit", standard),),
    )
