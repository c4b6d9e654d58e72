"""Where a coral's measurements belong between its arrival, its cuttings and its moves."""

from math import hypot

import pytest
from msgspec.structs import replace

from generator.nature.constants import RULER_REPEATS_TO
from generator.reckon.growth.measurements import Point, Segment, blocks, height_points, radius_points, segments
from tests.reckon.growth.corals import cm, coral, cut, day, here, noted, placed, sizes


def test_a_size_on_the_day_of_a_move_counts_before_and_after_it_and_one_on_the_day_of_a_cut_after_it_alone():
    starts = [(0, "arrival"), (100, "place"), (200, "cutting"), (300, "breakage")]
    ends = [day(100), day(200), day(300), None]
    parts = [Segment(day(at), until, began, here(at)) for (at, began), until in zip(starts, ends, strict=True)]
    points = [Point(day(at), 4.0 + 0.01 * at, 0.1, here(at)) for at in (50, 100, 150, 200, 250, 300)]
    told = [[(point.at - day(0)).days for point in block] for block in blocks(points, parts)]
    assert told == [[50, 100], [100, 150], [200, 250], [300]]


def test_half_the_root_of_length_times_width_is_as_unsure_as_the_ruler_is_of_both():
    # Source: JCGM 100:2008 (GUM) 5.1.2. Read to 0.1 cm (even within the last digit), and repeated to RULER_REPEATS_TO.
    across = sizes([0, 50], [8.0, 9.0], [4.5, 5.0])
    radius = radius_points(coral(sizes=across), day(60))[0]
    of_length, of_width = (hypot(0.1 / 12.0**0.5, RULER_REPEATS_TO.value * each) / each for each in (8.0, 4.5))
    assert radius.value == pytest.approx(3.0)
    assert radius.standard == pytest.approx(3.0 * hypot(of_length, of_width) / 2.0)
    # Where the width was not measured, the length is off by as much as the radius.
    lengths = tuple(replace(size, width=None) for size in across)
    alone = radius_points(coral(sizes=lengths), day(60))[0]
    assert alone.value == pytest.approx(4.0)
    assert alone.standard == pytest.approx(4.0 * of_length)


def test_radii_are_of_those_days_on_which_both_sides_were_measured_if_there_are_two():
    both = sizes([0, 10, 20], [4.0, 5.0, 6.0], [4.0, 5.0, 6.0])
    one_long = (both[0], replace(both[1], width=None), both[2])
    assert [point.at for point in radius_points(coral(sizes=one_long), day(20))] == [day(0), day(20)]
    two_long = (both[0], *(replace(size, width=None) for size in both[1:]))
    assert [point.at for point in radius_points(coral(sizes=two_long), day(20))] == [day(0), day(10), day(20)]
    assert [point.at for point in radius_points(coral(sizes=both), day(19))] == [day(0), day(10)]


def test_a_height_of_nothing_is_none():
    high = tuple(replace(size, height=cm(height)) for size, height in zip(sizes([0, 9], [4, 4]), (0, 5), strict=True))
    (height,) = height_points(coral(sizes=high), day(9))
    assert (height.at, height.value) == (day(9), 5.0)


def test_a_life_is_cut_where_the_coral_was_cut_broke_or_moved_up_to_today():
    lived = coral(
        placements=(placed(0), placed(40, place="shelf"), placed(60, place="shelf"), placed(90, place="ledge")),
        health=(noted(50, "breakage"), noted(55, "bleaching")),
        cuttings=(cut(0), cut(70), cut(91)),
    )
    told = [((part.since - day(0)).days, part.began) for part in segments(lived, day(90))]
    assert told == [(0, "arrival"), (40, "place"), (50, "breakage"), (70, "cutting"), (90, "place")]
    assert [(part.until and (part.until - day(0)).days) for part in segments(lived, day(89))] == [40, 50, 70, None]
