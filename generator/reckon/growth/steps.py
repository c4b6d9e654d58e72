"""The steps in which growth and room are found: each coral by itself, and each system's room."""

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from itertools import chain
from typing import TYPE_CHECKING

from generator.door.door import Door, gathered, later
from generator.records.coral import Coral, standing_in
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Quantity

if TYPE_CHECKING:
    from generator.reckon.growth.corals import CoralFindings
    from generator.reckon.growth.room import RoomFindings, Standing

with later():
    from generator.reckon.growth import analysis as _growth
    from generator.reckon.growth import corals as _corals
    from generator.reckon.growth import room as _room


def analyse_corals(
    corals: Mapping[str, Coral],
    systems: Mapping[str, System],
    logs: Mapping[str, Mapping[str, SystemLog]],
    own: Callable[[], Mapping[str, Quantity]],
    today: Callable[[], date],
    door: Door,
    stood: Mapping[str, Iterable[str]] | None = None,
) -> "tuple[Mapping[str, CoralFindings], Mapping[str, RoomFindings], Mapping[str, RoomFindings | None]]":
    """What is found by coral, about the room by system, and about the room of each coral.

    `logs` are those of each coral's weighings, `own` the journal's safe distances by genus, `stood` the ids of corals
    that were ever `stood_in` each system.
    """

    ever = stood_in(corals, door) if stood is None else stood

    def room(id: str) -> "RoomFindings":
        return _room.analyse_room(systems[id], standing[id].values(), growths, own(), today())

    def standing_here(id: str) -> dict[str, Coral]:
        return {coral.id: coral for coral in standing_in(map(corals.__getitem__, ever.get(id, ())), id, today())}

    def around(id: str) -> "RoomFindings | None":
        placement = corals[id].placement_on(today())
        return rooms.get(placement.system) if placement else None

    def stands(id: str) -> "tuple[Standing, float] | None":
        room = around(id)
        here = next((each for each in room.standing if each.coral.id == id), None) if room else None
        if room is None or here is None:
            return None
        place = systems[room.system].places[here.place]
        return here, _room.free_radius(here, place, room.standing, own(), today())

    def found(id: str) -> "CoralFindings":
        return _corals.coral_findings(corals[id], growths[id], systems, standing_at(id), today())

    def room_of(id: str) -> "RoomFindings | None":
        room = around(id)
        return _room.room_of(room, id) if room else None

    growths = door.each(
        "growth", lambda: corals, lambda id: _growth.analyse_growth(corals[id], logs.get(id, {}), today())
    )
    standing = door.each("standing in", lambda: systems, standing_here)
    rooms = door.each("room", lambda: systems, room)
    # One measured coral changes the room of its neighbours, not of all that stand in the system.
    standing_at = door.step("stands", stands, keep=False)
    return door.each("coral", lambda: corals, found), rooms, door.each("room of", lambda: corals, room_of)


def stood_in(corals: Mapping[str, Coral], door: Door) -> Mapping[str, tuple[str, ...]]:
    """The ids of all corals that ever stood in each system, in order."""

    def placed(ids: Iterable[str]) -> tuple[tuple[str, str], ...]:
        return tuple((placement.system, id) for id in ids for placement in corals[id].placements)

    parts = door.in_parts("some placements", lambda: corals, placed)
    return door.by_id("ever stood in", lambda: gathered(sorted({*chain(*parts())})))
