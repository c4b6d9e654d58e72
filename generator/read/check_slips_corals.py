"""Slips in a coral's sides, its place, its light and how far it stings."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date
from typing import Any

from generator.read.bounds import (
    BETWEEN_HANDS,
    FASTEST_GROWTH,
    LONGEST_TENTACLES,
    MOST_LIGHT,
)
from generator.read.draft import Draft
from generator.read.usual import likely, warn, within
from generator.records.considered import ConsideredColony
from generator.records.coral import Coral, Size
from generator.records.problem import Problem
from generator.records.system import Part, System
from generator.units.quantity import Quantity

_SIDES = ("length", "width", "height")
# A side this many times the longest other side is a slip; common practice, no source.
_LONGER = 5.0
# A side this many times the one before and the one after is a slip.
_JUMP = 2.5


def sides_that_jump(draft: Draft) -> Iterator[Problem]:
    """A side far from those measured before and after, or longer than any coral could have grown."""
    for coral in draft.corals.values():
        for key in _SIDES:
            sizes = sorted((s for s in coral.sizes if getattr(s, key) is not None), key=lambda s: s.at)
            for index, size in enumerate(sizes):
                before = sizes[index - 1] if index else None
                after = sizes[index + 1] if index + 1 < len(sizes) else None
                found = _jump(size, before, after, key, _broke(coral))
                if found:
                    yield warn(draft.at(size.source, key), "unusual-size", *found)


def _broke(coral: Coral) -> Callable[[date, date], bool]:
    days = [cutting.at for cutting in coral.cuttings]
    days += [health.at for health in coral.health if health.what in ("breakage", "tissue-loss", "bleaching")]
    return lambda start, end: any(start <= day <= end for day in days)


def _jump(
    size: Size, before: Size | None, after: Size | None, key: str, broke: Callable[[date, date], bool]
) -> tuple[str, str] | None:
    written: Quantity = getattr(size, key)
    value = written.canonical()
    beside = [each for each in (before, after) if each is not None]
    if not beside:
        return None
    others = [getattr(each, key).canonical() for each in beside]
    middle = sum(others) / len(others)
    cure = likely(written, within(min(others) * 0.8, max(others) * 1.5))
    if before and after:
        if value >= _JUMP * max(others) and value > max(others) + BETWEEN_HANDS:
            return f"a {key} of {written} is between {_both(before, after, key)}", cure
        if value * _JUMP <= min(others) and value < min(others) - 1.0 and not broke(before.at, after.at):
            return f"a {key} of {written} is between {_both(before, after, key)}", cure
    elif before:
        most = others[0] * 1.3 + BETWEEN_HANDS + FASTEST_GROWTH * (size.at - before.at).days / 365.25
        if value > most and value >= _JUMP * others[0]:
            return (
                f"a {key} of {written} is more than can grow since {before.at}, when it was {getattr(before, key)}",
                cure,
            )
        if value * _JUMP <= middle and value < middle - 1.0 and not broke(before.at, size.at):
            return f"a {key} of {written} comes after {getattr(before, key)} on {before.at}, and nothing was cut", cure
    return None


def _both(before: Size, after: Size, key: str) -> str:
    return f"{getattr(before, key)} on {before.at} and {getattr(after, key)} on {after.at}"


def sides_out_of_shape(draft: Draft) -> Iterator[Problem]:
    """A side many times the longest of the others."""
    sized: list[Size | ConsideredColony] = [size for coral in draft.corals.values() for size in coral.sizes]
    for size in (*sized, *draft.considered):
        sides = {key: getattr(size, key) for key in _SIDES if getattr(size, key) is not None}
        for key, side in sides.items():
            others = [other.canonical() for name, other in sides.items() if name != key]
            if others and side.canonical() > _LONGER * max(others):
                rest = " and ".join(f"the {name}, {other}" for name, other in sides.items() if name != key)
                wrong = f"a {key} of {side} does not go with {rest}"
                yield warn(draft.at(size.source, key), "unusual-size", wrong, likely(side, _near(others)))


def _near(others: Sequence[float]) -> Callable[[Quantity], bool]:
    return within(min(others) / 2.0, max(others) * 2.0)


def larger_than_the_tank(draft: Draft) -> Iterator[Problem]:
    """A side longer than any side of the largest tank of the system that the coral is in."""
    for coral in draft.corals.values():
        for size in coral.sizes:
            placement = coral.placement_on(size.at)
            system = draft.systems.get(placement.system) if placement else None
            part = _tank(system, placement.place if placement else None) if system else None
            sides = [side for side in (part.length, part.width, part.height) if side] if part else []
            longest = max(sides, key=Quantity.canonical, default=None)
            for key in _SIDES:
                side = getattr(size, key)
                if part and longest and side and side.canonical() > longest.canonical():
                    wrong = f"a {key} of {side} is more than the longest side of '{part.name}', {longest}"
                    cure = likely(side, within(0.0, longest.canonical() / 2.0))
                    yield warn(draft.at(size.source, key), "unusual-size", wrong, cure, part.source)


def _tank(system: System, place: str | None) -> Part | None:
    """The part of a system that a place is in; without a place, its part with the longest side."""
    parts = [part for part in system.parts if part.length and part.width]
    named = system.places[place].part if place in system.places else None
    chosen = [part for part in parts if part.name == named] or parts
    return max(chosen, key=lambda part: part.length.canonical() if part.length else 0.0, default=None)


def centres_beyond_the_place(draft: Draft) -> Iterator[Problem]:
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
                        centre, within(0.0, reach.canonical()), "measure from the front left corner of the place"
                    )
                    yield warn(draft.at(placement.source, key), "unusual-place", wrong, cure, place.source)


def light_of_another_world(draft: Draft) -> Iterator[Problem]:
    """Light beyond that of the sun, or far from that of the place."""
    for coral in draft.corals.values():
        for placement in coral.placements:
            system = draft.systems.get(placement.system)
            place = system.places.get(placement.place or "") if system else None
            light = placement.light
            ends = [end.canonical() for end in (place.light, place.light_to) if end] if place else []
            if light is None or not ends or not light.value:
                continue
            if light.canonical() > 4.0 * max(ends) or light.canonical() * 4.0 < min(ends):
                wrong = f"light of {light} is far from that of '{placement.place}', {_range(place)}"
                cure = likely(light, within(min(ends) / 1.5, max(ends) * 1.5))
                yield warn(
                    draft.at(placement.source, "light"), "unusual-light", wrong, cure, place.source if place else None
                )
    lit: list[Any] = [place for system in draft.systems.values() for place in system.places.values()]
    for each in (*lit, *draft.considered):
        if each.light and each.light_to and each.light_to.canonical() < each.light.canonical():
            wrong = f"light_to, {each.light_to}, is lower than light, {each.light}"
            yield warn(draft.at(each.source, "light_to"), "unusual-light", wrong, "swap or correct the two")
        for key in ("light", "light_to"):
            value = getattr(each, key)
            if value and value.canonical() > MOST_LIGHT:
                wrong = f"light of {value} is more than the sun gives at noon, about 2000 PAR"
                cure = likely(value, within(20.0, 900.0))
                yield warn(draft.at(each.source, key), "unusual-light", wrong, cure)


def _range(place: Any) -> str:
    return " to ".join(str(end) for end in (place.light, place.light_to) if end)


def stings_across_the_tank(draft: Draft) -> Iterator[Problem]:
    """Tentacles or a safe distance longer than any coral's."""
    reaches = [(draft.at(c.source, "stings"), c.stings, "tentacles") for c in draft.corals.values() if c.stings]
    if draft.settings:
        for genus, reach in draft.settings.safe_distances.items():
            reaches.append((draft.at(draft.settings.source, "safe_distances", genus), reach, "a safe distance"))
    for source, reach, what in reaches:
        if reach.canonical() > LONGEST_TENTACLES:
            wrong = (
                f"{what} of {reach} reach across a tank" if what == "tentacles" else f"{what} of {reach} is too long"
            )
            yield warn(source, "unusual-reach", wrong, likely(reach, within(1.0, 30.0)))
