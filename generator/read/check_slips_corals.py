"""Slips in corals: their sizes, days and places, and their masses."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from functools import cache, partial
from statistics import median
from typing import Any

from generator.read.check_corals import LONGEST
from generator.read.draft import Draft
from generator.read.plausible import (
    BETWEEN_HANDS,
    FASTEST_GROWTH,
    FLATTEST,
    FLATTEST_OTHERWISE,
    LEAST_DENSE,
    LONGEST_TENTACLES,
    MOST_DENSE,
    MOST_LIGHT,
    as_written,
    implausible,
    impossible_water,
    likely,
    times,
    warn,
    within,
)
from generator.records.coral import Coral, Form, Size, Weighing
from generator.records.source import Problem, Source
from generator.records.system import Part, System
from generator.records.trade import Newcomer
from generator.units.quantity import Quantity

_SIDES = ("length", "width", "height")
# A side this many times the longest other side is a slip; common practice, no source.
_LONGER = 5.0
# A side this many times the one before and the one after is a slip.
_JUMP = 2.5


def unusual_sides(draft: Draft) -> Iterator[Problem]:
    """A side far from those before and after, longer than its tank, or out of proportion to the others."""
    longest_in = cache(partial(_longest_side, draft))
    for coral in draft.corals.values():
        sizes = sorted(coral.sizes, key=lambda size: size.at)
        for key in _SIDES:
            measured = [size for size in sizes if getattr(size, key) is not None]
            for index, size in enumerate(measured):
                if getattr(size, key).canonical() > LONGEST:
                    continue
                beside = measured[max(0, index - 1) : index], measured[index + 1 : index + 2]
                doubt = _jump(coral, size, key, *beside) or _beyond_the_tank(longest_in, coral, size, key)
                if doubt := doubt or out_of_shape(size, key):
                    yield warn(draft.at(size.source, key), "unusual-size", *doubt)
    for colony in draft.newcomers():
        for key in _sides(colony):
            if doubt := out_of_shape(colony, key):
                yield warn(draft.at(colony.source, key), "unusual-size", *doubt)


def _sides(size: Size | Newcomer) -> list[str]:
    return [key for key in _SIDES if getattr(size, key) is not None]


def _jump(coral: Coral, size: Size, key: str, earlier: Sequence[Size], later: Sequence[Size]) -> tuple[str, str] | None:
    """A side far from the one before and the one after, or one that no coral can have grown to."""
    if not earlier:
        return None
    written: Quantity = getattr(size, key)
    before, beside = earlier[-1], [*earlier, *later]
    value, others = written.canonical(), [getattr(each, key).canonical() for each in beside]
    if min(others) < value * _JUMP and value < max(others) * _JUMP:
        return None
    cure = likely(written, within(min(others) / _JUMP, max(others) * _JUMP))
    between = " and ".join(f"{getattr(each, key)} on {each.at}" for each in beside)
    grown = BETWEEN_HANDS + FASTEST_GROWTH * (size.at - before.at).days / 365.25
    if value >= _JUMP * max(others) and value > max(others) + BETWEEN_HANDS:
        if len(beside) == 2:
            return f"a {key} of {written} is between {between}", cure
        if value > 1.3 * others[0] + grown:
            return f"a {key} of {written} is more than can grow after {between}", cure
    if value * _JUMP <= min(others) and value < min(others) - 1.0 and not _broke(coral, before.at, size.at):
        if len(beside) == 2:
            return f"a {key} of {written} is between {between}", cure
        return f"a {key} of {written} comes after {between}, and nothing was cut", cure
    return None


def _broke(coral: Coral, start: date, end: date) -> bool:
    days = [cutting.at for cutting in coral.cuttings]
    days += [health.at for health in coral.health if health.what in ("breakage", "tissue-loss", "bleaching")]
    return any(start <= day <= end for day in days)


def out_of_shape(size: Size | Newcomer, key: str) -> tuple[str, str] | None:
    """A side many times the longest of the others."""
    side: Quantity = getattr(size, key)
    others = {name: getattr(size, name) for name in _sides(size) if name != key}
    lengths = [other.canonical() for other in others.values()]
    if not lengths or side.canonical() <= _LONGER * max(lengths):
        return None
    rest = " and ".join(f"the {name}, {other}" for name, other in others.items())
    return f"a {key} of {side} does not go with {rest}", likely(side, within(0.0, 2.0 * max(lengths)))


_LongestSide = tuple[Part, Quantity]


def _longest_side(draft: Draft, of: str, place: str | None) -> _LongestSide | None:
    """The tank of a system that a place is in, and the longest of its sides."""
    system = draft.systems.get(of)
    part = _tank(system, place) if system else None
    sides = [each for each in (part.length, part.width, part.height) if each] if part else []
    return (part, max(sides, key=Quantity.canonical)) if part and sides else None


def _beyond_the_tank(
    longest_in: Callable[[str, str | None], _LongestSide | None], coral: Coral, size: Size, key: str
) -> tuple[str, str, Source] | None:
    """A side longer than any side of the tank of the system that the coral is in."""
    side: Quantity = getattr(size, key)
    placement = coral.placement_on(size.at)
    tank = longest_in(placement.system, placement.place) if placement else None
    if tank is None or side.canonical() <= tank[1].canonical():
        return None
    part, longest = tank
    wrong = f"a {key} of {side} is more than the longest side of '{part.name}', {longest}"
    return wrong, likely(side, within(0.0, longest.canonical())), part.source


def _tank(system: System, place: str | None) -> Part | None:
    """The part of a system that a place is in; without a place, its part with the longest side."""
    parts = [part for part in system.parts if part.length and part.width]
    named = system.places[place].part if place in system.places else None
    chosen = [part for part in parts if part.name == named] or parts
    return max(chosen, key=lambda part: part.length.canonical() if part.length else 0.0, default=None)


def centres_outside_their_place(draft: Draft) -> Iterator[Problem]:
    """A coral's centre to the right of its place, or behind it."""
    for coral in draft.corals.values():
        for placement in coral.placements:
            system = draft.systems.get(placement.system)
            place = system.places.get(placement.place or "") if system else None
            for key, reach, side in (("x", place and place.width, "wide"), ("y", place and place.depth, "deep")):
                centre: Quantity | None = getattr(placement, key)
                if place and reach and centre and centre.canonical() > reach.canonical():
                    wrong = f"{key} is {centre}, but '{placement.place}' is only {reach} {side}"
                    cure = likely(
                        centre,
                        within(0.0, reach.canonical()),
                        otherwise="measure from the front left corner of the place",
                    )
                    yield warn(draft.at(placement.source, key), "unusual-place", wrong, cure, place.source)


def implausible_light(draft: Draft) -> Iterator[Problem]:
    """Light beyond that of the sun, or far from that of the place."""
    for coral in draft.corals.values():
        for placement in coral.placements:
            system = draft.systems.get(placement.system)
            place = system.places.get(placement.place or "") if system else None
            light = placement.light
            written = [end for end in (place.light, place.light_to) if end] if place else []
            ends = [end.canonical() for end in written]
            if light is None or not ends or not light.value:
                continue
            if not (fits := within(min(ends) / 4.0, 4.0 * max(ends)))(light):
                wrong = f"light of {light} is far from that of '{placement.place}', {' to '.join(map(str, written))}"
                cure = likely(light, fits)
                yield warn(
                    draft.at(placement.source, "light"), "unusual-light", wrong, cure, place.source if place else None
                )
    lit: list[Any] = [place for system in draft.systems.values() for place in system.places.values()]
    for each in (*lit, *draft.newcomers()):
        if each.light and each.light_to and each.light_to.canonical() < each.light.canonical():
            wrong = f"light_to, {each.light_to}, is lower than light, {each.light}"
            yield warn(draft.at(each.source, "light_to"), "unusual-light", wrong, "swap or correct the two")
        for key in ("light", "light_to"):
            value = getattr(each, key)
            if value and value.canonical() > MOST_LIGHT:
                wrong = f"light of {value} is more than the sun gives at noon, about 2000 PAR"
                cure = likely(value, within(0.0, MOST_LIGHT))
                yield warn(draft.at(each.source, key), "unusual-light", wrong, cure)


def implausible_reaches(draft: Draft) -> Iterator[Problem]:
    """Tentacles or a safe distance longer than any coral's."""
    longest = within(0.0, LONGEST_TENTACLES)
    for coral in draft.corals.values():
        if coral.stings and coral.stings.canonical() > LONGEST_TENTACLES:
            wrong = f"tentacles of {coral.stings} reach across a tank"
            yield warn(draft.at(coral.source, "stings"), "unusual-reach", wrong, likely(coral.stings, longest))
    if (settings := draft.settings) is None:
        return
    for genus, reach in settings.safe_distances.items():
        if reach.canonical() > LONGEST_TENTACLES:
            source = draft.at(settings.source, "safe_distances", genus)
            yield warn(source, "unusual-reach", f"a safe distance of {reach} is too long", likely(reach, longest))


# A mass this many times the usual one is a slip; common practice, no source.
_LEAP = 5.0


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
    bound = f"at least {as_written(low, mass)}" if mass.canonical() < low else f"at most {as_written(high, mass)}"
    wrong = f"a mass of {mass} cannot be that of a colony of {sides}, which weighs {bound}"
    return wrong, likely(mass, within(low, high))


def masses_that_do_not_fit_the_size(draft: Draft) -> Iterator[Problem]:
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
        if len(others) < 2 or (max(others) * _LEAP > values[index] and min(others) < values[index] * _LEAP):
            continue
        middle = median(others)
        written: Quantity = getattr(weighing, key)
        if values[index] >= middle * _LEAP or values[index] * _LEAP <= middle:
            wrong = f"a {key} of {written} is {times(values[index], middle)} the usual {as_written(middle, written)}"
            cure = likely(written, within(middle / _LEAP, middle * _LEAP))
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
                cure = likely(cutting.mass, within(0.0, most[0]))
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
