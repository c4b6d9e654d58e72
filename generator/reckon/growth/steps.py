"""The steps in which growth and room are found: each coral by itself, and each system's room."""

from collections.abc import Callable, Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING

from generator.door.door import Door
from generator.door.later import later
from generator.records.coral import Coral
from generator.records.log import SystemLog
from generator.records.system import System
from generator.units.quantity import Quantity

if TYPE_CHECKING:
    from generator.reckon.growth.corals import CoralFindings
    from generator.reckon.growth.room import RoomFindings

with later():
    from generator.reckon.growth import analysis as _growth
    from generator.reckon.growth import corals as _corals
    from generator.reckon.growth import room as _room


def analyse_corals(
    corals: Mapping[str, Coral],
    systems: Mapping[str, System],
    logs: Mapping[str, SystemLog],
    own: Callable[[], Mapping[str, Quantity]],
    today: Callable[[], date],
    door: Door,
) -> "tuple[Mapping[str, CoralFindings], Mapping[str, RoomFindings]]":
    """What is found by coral, and about the room by system; `own` are the journal's safe distances by genus."""

    def room(id: str) -> "RoomFindings":
        return _room.analyse_room(systems[id], standing[id].values(), growths, own(), today())

    def found(id: str) -> "CoralFindings":
        placement = corals[id].placement_on(today())
        room = rooms.get(placement.system) if placement else None
        here = next((each for each in room.standing if each.coral.id == id), None) if room else None
        where = (here, systems[room.system], room) if room and here else None
        return _corals.coral_findings(corals[id], growths[id], systems, where, own(), today())

    growths = door.each("growth", lambda: corals, lambda id: _growth.analyse_growth(corals[id], logs, today()))
    standing = door.each("standing in", lambda: systems, lambda id: standing_in(corals.values(), id, today()))
    rooms = door.each("room", lambda: systems, room)
    return door.each("coral", lambda: corals, found), rooms


def standing_in(corals: Iterable[Coral], system: str, day: date) -> dict[str, Coral]:
    """The corals that stand in a system on a day."""
    return {coral.id: coral for coral in corals if (on := coral.placement_on(day)) and on.system == system}
