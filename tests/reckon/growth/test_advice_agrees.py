"""What is advised on room, carried out to the letter, is nothing that anyone has to be alerted to."""

from collections.abc import Iterator
from datetime import date, timedelta
from itertools import chain
from zoneinfo import ZoneInfo

from hypothesis import assume, event, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from generator.door.door import Door
from generator.reckon.analysis.steps import analyse_corals
from generator.reckon.attention.trades import OUTGROWN_SOON, of_coral, of_room
from generator.reckon.growth.analysis import analyse_growth
from generator.reckon.growth.corals import CuttingPlan
from generator.reckon.growth.places import Suggestion, where_could_it_go, wish_for
from generator.reckon.growth.room import stand
from generator.reckon.growth.spots import ROOM_FOR, Spot, Wish
from generator.records.coral import Coral, Cutting, Placement
from generator.records.settings import Settings
from generator.records.system import System
from tests.reckon.growth.corals import cm, coral, day, here, par, place, placed, sizes, system

SETTINGS = Settings(source=here(), title="Reef", keeper="Keeper", time_zone=ZoneInfo("UTC"))
TODAY = 400
KINDS = (
    ("Acropora muricata", "branching"),
    ("Acropora hyacinthus", "tabling"),
    ("Porites lutea", "massive"),
    ("Euphyllia glabrescens", "branching"),
    ("Montipora capricornis", "plating"),
    ("Galaxea fascicularis", "encrusting"),
)
FLOWS = ("weak", "moderate", "strong")


@st.composite
def rooms(draw) -> tuple[System, System]:
    """Two systems with places of any size, light and flow, some above the others."""
    found = []
    for id, left in (("lagoon", 0.0), ("raceway", 0.0)):
        places = {}
        for name in ("one", "two", "three"):
            width, depth = draw(st.floats(12.0, 110.0)), draw(st.floats(12.0, 60.0))
            dim = draw(st.floats(60.0, 350.0))
            level = draw(st.none() | st.sampled_from((0.0, 15.0, 30.0)))
            places[name] = place(
                left,
                0.0,
                round(width, 1),
                round(depth, 1),
                light=par(dim),
                light_to=par(dim * draw(st.floats(1.0, 1.5))),
                flow=draw(st.sampled_from(FLOWS)),
                height=None if level is None else cm(level),
            )
            left += width + 5.0
        found.append(system(id, **places))
    return found[0], found[1]


@st.composite
def residents(draw, systems: tuple[System, System]) -> tuple[Coral, ...]:
    """Corals at random in these systems, each measured once or twice, none crowded beyond what a keeper would have."""
    found = []
    for number in range(draw(st.integers(0, 7))):
        home = draw(st.sampled_from(systems))
        name = draw(st.sampled_from(sorted(home.places)))
        room = home.places[name]
        species, form = draw(st.sampled_from(KINDS))
        across = draw(st.floats(2.0, 25.0))
        lengths = [across, across * draw(st.floats(1.0, 1.3))]
        x, y = (draw(st.floats(0.1, 0.9)) * side.canonical() for side in (room.width, room.depth))
        measured = draw(st.sampled_from((([380], lengths[1:]), ([100, 380], lengths), ([200], lengths[:1]))))
        found.append(
            coral(
                f"coral-{number}",
                species=species,
                form=form,
                line=draw(st.sampled_from((f"line-{number}", "line"))),
                placements=(placed(system=home.id, place=name, x=cm(x), y=cm(y)),),
                sizes=sizes(measured[0], measured[1], [each * 0.8 for each in measured[1]]),
            )
        )
    return tuple(found)


def put(spot: Spot, systems: dict[str, System], since: date) -> Placement:
    """A placement at a spot, in whole cm of its place, as the command prints it."""
    room = systems[spot.system].places[spot.place]
    x, y = round(spot.x - room.x.canonical()), round(spot.y - room.y.canonical())
    return Placement(source=here(), since=since, system=spot.system, place=spot.place, x=cm(x), y=cm(y))


def alerts(corals: tuple[Coral, ...], systems: dict[str, System], on: date) -> set[tuple[str, frozenset[str]]]:
    """What of room and light needs the keeper, and which corals it is about."""
    found, rooms, _ = analyse_corals({each.id: each for each in corals}, systems, {}, dict, lambda: on, Door())
    told = chain(
        *(of_coral(each, found[each.id], on) for each in corals), *(of_room(room, on) for room in rooms.values())
    )
    return {(alert.kind, frozenset(alert.subject)) for alert in told}


def carried_out(
    each: Suggestion, new: Coral, corals: tuple[Coral, ...], systems: dict[str, System], today: date
) -> Iterator[Coral]:
    moves = {move.coral: move.to for move in each.moves}
    for one in corals:
        to = moves.get(one.id)
        yield replace(one, placements=(*one.placements, put(to, systems, today))) if to else one
    yield replace(new, placements=(put(each.spot, systems, today),))


@settings(max_examples=25)
@given(st.data())
def test_what_place_suggests_needs_nobody_today_nor_while_it_promised_room(data):
    both = data.draw(rooms())
    systems = {each.id: each for each in both}
    corals, today = data.draw(residents(both)), day(TODAY)
    species, form = data.draw(st.sampled_from(KINDS))
    length = data.draw(st.floats(3.0, 40.0))
    width = length * data.draw(st.floats(0.5, 1.0))
    tall = round(length / 2.0, 1)
    bare = Wish(
        length, width, length / 2.0, data.draw(st.none() | st.just(100.0)), 300.0, data.draw(st.sampled_from(FLOWS))
    )
    growths = {each.id: analyse_growth(each, {}, today) for each in corals}
    standing = {id: stand(system, corals, growths, today)[0] for id, system in systems.items()}
    found = where_could_it_go(wish_for(species, form, bare, {}), both, standing, {}, today)
    assume(found)
    measured = tuple(replace(size, height=cm(tall)) for size in sizes([TODAY], [length], [width]))
    new = coral("newcomer", species=species, form=form, sizes=measured, placements=())
    for each in found:
        event(f"{len(each.moves)} moves")
        if each.stuck:
            continue
        after = tuple(carried_out(each, new, corals, systems, today))
        concerned = {"newcomer", *(move.coral for move in each.moves)}
        for days in (0, (ROOM_FOR - OUTGROWN_SOON).days):
            told = alerts(after, systems, today + timedelta(days=days))
            assert not {alert for alert in told if alert[1] & concerned and alert[0] != "growth-fell"}, (days, each)


@settings(max_examples=25)
@given(st.data())
def test_what_is_cut_as_told_stays_in_its_room_as_told(data):
    both = data.draw(rooms())
    systems = {each.id: each for each in both}
    corals, today = data.draw(residents(both)), day(TODAY)
    found, _, _ = analyse_corals({each.id: each for each in corals}, systems, {}, dict, lambda: today, Door())
    plans = {id: each.cutting for id, each in found.items() if isinstance(each.cutting, CuttingPlan)}
    assume(plans)
    before = alerts(corals, systems, today)
    for one in corals:
        plan = plans.get(one.id)
        if plan is None:
            continue
        event("cut" if not plan.nothing else "nothing to cut")
        edge = ("outgrows-place", frozenset({one.id}))
        if plan.nothing:
            assert edge not in before
            continue
        last = max(one.sizes, key=lambda size: size.at)
        length, width = last.length.canonical(), (last.width or last.length).canonical()
        left = (
            2.0
            * found[one.id].spread.reach(today)[0]
            * (1.0 - plan.remove.value / 100.0) ** 0.5
            / (length * width) ** 0.5
        )
        # Sizes are written to a mm: the keeper cuts no less than told.
        written = sizes([TODAY], [left * length - 0.05], [left * width - 0.05])
        cut = replace(one, sizes=(*one.sizes, *written), cuttings=(Cutting(source=here(), at=today, frags=1),))
        after = tuple(cut if each is one else each for each in corals)
        for days in (0, 30, (plan.until - today - OUTGROWN_SOON).days):
            assert edge not in alerts(after, systems, today + timedelta(days=days)), (days, plan)
