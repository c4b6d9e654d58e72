"""Predictions other than of readings, held against what was found."""

import numpy as np
from msgspec.structs import replace

from generator.reckon.dosing.analysis import stocks_held
from generator.reckon.growth.corals import SizeHeld, TouchHeld, size_held, touches_held
from generator.records.coral import Coral, Touch
from generator.records.log import Filling
from generator.units.quantity import parse_quantity
from tests.reckon.dosing.systems import TWO_PART, dosed, log
from tests.reckon.growth.corals import cm, coral, cut, day, here, place, placed, sizes, system
from tests.reckon.water.journals import moment

BENCH = system(ledge=place(0, 0, 60, 40))


def touch(at: int, other: str) -> Touch:
    return Touch(source=here(), at=day(at), coral=other)


def standing(id: str, x: float, **more) -> Coral:
    written = {
        "sizes": sizes([0, 90, 180, 240], [6.0, 6.9, 7.8, 8.4]),
        "placements": (placed(x=cm(x), y=cm(20.0)),),
        **more,
    }
    return coral(id, **written)


def held_of(grown: Coral) -> SizeHeld:
    held = size_held(grown, day(300))
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
    assert size_held(coral(sizes=sizes([0, 90], [6.0, 6.9])), day(300)) is None
    trimmed = coral(sizes=sizes([0, 90, 180], [6.0, 6.9, 5.0]), cuttings=(cut(120),))
    assert size_held(trimmed, day(300)) is None


def test_nine_in_ten_lengths_of_corals_whose_growth_wanders_are_as_predicted():
    rng, corals = np.random.default_rng(5), []
    for number in range(40):
        paces = 0.01 * np.exp(rng.normal(0.0, 0.25, 4))
        grown = 8.0 + np.concatenate([[0.0], np.cumsum(60.0 * paces)])
        read = np.round(grown * (1.0 + rng.normal(0.0, 0.02, 5)), 1)
        corals.append(coral(f"coral-{number}", sizes=sizes([0, 60, 120, 180, 240], [float(each) for each in read])))
    held = [held_of(each) for each in corals]
    assert np.mean([each.agree for each in held]) >= 0.85


def touch_of(one: Coral, other: Coral) -> list[TouchHeld]:
    return list(touches_held(one, {one.id: one, other.id: other}, {"lagoon": BENCH}, day(400)))


def test_a_touch_is_held_against_the_day_predicted_when_one_of_the_two_was_last_measured():
    one, other = standing("one", 20.0, touches=(touch(380, "other"),)), standing("other", 29.6)
    (held,) = touch_of(one, other)
    assert (held.coral, held.other, held.day) == ("one", "other", day(380))
    assert held.predicted.earliest is not None
    assert held.predicted.earliest > day(240)
    assert held.agree
    (early,) = touch_of(replace(one, touches=(touch(250, "other"),)), other)
    assert early.predicted == held.predicted
    assert not early.agree


def test_no_touch_was_predicted_of_a_coral_that_was_cut_since_it_was_measured():
    one = standing("one", 20.0, touches=(touch(380, "other"),))
    assert touch_of(one, standing("other", 29.6, cuttings=(cut(300),))) == []
    # Cut the day they were seen to touch: that is why.
    assert len(touch_of(one, standing("other", 29.6, cuttings=(cut(100), cut(380))))) == 1


def test_of_corals_of_which_nobody_wrote_where_they_stand_no_touch_was_predicted():
    assert touch_of(standing("one", 20.0, touches=(touch(380, "other"),), placements=(placed(),)), coral("other")) == []


def test_nine_in_ten_touches_of_corals_whose_growth_wanders_come_when_predicted():
    rng, held = np.random.default_rng(7), []
    for _ in range(40):
        # One length a month for three years (cm), a rate that wanders from one two months to the next.
        grown = 8.0 + np.cumsum(np.repeat(0.3 * np.exp(rng.normal(0.0, 0.25, (2, 18))), 2, axis=1), axis=1)
        touched = 30 * (1 + int(np.argmax(grown.sum(axis=0) / 2.0 >= 14.0)))
        read = np.round(grown[:, 1:8:2] * (1.0 + rng.normal(0.0, 0.02, (2, 4))), 1)
        one, other = (
            standing(id, x, sizes=sizes([60, 120, 180, 240], [float(each) for each in lengths]))
            for id, x, lengths in zip(("one", "other"), (20.0, 34.0), read, strict=True)
        )
        one = replace(one, touches=(touch(touched, "other"),))
        held += touches_held(one, {"one": one, "other": other}, {"lagoon": BENCH}, day(1200))
    assert len(held) == 40
    assert np.mean([each.agree for each in held]) >= 0.85


def test_a_stock_is_held_against_the_day_on_which_it_was_filled_again():
    filled = [
        Filling(source=here(), at=moment(at), solution=solution, amount=parse_quantity("5 L", "volume"))
        for at, solution in ((10.0, "soda"), (30.0, "chloride"), (58.0, "soda"))
    ]
    running = replace(log({"soda": "100 mL/day", "chloride": "100 mL/day"}), fillings=tuple(filled))
    (held,) = stocks_held(dosed(TWO_PART), running)
    assert (held.solution, held.filled, held.refilled) == ("soda", moment(10.0), moment(58.0))
    assert held.earliest < moment(60.0) < held.latest
