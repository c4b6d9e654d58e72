"""Slips in masses: of a colony for its size, between its weighings, of its holder and its frags."""

from collections.abc import Iterator
from datetime import date
from statistics import median

from generator.read.check_slips_corals import out_of_shape
from generator.read.draft import Draft
from generator.read.plausible import (
    FLATTEST,
    FLATTEST_OTHERWISE,
    LEAST_DENSE,
    MOST_DENSE,
    implausible,
    impossible_water,
    likely,
    shown,
    times,
    warn,
    within,
)
from generator.records.coral import Coral, Form, Size, Weighing
from generator.records.planned import Newcomer
from generator.records.problem import Problem
from generator.units.quantity import Quantity

# A mass this many times the usual one is a slip; common practice, no source.
_JUMP = 5.0


def _box(size: Size | Newcomer, form: Form) -> tuple[float, float]:
    """The smallest and largest box (cm³) around a colony, by the sides that were measured."""
    length = size.length.canonical()
    width = size.width.canonical() if size.width else 0.0
    height = size.height.canonical() if size.height else 0.0
    longest = max(length, width)
    low = length * (width or length / 5.0) * (height or longest * FLATTEST.get(form, FLATTEST_OTHERWISE))
    return low, length * (width or length) * (height or longest * 2.0)


def _of_its_size(mass: Quantity, size: Size | Newcomer, form: Form) -> tuple[str, str] | None:
    smallest, largest = _box(size, form)
    low, high = smallest * LEAST_DENSE, largest * MOST_DENSE
    if low <= mass.canonical() <= high:
        return None
    sides = " x ".join(str(side) for side in (size.length, size.width, size.height) if side)
    bound = f"at least {shown(low, mass)}" if mass.canonical() < low else f"at most {shown(high, mass)}"
    wrong = f"a mass of {mass} cannot be that of a colony of {sides}, which weighs {bound}"
    return wrong, likely(mass, within(low * 2.0, high / 2.0))


def masses_of_another_size(draft: Draft) -> Iterator[Problem]:
    """A mass that no colony of its size has: grams for kilograms, or a digit too many."""
    for colony in draft.newcomers():
        shaped = not any(out_of_shape(colony, key) for key in ("length", "width", "height") if getattr(colony, key))
        heavy = colony.mass if colony.mass and colony.mass.value and shaped else None
        if heavy and (found := _of_its_size(heavy, colony, colony.form)):
            yield warn(draft.at(colony.source, "mass"), "unusual-mass", *found)
    for coral in draft.corals.values():
        for weighing in coral.weighings:
            size = min(coral.sizes, key=lambda s: abs((s.at - weighing.at).days), default=None)
            alone = _alone(weighing)
            if size is None or abs((size.at - weighing.at).days) > 120 or alone is None or weighing.in_water:
                continue
            found = _of_its_size(alone, size, coral.form)
            if found:
                yield warn(draft.at(weighing.source, "mass"), "unusual-mass", *found, size.source)


def _alone(weighing: Weighing) -> Quantity | None:
    """The mass without the holder, in the unit of the weighing; None if nothing is left."""
    if weighing.holder is None:
        return weighing.mass
    rest = weighing.mass.value - weighing.holder.to(weighing.mass.unit)
    return Quantity(rest, weighing.mass.unit, "mass", weighing.mass.digits) if rest > 0.0 else None


def masses_that_jump(draft: Draft) -> Iterator[Problem]:
    """A mass, or a holder, many times that of the other weighings of the coral in the same way."""
    for coral in draft.corals.values():
        for in_water in (False, True):
            weighed = sorted((w for w in coral.weighings if w.in_water is in_water), key=lambda w: w.at)
            for key in ("mass", "holder"):
                of_key = [each for each in weighed if getattr(each, key) and getattr(each, key).value]
                yield from _jumps(draft, of_key, key)
        yield from _heavier_in_water(draft, coral)


def _jumps(draft: Draft, weighed: list[Weighing], key: str) -> Iterator[Problem]:
    values = [getattr(weighing, key).canonical() for weighing in weighed]
    for index, weighing in enumerate(weighed):
        others = values[max(0, index - 2) : index] + values[index + 1 : index + 3]
        if len(others) < 2 or (max(others) * _JUMP > values[index] and min(others) < values[index] * _JUMP):
            continue
        middle = median(others)
        written: Quantity = getattr(weighing, key)
        if values[index] >= middle * _JUMP or values[index] * _JUMP <= middle:
            wrong = f"a {key} of {written} is {times(values[index], middle)} the usual {shown(middle, written)}"
            cure = likely(written, within(middle / 2.0, middle * 2.0))
            yield warn(draft.at(weighing.source, key), "unusual-mass", wrong, cure)


def _heavier_in_water(draft: Draft, coral: Coral) -> Iterator[Problem]:
    air = [(w, a.canonical()) for w in coral.weighings if not w.in_water and (a := _alone(w))]
    for weighing in coral.weighings:
        wet = _alone(weighing)
        near = [(other, mass) for other, mass in air if abs((other.at - weighing.at).days) <= 60]
        if weighing.in_water and wet and near and wet.canonical() > 1.2 * max(mass for _, mass in near):
            other = near[-1][0]
            wrong = f"it weighs {wet} in water, more than in air on {other.at}"
            remedy = "delete 'in_water: true', or correct one of the two"
            yield warn(draft.at(weighing.source, "mass"), "unusual-mass", wrong, remedy, other.source)


def water_of_weighings(draft: Draft) -> Iterator[Problem]:
    """A weighing in water that no reef could have."""
    for coral in draft.corals.values():
        for weighing in coral.weighings:
            for key in ("salinity", "temperature"):
                value = getattr(weighing, key)
                found = implausible(value) if value and not impossible_water(value) else None
                if found:
                    yield warn(draft.at(weighing.source, key), "unusual-mass", *found)


def frags_heavier_than_the_mother(draft: Draft) -> Iterator[Problem]:
    """Frags that weigh more than the colony did, or more frags with files than were cut."""
    for coral in draft.corals.values():
        for cutting in coral.cuttings:
            if len(cutting.into) > cutting.frags:
                wrong = f"'into' names {len(cutting.into)}, but 'frags' says {cutting.frags}"
                yield warn(draft.at(cutting.source, "frags"), "unusual-cutting", wrong, f"write {len(cutting.into)}")
            most = _heaviest(coral, cutting.at)
            if cutting.mass and most and cutting.mass.canonical() > most[0]:
                wrong = f"the frags weigh {cutting.mass}, far more than {most[1]}"
                cure = likely(cutting.mass, within(0.0, most[0] / 2.0))
                yield warn(draft.at(cutting.source, "mass"), "unusual-cutting", wrong, cure)


def _heaviest(coral: Coral, day: date) -> tuple[float, str] | None:
    """The most (g) a coral can have weighed on a day, and how that is known: its last weighing, or its size."""
    known: list[tuple[date, float, str]] = []
    for weighing in coral.weighings:
        alone = _alone(weighing)
        if alone and not weighing.in_water and abs((day - weighing.at).days) < 200:
            known.append((weighing.at, 3.0 * alone.canonical(), f"the coral on {weighing.at}, {alone}"))
    for size in coral.sizes:
        if abs((day - size.at).days) < 200:
            most = _box(size, coral.form)[1] * MOST_DENSE
            known.append((size.at, most, f"any coral of {size.length}"))
    least = min(known, key=lambda each: each[1], default=None)
    return least[1:] if least else None
