"""Where a coral that moves could stand in its new system, and how it gets used to the light there."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from generator.reckon.growth.light import LightMove, daily_light, light_move
from generator.reckon.growth.places import Suggestion, standing_at, where_could_it_go, wish_of
from generator.reckon.growth.room import Standing
from generator.reckon.growth.spots import Spot
from generator.reckon.planned.landing import MOST_PLACES, FirstLight, decided
from generator.records.coral import Coral, Placement
from generator.records.journal import Journal
from generator.records.planned import Moving
from generator.records.system import System

# What stands in each system.
Room = dict[str, list[Standing]]


@dataclass(frozen=True, slots=True)
class Settling:
    """A coral that moves: the places it could go to (the best first), and the light it comes from and gets there.

    Where its place is decided, only that is told. No light: there is no place for it.
    """

    coral: Coral
    places: tuple[Suggestion, ...]
    light: FirstLight | None


def settlings(
    movers: Sequence[tuple[Moving, Coral]],
    journal: Journal,
    standing: Mapping[str, Sequence[Standing]],
    left: Room,
    day: date,
) -> Iterator[Settling]:
    """Every coral that moves, those with a decided place first: each finds the room that those before it left.

    One that finds none takes none from those after it. `standing` is by system as it is, `left` once all that goes or
    moves is gone. What must move for them never goes to a system that is emptied. A coral that was never measured is
    left out.
    """
    systems, own = journal.systems, journal.settings.safe_distances
    emptied = {move.all_of for move, _ in movers} - {move.to for move, _ in movers}
    stay = {id: system for id, system in systems.items() if id not in emptied}
    homes = {each.coral.id: (id, each) for id, here in standing.items() for each in here}
    known = [(decided(move.to, move.place, move.x, move.y, journal), move, coral) for move, coral in movers]
    for spot, move, coral in sorted(known, key=lambda each: each[0] is None):
        if coral.id not in homes:
            continue
        home, stood = homes[coral.id]
        wish = wish_of(stood, home, systems, own, day)
        if spot is not None:
            places: tuple[Suggestion, ...] = (standing_at(wish, spot, stay, left, own, day),)
        else:
            found = where_could_it_go(wish, stay.values(), left, own, day, only=move.to)
            there = [each for each in found if move.place and each.spot.place == move.place]
            places = tuple(there or found)[:MOST_PLACES]
        yield Settling(coral, places, _light(coral, places[0], home, systems, day) if places else None)
        if places and (spot is not None or not places[0].stuck):
            left = settled(stood, places[0], left, systems)


def left_by(gone: Collection[str], systems: Iterable[str], standing: Mapping[str, Sequence[Standing]]) -> Room:
    """What stands in each system once some corals are gone."""
    return {id: [each for each in standing.get(id, ()) if each.coral.id not in gone] for id in systems}


def settled(one: Standing, found: Suggestion, left: Room, systems: Mapping[str, System]) -> Room:
    """The room with a coral in its spot, and what moves for it where that can go."""
    for each, to in ((one, found.spot), *_moved(found, left)):
        left = left_by({each.coral.id}, left, left)
        left[to.system].append(_put(each, to, systems))
    return left


def _moved(found: Suggestion, left: Mapping[str, Sequence[Standing]]) -> Iterator[tuple[Standing, Spot]]:
    """What must move for it first, with where it goes."""
    to = {move.coral: move.to for move in found.moves if move.to is not None}
    yield from ((each, to[each.coral.id]) for each in left[found.spot.system] if each.coral.id in to)


def _put(one: Standing, to: Spot, systems: Mapping[str, System]) -> Standing:
    height = systems[to.system].places[to.place].height
    level = height.canonical() if height else None
    return replace(one, place=to.place, part=to.part, level=level, x=to.x, y=to.y, known=True)


def _light(coral: Coral, found: Suggestion, home: str, systems: Mapping[str, System], day: date) -> FirstLight:
    """The light of its new place against what it is used to."""
    before = tuple(each for each in coral.placements if each.since < day)
    there = Placement(source=coral.source, since=day, system=found.spot.system, place=found.spot.place)
    move, hours = light_move(replace(coral, placements=(*before, there)), systems, day), systems[home].photoperiod
    if not isinstance(move, LightMove) or hours is None:
        return FirstLight(None, False, found.light, ())
    return FirstLight(move.before.value / daily_light(1.0, hours.canonical()), True, found.light, move.steps)
