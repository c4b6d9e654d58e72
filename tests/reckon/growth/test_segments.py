"""Where a coral's measurements belong between its arrival, its cuttings and its moves."""

from generator.reckon.growth.segments import Point, Segment, blocks
from tests.reckon.growth.corals import day, here


def test_a_size_on_the_day_of_a_move_counts_before_and_after_it_and_one_on_the_day_of_a_cut_after_it_alone():
    starts = [(0, "arrival"), (100, "place"), (200, "cutting"), (300, "breakage")]
    ends = [day(100), day(200), day(300), None]
    parts = [Segment(day(at), until, began, here(at)) for (at, began), until in zip(starts, ends, strict=True)]
    points = [Point(day(at), 4.0 + 0.01 * at, 0.1, here(at)) for at in (50, 100, 150, 200, 250, 300)]
    told = [[(point.at - day(0)).days for point in block] for block in blocks(points, parts)]
    assert told == [[50, 100], [100, 150], [200, 250], [300]]
