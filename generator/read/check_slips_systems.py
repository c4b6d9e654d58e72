"""Slips in a system's file: its water, its tanks, solutions, kits, hours of light, evaporation."""

from collections.abc import Iterator

from generator.read.draft import Draft
from generator.read.plausible import EVAPORATES, MOST_DISSOLVED, likely, shown, warn, within
from generator.records.source import Problem
from generator.records.system import Part, System
from generator.units.kinds import WATER_KINDS
from generator.units.quantity import Quantity, per_day

# Shares: the least of the tanks' volume that is water, and the uncertainties of it that can be meant; common
# practice, no source.
_LEAST_WATER, _UNCERTAIN = 0.3, (0.001, 0.4)
# A photoperiod shorter than this is a slip; common practice, no source.
_SHORTEST_DAY = 3.0  # hours
# The strongest concentrates sold or mixed, a litre: common practice, no source.
_STRONGEST = {"alkalinity": 6000.0, "calcium": 300_000.0, "magnesium": 150_000.0}


def _box(part: Part) -> float | None:
    """What a tank's sides hold, L."""
    if not (part.length and part.width and part.height):
        return None
    return part.length.canonical() * part.width.canonical() * part.height.canonical() / 1000.0


def volumes_of_other_tanks(draft: Draft) -> Iterator[Problem]:
    """A tank whose volume and sides do not agree, or water far from what the tanks hold."""
    for system in draft.systems.values():
        for part in system.parts:
            box = _box(part)
            if part.volume and box and not (fits := within(0.3 * box, 1.15 * box))(part.volume):
                wrong = f"'{part.name}' has {part.volume}, but its sides make {shown(box, part.volume)}"
                cure = likely(part.volume, fits, box, otherwise="correct its volume or its sides")
                yield warn(draft.at(part.source, "volume"), "unusual-volume", wrong, cure)
        held = [part.volume.canonical() if part.volume else _box(part) for part in system.parts]
        known = [litres for litres in held if litres]
        if not known or len(known) < len(held):
            continue
        water, whole = system.water.volume, sum(known)
        measured = all(part.volume for part in system.parts)
        if 0.0 < water.canonical() < _LEAST_WATER * whole or (water.canonical() > 1.15 * whole and not measured):
            wrong = f"a water volume of {water} does not go with tanks of {shown(whole, water)}"
            cure = likely(water, within(0.5 * whole, whole), otherwise="correct the water or the tanks")
            yield warn(draft.at(system.water.source, "volume"), "unusual-volume", wrong, cure)


def unusual_uncertainties(draft: Draft) -> Iterator[Problem]:
    """A volume known better than a bucket can measure, or hardly at all."""
    for system in draft.systems.values():
        volume, spread = system.water.volume.canonical(), system.water.uncertainty.canonical()
        low, high = (share * volume for share in _UNCERTAIN)
        if 0.0 < spread < low or high < spread < volume:
            much = "smaller than anyone can measure" if spread < low else "almost the volume itself"
            wrong = f"an uncertainty of {system.water.uncertainty} in {system.water.volume} is {much}"
            cure = likely(system.water.uncertainty, within(low, high))
            yield warn(draft.at(system.water.source, "uncertainty"), "unusual-volume", wrong, cure)


def solutions_that_cannot_dissolve(draft: Draft) -> Iterator[Problem]:
    """More of a compound in a litre than dissolves, or a declared strength beyond any concentrate."""
    for system in draft.systems.values():
        for solution in system.solutions.values():
            most = MOST_DISSOLVED.get(solution.compound or "")
            if most and solution.strength and solution.strength.canonical() > most:
                wrong = f"{solution.strength} of {solution.compound} do not dissolve; at 20 °C a litre holds {most:g} g"
                cure = likely(solution.strength, within(0.0, most))
                yield warn(draft.at(solution.source, "strength"), "unusual-strength", wrong, cure)
            for kind, limit in _STRONGEST.items() if solution.declared else ():
                value = solution.declared.of(kind) if solution.declared else None
                if value and solution.declared and value.canonical() > limit:
                    wrong = f"no solution has {kind} of {value}"
                    cure = likely(value, within(0.0, limit))
                    yield warn(draft.at(solution.declared.source, kind), "unusual-strength", wrong, cure)


def stocks_of_another_system(draft: Draft) -> Iterator[Problem]:
    """A container of solution larger than the whole system."""
    for system in draft.systems.values():
        water = system.water.volume.canonical()
        for id, solution in system.solutions.items():
            if solution.stock and solution.stock.canonical() > 2.0 * water > 0.0:
                wrong = f"the container of '{id}', {solution.stock}, holds more than the system, {system.water.volume}"
                cure = likely(solution.stock, within(0.0, 2.0 * water))
                yield warn(draft.at(solution.source, "stock"), "unusual-volume", wrong, cure)


def unusual_days(draft: Draft) -> Iterator[Problem]:
    """Hours of light or an evaporation that no tank has."""
    for system in draft.systems.values():
        hours, rate, water = system.photoperiod, system.evaporation, system.water.volume.canonical()
        if hours and 0.0 < hours.canonical() < _SHORTEST_DAY:
            wrong = f"{hours} of light is hardly a day"
            cure = likely(hours, within(_SHORTEST_DAY, 24.0))
            yield warn(draft.at(system.source, "photoperiod"), "unusual-light", wrong, cure)
        low, high = (share * water for share in EVAPORATES)
        if rate and rate.value and water and not (fits := within(low, high))(rate):
            wrong = f"an evaporation of {rate} is not usual for {system.water.volume}"
            cure = likely(rate, fits)
            yield warn(draft.at(system.source, "evaporation"), "unusual-evaporation", wrong, cure)


def kits_coarser_than_the_band(draft: Draft) -> Iterator[Problem]:
    """A kit whose error is wider than the whole band it is to watch."""
    for system in draft.systems.values():
        for kit in system.kits.values():
            for kind in WATER_KINDS:
                precision, band = kit.precision.of(kind), _band(system, kind)
                if precision is None or band is None or not precision.has_factor:
                    continue
                error = per_day(precision.value, kind, precision.unit, band.unit)
                if error > band.value:
                    wrong = f"a precision of {precision} is coarser than the whole band of {kind}"
                    cure = likely(precision, lambda meant, band=band: _fine(meant, band))  # type: ignore[misc]
                    yield warn(draft.at(kit.precision.source, kind), "unusual-precision", wrong, cure)


def _band(system: System, kind: str) -> Quantity | None:
    """The width of a band, in its low end's unit."""
    low, high = system.low.of(kind), system.high.of(kind)
    if low is None or high is None or not low.has_factor or not high.has_factor:
        return None
    return Quantity(high.to(low.unit) - low.value, low.unit, kind, low.digits)


def _fine(meant: Quantity, band: Quantity) -> bool:
    error = per_day(meant.value, meant.kind, meant.unit, band.unit)
    return 0.01 * band.value < error < 0.4 * band.value
