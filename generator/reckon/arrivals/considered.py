"""Colonies under consideration: where each could go, and what it would take out of the water there."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from generator.reckon.arrivals.colony import Colony, Mass
from generator.reckon.arrivals.expected import ExpectedUptake, expected
from generator.reckon.arrivals.shares import present_factor
from generator.reckon.dosing.newcomer import added_doses
from generator.reckon.dosing.phases import Phase
from generator.reckon.finding import Answer, CannotTell
from generator.reckon.growth.footprint import Body
from generator.reckon.growth.places import Suggestion, where_could_it_go, wish_for
from generator.reckon.growth.room import Standing
from generator.reckon.growth.spots import Wish
from generator.records.considered import ConsideredColony
from generator.records.journal import Journal
from generator.records.taxa import genus_name
from generator.units.quantity import convert

# So many places are told of each colony, and what it would take in their waters.
MOST_PLACES = 4


@dataclass(frozen=True, slots=True)
class InWater:
    """What a colony would take out of one system's water, and what that would add to the doses."""

    system: str
    uptake: ExpectedUptake | CannotTell
    added: Phase | None


@dataclass(frozen=True, slots=True)
class Considered:
    """One colony: what it wants, the places it could go to (the best first), and the waters they are in."""

    colony: ConsideredColony
    wish: Wish
    places: tuple[Suggestion, ...]
    waters: tuple[InWater, ...]


def consider(
    journal: Journal, standing: Mapping[str, Iterable[Standing]], grams: Mapping[str, Answer], as_of: datetime
) -> tuple[Considered, ...]:
    """All colonies under consideration; `standing` and the measured `grams` of CaCO3 a day are by system."""
    here = {id: tuple(every) for id, every in standing.items()}
    return tuple(_one(colony, journal, here, grams, as_of) for colony in journal.considered)


def _one(
    colony: ConsideredColony,
    journal: Journal,
    standing: Mapping[str, tuple[Standing, ...]],
    grams: Mapping[str, Answer],
    as_of: datetime,
) -> Considered:
    own = journal.settings.safe_distances
    wish = wish_for(colony.species, _wish(colony), own)
    places = where_could_it_go(wish, journal.systems.values(), standing, own)[:MOST_PLACES]
    waters = dict.fromkeys(place.spot.system for place in places)
    return Considered(colony, wish, places, tuple(_in_water(colony, id, journal, grams[id], as_of) for id in waters))


def _wish(colony: ConsideredColony) -> Wish:
    sides = [side.canonical() for side in (colony.length, colony.width or colony.length)]
    ends = [light.canonical() for light in (colony.light, colony.light_to) if light is not None]
    return Wish(
        max(sides),
        min(sides),
        colony.height.canonical() if colony.height else None,
        min(ends, default=None),
        max(ends, default=None),
        colony.flow,
    )


def _in_water(colony: ConsideredColony, id: str, journal: Journal, measured: Answer, as_of: datetime) -> InWater:
    system, today = journal.systems[id], as_of.astimezone(journal.settings.time_zone).date()
    factor = present_factor(journal.corals.values(), id, today, measured)
    uptake = expected(_colony(colony), system.water, factor)
    if isinstance(uptake, CannotTell):
        return InWater(id, uptake, None)
    return InWater(id, uptake, added_doses(system, journal.log_of(id), uptake.grams_per_day, as_of))


def _colony(colony: ConsideredColony) -> Colony:
    """The colony as far as it is known; one of the last digit of its mass is taken for the scale's step."""
    mass = colony.mass
    return Colony(
        genus=genus_name(colony.species),
        form=colony.form,
        body=Body(
            colony.length.canonical(),
            colony.width.canonical() if colony.width else None,
            colony.height.canonical() if colony.height else None,
        ),
        mass=Mass(grams=mass.canonical(), resolution=convert(10.0**-mass.digits, "mass", mass.unit, "g"))
        if mass
        else None,
        inputs=(colony.source,),
    )
