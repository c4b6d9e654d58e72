from math import exp, hypot, log, pi

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.growth.analysis import analyse_growth
from generator.reckon.growth.measurements import Point, blocks, radius_points, segments
from generator.reckon.growth.pace import (
    MASS,
    WEIGHING_REPEATS,
    Course,
    PaceKind,
    ahead,
    doubling_time,
    recent_points,
    repeats_to,
    specific_growth_ahead,
    specific_growth_rate,
)
from tests.reckon.growth.corals import coral, cut, day, here, noted, placed, sizes, weighing


def points(days, values, standard=0.0):
    return tuple(
        Point(day(int(at)), float(value), standard, here(int(at))) for at, value in zip(days, values, strict=True)
    )


def weighed(*blocks, on=90, ahead=(21,)) -> Course:
    return Course(blocks, MASS, day(on), ahead)


def test_even_growth_has_the_rate_it_grew_by():
    days = range(0, 100, 10)
    course = weighed(points(days, [50.0 * exp(0.004 * at) for at in days]))
    found = specific_growth_rate(course)
    assert isinstance(found, Finding)
    assert found.estimate.value == pytest.approx(0.4)
    assert found.method == "growth-rate"
    soon = specific_growth_ahead(course)
    assert isinstance(soon, Finding)
    assert soon.method == "growth-ahead"
    # As it grows its rate falls, by a power of its mass that is hardly told: it may have been even by chance.
    assert 0.36 < soon.estimate.value <= 0.4
    doubled = doubling_time(soon)
    assert isinstance(doubled, Finding)
    assert doubled.estimate.value == pytest.approx(100.0 * log(2.0) / soon.estimate.value)
    # To first order its uncertainty is as large a share of it as that of the rate is of the rate.
    shares = [[part.standard / each.estimate.value for part in each.parts] for each in (soon, doubled)]
    assert shares[1] == pytest.approx(shares[0])
    assert (doubled.estimate.low, doubled.estimate.high) == pytest.approx(
        (100.0 * log(2.0) / soon.estimate.high, 100.0 * log(2.0) / soon.estimate.low)
    )


def test_what_was_never_measured_is_not_said_to_be_measured_once():
    for found in (specific_growth_rate(weighed()), specific_growth_ahead(weighed())):
        assert isinstance(found, CannotTell)
        assert (found.why, found.what_would_tell) == ("never-measured", "measure-it")
    once = specific_growth_rate(weighed(points([0], [100.0])))
    assert isinstance(once, CannotTell)
    assert once.why == "measured-once"


def test_two_weighings_leave_open_what_the_usual_repeatability_does():
    # Source: GUM 5.1.2: u(rate) = √2 u(m)/m / Δt for two weighings of about the same mass.
    found = specific_growth_rate(weighed(points([0, 50], [100.0, 100.0], 0.29)))
    assert isinstance(found, Finding)
    usual = sum(share**2 * odds for share, odds in WEIGHING_REPEATS) ** 0.5
    half = 1.6449 * 2.0**0.5 * hypot(0.0029, usual) / 50.0 * 100.0
    assert found.estimate.high == pytest.approx(half, rel=1e-3)
    assert found.estimate.low == pytest.approx(-half, rel=1e-3)
    assert [part.cause for part in found.parts] == ["repeats"]
    assert isinstance(doubling_time(found), CannotTell)


def test_two_weighings_of_which_the_keeper_tried_how_they_repeat_leave_open_that():
    told = tuple(replace(point, repeats=0.4) for point in points([0, 50], [100.0, 110.0], 0.3))
    found = specific_growth_rate(weighed(told))
    assert isinstance(found, Finding)
    half = 1.6449 * hypot(0.5 / 100.0, 0.5 / 110.0) / 50.0 * 100.0
    assert found.estimate.high - found.estimate.value == pytest.approx(half, rel=1e-3)


def test_what_lies_ahead_is_less_sure_than_what_was_and_less_with_every_day():
    days = range(0, 100, 10)
    masses = points(days, [50.0 * exp(0.004 * at) for at in days])
    so_far = specific_growth_rate(weighed(masses))
    soon, later = (specific_growth_ahead(weighed(masses, on=on)) for on in (90, 190))
    assert isinstance(so_far, Finding)
    assert isinstance(soon, Finding)
    assert isinstance(later, Finding)
    assert half_width(so_far) < half_width(soon) < half_width(later)
    assert {part.cause for part in soon.parts} == {"rate-so-far", "wandering"}
    paces = ahead(weighed(masses, ahead=(7, 21, 60, 180)))
    assert paces is not None
    assert list(np.diff([pace.standard for pace in paces]) > 0.0) == [True] * 3


def test_a_rate_that_fell_is_expected_to_stay_low():
    fell = weighed(points([0, 7, 14, 21, 28], 20.0 * np.exp(np.cumsum([0, 0.13, 0.12, 0.105, 0.095])), 0.003), on=28)
    so_far, soon = specific_growth_rate(fell), specific_growth_ahead(fell)
    assert isinstance(so_far, Finding)
    assert isinstance(soon, Finding)
    assert so_far.estimate.value == pytest.approx(0.45 / 28 * 100, rel=0.02)
    assert soon.estimate.value < 0.95 * so_far.estimate.value


def test_how_far_weighings_repeat_is_learned_once_there_are_enough():
    few = repeats_to(weighed(points([0, 10, 20], [50.0, 52.0, 54.1], 0.003)))
    assert few.known == "assumed"
    assert (few.low, few.high) == (0.0025, 0.035)
    # Common practice, no source.
    assert few.share == pytest.approx(0.024, abs=0.001)
    rng = np.random.default_rng(2)
    days = np.arange(0, 240, 12)
    for repeats in (0.0025, 0.022):
        masses = 50.0 * np.exp(0.003 * days + rng.normal(0.0, repeats, len(days)))
        learned = repeats_to(weighed(points(days, masses, 0.003)))
        assert learned.known == "learned"
        assert learned.share == pytest.approx(repeats, rel=0.5)
        assert learned.low <= repeats <= learned.high


def test_weighing_twice_on_a_day_tells_how_far_weighings_repeat():
    # The gap between two weighings of one day is error alone.
    days, steady = (0, 0, 20, 20, 40, 40), (50.0, 53.0, 55.0, 52.0, 56.0, 59.0)
    wild, calm = (
        repeats_to(weighed(points(days, masses, 0.003))) for masses in (steady, (50, 50.05, 52, 52, 54, 54.1))
    )
    assert wild.share > 0.02
    assert calm.share < 0.006


def half_width(found: Finding) -> float:
    return (found.estimate.high - found.estimate.low) / 2.0


def test_one_measurement_tells_no_rate():
    assert isinstance(specific_growth_rate(weighed(points([5], [10.0]))), CannotTell)
    assert isinstance(specific_growth_rate(weighed()), CannotTell)
    assert isinstance(specific_growth_rate(weighed(points([5, 5], [10.0, 11.0]))), CannotTell)


@settings(max_examples=30)
@given(st.integers(0, 2**32 - 1), st.integers(6, 25))
def test_the_rate_of_evenly_growing_coral_is_about_the_slope_scipy_finds(seed: int, n: int):
    rng = np.random.default_rng(seed)
    days = np.sort(rng.choice(700, n, replace=False))
    masses = 40.0 * np.exp(0.003 * days + rng.normal(0.0, 0.02, n))
    found = specific_growth_rate(weighed(points(days, masses)))
    assert isinstance(found, Finding)
    theirs = scipy.stats.linregress(days, np.log(masses))
    # The rate from the first to the last day, where it may have wandered, and that of one line through all.
    assert abs(found.estimate.value - theirs.slope * 100.0) < 3.0 * half_width(found)


def test_the_interval_of_the_rate_holds_the_true_one_nine_times_in_ten():
    rng = np.random.default_rng(4)
    held = 0
    for _ in range(200):
        days = np.arange(0, 360, 30)
        masses = 40.0 * np.exp(0.003 * days + rng.normal(0.0, 0.03, len(days)))
        found = specific_growth_rate(weighed(points(days, masses, 0.01)))
        assert isinstance(found, Finding)
        held += found.estimate.low <= 0.3 <= found.estimate.high
    assert 0.86 <= held / 200 <= 0.98


def test_a_slip_in_one_weighing_hardly_moves_the_rate():
    days = list(range(0, 120, 10))
    masses = [50.0 * exp(0.004 * at) for at in days]
    masses[5] *= 10.0
    found = specific_growth_rate(weighed(points(days, masses)))
    assert isinstance(found, Finding)
    assert found.estimate.value == pytest.approx(0.4, rel=0.1)


def test_a_cut_begins_a_new_segment_so_that_growth_is_not_lost():
    days = list(range(0, 400, 40))
    lengths = [6.0 + 0.01 * at - (3.0 if at >= 200 else 0.0) for at in days]
    grew = coral(sizes=sizes(days, lengths), cuttings=(cut(200),))
    assert [part.began for part in segments(grew, day(400))] == ["arrival", "cutting"]
    found = analyse_growth(grew, {}, day(400)).radial_extension
    assert isinstance(found, Finding)
    assert found.estimate.value == pytest.approx(0.005 * 365.25, rel=0.02)


def test_a_coral_measured_on_the_day_it_was_cut_was_measured_after():
    grew = coral(sizes=sizes([0, 50, 100], [8.0, 5.0, 6.0]), cuttings=(cut(50),))
    told = blocks(radius_points(grew, day(100)), segments(grew, day(100)))
    assert [[p.at for p in block] for block in told] == [[day(0)], [day(50), day(100)]]


def test_a_coral_measured_on_the_day_it_moved_belongs_to_both_places():
    grew = coral(sizes=sizes([0, 50, 100], [8.0, 9.0, 9.5]), placements=(placed(0), placed(50, place="shelf")))
    told = blocks(radius_points(grew, day(100)), segments(grew, day(100)))
    assert [[p.at for p in block] for block in told] == [[day(0), day(50)], [day(50), day(100)]]


def test_breakage_begins_a_segment_and_a_second_note_of_the_same_place_does_not():
    broke = coral(placements=(placed(0), placed(30)), health=(noted(60, "breakage"), noted(70, "well")))
    assert [(part.began, part.since) for part in segments(broke, day(100))] == [
        ("arrival", day(0)),
        ("breakage", day(60)),
    ]
    assert len(segments(broke, day(59))) == 1


def test_growth_of_now_is_that_of_the_last_year():
    days = list(range(0, 1000, 50))
    told = recent_points([points(days, range(1, 21))], day(1000))
    assert min(p.at for p in told[0]) == day(650)


def test_where_the_last_year_holds_too_few_measurements_the_last_four_count():
    told = recent_points([points(range(0, 2000, 200), range(1, 11))], day(2000))
    assert [p.at for p in told[0]] == [day(1200), day(1400), day(1600), day(1800)]
    only_old = [points([0, 100], [1.0, 2.0])]
    assert recent_points(only_old, day(1000)) == tuple(only_old)


def test_a_coral_never_weighed_is_followed_by_its_footprint():
    days = list(range(0, 300, 30))
    found = analyse_growth(coral(sizes=sizes(days, [10.0 * exp(0.001 * at) for at in days])), {}, day(300))
    assert found.specific_of == "footprint"
    assert isinstance(found.specific, Finding)
    # A footprint grows by twice the rate of its radius.
    assert found.specific.estimate.value == pytest.approx(0.2, rel=0.05)
    assert isinstance(found.mass, CannotTell)


def test_a_coral_weighed_in_water_and_in_air_is_followed_by_the_more_frequent():
    both = coral(weighings=(*(weighing(at, f"{50 + at} g", in_water=True) for at in (0, 40, 80)), weighing(10, "99 g")))
    found = analyse_growth(both, {}, day(100))
    assert found.mass_kind == "skeleton"
    assert found.specific_of == "mass"
    # In equal water the skeleton grows as its buoyant weight does.
    assert isinstance(found.specific, Finding)
    assert found.specific.estimate.value == pytest.approx(log(130 / 90) / 40 * 100, rel=0.4)


def test_the_mean_radius_is_that_of_the_circle_of_the_same_area():
    grew = coral(sizes=sizes([0, 10], [56.0, 60.0], [40.0, 40.0]))
    assert [pi * p.value**2 for p in radius_points(grew, day(10))] == pytest.approx([pi / 4 * 2240, pi / 4 * 2400])


def test_of_five_weighings_one_that_is_ten_times_too_large_counts_for_little_and_of_four_it_is_taken():
    days, masses = (0, 10, 20, 30, 40), [50.0 * exp(0.004 * at) for at in (0, 10, 20, 30, 40)]
    typed = [*masses[:2], masses[2] * 10.0, *masses[3:]]
    sound, slipped = (specific_growth_rate(weighed(points(days, each, 0.003))) for each in (masses, typed))
    assert isinstance(sound, Finding)
    assert isinstance(slipped, Finding)
    assert slipped.estimate.value == pytest.approx(sound.estimate.value, abs=0.05)
    assert half_width(slipped) < 0.1
    four = specific_growth_rate(weighed(points(days[:4], typed[:4], 0.003)))
    assert isinstance(four, Finding)
    assert half_width(four) > 0.1


def test_a_coral_whose_root_of_mass_grows_evenly_is_forecast_from_the_day_it_was_weighed():
    # dW/dt = c W^½ (Carlot et al. 2022 with massive growth): the root of the mass grows evenly.
    days = range(0, 101, 10)
    blocks = [points(days, [(5.0 + 0.05 * at) ** 2 for at in days])]
    evenly = PaceKind(((0.5, 1.0),), ((0.0025, 1.0),), True, True)
    found = ahead(Course(blocks, evenly, day(200), (50,)))
    assert found is not None
    assert found[0].grown == pytest.approx(2.0 * log(17.5 / 15.0), rel=0.02)
