"""A journey judged: one worked through, and what must hold of any."""

from itertools import pairwise
from math import exp, hypot

import pytest
from msgspec.structs import replace

from generator.reckon.finding import OutsideRange
from generator.reckon.trade import carrying
from generator.reckon.trade.analysis import outcomes as outcomes_of
from generator.reckon.trade.analysis import side_by_side
from generator.reckon.trade.carrying import Sides, lift, packing_list, reach_over, recommended_limit
from generator.reckon.trade.journey import Journey, Trip, judge
from generator.units.quantity import Estimate
from tests.reckon.trade.deals import on_the_way, q, state, trade, travel

KM_PER_MILE = 1.609344

# A colony too long to lie in its crate, on a short crossing on a mild day.
PLAN = Trip(
    colony=Sides(52, 31, 17),
    surface_factor=4.0,
    mass=Estimate(5.5, 2.5, 12.0, "kg"),
    container=Sides(56, 36, 38),
    hours=40 / 60,
    start=25.1,
    air=(17.0, 2.0),
)


def level(judged: Journey) -> dict[str, str]:
    return {risk.id: risk.level for risk in judged.risks}


def test_the_large_colony_travels_tilted_covered_and_safe_and_is_lifted_with_caution():
    judged = judge(PLAN)
    assert judged.fit.fits
    assert judged.fit.pose.tilt > 0
    assert judged.covered
    assert level(judged) == {"fit": "low", "cover": "low", "temperature": "low", "oxygen": "low"}
    assert judged.lift.judgement != "one-person"
    assert judged.lift.caution in judged.cautions
    assert {"cites", "no-release"} <= set(judged.cautions)


def test_a_long_cold_road_is_a_risk():
    judged = judge(replace(PLAN, hours=20.0, air=(5.0, 2.0)))
    assert level(judged)["temperature"] == "high"
    assert level(judged)["oxygen"] == "high"


def test_the_containers_own_trips_make_the_forecast_surer():
    logged = travel(
        "6 h",
        container="crate",
        temperatures=tuple(on_the_way(f"{h} h", f"{5 + 20 * 0.96**h:.1f} °C", "5 °C") for h in (0, 2, 4, 6)),
    )
    plan = replace(PLAN, hours=6.0, air=(5.0, 1.0), container_id="crate")
    before = judge(plan).arrival.estimate
    after = judge(plan, [trade("2026-01-01", travel=logged)]).arrival
    assert after.estimate.high - after.estimate.low < (before.high - before.low) / 3
    assert len(after.inputs) == 3


def test_a_light_box_is_lifted_by_one():
    small = replace(PLAN, colony=Sides(8, 8, 5), container=Sides(20, 15, 12), mass=Estimate(0.2, 0.1, 0.3, "kg"))
    assert judge(small).lift.judgement == "one-person"


def test_what_does_not_fit_is_a_high_risk_and_says_how_much_is_wanting():
    judged = judge(replace(PLAN, container=Sides(40, 30, 25)))
    assert level(judged)["fit"] == "high"
    assert judged.fit.clearance < 0


@pytest.mark.parametrize(
    ("reach", "height", "rise", "turn"),
    [(63.0, 75.0, 25.0, 0.0), (25.0, 175.0, 25.0, 0.0), (25.0, 75.0, 175.0, 0.0), (25.0, 75.0, 25.0, 135.0)],
)
def test_a_lift_beyond_any_end_of_the_equation_has_a_limit_of_nothing(reach, height, rise, turn):
    # Source: NIOSH 94-110: HM 0 beyond 63 cm, VM 0 above 175 cm, DM 0 beyond 175 cm, AM 0 beyond 135° (from memory).
    given = (reach, height, rise, turn)
    assert recommended_limit(*given) > 0.0
    for index, value in enumerate(given):
        if value in (63.0, 175.0, 135.0):
            assert recommended_limit(*(*given[:index], value + 0.01, *given[index + 1 :])) == 0.0
            with pytest.raises(ValueError, match="numbers of 0 or more"):
                recommended_limit(*(*given[:index], float("nan"), *given[index + 1 :]))


def test_a_container_on_the_floor_is_held_farther_off():
    # Source: NIOSH 94-110: H = 25 + W/2 with hands below 25 cm, else 20 + W/2 (from memory).
    assert reach_over(40.0, 24.9) == 45.0
    assert reach_over(40.0, 25.0) == 40.0


def test_two_people_lift_less_than_twice_what_one_does():
    # Source: HSE L23: two people, two thirds of the sum (from memory).
    limit = lift(Estimate(1.0, 1.0, 1.0, "kg"), 42.0).limit
    assert limit == pytest.approx(23.0 * 25.0 / 46.0 * 0.835 * (0.82 + 4.5 / 55.0) * 0.95)

    def judged(kg: float) -> str:
        return lift(Estimate(kg, kg, kg, "kg"), 42.0).judgement

    assert judged(0.999 * limit) == "one-person"
    assert judged(1.001 * limit) == "two-people"
    assert judged(1.332 * limit) == "two-people"
    assert judged(1.334 * limit) == "not-filled"


def test_nobody_lifts_a_container_too_wide_to_reach_over():
    light = Estimate(2.0, 2.0, 2.0, "kg")
    assert lift(light, 76.0).judgement == "one-person"
    wide = lift(light, 76.1)
    assert (wide.limit, wide.of_two, wide.judgement) == (0.0, 0.0, "not-filled")


def test_how_little_oxygen_coral_bears_is_part_of_what_is_unsure():
    found = carrying.hours_of_oxygen(60, 35.0, 25.0, PLAN.colony, 4.0)
    of_limit = next(part.standard for part in found.parts if part.cause == "oxygen-limit")
    # 95 % of 6.77 mg/L (Garcia & Gordon 1992), less 2 to 4 mg/L where coral suffers.
    assert of_limit / found.estimate.value == pytest.approx(2.0 / 12.0**0.5 / (0.95 * 6.77 - 3.0), rel=1e-2)
    spread = hypot(*(part.standard for part in found.parts)) / found.estimate.value
    assert found.estimate.high / found.estimate.value == pytest.approx(exp(1.645 * spread), rel=1e-3)


def test_oxygen_is_known_for_sea_that_is_liquid_and_not_beyond():
    for salinity, temperature in ((0.0, 0.0), (42.0, 40.0)):
        assert carrying.solubility(salinity, temperature) > 0.0
    for salinity, temperature in ((-0.1, 25.0), (42.1, 25.0), (35.0, -0.1), (35.0, 40.1), (float("nan"), 25.0)):
        with pytest.raises(OutsideRange, match="Garcia & Gordon 1992 holds"):
            carrying.solubility(salinity, temperature)


def test_oxygen_lasts_longer_in_more_water_and_colder():
    def hours(litres: float, temperature: float) -> float:
        return carrying.hours_of_oxygen(litres, 35.0, temperature, PLAN.colony, 4.0).estimate.value

    assert hours(120, 25) == pytest.approx(2 * hours(60, 25))
    assert hours(60, 20) > hours(60, 28)


def test_a_longer_road_never_packs_less():
    hours = [0.5, 1, 2, 3, 6, 8, 12, 24]
    lists = [{each.item for each in packing_list(each)} for each in hours]
    assert all(short <= long for short, long in pairwise(lists))
    assert "air-pump" not in lists[0]
    assert "air-pump" in {each.item for each in packing_list(0.5, oxygen_lasts=0.4)}


def test_trips_that_went_well_and_badly_stand_side_by_side():
    def trip(day: str, hours: str, *states):
        return trade(
            day,
            travel=travel(hours, temperatures=(on_the_way("0 h", "26 °C"), on_the_way("1 h", "24 °C"))),
            checks=states,
        )

    found = outcomes_of(
        [
            trip("2026-01-01", "1 h", state(0, "fair", slime=True, broken_off=3), state(1, "good"), state(60, "good")),
            trip("2026-02-01", "2 h", state(0, "good"), state(14, "good")),
            trip("2026-03-01", "9 h", state(0, "good"), state(14, "poor"), state(60, "lost")),
            trip("2026-04-01", "1 h", state(0, "good")),
            trade("2026-05-01"),
        ]
    )
    assert [trip.went for trip in found] == ["well", "well", "badly", "not-recorded"]
    assert found[0].states == ("fair", "good", None, "good")
    assert (found[0].slime, found[0].broken_off, found[0].changed) == (True, 3, -2.0)
    hours = side_by_side(found)[0]
    assert hours.well is not None
    assert hours.badly is not None
    assert (hours.well.n, hours.well.median, hours.badly.median) == (2, 1.5, 9.0)
    assert side_by_side(found)[2].well is None  # nobody wrote down the water


def test_the_worst_piece_speaks_for_the_trip():
    deal = trade(
        "2026-01-01",
        travel=travel("1 h", distance=q("12 mi", "distance")),
        checks=(state(1, "good", coral="a"), state(1, "lost", coral="b")),
    )
    (found,) = outcomes_of([deal])
    assert found.went == "badly"
    assert found.km == pytest.approx(12 * KM_PER_MILE)
