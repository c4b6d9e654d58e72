"""Where a coral that comes or moves could stand, and how it gets used to its place: acclimation, light, quarantine."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date, timedelta

from msgspec import Struct
from msgspec.structs import replace

from generator.reckon.growth.health import health_state
from generator.reckon.growth.places import Suggestion, standing_at, where_could_it_go, wish_for, wish_of
from generator.reckon.growth.room import Standing
from generator.reckon.growth.spots import LightMove, LightStep, Spot, Wish, daily_light, light_ends, light_move, step_up
from generator.reckon.planned.water import InWater
from generator.reckon.water.canonical import canonical_value
from generator.records.coral import Coral, Health, Placement, standing_in
from generator.records.journal import Journal
from generator.records.source import Source
from generator.records.system import System
from generator.records.trade import Mover, Newcomer, Partner, Trade

# So many places are told of each colony, and what it would take in their waters.
MOST_PLACES = 4


class FirstLight(Struct, frozen=True):
    """The light it comes from (PAR; None: not known; `told` where it is written), that of its place, and the steps up.

    No steps: the place has no more than a week may bring, or its light is not known.
    """

    used_to: float | None
    told: bool
    place: tuple[float, float] | None
    steps: tuple[LightStep, ...]


class Landing(Struct, frozen=True):
    """A colony to come: what it wants, the places it could go to (the best first), and the waters they are in.

    `coral` is what it will be; where its system or its place is decided, only those are told.
    """

    new: Newcomer
    coral: Coral
    wish: Wish
    places: tuple[Suggestion, ...]
    light: FirstLight | None
    waters: tuple[InWater, ...] = ()


def landing(new: Newcomer, coral: Coral, journal: Journal, standing: Mapping[str, Sequence[Standing]]) -> Landing:
    """Where a colony could go, its waters aside; `standing` is by system."""
    own = journal.settings.safe_distances
    wish = replace(wish_for(new.species, new.form, wish_of_newcomer(new), own), line=coral.line)
    places = places_for(new, wish, new.system, journal, journal.systems, standing, coral.arrival.at)
    first = (
        _light_of_newcomer(new, places[0], journal.systems[places[0].spot.system], coral.arrival.at) if places else None
    )
    return Landing(new, coral, wish, places, first)


def places_for(
    told: Newcomer | Mover,
    wish: Wish,
    system: str | None,
    journal: Journal,
    systems: Mapping[str, System],
    standing: Mapping[str, Sequence[Standing]],
    day: date,
) -> tuple[Suggestion, ...]:
    """Where a coral stands as it is decided; else the best places in a system or in all, at most `MOST_PLACES`.

    Where only the place is decided, those on it. `systems` are those that may be changed to make room.
    """
    own, spot = journal.settings.safe_distances, decided(told, system, journal)
    if spot is not None:
        return (standing_at(wish, spot, systems, standing, own, day),)
    found = where_could_it_go(wish, systems.values(), standing, own, day, only=system)
    there = [each for each in found if told.place and each.spot.place == told.place]
    return tuple(there or found)[:MOST_PLACES]


def systems_of(found: Landing) -> tuple[str, ...]:
    """The systems that a colony could go to, the best first."""
    return tuple(dict.fromkeys([found.new.system] if found.new.system else [each.spot.system for each in found.places]))


def decided(told: Newcomer | Mover, system: str | None, journal: Journal) -> Spot | None:
    """The spot of a coral in a system, if the plan says just where it will stand."""
    known = journal.systems.get(system or "")
    place = known.places.get(told.place or "") if known else None
    if system is None or told.place is None or place is None or told.x is None or told.y is None:
        return None
    x, y = place.x.canonical() + told.x.canonical(), place.y.canonical() + told.y.canonical()
    return Spot(system, place.part, told.place, x, y, False)


def wish_of_newcomer(new: Newcomer) -> Wish:
    """What a colony wants as far as it is written; the gap to its neighbours is not in it."""
    sides = [side.canonical() for side in (new.length, new.width or new.length)]
    ends = light_ends(new)
    height = new.height.canonical() if new.height else None
    return Wish(max(sides), min(sides), height, ends[0] if ends else None, ends[-1] if ends else None, new.flow)


def _light_of_newcomer(new: Newcomer, place: Suggestion, system: System, since: date) -> FirstLight:
    """The light of the place against what it is used to; where that is not written, the least it wants."""
    used = new.used_to.canonical() if new.used_to else next(iter(light_ends(new)), None)
    hours = system.photoperiod.canonical() if system.photoperiod else None
    if used is None or hours is None or place.light is None:
        return FirstLight(used, new.used_to is not None, place.light, ())
    wanted = sum(place.light) / 2.0
    steps = step_up(daily_light(used, hours), daily_light(wanted, hours), hours, since)
    return FirstLight(used, new.used_to is not None, place.light, steps)


# Water that differs by so much is evened out over half an hour: practical salinity, °C. Common practice, no source.
HALF_AN_HOUR_PSU, HALF_AN_HOUR_CELSIUS = 1.0, 2.0
# Never less than so many minutes, and never so long that the water it came in goes bad. Common practice, no source.
LEAST_MINUTES, MOST_MINUTES = 30, 120
# After so many hours in closed water ammonium has gathered: as its pH rises in open air, it becomes toxic ammonia.
# Common practice, no source; the shift of ammonium to ammonia with pH: Bower & Bidwell 1978 (from memory).
LONG_IN_CLOSED_WATER = 6.0
# What showed within so many days of an arrival is counted to whoever it came from. A choice of ours.
SHOWS_WITHIN = timedelta(days=60)
# Corals that arrived in these ways do not come from elsewhere.
OF_OURS = ("cutting", "broken-off", "settled", "unknown")
# Pests of what came from elsewhere can take so long to show. Common practice, no source.
PESTS_SHOW_WITHIN = timedelta(days=42)


class Acclimation(Struct, frozen=True):
    """How far apart the two waters are (theirs less ours; None: not known) and so many minutes to even them out."""

    salinity: float | None
    temperature: float | None
    minutes: int
    ammonia: bool


class Showed(Struct, frozen=True):
    """What was seen on a coral, or on all that came: the keeper's words, and of a coral what it was and its name."""

    source: Source
    said: str
    health: str = ""
    coral: str = ""


class Care(Struct, frozen=True):
    """Acclimation, the days they keep coral apart (None: not written), what earlier arrivals of theirs brought.

    `home` is one of our own systems that it comes from: then `brought` is what showed there lately, and `newest` the
    coral that came there last from elsewhere, if pests of it could still show; `waiting` are
    corals that move and are still in quarantine.
    """

    system: str
    acclimation: Acclimation
    quarantined: float | None
    brought: tuple[Showed, ...]
    home: str | None = None
    newest: Coral | None = None
    waiting: tuple[Coral, ...] = ()


def care(
    partner: Partner | None,
    trades: Iterable[Trade],
    corals: Mapping[str, Coral],
    system: str,
    ours: Mapping[str, float],
    arrives: float | None,
    hours: float | None,
) -> Care:
    """The care of an arrival.

    `ours` are the last readings of the system (canonical units), `arrives` the water's temperature (°C) on arrival and
    `hours` how long it was closed, where the way is planned.
    """
    water = partner.water if partner else None
    theirs = {kind: canonical_value(q) for kind in ("salinity", "temperature") if water and (q := water.of(kind))}
    quarantine = partner.quarantine.canonical() / 24.0 if partner and partner.quarantine else None
    brought = _brought(partner, trades, corals) if partner else ()
    return Care(system, _acclimation(theirs, ours, arrives, hours), quarantine, brought)


def care_of_move(
    home: str,
    to: str,
    movers: Iterable[Coral],
    corals: Iterable[Coral],
    latest: Mapping[str, Mapping[str, float]],
    arrives: float | None,
    hours: float | None,
    day: date,
) -> Care:
    """The care of `movers` between two of our own systems; `latest` are the last readings by system."""
    here = standing_in(corals, home, day)
    lately = day - SHOWS_WITHIN
    showed = tuple(_told(each, health) for each in here for health in each.health if _is_ill(health, lately, day))
    came = [each for each in here if each.arrival.how not in OF_OURS and each.arrival.at > day - PESTS_SHOW_WITHIN]
    newest = max(came, key=lambda each: each.arrival.at, default=None)
    evened = _acclimation(latest.get(home, {}), latest.get(to, {}), arrives, hours)
    waiting = tuple(each for each in movers if health_state(each, day).quarantine)
    return Care(to, evened, None, showed, home, newest, waiting)


def _acclimation(
    theirs: Mapping[str, float], ours: Mapping[str, float], arrives: float | None, hours: float | None
) -> Acclimation:
    salinity, warm = theirs.get("salinity"), theirs.get("temperature") if arrives is None else arrives
    of_salinity = None if salinity is None or "salinity" not in ours else salinity - ours["salinity"]
    of_warmth = None if warm is None or "temperature" not in ours else warm - ours["temperature"]
    halves = max(abs(of_salinity or 0.0) / HALF_AN_HOUR_PSU, abs(of_warmth or 0.0) / HALF_AN_HOUR_CELSIUS)
    minutes = round(min(max(30.0 * halves, LEAST_MINUTES), MOST_MINUTES) / 5.0) * 5
    return Acclimation(of_salinity, of_warmth, minutes, hours is not None and hours >= LONG_IN_CLOSED_WATER)


def _brought(partner: Partner, trades: Iterable[Trade], corals: Mapping[str, Coral]) -> tuple[Showed, ...]:
    """What was seen on what came from a partner: the inspections, and what fell ill soon after."""
    theirs = [trade for trade in trades if trade.partner == partner.id]
    found = [Showed(trade.source, trade.inspection) for trade in theirs if trade.inspection]
    received = {got.coral for trade in theirs for got in trade.received}
    for coral in corals.values():
        if coral.arrival.partner != partner.id and coral.id not in received:
            continue
        came = coral.arrival.at
        found += [_told(coral, health) for health in coral.health if _is_ill(health, came, came + SHOWS_WITHIN)]
    return tuple(found)


def _is_ill(health: Health, since: date, until: date) -> bool:
    return health.what in ("treatment", "tissue-loss", "bleaching") and since <= health.at <= until


def _told(coral: Coral, health: Health) -> Showed:
    return Showed(health.source, health.note or "", health.what, coral.name)


# What stands in each system.
Room = dict[str, list[Standing]]


class Settling(Struct, frozen=True):
    """A coral that moves: the places it could go to (the best first), and the light it comes from and gets there.

    Where its place is decided, only that is told. No light: there is no place for it.
    """

    coral: Coral
    places: tuple[Suggestion, ...]
    light: FirstLight | None


def settlings(
    movers: Sequence[tuple[Mover, Coral]],
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
    known = [(decided(move, move.to, journal), move, coral) for move, coral in movers]
    for spot, move, coral in sorted(known, key=lambda each: each[0] is None):
        if coral.id not in homes:
            continue
        home, stood = homes[coral.id]
        wish = wish_of(stood, home, systems, own, day)
        places = places_for(move, wish, move.to, journal, stay, left, day)
        yield Settling(coral, places, _light(coral, places[0], home, systems, day) if places else None)
        if places and (spot is not None or not places[0].stuck):
            left = room_with(stood, places[0], left, systems)


def left_by(gone: Collection[str], systems: Iterable[str], standing: Mapping[str, Sequence[Standing]]) -> Room:
    """What stands in each system once some corals are gone."""
    return {id: [each for each in standing.get(id, ()) if each.coral.id not in gone] for id in systems}


def room_with(one: Standing, found: Suggestion, left: Room, systems: Mapping[str, System]) -> Room:
    """The room with a coral in its spot, and what moves for it where that can go."""
    for each, to in ((one, found.spot), *_moved(found, left)):
        left = left_by({each.coral.id}, left, left)
        left[to.system].append(_put(each, to, systems))
    return left


def _moved(found: Suggestion, left: Mapping[str, Sequence[Standing]]) -> Iterator[tuple[Standing, Spot]]:
    """The corals that must move for it first, with where each goes."""
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
