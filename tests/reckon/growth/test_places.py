from math import hypot

import pytest
from msgspec.structs import replace

from generator.reckon.growth.analysis import analyse_growth
from generator.reckon.growth.places import where_could_it_go, wish_for
from generator.reckon.growth.room import stand
from generator.reckon.growth.spots import Wish
from generator.records.system import Part
from tests.reckon.growth.corals import cm, coral, day, here, par, place, placed, sizes, system

# A colony of 49 × 40 × 18 cm that wants 250 to 350 PAR and strong flow, and does not grow.
GROWING = wish_for("Acropora millepora", "corymbose", Wish(49.0, 40.0, 18.0, 250.0, 350.0, "strong"), {})
WISH = replace(GROWING, rate=0.0)


def reef(**more):
    places = {
        "top": place(0, 0, 100, 60, light=par(280), light_to=par(340), flow="strong"),
        "shelf": place(0, 70, 100, 60, light=par(150), light_to=par(200), flow="moderate"),
        "ledge": place(110, 0, 30, 30, light=par(300), flow="strong"),
        **more,
    }
    return system(**places)


def there(id: str, x: float, y: float, across: float = 10.0, where: str = "top", **more):
    return coral(
        id,
        placements=(placed(place=where, x=cm(x), y=cm(y)),),
        sizes=sizes([0], [across]),
        **{"species": "Pocillopora damicornis", "form": "branching", **more},
    )


def answer(wish, reef, *corals, own=None):
    growths = {each.id: analyse_growth(each, {}, day(1)) for each in corals}
    standing = {reef.id: stand(reef, corals, growths, day(1))[0]}
    return where_could_it_go(wish, [reef], standing, own or {}, day(1))


def test_an_empty_place_with_the_light_and_flow_wished_for_comes_first():
    found = answer(WISH, reef())
    assert [each.spot.place for each in found] == ["top", "shelf"]
    first = found[0]
    assert (first.moves, first.light_off, first.flow_fits) == ((), 0.0, True)


def test_a_place_too_small_is_not_named():
    assert "ledge" not in {each.spot.place for each in answer(WISH, reef())}


def test_a_place_that_fits_only_when_the_colony_is_turned_is_named_so():
    deep = system(niche=place(0, 0, 46, 50, light=par(300), flow="strong"))
    assert answer(WISH, deep)[0].spot.turned


def test_too_little_light_is_said_with_its_size():
    shelf = answer(WISH, reef())[1]
    assert shelf.light_off == pytest.approx(-50.0)
    assert shelf.flow_fits is False


def test_the_spot_keeps_clear_of_what_stands_there():
    neighbour = there("one", 10.0, 10.0)
    spot = answer(WISH, reef(), neighbour)[0].spot
    assert spot.place == "top"
    assert hypot(spot.x - 10.0, spot.y - 10.0) >= (48 * 40) ** 0.5 / 2 + 5.0 + WISH.safe


def test_what_must_move_is_named_and_where_it_can_go():
    bright = system(
        top=place(0, 0, 52, 46, light=par(300), flow="strong"),
        ledge=place(70, 0, 30, 30, light=par(310), flow="strong"),
    )
    found = answer(WISH, bright, there("mover", 26.0, 23.0))[0]
    assert found.spot.place == "top"
    assert [move.coral for move in found.moves] == ["mover"]
    assert found.moves[0].to is not None
    assert found.moves[0].to.place == "ledge"


def test_a_coral_that_can_go_nowhere_is_said_to_be_stuck_and_ranks_last():
    bright = system(
        top=place(0, 0, 52, 46, light=par(300), flow="strong"), shelf=place(0, 60, 60, 50, light=par(80), flow="weak")
    )
    found = answer(WISH, bright, there("mover", 26.0, 23.0))
    assert [each.spot.place for each in found] == ["shelf", "top"]
    assert [each.stuck for each in found] == [(), ("mover",)]


def test_two_that_move_are_not_sent_to_the_same_spot():
    bright = system(
        top=place(0, 0, 52, 46, light=par(300), flow="strong"),
        ledge=place(70, 0, 60, 16, light=par(310), flow="strong"),
    )
    found = answer(WISH, bright, there("one", 15.0, 20.0), there("two", 35.0, 20.0))[0]
    spots = [move.to for move in found.moves]
    assert len(spots) == 2
    assert all(spots)
    assert hypot(spots[0].x - spots[1].x, spots[0].y - spots[1].y) >= 10.0


def test_corals_whose_spot_nobody_wrote_may_be_in_the_way():
    hidden = coral("hidden", placements=(placed(place="top"),), sizes=sizes([0], [9.0]))
    assert answer(WISH, reef(), hidden)[0].unplaced == ("hidden",)


def test_kin_of_one_line_may_stand_close():
    kin = there("kin", 12.0, 23.0, 20.0, line="old-crown")
    tight = system(top=place(0, 0, 70, 46, light=par(300), flow="strong"))
    assert answer(replace(WISH, line="old-crown"), tight, kin)[0].moves == ()
    assert len(answer(WISH, tight, kin)[0].moves) == 1


def test_the_journals_own_distance_counts():
    tight = system(top=place(0, 0, 74, 46, light=par(300), flow="strong"))
    neighbour = there("one", 8.0, 23.0, 10.0)
    assert answer(WISH, tight, neighbour)[0].moves == ()
    assert len(answer(WISH, tight, neighbour, own={"pocillopora": cm(30.0)})[0].moves) == 1


def test_a_coral_in_another_part_is_never_in_the_way():
    two = system(
        top=place(0, 0, 60, 50, part="tank", light=par(300), flow="strong"),
        bay=place(0, 0, 60, 50, part="raceway", light=par(100), flow="weak"),
    )
    assert answer(WISH, two, there("one", 30.0, 25.0, where="bay"))[0].moves == ()


def in_a_trough(high: str, **places):
    trough = Part(source=here(), name="trough", height=cm(high))
    return replace(system(**places), parts=(trough,))


def test_a_place_at_which_the_colony_would_stand_out_of_its_vessel_comes_last_and_says_by_how_much():
    shallow = in_a_trough(
        "24 cm",
        rack=place(0, 0, 60, 50, part="trough", height=cm("15 cm"), light=par(300), flow="strong"),
        floor=place(70, 0, 60, 50, part="trough", light=par(100), flow="weak"),
    )
    found = answer(WISH, shallow)
    assert [(each.spot.place, each.too_tall) for each in found] == [("floor", 0.0), ("rack", pytest.approx(9.0))]


def test_a_height_nobody_wrote_is_not_held_against_a_place():
    assert answer(WISH, reef())[0].too_tall is None
    flat = in_a_trough("24 cm", rack=place(0, 0, 60, 50, part="trough", light=par(300), flow="strong"))
    assert answer(replace(WISH, height=None), flat)[0].too_tall is None


def test_what_must_move_is_not_sent_where_it_would_stand_out_of_the_water():
    def sent_to(rim: str):
        bright = in_a_trough(
            rim,
            top=place(0, 0, 52, 46, part="trough", light=par(300), flow="strong"),
            ledge=place(70, 0, 30, 30, part="trough", height=cm("20 cm"), light=par(310), flow="strong"),
        )
        mover = there("mover", 26.0, 23.0)
        tall = replace(mover, sizes=(replace(mover.sizes[0], height=cm("10 cm")),))
        return answer(WISH, bright, tall)[0].moves[0].to

    assert sent_to("40 cm").place == "ledge"
    assert sent_to("25 cm") is None


def test_what_stands_wholly_below_a_rack_is_not_in_its_way():
    def moved(level: str):
        stacked = system(
            sand=place(0, 0, 60, 50, height=cm("0 cm"), light=par(80), flow="weak"),
            rack=place(0, 0, 60, 50, height=cm(level), light=par(300), flow="strong"),
        )
        low = there("low", 30.0, 25.0, where="sand")
        low = replace(low, sizes=(replace(low.sizes[0], height=cm("8 cm")),))
        return [move.coral for move in answer(WISH, stacked, low)[0].moves]

    assert moved("12 cm") == []
    assert moved("6 cm") == ["low"]


def test_one_system_can_be_asked_for_however_many_others_are_better():
    good = system(**{f"top-{n}": place(0, 60 * n, 60, 50, light=par(300), flow="strong") for n in range(10)})
    poor = system("cellar", shelf=place(0, 0, 60, 50, light=par(40), flow="weak"))
    found = where_could_it_go(WISH, [good, poor], {}, {}, day(1), only="cellar")
    assert [each.spot.system for each in found] == ["cellar"]


def test_the_journals_own_distance_holds_for_a_colony_in_no_file():
    assert wish_for("Acropora millepora", "corymbose", WISH, {"acropora": cm(12.0)}).safe == 12.0
    assert wish_for("Acropora millepora", "corymbose", WISH, {}).safe == 5.0


def test_a_frag_goes_between_others_only_where_they_may_touch():
    frag = replace(WISH, length=4.0, width=4.0)
    for may, movers in ((True, []), (False, ["one"])):
        rack = system(rack=place(0, 0, 14, 6, light=par(300), flow="strong", may_touch=may))
        found = answer(frag, rack, there("one", 3.0, 3.0, 4.0, "rack"))[0]
        assert [each.coral for each in found.moves] == movers
    stinging = replace(frag, stings=True)
    rack = system(rack=place(0, 0, 14, 6, light=par(300), flow="strong", may_touch=True))
    assert answer(stinging, rack, there("one", 3.0, 3.0, 4.0, "rack"))[0].moves, "its own file says how far it stings"
