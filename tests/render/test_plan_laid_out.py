"""Corals whose spot nobody wrote stand apart in the plan, and are marked as assumed."""

from dataclasses import replace

from generator.render.pages.plan import laid_out
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
