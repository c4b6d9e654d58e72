"""What a plan draws of what nobody wrote: corals stand apart, marked as assumed; light is only where it is known."""

from msgspec.structs import replace

from generator.render.pages.plan import laid_out, lit
from tests.reckon.growth.corals import cm, par
from tests.reckon.growth.test_room import analyse, place, spreading


def test_corals_without_a_written_spot_stand_side_by_side_and_the_others_stay() -> None:
    found = analyse(spreading("one", "15 cm"), spreading("two", "35 cm"), spreading("three", "45 cm"))
    standing = [
        replace(each, known=each.coral.id == "one", x=each.x if each.coral.id == "one" else 30.0)
        for each in found.standing
    ]
    shown = {each.coral.id: each.x for each in laid_out(standing, {"ledge": place(0, 0, 60, 40)})}
    assert shown["one"] == 15.0
    assert sorted(shown[id] for id in ("two", "three")) == [20.0, 40.0], "at a third and at two thirds of 60 cm"


def test_light_is_drawn_where_it_was_measured_and_between_places_above_each_other() -> None:
    low = place(0, 0, 100, 20, height=cm(10), light=par(100))
    high = place(40, 20, 30, 20, height=cm(50), light=par(200))
    unmeasured = place(0, 40, 100, 20, height=cm(30))
    drawn = list(lit({"low": low, "high": high, "unmeasured": unmeasured}, 2.0))
    measured = [(each.low, each.high, round(each.shade, 2)) for each in drawn if each.high - each.low == 2.0]
    between = [each for each in drawn if each.high - each.low != 2.0]
    assert measured == [(10.0, 12.0, 0.2), (50.0, 52.0, 0.4)], "of 500 PAR"
    assert {(each.x, each.width) for each in between} == {(40.0, 30.0)}, "only where one stands above the other"
    assert min(each.low for each in between) == 12.0
    assert max(each.high for each in between) == 50.0
    shades = [each.shade for each in between]
    assert shades == sorted(shades), "brighter towards the surface"
