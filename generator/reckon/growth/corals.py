"""All that is found about every coral's growth, room, light, health and cutting on a day, and every system's room."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.growth.analysis import AHEAD_DAYS, Growth
from generator.reckon.growth.cutting import CuttingPlan, cutting_plan
from generator.reckon.growth.footprint import expected_mass
from generator.reckon.growth.forecast import (
    SizeForecast,
    Spread,
    accepted_genus,
    extension_of,
    size_forecast,
    spread_of,
)
from generator.reckon.growth.health import State, state_of
from generator.reckon.growth.light import LightMove, light_move, light_on
from generator.reckon.growth.places import Suggestion, where_could_it_go, wish_of
from generator.reckon.growth.room import RoomFindings, Standing
from generator.records.coral import Coral
from generator.records.system import System
from generator.units.quantity import Quantity

# A cut is planned to last so long, in pieces so many cm across; common practice, no source.
CUT_LASTS = timedelta(days=AHEAD_DAYS)
CUT_MONTHS = 6
PIECE_CM = 3.0
# A coral whose room runs out within so long is shown where else it could go.
SOON_FULL = timedelta(days=365)
MOST_MOVERS = 8


@dataclass(frozen=True, slots=True)
class CoralFindings:
    """What is found about one coral on a day.

    `extension` (cm/year) is how fast it will spread, `ahead` its size half a year on if nothing is cut, `light`
    that of a day where it stands, `cutting` what keeps it within its room for so long. `mass` is the last weighing,
    or what a colony of its size and form weighs. None: there is nothing to say, for it is not here or did not move.
    """

    growth: Growth
    spread: Spread | CannotTell
    extension: Finding
    ahead: SizeForecast | CannotTell | None
    mass: Answer
    light: Answer | None
    move: LightMove | CannotTell | None
    health: State
    cutting: CuttingPlan | CannotTell | None


def could_go(
    found: Mapping[str, CoralFindings],
    rooms: Mapping[str, RoomFindings],
    systems: Mapping[str, System],
    own: Mapping[str, Quantity],
    today: date,
) -> dict[str, tuple[Suggestion, ...]]:
    """Other places for each coral that outgrows its place within a year or is in quarantine; the best place first.

    In each system the corals whose room ends first, no more than can be moved in a season.
    Looks for about the light they have now, and the same flow. Skips the place where they are.
    """
    standing = {id: room.standing for id, room in rooms.items()}
    suggested = {}
    for room in rooms.values():
        crowded = _crowded(room, today + SOON_FULL)
        waiting = [each.coral.id for each in room.standing if found[each.coral.id].health.quarantine]
        movers = [*waiting, *(id for id in crowded if id not in waiting)][:MOST_MOVERS]
        for each in room.standing:
            id = each.coral.id
            if id not in movers:
                continue
            others = {of: tuple(one for one in every if one.coral.id != id) for of, every in standing.items()}
            wish = wish_of(each, room.system, systems, own, today)
            places = where_could_it_go(wish, systems.values(), others, own, today)
            suggested[id] = tuple(
                s for s in places if not s.too_tall and (s.spot.system, s.spot.place) != (room.system, each.place)
            )
    return suggested


def _crowded(room: RoomFindings, until: date) -> list[str]:
    """Corals that by then will likely have outgrown their place or touch one of another line; the earliest first."""
    ends = [(leaving.leaves.likely, leaving.coral) for leaving in room.leaving]
    for meeting in room.meetings:
        if meeting.safe.cm:
            ends += [(meeting.touch.likely, id) for id in (meeting.one, meeting.other)]
    return list(dict.fromkeys(id for day, id in sorted((day, id) for day, id in ends if day and day <= until)))


def coral_findings(
    coral: Coral,
    growth: Growth,
    systems: Mapping[str, System],
    here: tuple[Standing, float] | None,
    today: date,
) -> CoralFindings:
    """What is found about a coral on a day; `here` is where it stands, and the radius (cm) it may have there."""
    lives = coral.lives_on(today)
    spread = spread_of(coral, growth)
    mass = _mass(coral, growth, spread)
    return CoralFindings(
        growth=growth,
        spread=spread,
        extension=extension_of(coral, growth).finding(),
        ahead=size_forecast(coral, growth, today + CUT_LASTS) if lives else None,
        mass=mass,
        light=light_on(coral, systems, today) if lives else None,
        move=light_move(coral, systems, today),
        health=state_of(coral, today),
        cutting=_cutting(*here, mass, today) if here else None,
    )


def _cutting(standing: Standing, radius: float, mass: Answer, today: date) -> CuttingPlan | CannotTell:
    return cutting_plan(standing.coral, standing.spread, radius, mass, PIECE_CM, today, today + CUT_LASTS)


def _mass(coral: Coral, growth: Growth, spread: Spread | CannotTell) -> Answer:
    """The mass by the last weighing in air, else by its size and form."""
    if growth.mass_kind == "drained" or isinstance(spread, CannotTell):
        return growth.mass
    return expected_mass(spread.body, accepted_genus(coral.species), coral.form)
