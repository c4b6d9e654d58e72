"""How warm the water arrives, and what a container's trips teach."""

from math import exp

import numpy as np
import pytest

from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.trade.carrying import (
    Leg,
    Sides,
    arrival_temperature,
    legs,
    temperature_after,
    time_constant,
    usual_time_constant,
)
from tests.reckon.trade.deals import AT, on_the_way, q, trade, travel

CRATE = Sides(60, 40, 40)
USUAL = usual_time_constant(CRATE, 60.0)


def leg(tau: float, hours: float = 3.0, start: float = 26.0, air: float = 12.0, litres: float | None = None) -> Leg:
    return Leg(hours, start, air + (start - air) * exp(-hours / tau), air, litres, AT)


def test_two_hours_after_two_hours_is_four_hours():
    once = temperature_after(temperature_after(26, 12, 2, 9), 12, 2, 9)
    assert once == pytest.approx(temperature_after(26, 12, 4, 9))


def test_without_a_logged_trip_the_usual_range_stands():
    found = time_constant([], USUAL, 60.0)
    usual = USUAL.estimate("h")
    assert found.estimate.value == pytest.approx(usual.value, rel=0.05)
    assert found.estimate.low == pytest.approx(usual.low, rel=0.05)
    assert found.inputs == ()


def test_logged_trips_narrow_it_down_to_the_containers_own():
    before = time_constant([], USUAL, 60.0).estimate
    found = time_constant([leg(16.0), leg(16.0, 5.0), leg(16.0, 2.0)], USUAL, 60.0)
    assert found.estimate.value == pytest.approx(16.0, rel=0.05)
    assert found.estimate.high - found.estimate.low < (before.high - before.low) / 3
    assert len(found.inputs) == 3


def test_the_interval_holds_the_truth_about_nine_times_in_ten():
    dice = np.random.default_rng(20260601)
    held = 0
    for _ in range(300):
        tau = USUAL.median * exp(USUAL.spread * dice.standard_normal())
        trips = []
        for _ in range(3):
            # The air on the way is not quite what was read at both ends.
            true = leg(tau, hours=float(dice.uniform(0.5, 5.0)), air=12.0 + dice.standard_normal())
            trips.append(Leg(true.hours, true.start, true.end + 0.2 * dice.standard_normal(), 12.0, None, AT))
        found = time_constant(trips, USUAL, 60.0).estimate
        held += found.low <= tau <= found.high
    # Four standard errors of a binomial of 0.9 over 300.
    assert abs(held / 300 - 0.9) < 0.07


def test_twice_the_water_cools_half_as_fast():
    found = time_constant([leg(16.0, litres=30.0)] * 5, USUAL, 60.0)
    assert found.estimate.value == pytest.approx(32.0, rel=0.1)


def test_more_water_and_less_surface_keep_longer():
    assert usual_time_constant(CRATE, 90.0).median > USUAL.median
    assert usual_time_constant(Sides(90, 40, 40), 60.0).median < USUAL.median


def test_the_road_ends_between_the_water_and_the_air():
    found = arrival_temperature(26.0, (15.0, 2.0), 4.0, time_constant([], USUAL, 60.0)).estimate
    assert 15.0 < found.value < 26.0
    assert found.low < found.value < found.high


def test_no_time_on_the_road_changes_nothing():
    found = arrival_temperature(26.0, (15.0, 2.0), 0.0, time_constant([], USUAL, 60.0)).estimate
    assert (found.low, found.value, found.high) == (26.0, 26.0, 26.0)


def test_legs_come_from_the_trips_of_this_container_that_have_the_air():
    logged = travel(
        "3 h",
        container="big-crate",
        water=q("50 L", "volume"),
        temperatures=(on_the_way("0 h", "26 °C", "12 °C"), on_the_way("1 h", "25.2 °C"), on_the_way("3 h", "23.8 °C")),
    )
    other = travel("3 h", container="other", temperatures=logged.temperatures)
    found = legs([trade("2026-01-01", travel=logged), trade("2026-02-01", travel=other)], "big-crate")
    assert [(one.hours, one.start, one.end, one.air, one.litres) for one in found] == [(1.0, 26.0, 25.2, 12.0, 50.0)]


def test_a_lognormal_prior_of_no_width_is_not_moved():
    narrow = LogNormal(10.0, 1e-3)
    assert time_constant([leg(10.0)], narrow, 60.0).estimate.value == pytest.approx(10.0, rel=1e-2)
