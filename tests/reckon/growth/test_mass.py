from collections.abc import Mapping
from datetime import UTC, date, datetime

import pytest

from generator.nature.constants import ACROPORA_SKELETON_DENSITY
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.growth.mass import (
    SALINITY_ASSUMED,
    Weight,
    by_day,
    grown,
    mass_on,
    on_the_scale,
    single_weights,
    skeleton_density,
    weighing_water,
)
from generator.records.coral import Coral
from generator.records.log import Reading, SystemLog
from generator.units.quantity import parse_quantity
from tests.reckon.growth.corals import coral, cut, day, here, noted, placed, weighing


def weights(of: Coral, logs: Mapping[str, SystemLog], as_of: date) -> tuple[Weight, ...]:
    """Every day's weight up to a day."""
    return by_day(single_weights(of, logs, as_of))


def test_a_weighing_without_holder_is_as_sure_as_the_scales_step():
    # Source: JCGM 100:2008, F.2.2.1: step/(2√3).
    scale = on_the_scale(weighing(0, "412.0 g", "0.5 g"))
    assert scale.value == 412.0
    assert scale.standard == pytest.approx(0.5 / (2.0 * 3.0**0.5))


def test_a_weighing_with_its_holder_is_the_difference_and_unsure_twice():
    scale = on_the_scale(weighing(0, "412.0 g", "0.5 g", holder="100.0 g"))
    assert scale.value == 312.0
    assert scale.standard == pytest.approx(0.5 / 6.0**0.5)


def test_a_boulder_hung_in_a_net_from_a_dial_in_pounds_is_known_to_a_tenth_of_a_kilogram():
    # 24.2 lb with the net, 2.8 lb without the boulder: 21.4 lb of 453.59237 g each by definition.
    weighed = weights(coral(weighings=(weighing(0, "24.2 lb", "0.2 lb", holder="2.8 lb"),)), {}, day(1))
    found = mass_on(weighed, day(1))
    assert isinstance(found, Finding)
    assert found.estimate.value == pytest.approx(9706.9, abs=0.1)
    assert found.estimate.high - found.estimate.value == pytest.approx(1.645 * 0.2 / 6.0**0.5 * 453.59237, rel=1e-3)
    assert found.estimate.low < 9700.0 < found.estimate.high


def test_weighing_twice_on_a_day_makes_the_scale_surer():
    once = weights(coral(weighings=(weighing(0, "50.0 g", "1 g"),)), {}, day(1))
    twice = weights(coral(weighings=(weighing(0, "50.0 g", "1 g"), weighing(0, "51.0 g", "1 g"))), {}, day(1))
    assert len(twice) == 1
    assert twice[0].grams == 50.5
    assert twice[0].standard == pytest.approx(once[0].standard / 2.0**0.5)


def test_a_published_density_is_as_unsure_as_its_range_spread_evenly():
    # JCGM 100:2008, 4.3.7: a half-width a, evenly spread, has the standard uncertainty a / sqrt(3).
    low, high = ACROPORA_SKELETON_DENSITY.ends
    density = skeleton_density("Acropora millepora")
    assert density is not None
    widest = max(high - ACROPORA_SKELETON_DENSITY.value, ACROPORA_SKELETON_DENSITY.value - low)
    assert density.value == ACROPORA_SKELETON_DENSITY.value
    assert density.standard == pytest.approx(widest * 0.577350, rel=1e-5)


def test_weighings_after_the_day_do_not_count():
    weighed = weights(coral(weighings=(weighing(0, "50.0 g"), weighing(9, "60.0 g"))), {}, day(8))
    assert [weight.grams for weight in weighed] == [50.0]
    assert isinstance(mass_on(weighed, day(-1)), CannotTell)
    counted = weights(coral(weighings=(weighing(0, "50.0 g"), weighing(9, "60.0 g"))), {}, day(9))
    assert [weight.grams for weight in counted] == [50.0, 60.0], "one of the day itself does"


def test_a_buoyant_weight_takes_the_water_of_the_weighing_before_the_logs():
    log = SystemLog(
        system="lagoon",
        readings=tuple(
            Reading(
                source=here(n), at=datetime(2025, 1, 9, 8, tzinfo=UTC), kind=kind, value=parse_quantity(value, kind)
            )
            for n, kind, value in ((1, "salinity", "33.0 psu"), (2, "temperature", "26.0 °C"))
        ),
    )
    read = weighing_water(weighing(10, "7 g", in_water=True, salinity=parse_quantity("36.0 psu", "salinity")), log)
    assert (read.salinity.value, read.temperature.value) == (36.0, 26.0)
    too_old = weighing_water(weighing(60, "7 g", in_water=True), log)
    assert (too_old.salinity.value, too_old.salinity.standard) == (35.0, SALINITY_ASSUMED)
    before = weighing_water(weighing(5, "7 g", in_water=True), log)
    assert before.inputs == ()


def test_an_unknown_salinity_widens_the_skeletons_interval_a_little():
    told = {"salinity": parse_quantity("35.0 psu", "salinity"), "temperature": parse_quantity("25.0 °C", "temperature")}
    known, unknown = (
        weights(coral(weighings=(weighing(0, "100.00 g", in_water=True, **water),)), {}, day(1))[0]
        for water in (told, {})
    )
    assert known.grams == pytest.approx(unknown.grams, rel=1e-9)
    assert known.standard < unknown.standard < known.standard * 1.2


def test_the_range_of_skeleton_densities_is_most_of_what_a_buoyant_weight_leaves_open():
    weight = weights(coral(weighings=(weighing(0, "100.00 g", in_water=True),)), {}, day(1))[0]
    assert max(weight.parts, key=lambda part: part.standard).cause == "skeleton"
    # Source: Bucher, Harriott & Roberts 1998: taking 2.93 for 2.83 understates Acropora by 1.9 %.
    assert 0.005 < weight.standard / weight.grams < 0.019


def test_acropora_has_its_own_density_and_a_zoanthid_no_skeleton():
    acropora, unknown = skeleton_density("Acropora millepora"), skeleton_density("Nemo sp.")
    assert acropora is not None
    assert unknown is not None
    assert (acropora.value, unknown.value) == (2.83, 2.93)
    assert unknown.standard > acropora.standard
    assert skeleton_density("Zoanthus sp.") is None
    assert weights(coral(species="Zoanthus sp.", weighings=(weighing(0, "5 g", in_water=True),)), {}, day(1)) == ()


def test_what_was_cut_is_added_back_to_what_grew():
    grew = coral(
        weighings=(weighing(0, "100.00 g"), weighing(100, "90.00 g")), cuttings=(cut(50, mass=40.0), cut(100, mass=1.0))
    )
    found = grown(grew, weights(grew, {}, day(200)), "drained")
    assert isinstance(found, Finding)
    assert found.estimate.value == pytest.approx(31.0)
    assert here(350) in found.inputs


def test_a_cutting_nobody_weighed_leaves_open_what_grew():
    grew = coral(weighings=(weighing(0, "100.00 g"), weighing(100, "90.00 g")), cuttings=(cut(50), cut(150)))
    found = grown(grew, weights(grew, {}, day(200)), "drained")
    assert isinstance(found, CannotTell)
    assert found.why == "cutting-not-weighed"
    assert found.inputs == (here(350),)


def test_what_broke_off_and_was_not_weighed_leaves_open_what_grew():
    def found(*cuttings, broke: int = 50):
        scale = (weighing(0, "100.00 g"), weighing(100, "90.00 g"))
        grew = coral(weighings=scale, health=(noted(broke, "breakage"),), cuttings=cuttings)
        return grown(grew, weights(grew, {}, day(200)), "drained")

    lost = found()
    assert isinstance(lost, CannotTell)
    assert (lost.why, lost.inputs) == ("breakage-not-weighed", (here(450),))
    # A branch that was kept is written as a cutting of the day.
    kept = found(cut(50, mass=40.0))
    assert isinstance(kept, Finding)
    assert kept.estimate.value == pytest.approx(30.0)
    assert isinstance(found(broke=0), Finding)
    assert isinstance(found(broke=101), Finding)


def test_cuttings_weighed_in_air_add_to_a_skeleton_what_of_them_is_skeleton():
    def found(mass: float) -> Finding:
        grew = coral(
            weighings=(weighing(0, "60 g", in_water=True), weighing(100, "60 g", in_water=True)),
            cuttings=(cut(50, mass=mass),),
            placements=(placed(),),
        )
        answer = grown(grew, weights(grew, {}, day(200)), "skeleton")
        assert isinstance(answer, Finding)
        return answer

    # Common practice, no source: most of a drained cutting is skeleton.
    assert 7.0 < found(10.0).estimate.value < 9.5
    assert found(10.0).estimate.high < 10.0
    assert max(found(10.0).parts, key=lambda part: part.standard).cause == "cuttings"


def test_a_weight_repeats_as_its_keeper_recorded_or_else_as_is_usual():
    (weight,) = weights(coral(weighings=(weighing(0, "50.0 g"), weighing(0, "50.2 g"))), {}, day(1))
    assert weight.repeats is None
    # A mean of two repeats within the share over √2 (GUM 4.2.3).
    usual = weight.repeating(0.02)
    assert usual.repeats == pytest.approx(0.02 * 50.1 / 2.0**0.5)
    assert usual.standard == pytest.approx((weight.standard**2 + usual.repeats**2) ** 0.5)
    assert usual.repeating(0.5) == usual
