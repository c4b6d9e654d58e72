"""What a journal knows that a line of shorthand can speak of: names, units, volumes."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from generator.records.journal import Journal
    from generator.records.system import System
    from generator.shorthand.change import Known


def known_of(journal: "Journal", system: "System", coral: str, now: datetime) -> "Known":
    """What is known for a line about a system, or about one of its corals. `now` is on the keeper's own clock."""
    from generator.render.base.numbers import display_of
    from generator.shorthand.change import Known

    display = display_of(journal.settings, {system.id: system}, {system.id: journal.log_of(system.id)})
    today = now.date()
    homes = {id: home for id, each in journal.corals.items() if (home := each.placement_on(today)) is not None}
    weighed = {id: each.weighings[-1].resolution for id, each in journal.corals.items() if each.weighings}
    places = {id: tuple(each.places) for id, each in journal.systems.items()}
    return Known(
        now=now,
        units=display.units,
        names={
            "solution": _names(system.solutions, {}),
            "mix": _names(system.mixes, {}),
            "kit": _names(system.kits, {id: kit.name for id, kit in system.kits.items() if kit.name}),
            "coral": _names(journal.corals, {id: each.name for id, each in journal.corals.items()}),
            "place": _names([place for each in places.values() for place in each], {}),
            "system": _names(journal.systems, {id: each.name for id, each in journal.systems.items()}),
            "partner": _names(journal.partners, {id: each.name for id, each in journal.partners.items()}),
        },
        volume=system.water.volume,
        stocks={id: each.stock for id, each in system.solutions.items() if each.stock},
        coral=coral,
        homes={id: home.system for id, home in homes.items()},
        places=places,
        steps=weighed,
    )


def _names(ids: Iterable[str], names: Mapping[str, str]) -> dict[str, str]:
    """What each may be called, as names are compared: its id, its name, and its first name if no other has that."""
    from generator.shorthand.scanner import folded

    every = list(ids)
    firsts = [folded(names[id]).partition(" ")[0] for id in every if id in names]
    short = {first: id for id, first in zip((id for id in every if id in names), firsts, strict=True)}
    alone = {first: id for first, id in short.items() if firsts.count(first) == 1 and len(first) > 2}
    return alone | {folded(names[id]): id for id in every if id in names} | {folded(id): id for id in every}
