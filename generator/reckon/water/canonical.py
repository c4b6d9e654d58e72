"""Every reading's value in the one unit its kind is calculated in: meq/L, mg/L, psu, °C, NBS.

Units per kilogram of seawater need its density, and the total pH scale its composition; both come
from the salinity and temperature last read before, if that is not too long ago.
"""

from bisect import bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TypeVar

from msgspec import Struct

from generator.nature.constants import STANDARD_SALINITY, STANDARD_TEMPERATURE
from generator.records.log import Reading
from generator.records.system import System
from generator.units.kinds import KINDS, Unit
from generator.units.quantity import Canonical, InUnit, Quantity, bounds, convert, per_day

# A reef's salinity and temperature are steady enough to stand for this long; common practice, no source.
STANDS_FOR = timedelta(days=30)

# The kinds that can be below what a kit can see; the others never come near zero.
_SEEN_FROM_A_BOUND = frozenset(set(KINDS) - {"salinity", "temperature", "ph"})


class Conditions(Struct, frozen=True):
    """Practical salinity and temperature (°C) of a water."""

    salinity: float = STANDARD_SALINITY.value
    temperature: float = STANDARD_TEMPERATURE.value


STANDARD_CONDITIONS = Conditions()

_Learned = TypeVar("_Learned", bound=float | None)


def canonical_values(readings: Sequence[Reading]) -> list[float]:
    """Each reading's value in its kind's canonical unit, in the order given.

    A reading takes the conditions of the salinity and the temperature read last before it (or with
    it) among `readings`, within `STANDS_FOR`; else S = 35 and 25 °C.
    """
    salinities = _steps(readings, "salinity")
    temperatures = _steps(readings, "temperature")
    found = []
    for reading in readings:
        conditions = STANDARD_CONDITIONS
        if _depends_on_conditions(_unit(reading.value)):
            conditions = Conditions(
                _standing(salinities, reading.at, STANDARD_CONDITIONS.salinity),
                _standing(temperatures, reading.at, STANDARD_CONDITIONS.temperature),
            )
        found.append(canonical_value(reading.value, conditions))
    return found


def band(system: System, kind: str) -> tuple[Canonical | None, Canonical | None]:
    """The two ends of a kind's band in the canonical unit; None: no such end."""
    low, high = system.low.of(kind), system.high.of(kind)
    return (canonical_value(low) if low else None, canonical_value(high) if high else None)


def canonical_value(quantity: Quantity, conditions: Conditions = STANDARD_CONDITIONS) -> Canonical:
    """A quantity of any of the water's kinds in its kind's canonical unit.

    A value below what the kit can see (``<0.02 mg/L``) counts as half the bound, the middle of what it
    can be; `bound_uncertainty` is how unsure that is. Common practice; for its limits see
    Helsel 2006, Chemosphere 65:2434-2439 (from memory).
    """
    value = _written_in_canonical(quantity, conditions)
    return value / 2.0 if _is_bound(quantity) else value


def in_unit(kind: str, canonical: Canonical, unit: str) -> InUnit:
    """A value given in the canonical unit, in any unit of its kind: the inverse of `canonical_value`.

    By bisection where no factor converts it, within the bounds of what is possible in a living reef.
    """
    named = KINDS[kind].unit(unit)
    if named is None or not named.form:
        return convert(canonical, kind, KINDS[kind].canonical, unit)
    low, high = bounds(kind, unit)
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if canonical_value(Quantity(middle, unit, kind)) < canonical else (low, middle)
    return (low + high) / 2.0


def bound_uncertainty(quantity: Quantity) -> float:
    """Standard uncertainty of a value written as a bound, in the canonical unit; 0 for any other.

    The value can be anywhere from nothing to the bound.
    Source: rectangular distribution, JCGM 100:2008 (GUM), 4.3.7.
    """
    return _written_in_canonical(quantity, STANDARD_CONDITIONS) / 12.0**0.5 if _is_bound(quantity) else 0.0


def canonical_precision(precision: Quantity, conditions: Conditions = STANDARD_CONDITIONS) -> Canonical:
    """A difference (a kit's precision, a step of its scale) in the kind's canonical unit."""
    unit = _unit(precision)
    if precision.kind == "salinity" and unit.form:
        from generator.reckon.water.seawater import salinity_uncertainty

        return salinity_uncertainty(precision, conditions.salinity)
    if unit.form:
        # The scales of pH lie a constant apart, so a difference is the same on each.
        return precision.value
    canonical = KINDS[precision.kind].canonical
    return per_day(precision.value, precision.kind, precision.unit, canonical, _density(unit, conditions))


def resolution(quantity: Quantity, conditions: Conditions = STANDARD_CONDITIONS) -> float:
    """The step to which a value was written, in the canonical unit: one unit of its last digit, or its whole bound."""
    step = quantity.value if _is_bound(quantity) else 10.0**-quantity.digits
    return canonical_precision(Quantity(step, quantity.unit, quantity.kind), conditions)


def canonical_errors(system: System, readings: Sequence[Reading]) -> list[float] | None:
    """Each reading's standard uncertainty by its kit's declared precision, in the canonical unit.

    A value written as a bound adds `bound_uncertainty`. None if any reading's kit declares no precision
    for its kind: then the readings themselves must tell.
    """
    found = []
    for reading in readings:
        kit = system.kits.get(reading.kit) if reading.kit else None
        precision = kit.precision.of(reading.kind) if kit else None
        if precision is None:
            return None
        of_bound = bound_uncertainty(reading.value)
        found.append((canonical_precision(precision) ** 2 + of_bound**2) ** 0.5)
    return found


def kit_error(system: System, reading: Reading, learned: _Learned) -> Canonical | _Learned:
    """Standard deviation (canonical unit) of a reading's kit: as declared, else as learned from its readings."""
    declared = canonical_errors(system, [reading])
    return float(declared[0]) if declared else learned


def _unit(quantity: Quantity) -> Unit:
    unit = KINDS[quantity.kind].unit(quantity.unit)
    if unit is None:
        raise ValueError(f"{quantity.kind} has no unit {quantity.unit!r}")
    return unit


def _depends_on_conditions(unit: Unit) -> bool:
    return unit.per_kg or unit.form == "pH scale"


def _is_bound(quantity: Quantity) -> bool:
    return quantity.below and quantity.kind in _SEEN_FROM_A_BOUND


def _written_in_canonical(quantity: Quantity, conditions: Conditions) -> float:
    unit = _unit(quantity)
    if quantity.kind == "salinity" and unit.form:
        from generator.reckon.water.seawater import practical_salinity

        return practical_salinity(quantity)
    if unit.form == "pH scale":
        from generator.reckon.water.carbonate import ph_nbs_from_total

        return float(ph_nbs_from_total(quantity.value, conditions.salinity, conditions.temperature))
    return quantity.canonical(_density(unit, conditions))


def _density(unit: Unit, conditions: Conditions) -> float:
    if not unit.per_kg:
        return 1.0
    from generator.reckon.water.seawater import density

    return float(density(conditions.salinity, conditions.temperature))


def _steps(readings: Sequence[Reading], kind: str) -> tuple[list[datetime], list[float]]:
    of_kind = sorted((reading for reading in readings if reading.kind == kind), key=lambda reading: reading.at)
    return [reading.at for reading in of_kind], [canonical_value(reading.value) for reading in of_kind]


def _standing(steps: tuple[list[datetime], list[float]], at: datetime, otherwise: float) -> float:
    times, values = steps
    last = bisect_right(times, at) - 1
    return values[last] if last >= 0 and at - times[last] <= STANDS_FOR else otherwise
