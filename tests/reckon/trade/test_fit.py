"""Whether a colony fits: a tape measure's truths."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.reckon.trade.carrying import Sides
from generator.reckon.trade.journey import Pose, fit, outlines, water_to_cover

_CM = st.floats(2.0, 60.0)
_SIDES = st.builds(Sides, _CM, _CM, _CM)


def test_a_ball_has_its_own_width_in_every_pose():
    found = fit(Sides(20, 20, 20), Sides(30, 26, 28), padding=2.0)
    assert found.fits
    assert found.pose.tilt == 0.0
    assert found.clearance == pytest.approx(26 / 2 - 10 - 2)


def test_a_colony_flat_in_its_container_has_the_room_a_tape_measure_says():
    found = fit(Sides(30, 20, 10), Sides(40, 30, 20), padding=2.5)
    # 5 cm on each side, of which 2.5 are padding.
    assert found.clearance == pytest.approx(2.5)
    assert found.pose.turn in (0.0, 180.0)
    assert found.clearance_of_box == pytest.approx(2.5)


def test_a_colony_that_just_touches_its_padding_lies_flat():
    found = fit(Sides(20, 16, 12), Sides(24, 20, 16), padding=2.0)
    assert found.fits
    assert (found.clearance, found.pose.tilt) == (0.0, 0.0)


def test_a_long_colony_goes_in_across_the_corner():
    flat, corner = Sides(50, 8, 8), Sides(42, 42, 20)
    found = fit(flat, corner, padding=1.0)
    assert found.fits
    assert found.pose.tilt == 0.0
    assert 20 <= found.pose.turn <= 70 or 110 <= found.pose.turn <= 160


def test_a_wide_colony_goes_in_tilted_where_it_does_not_lie():
    found = fit(Sides(52, 31, 17), Sides(56, 36, 38), padding=2.5)
    assert found.fits
    assert 0 < found.pose.tilt <= 60
    assert found.extent.width + 2 * 2.5 <= 36
    assert found.extent.height + 2 * 2.5 <= 38


def test_what_is_longer_than_the_longest_diagonal_never_fits():
    found = fit(Sides(90, 10, 10), Sides(50, 50, 40), padding=0.0)
    # √(50² + 50² + 40²) = 81.
    assert not found.fits
    assert found.clearance < 0


@pytest.mark.long
@settings(max_examples=25)
@given(_SIDES, _SIDES, st.floats(0.0, 5.0))
def test_more_padding_or_a_bigger_colony_never_leaves_more_room(colony: Sides, container: Sides, padding: float):
    one = fit(colony, container, padding)
    assert fit(colony, container, padding + 1.0).fits <= one.fits
    bigger = Sides(colony.length + 1, colony.width + 1, colony.height + 1)
    assert fit(bigger, container, padding).fits <= one.fits
    assert one.clearance_of_box <= one.clearance + 1e-9
    if one.fits:
        for side, room in zip(one.extent.array, container.array, strict=True):
            assert side + 2 * padding <= room + 1e-9


@settings(max_examples=25)
@given(_SIDES, _SIDES)
def test_turning_a_container_by_a_right_angle_changes_nothing(colony: Sides, container: Sides):
    turned = Sides(container.width, container.length, container.height)
    assert fit(colony, container, 1.0).clearance == pytest.approx(fit(colony, turned, 1.0).clearance, abs=0.1)


def test_the_water_to_cover_is_the_container_up_to_the_cover_less_what_the_colony_takes():
    water, covered = water_to_cover(Sides(20, 20, 10), Sides(20, 20, 10), Sides(40, 30, 25), padding=2.0, cover=3.0)
    assert covered
    assert water.high == pytest.approx(40 * 30 * 15 / 1000)
    # An ellipsoid of 20 by 20 by 10 cm holds 2.09 L.
    assert water.low == pytest.approx(18.0 - 2.0944, abs=1e-3)


def test_no_more_water_is_wanted_than_the_container_holds():
    water, covered = water_to_cover(Sides(20, 20, 24), Sides(20, 20, 24), Sides(40, 30, 25), padding=2.0, cover=3.0)
    assert not covered
    # Filled to 95 in 100 of its 30 L.
    assert water.high == pytest.approx(28.5)


@pytest.mark.parametrize("about", [0.0, 45.0, 90.0])
def test_a_colony_that_is_turned_but_not_tilted_lies_along_its_turn(about: float):
    above, front = outlines(Sides(40, 20, 10), Pose(turn=30.0, tilt=0.0, tilted_about=about))
    assert (above.half_long, above.half_short, above.turned) == pytest.approx((20.0, 10.0, 30.0))
    assert front.half_short == pytest.approx(5.0)


def test_a_colony_tilted_about_its_length_shows_more_of_its_width_from_the_front():
    above, front = outlines(Sides(40, 20, 10), Pose(turn=0.0, tilt=90.0, tilted_about=0.0))
    assert (above.half_long, above.half_short) == pytest.approx((20.0, 5.0))
    assert (front.half_long, front.half_short, front.turned % 180.0) == pytest.approx((20.0, 10.0, 0.0))
    # About its width it stands on end.
    above, front = outlines(Sides(40, 20, 10), Pose(turn=0.0, tilt=90.0, tilted_about=90.0))
    assert (above.half_long, above.half_short, above.turned) == pytest.approx((10.0, 5.0, 90.0))
    assert (front.half_long, front.half_short, front.turned) == pytest.approx((20.0, 5.0, 90.0))
