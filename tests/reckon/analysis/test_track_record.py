"""Predictions other than of readings, held against what was found."""

import numpy as np

from generator.reckon.analysis.track_record import SizeHeld, size_held
from generator.records.coral import Coral
from tests.reckon.growth.corals import coral, cut, day, sizes


def held_of(grown: Coral) -> SizeHeld:
    held = size_held(grown, {}, day(300))
    assert held is not None
    return held


def test_a_coral_that_goes_on_growing_is_as_long_as_predicted():
    held = held_of(coral(sizes=sizes([0, 90, 180, 240], [6.0, 6.9, 7.8, 8.4])))
    assert held.day == day(240)
    assert held.found.value == 8.4
    assert held.predicted.low < 8.4 < held.predicted.high
    assert held.agree


def test_a_prediction_knows_nothing_of_what_was_measured_later():
    days, short = [0, 90, 180, 240], [6.0, 6.9, 7.8]
    predicted = [held_of(coral(sizes=sizes(days, [*short, last]))).predicted for last in (8.4, 12.0)]
    assert predicted[0] == predicted[1]


def test_one_that_shot_up_is_not_as_predicted():
    held = held_of(coral(sizes=sizes([0, 90, 180, 240], [6.0, 6.9, 7.8, 14.0])))
    assert not held.agree


def test_two_measurements_tell_no_growth_to_predict_by_and_a_cut_coral_is_left_out():
    assert size_held(coral(sizes=sizes([0, 90], [6.0, 6.9])), {}, day(300)) is None
    trimmed = coral(sizes=sizes([0, 90, 180], [6.0, 6.9, 5.0]), cuttings=(cut(120),))
    assert size_held(trimmed, {}, day(300)) is None


def test_nine_in_ten_lengths_of_corals_whose_growth_wanders_are_as_predicted():
    rng, corals = np.random.default_rng(5), []
    for number in range(40):
        paces = 0.01 * np.exp(rng.normal(0.0, 0.25, 4))
        grown = 8.0 + np.concatenate([[0.0], np.cumsum(60.0 * paces)])
        read = np.round(grown * (1.0 + rng.normal(0.0, 0.02, 5)), 1)
        corals.append(coral(f"coral-{number}", sizes=sizes([0, 60, 120, 180, 240], [float(each) for each in read])))
    held = [held_of(each) for each in corals]
    assert np.mean([each.agree for each in held]) >= 0.85
