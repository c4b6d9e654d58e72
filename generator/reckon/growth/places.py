"""Where could a colony go: which place, what must move for it, and where that can go."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from generator.reckon.growth.forecast import accepted_genus
from generator.reckon.growth.room import Standing
from generator.reckon.growth.safe_distance import safe_distance, usual_distance
from generator.records.source import Source
from generator.records.system import Flow, Place, System
from generator.units.quantity import Quantity

Array = NDArray[np.float64]

# A spot is tried at every so many cm.
_STEP = 2.0
# A coral that must move is content with light within this share of what it has; common practice, no source.
LIGHT_MAY_DIFFER_BY = 0.25
# Never more than so many corals are moved for one.
MOST_MOVED = 4
# Of so many places it is worked out where that can go which must move.
MOST_PLACES = 8


@dataclass(frozen=True, slots=True)
class Wish:
    """A colony that seeks a place: measures in cm, light in PAR, flow (None: any), its genus and the gap it needs."""

    length: float
    width: float
    height: float | None = None
    light_low: float | None = None
    light_high: float | None = None
    flow: Flow | None = None
    safe: float = 0.0
    line: str = ""


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot in a place: centre in cm from its part's front left corner; `turned`: its length runs front to back."""

    system: str
    part: str | None
    place: str
    x: float
    y: float
    turned: bool


@dataclass(frozen=True, slots=True)
class Move:
    """A coral that must go for the newcomer, and where it can go (None: nowhere without moving more)."""

    coral: str
    to: Spot | None


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A spot with what it takes: corals to move, PAR that is missing (-) or too much (+), and whether the flow fits.

    `light` and `flow` are the place's own (None: not written). `unplaced` are corals in the same place of
    which nobody wrote where they stand, so that they may be in the way.
    """

    spot: Spot
    moves: tuple[Move, ...]
    light: tuple[float, float] | None
    light_off: float | None
    flow: Flow | None
    flow_fits: bool | None
    unplaced: tuple[str, ...]
    inputs: tuple[Source, ...]


def wish_of(standing: Standing, system: System, own: Mapping[str, Quantity]) -> Wish:
    """What a coral that stands somewhere would want elsewhere: about the light it has, and the same flow."""
    place = system.places[standing.place]
    light = _light(place)
    measured = standing.spread.body
    return Wish(
        measured.length,
        measured.width or measured.length,
        measured.height,
        light[0] * (1.0 - LIGHT_MAY_DIFFER_BY) if light else None,
        light[1] * (1.0 + LIGHT_MAY_DIFFER_BY) if light else None,
        place.flow,
        safe_distance(standing.coral, own).cm,
        standing.coral.line,
    )


def wish_for(species: str, wish: Wish) -> Wish:
    """The wish with the gap that is usual for a species."""
    return replace(wish, safe=usual_distance(accepted_genus(species)).cm)


def where_could_it_go(
    wish: Wish,
    systems: Iterable[System],
    standing: Mapping[str, Sequence[Standing]],
    own: Mapping[str, Quantity],
) -> tuple[Suggestion, ...]:
    """The places that are large enough, the best first: what fits its wishes, then what moves least.

    `standing` is by system (see `room.stand`); `own` the journal's safe distances by genus. Of many
    places only the most promising are told.
    """
    every = {system.id: system for system in systems}
    found = []
    for system in every.values():
        here = standing.get(system.id, ())
        for name, place in system.places.items():
            best = _best_spot(wish, system.id, name, place, here, own)
            if best is not None:
                found.append((_suggestion(wish, best[0], place, best[1], here), best[1]))
    promising = sorted(found, key=lambda each: _rank(each[0])[1:])[:MOST_PLACES]
    told = [
        replace(each, moves=_moves(each.spot, wish, movers, every, standing, own)) if movers else each
        for each, movers in promising
    ]
    return tuple(sorted(told, key=_rank))


def _rank(suggestion: Suggestion) -> tuple[object, ...]:
    stuck = sum(move.to is None for move in suggestion.moves)
    misfit = (suggestion.flow_fits is False) + (suggestion.light_off is not None and suggestion.light_off != 0.0)
    unknown = (suggestion.flow_fits is None) + (suggestion.light_off is None) + len(suggestion.unplaced)
    off = abs(suggestion.light_off or 0.0)
    spot = suggestion.spot
    return (stuck > 0, misfit, len(suggestion.moves), stuck, off, unknown, spot.system, spot.place)


def _suggestion(
    wish: Wish, spot: Spot, place: Place, in_the_way: Sequence[Standing], here: Sequence[Standing]
) -> Suggestion:
    """A suggestion before it is known where what must move can go."""
    light = _light(place)
    return Suggestion(
        spot,
        tuple(Move(mover.coral.id, None) for mover in in_the_way),
        light,
        _off(wish, light) if light else None,
        place.flow,
        None if wish.flow is None or place.flow is None else place.flow == wish.flow,
        tuple(each.coral.id for each in here if each.place == spot.place and not each.known),
        (place.source,),
    )


def _moves(
    spot: Spot,
    wish: Wish,
    movers: Sequence[Standing],
    systems: Mapping[str, System],
    standing: Mapping[str, Sequence[Standing]],
    own: Mapping[str, Quantity],
) -> tuple[Move, ...]:
    """Where each that must move can go, one after the other."""
    moves = []
    taken = [(spot, wish)]
    for mover in movers:
        wanted = wish_of(mover, systems[spot.system], own)
        to = _free_spot(wanted, mover, list(systems.values()), standing, own, taken)
        if to is not None:
            taken.append((to, wanted))
        moves.append(Move(mover.coral.id, to))
    return tuple(moves)


def _light(place: Place) -> tuple[float, float] | None:
    ends = [light.canonical() for light in (place.light, place.light_to) if light is not None]
    return (min(ends), max(ends)) if ends else None


def _off(wish: Wish, light: tuple[float, float]) -> float:
    """By how much PAR the place's range misses the range wished for: 0 where they overlap."""
    if wish.light_low is not None and light[1] < wish.light_low:
        return light[1] - wish.light_low
    if wish.light_high is not None and light[0] > wish.light_high:
        return light[0] - wish.light_high
    return 0.0


def _spots(wish: Wish, place: Place) -> Iterator[tuple[bool, Array, Array]]:
    """The middles (x and y, cm) at which the colony stands wholly inside a place, first unturned, then turned."""
    left, front = place.x.canonical(), place.y.canonical()
    width, depth = place.width.canonical(), place.depth.canonical()
    for turned in (False, True) if wish.length != wish.width else (False,):
        across, along = (wish.width, wish.length) if turned else (wish.length, wish.width)
        dx, dy = _grid(across / 2.0, width - across / 2.0), _grid(along / 2.0, depth - along / 2.0)
        if len(dx) and len(dy):
            x, y = np.meshgrid(left + dx, front + dy, indexing="ij")
            yield turned, x.ravel(), y.ravel()


def _grid(first: float, last: float) -> Array:
    if last < first - 1e-9:
        return np.empty(0)
    steps = int((last - first) / _STEP + 1e-9)
    found = [first + step * _STEP for step in range(steps + 1)]
    return np.array(found if last - found[-1] < 1e-9 else [*found, last])


def _clashes(x: Array, y: Array, near: Sequence[tuple[Standing, float]]) -> NDArray[np.bool_]:
    """For each spot (row) and each coral (column), whether the colony would come too near to it."""
    other = np.array([(each.x, each.y, reach) for each, reach in near]).reshape(-1, 3)
    near_by: NDArray[np.bool_] = np.hypot(x[:, None] - other[:, 0], y[:, None] - other[:, 1]) < other[:, 2]
    return near_by


def _best_spot(
    wish: Wish, system: str, name: str, place: Place, here: Sequence[Standing], own: Mapping[str, Quantity]
) -> tuple[Spot, list[Standing]] | None:
    """The spot that least must move for, by number and then by footprint; None where the colony does not fit."""
    near = _keep_off(wish, place, here, own)
    areas = np.array([each.spread.radius**2 for each, _ in near])
    best: tuple[tuple[float, float], Spot, list[Standing]] | None = None
    for turned, x, y in _spots(wish, place):
        clash = _clashes(x, y, near)
        number, area = clash.sum(axis=1), clash @ areas
        first = int(np.lexsort((area, number))[0])
        cost = (float(number[first]), float(area[first]))
        if best is None or cost < best[0]:
            spot = Spot(system, place.part, name, float(x[first]), float(y[first]), turned)
            best = cost, spot, [each for (each, _), hit in zip(near, clash[first], strict=True) if hit]
    return (best[1], best[2]) if best and len(best[2]) <= MOST_MOVED else None


def _keep_off(
    wish: Wish, place: Place, here: Iterable[Standing], own: Mapping[str, Quantity]
) -> list[tuple[Standing, float]]:
    """The corals in reach of a place whose spot is known, each with how far (cm) the wish's centre must keep off."""
    left, front = place.x.canonical(), place.y.canonical()
    right, back = left + place.width.canonical(), front + place.depth.canonical()
    found = []
    for each in here:
        if each.known and each.part == place.part:
            kin = wish.line != "" and wish.line == each.coral.line
            gap = 0.0 if kin else max(wish.safe, safe_distance(each.coral, own).cm)
            reach = _radius(wish) + each.spread.radius + gap
            if left - reach < each.x < right + reach and front - reach < each.y < back + reach:
                found.append((each, reach))
    return found


def _radius(wish: Wish) -> float:
    return sqrt(wish.length * wish.width) / 2.0


def _free_spot(
    wish: Wish,
    mover: Standing,
    systems: Sequence[System],
    standing: Mapping[str, Sequence[Standing]],
    own: Mapping[str, Quantity],
    taken: Sequence[tuple[Spot, Wish]],
) -> Spot | None:
    """A spot with the wished light and flow at which nothing stands and nothing was just put."""
    for system in systems:
        others = [each for each in standing.get(system.id, ()) if each is not mover]
        for name, place in system.places.items():
            light = _light(place)
            if (light and _off(wish, light) != 0.0) or (wish.flow and place.flow and wish.flow != place.flow):
                continue
            near = _keep_off(wish, place, others, own)
            for turned, x, y in _spots(wish, place):
                for free in np.flatnonzero(~_clashes(x, y, near).any(axis=1)):
                    spot = Spot(system.id, place.part, name, float(x[free]), float(y[free]), turned)
                    if not any(_crowds(spot, wish, *each) for each in taken):
                        return spot
    return None


def _crowds(spot: Spot, wish: Wish, other: Spot, others_wish: Wish) -> bool:
    if (spot.system, spot.part) != (other.system, other.part):
        return False
    keep = _radius(wish) + _radius(others_wish) + max(wish.safe, others_wish.safe)
    return hypot(spot.x - other.x, spot.y - other.y) < keep
