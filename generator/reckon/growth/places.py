"""Where could a colony go: which place, what must move for it, and where that can go."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot, sqrt

from generator.reckon.growth.forecast import accepted_genus
from generator.reckon.growth.room import Standing
from generator.reckon.growth.safe_distance import safe_distance, usual_distance
from generator.records.source import Source
from generator.records.system import Flow, Place, System
from generator.units.quantity import Quantity

# A spot is tried at every so many cm.
_STEP = 2.0
# A coral that must move is content with light within this share of what it has; common practice, no source.
LIGHT_MAY_DIFFER_BY = 0.25
# Never more than so many corals are moved for one.
MOST_MOVED = 4


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
    """Every place that is large enough, the best first: what fits its wishes, then what moves least.

    `standing` is by system (see `room.stand`); `own` the journal's safe distances by genus.
    """
    every = list(systems)
    found = []
    for system in every:
        here = standing.get(system.id, ())
        for name, place in system.places.items():
            best = _best_spot(wish, system.id, name, place, here, own)
            if best is not None:
                found.append(_suggestion(wish, best, system, here, every, standing, own))
    return tuple(sorted(found, key=_rank))


def _rank(suggestion: Suggestion) -> tuple[object, ...]:
    stuck = sum(move.to is None for move in suggestion.moves)
    misfit = (suggestion.flow_fits is False) + (suggestion.light_off is not None and suggestion.light_off != 0.0)
    unknown = (suggestion.flow_fits is None) + (suggestion.light_off is None) + len(suggestion.unplaced)
    off = abs(suggestion.light_off or 0.0)
    spot = suggestion.spot
    return (stuck > 0, misfit, len(suggestion.moves), stuck, off, unknown, spot.system, spot.place)


def _suggestion(
    wish: Wish,
    best: tuple[Spot, list[Standing]],
    system: System,
    here: Sequence[Standing],
    systems: Sequence[System],
    standing: Mapping[str, Sequence[Standing]],
    own: Mapping[str, Quantity],
) -> Suggestion:
    spot, in_the_way = best
    place = system.places[spot.place]
    light = _light(place)
    moves = []
    taken = [(spot, wish)]
    for mover in in_the_way:
        to = _free_spot(wish_of(mover, system, own), mover, systems, standing, own, taken)
        if to is not None:
            taken.append((to, wish_of(mover, system, own)))
        moves.append(Move(mover.coral.id, to))
    return Suggestion(
        spot,
        tuple(moves),
        light,
        _off(wish, light) if light else None,
        place.flow,
        None if wish.flow is None or place.flow is None else place.flow == wish.flow,
        tuple(each.coral.id for each in here if each.place == spot.place and not each.known),
        (place.source,),
    )


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


def _spots(wish: Wish, system: str, name: str, place: Place) -> Iterator[Spot]:
    """The spots of a place at which a colony of the wish's size stands wholly inside."""
    left, front = place.x.canonical(), place.y.canonical()
    width, depth = place.width.canonical(), place.depth.canonical()
    for turned in (False, True) if wish.length != wish.width else (False,):
        across, along = (wish.width, wish.length) if turned else (wish.length, wish.width)
        for dx in _grid(across / 2.0, width - across / 2.0):
            for dy in _grid(along / 2.0, depth - along / 2.0):
                yield Spot(system, place.part, name, left + dx, front + dy, turned)


def _grid(first: float, last: float) -> list[float]:
    if last < first - 1e-9:
        return []
    steps = int((last - first) / _STEP + 1e-9)
    found = [first + step * _STEP for step in range(steps + 1)]
    return found if last - found[-1] < 1e-9 else [*found, last]


def _best_spot(
    wish: Wish, system: str, name: str, place: Place, here: Sequence[Standing], own: Mapping[str, Quantity]
) -> tuple[Spot, list[Standing]] | None:
    """The spot that least must move for, by number and then by footprint; None where the colony does not fit."""
    near = _keep_off(wish, place.part, here, own)
    best: tuple[tuple[int, float], Spot, list[Standing]] | None = None
    for spot in _spots(wish, system, name, place):
        in_the_way = [each for each, reach in near if hypot(spot.x - each.x, spot.y - each.y) < reach]
        cost = (len(in_the_way), sum(each.spread.radius**2 for each in in_the_way))
        if best is None or cost < best[0]:
            best = cost, spot, in_the_way
            if not in_the_way:
                break
    return (best[1], best[2]) if best and len(best[2]) <= MOST_MOVED else None


def _keep_off(
    wish: Wish, part: str | None, here: Iterable[Standing], own: Mapping[str, Quantity]
) -> list[tuple[Standing, float]]:
    """The corals of a part whose spot is known, each with how far (cm) the wish's centre must keep from it."""
    found = []
    for each in here:
        if each.known and each.part == part:
            kin = wish.line != "" and wish.line == each.coral.line
            gap = 0.0 if kin else max(wish.safe, safe_distance(each.coral, own).cm)
            found.append((each, _radius(wish) + each.spread.radius + gap))
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
            near = _keep_off(wish, place.part, others, own)
            for spot in _spots(wish, system.id, name, place):
                free = all(hypot(spot.x - each.x, spot.y - each.y) >= reach for each, reach in near)
                if free and not any(_crowds(spot, wish, *each) for each in taken):
                    return spot
    return None


def _crowds(spot: Spot, wish: Wish, other: Spot, others_wish: Wish) -> bool:
    if (spot.system, spot.part) != (other.system, other.part):
        return False
    keep = _radius(wish) + _radius(others_wish) + max(wish.safe, others_wish.safe)
    return hypot(spot.x - other.x, spot.y - other.y) < keep
