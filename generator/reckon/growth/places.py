"""Places where a colony could go, which corals must move for it, and where those could go."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from generator.nature.constants import LIGHT_MAY_DIFFER_BY, LIGHT_RISE_PER_WEEK
from generator.nature.rates import usual_extension
from generator.reckon.finding import Finding
from generator.reckon.growth.forecast import accepted_genus
from generator.reckon.growth.pace import DAYS_PER_YEAR
from generator.reckon.growth.room import Standing, distance_of, safe_distance
from generator.reckon.growth.spots import (
    Spot,
    Wish,
    clashes,
    crowds,
    keep_off,
    light_of,
    light_off,
    spots,
    too_bright,
    too_tall,
    used_to,
)
from generator.records.coral import Form
from generator.records.system import Place, System
from generator.units.quantity import Quantity

# Never more than so many corals are moved for one.
MOST_MOVED = 4
# For so many places it is worked out where the corals that must move can go.
MOST_PLACES = 8


class Move(Struct, frozen=True):
    """A coral that must go for the newcomer, and where it can go (None: nowhere without moving more)."""

    coral: str
    to: Spot | None


class Suggestion(Struct, frozen=True):
    """A spot with what it takes: corals to move, PAR that is missing (-) or too much (+), and whether the flow fits.

    `light` is the place's own (None: not written). `too_tall` is by how many cm the colony would
    stand out of its vessel there (None: a height is not written). `unplaced` are corals in the same place
    of which nobody wrote where they stand, so that they may be in the way.
    """

    spot: Spot
    moves: tuple[Move, ...]
    light: tuple[float, float] | None
    light_off: float | None
    flow_fits: bool | None
    too_tall: float | None
    unplaced: tuple[str, ...]

    @property
    def stuck(self) -> tuple[str, ...]:
        """The corals that must move and have no free place: while there are any, there is no room here."""
        return tuple(move.coral for move in self.moves if move.to is None)


def wish_of(
    standing: Standing, home: str, systems: Mapping[str, System], own: Mapping[str, Quantity], today: date
) -> Wish:
    """What to look for when a coral moves: about the light that it has now, and the same flow."""
    place = systems[home].places[standing.place]
    light = light_of(place)
    measured, grown = standing.spread.body, standing.spread.reach(today)[0] - standing.spread.radius
    stood = sorted((each for each in standing.coral.placements if each.since <= today), key=lambda each: each.since)
    has = used_to([*stood, replace(stood[-1], since=today)], systems) if stood else None
    return Wish(
        measured.length + 2.0 * grown,
        (measured.width or measured.length) + 2.0 * grown,
        measured.height,
        light[0] * (1.0 - LIGHT_MAY_DIFFER_BY.value) if light else None,
        light[1] * (1.0 + LIGHT_MAY_DIFFER_BY.value) if light else None,
        place.flow,
        safe_distance(standing.coral, own).cm,
        standing.coral.line,
        max(0.0, standing.spread.rate),
        has.estimate.value * (1.0 + LIGHT_RISE_PER_WEEK.value) if isinstance(has, Finding) else None,
        standing.coral.stings is not None,
    )


def wish_for(species: str, form: Form | None, wish: Wish, own: Mapping[str, Quantity]) -> Wish:
    """The wish with the gap that a species needs, and how fast it usually grows.

    The gap is the journal's `own` for its genus, else the usual one.
    """
    genus = accepted_genus(species)
    rate = usual_extension(genus, form) / DAYS_PER_YEAR
    return replace(wish, safe=distance_of(genus, own).cm, rate=rate)


def where_could_it_go(
    wish: Wish,
    systems: Iterable[System],
    standing: Mapping[str, Sequence[Standing]],
    own: Mapping[str, Quantity],
    today: date,
    only: str | None = None,
) -> tuple[Suggestion, ...]:
    """Every place that is large enough, best first: by light and flow, then by how little must move.

    `standing` is by system (see `room.stand`); `own` the journal's safe distances by genus; with `only` the
    places of one system, while what must move can go to any. Of many places only the most promising are told. Put there
    on `today`, nothing runs out of room for `ROOM_FOR`.
    """
    every = {system.id: system for system in systems}
    found = []
    for system in every.values() if only is None else [every[only]]:
        here = standing.get(system.id, ())
        for name, place in system.places.items():
            best = _best_spot(wish, system.id, name, place, here, own, today)
            if best is not None:
                found.append((_suggestion(wish, best[0], system, place, best[1], here), best[1]))
    promising = sorted(found, key=lambda each: _before_moves(each[0]))[:MOST_PLACES]
    told = [
        replace(each, moves=_moves(each.spot, wish, movers, every, standing, own, today)) if movers else each
        for each, movers in promising
    ]
    return tuple(sorted(told, key=_rank))


def standing_at(
    wish: Wish,
    spot: Spot,
    systems: Mapping[str, System],
    standing: Mapping[str, Sequence[Standing]],
    own: Mapping[str, Quantity],
    today: date,
) -> Suggestion:
    """The spot that was decided on, with what must move for it and where to."""
    system, here = systems[spot.system], standing.get(spot.system, ())
    place = system.places[spot.place]
    near = keep_off(wish, place, here, own, today)
    hits = clashes(np.array([spot.x]), np.array([spot.y]), near)[0]
    movers = [each for (each, _), hit in zip(near, hits, strict=True) if hit]
    told = _suggestion(wish, spot, system, place, movers, here)
    return replace(told, moves=_moves(spot, wish, movers, systems, standing, own, today))


def _before_moves(suggestion: Suggestion) -> tuple[object, ...]:
    """The rank of a suggestion, best first, before places are found for the corals that must move."""
    too_tall, _, *rest = _rank(suggestion)
    return (too_tall, *rest)


def _rank(suggestion: Suggestion) -> tuple[object, ...]:
    stuck = len(suggestion.stuck)
    misfit = (suggestion.flow_fits is False) + (suggestion.light_off is not None and suggestion.light_off != 0.0)
    unknown = (suggestion.flow_fits is None) + (suggestion.light_off is None) + len(suggestion.unplaced)
    off = abs(suggestion.light_off or 0.0)
    spot = suggestion.spot
    return (
        bool(suggestion.too_tall),
        stuck > 0,
        misfit,
        len(suggestion.moves),
        stuck,
        off,
        unknown,
        spot.system,
        spot.place,
    )


def _suggestion(
    wish: Wish, spot: Spot, system: System, place: Place, in_the_way: Sequence[Standing], here: Sequence[Standing]
) -> Suggestion:
    """A suggestion, before places are found for the corals that must move."""
    light = light_of(place)
    return Suggestion(
        spot,
        tuple(Move(mover.coral.id, None) for mover in in_the_way),
        light,
        light_off(wish, light) if light else None,
        None if wish.flow is None or place.flow is None else place.flow == wish.flow,
        too_tall(wish, system, place),
        tuple(each.coral.id for each in here if each.place == spot.place and not each.known),
    )


def _moves(
    spot: Spot,
    wish: Wish,
    movers: Sequence[Standing],
    systems: Mapping[str, System],
    standing: Mapping[str, Sequence[Standing]],
    own: Mapping[str, Quantity],
    today: date,
) -> tuple[Move, ...]:
    """A place for each coral that must move, one after the other."""
    moves = []
    taken = [(spot, wish)]
    for mover in movers:
        wanted = wish_of(mover, spot.system, systems, own, today)
        stay = {id: [each for each in here if each is not mover] for id, here in standing.items()}
        to = _free_spot(wanted, list(systems.values()), stay, own, taken, today)
        if to is not None:
            taken.append((to, wanted))
        moves.append(Move(mover.coral.id, to))
    return tuple(moves)


def _best_spot(
    wish: Wish, system: str, name: str, place: Place, here: Sequence[Standing], own: Mapping[str, Quantity], today: date
) -> tuple[Spot, list[Standing]] | None:
    """The spot for which the fewest corals must move, then the smallest area; None if the colony does not fit."""
    near = keep_off(wish, place, here, own, today)
    areas = np.array([each.spread.radius**2 for each, _ in near])
    best: tuple[tuple[float, float], Spot, list[Standing]] | None = None
    for turned, x, y in spots(wish, place):
        clash = clashes(x, y, near)
        number, area = clash.sum(axis=1), clash @ areas
        first = int(np.lexsort((area, number))[0])
        cost = (float(number[first]), float(area[first]))
        if best is None or cost < best[0]:
            spot = Spot(system, place.part, name, float(x[first]), float(y[first]), turned)
            best = cost, spot, [each for (each, _), hit in zip(near, clash[first], strict=True) if hit]
    return (best[1], best[2]) if best and len(best[2]) <= MOST_MOVED else None


def _free_spot(
    wish: Wish,
    systems: Sequence[System],
    standing: Mapping[str, Sequence[Standing]],
    own: Mapping[str, Quantity],
    taken: Sequence[tuple[Spot, Wish]],
    today: date,
) -> Spot | None:
    """A spot with the wished light and flow at which nothing stands and nothing was just put."""
    for system in systems:
        for name, place in system.places.items():
            light = light_of(place)
            if (light and light_off(wish, light) != 0.0) or (wish.flow and place.flow and wish.flow != place.flow):
                continue
            if too_tall(wish, system, place) or too_bright(wish, system, place):
                continue
            near = keep_off(wish, place, standing.get(system.id, ()), own, today)
            for turned, x, y in spots(wish, place):
                for free in np.flatnonzero(~clashes(x, y, near).any(axis=1)):
                    spot = Spot(system.id, place.part, name, float(x[free]), float(y[free]), turned)
                    if not any(crowds(spot, wish, *each) for each in taken):
                        return spot
    return None
