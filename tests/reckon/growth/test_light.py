from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.nature.constants import LIGHT_RISE_PER_WEEK
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.growth.spots import LightMove, light_between, light_move, light_on, step_up, used_to
from tests.reckon.growth.corals import cm, coral, day, par, place, placed, system


@given(st.floats(0.5, 15.0), st.floats(0.5, 30.0))
def test_no_week_brings_more_than_its_share_and_the_last_step_brings_what_is_wanted(used: float, wanted: float):
    steps = step_up(used, wanted, 10.0, day(0))
    levels = [used, *(step.daily for step in steps)]
    assert all(after <= before * (1.0 + LIGHT_RISE_PER_WEEK.value) + 1e-9 for before, after in pairwise(levels))
    assert all((b.since - a.since).days == 7 for a, b in pairwise(steps))
    if wanted > used * (1.0 + LIGHT_RISE_PER_WEEK.value):
        assert steps[-1].daily == wanted
        assert steps[-1].par == pytest.approx(wanted / 10.0 / 0.0036)
    else:
        assert steps == ()


def two_places():
    return {
        "lagoon": system(
            shade=place(0, 0, 40, 40, light=par(90), light_to=par(110)),
            top=place(0, 0, 40, 40, light=par(300)),
            dark=place(0, 0, 40, 40),
        )
    }


def test_the_light_at_a_place_spans_its_darkest_and_its_lightest_spot():
    found = light_on(coral(placements=(placed(place="shade"),)), two_places(), day(1))
    assert isinstance(found, Finding)
    assert (found.estimate.low, found.estimate.value, found.estimate.high) == pytest.approx((3.24, 3.6, 3.96))


def test_the_light_measured_at_the_coral_goes_before_that_of_its_place():
    found = light_on(coral(placements=(placed(place="shade", light=par(250)),)), two_places(), day(1))
    assert isinstance(found, Finding)
    assert found.estimate.value == pytest.approx(9.0)


def test_a_move_to_more_light_gets_a_plan():
    moved = coral(placements=(placed(0, place="shade"), placed(100, place="top")))
    found = light_move(moved, two_places(), day(105))
    assert isinstance(found, LightMove)
    assert (found.before.value, found.after.value) == pytest.approx((3.6, 10.8))
    # 1.15**8 is 3.06: eight weekly steps triple the light.
    assert len(found.steps) == 8
    assert found.steps[0].since == day(100)


def test_a_move_to_less_light_needs_no_steps():
    moved = coral(placements=(placed(0, place="top"), placed(100, place="shade")))
    found = light_move(moved, two_places(), day(105))
    assert isinstance(found, LightMove)
    assert found.steps == ()


def test_a_move_long_past_is_no_move():
    moved = coral(placements=(placed(0, place="shade"), placed(100, place="top")))
    assert light_move(moved, two_places(), day(100 + 8 * 7)) is None
    assert light_move(moved, two_places(), day(99)) is None
    assert light_move(coral(placements=(placed(),)), two_places(), day(1)) is None


def test_a_step_up_is_told_until_its_last_week_is_over():
    moved = coral(placements=(placed(0, place="shade"), placed(100, place="top")))
    found = light_move(moved, two_places(), day(100 + 8 * 7 - 1))
    assert isinstance(found, LightMove)
    assert found.steps[-1].since == day(149)


def test_a_move_without_steps_is_told_for_four_weeks():
    moved = coral(placements=(placed(0, place="top"), placed(100, place="shade")))
    assert isinstance(light_move(moved, two_places(), day(127)), LightMove)
    assert light_move(moved, two_places(), day(128)) is None


def test_a_few_days_in_between_are_not_what_a_coral_is_used_to():
    by_way = coral(placements=(placed(0, place="shade"), placed(97, place="top"), placed(100, place="top", x=cm(9))))
    found = light_move(by_way, two_places(), day(105))
    assert isinstance(found, LightMove)
    assert found.before.value == pytest.approx(3.6)
    stayed = coral(placements=(placed(0, place="shade"), placed(40, place="top"), placed(100, place="top", x=cm(9))))
    found = light_move(stayed, two_places(), day(105))
    assert isinstance(found, LightMove)
    assert found.before.value == pytest.approx(10.8)


def test_one_that_follows_its_plan_from_place_to_place_needs_no_new_one():
    steps = (100.0, 115.0, 132.0, 151.0)
    lagoon = {"lagoon": system(**{f"step-{n}": place(0, 0, 40, 40, light=par(level)) for n, level in enumerate(steps)})}
    at = (0, *range(60, 60 + 7 * (len(steps) - 1), 7))
    moved = coral(placements=tuple(placed(day, place=f"step-{n}") for n, day in enumerate(at)))
    found = light_move(moved, lagoon, day(75))
    assert isinstance(found, LightMove)
    assert found.before.value == pytest.approx(4.752, rel=0.01)
    assert found.steps == ()
    hurried = coral(placements=tuple(placed(day, place=f"step-{n}") for n, day in enumerate((0, 60, 62, 64))))
    found = light_move(hurried, lagoon, day(75))
    assert isinstance(found, LightMove)
    assert found.before.value == pytest.approx(3.6)
    assert len(found.steps) == 3


def test_without_photoperiod_or_light_there_is_no_daily_light():
    here = coral(placements=(placed(place="dark"),))
    assert isinstance(light_on(here, two_places(), day(1)), CannotTell)
    no_hours = {"lagoon": system(photoperiod=None, shade=place(0, 0, 40, 40, light=par(90)))}
    found = light_on(coral(placements=(placed(place="shade"),)), no_hours, day(1))
    assert isinstance(found, CannotTell)
    assert found.why == "no-photoperiod"
    assert isinstance(light_on(coral(), two_places(), day(1)), CannotTell)


def test_light_between_two_measured_heights_falls_as_in_even_water():
    # Where a hundredth of the light is left at 4.6/K, a tenth is left at 2.3/K, in the middle.
    # Source: Kirk 2011, Light and Photosynthesis in Aquatic Ecosystems, the euphotic zone and its middle (from memory).
    assert light_between((0.0, 3.0), (46.0, 300.0), 23.0) == pytest.approx(30.0)
    assert light_between((0.0, 3.0), (46.0, 300.0), 46.0) == pytest.approx(300.0)


@pytest.mark.parametrize("height", [9.0, 41.0])
def test_beyond_the_measured_heights_nothing_is_said_of_the_light(height: float):
    assert light_between((10.0, 100.0), (40.0, 200.0), height) is None


def test_where_the_lower_place_has_more_light_water_is_not_why():
    assert light_between((10.0, 200.0), (40.0, 100.0), 20.0) is None


def test_a_coral_gets_used_to_a_seventh_more_in_each_full_week_of_more_light():
    by_place = (placed(0, place="shade"), placed(100, place="top"), placed(120, place="top", x=cm(9)))
    for cap in (0.15, 0.1):
        used = used_to(by_place, two_places(), cap)
        assert isinstance(used, Finding)
        # 20 days are two full weeks.
        assert used.estimate.value == pytest.approx(3.6 * (1.0 + cap) ** 2)
    long = (*by_place[:2], placed(200, place="top", x=cm(9)))
    used = used_to(long, two_places())
    assert isinstance(used, Finding)
    assert used.estimate.value == pytest.approx(10.8)
    for days, told in ((27, 10.8), (28, 3.6)):
        less = (placed(0, place="top"), placed(100, place="shade"), placed(100 + days, place="top"))
        used = used_to(less, two_places())
        assert isinstance(used, Finding)
        assert used.estimate.value == pytest.approx(told)
