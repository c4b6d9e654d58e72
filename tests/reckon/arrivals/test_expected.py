"""What a newcomer will take, by the rates of the books and by how this system's corals do against them."""

from datetime import UTC, datetime
from math import exp, hypot, log

import numpy as np
import pytest
from msgspec.structs import replace

from generator.nature.constants import BETWEEN_WATERS
from generator.reckon.arrivals.colony import NOTHING_RECORDED, Colony
from generator.reckon.arrivals.expected import (
    LARGE_SHARE,
    UNKNOWN_FACTOR,
    ExpectedUptake,
    SystemFactor,
    Taken,
    expected,
    factor_of_system,
    followed,
    share_against,
    times_there,
)
from generator.reckon.arrivals.informed import share_of
from generator.reckon.arrivals.published import Published, published
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.water.demand_events import DemandEvent
from generator.units.quantity import Estimate, coverage_factor
from tests.reckon.arrivals.colonies import DAY, broad, coral, here, measured, water
from tests.reckon.water.journals import system

UNKNOWN = CannotTell("no-readings", "read-twice")


def of(colony: Colony) -> Published:
    found = published(colony)
    assert isinstance(found, Published)
    return found


def foreseen(colony: Colony, found, litres: float = 640.0, uncertainty: float = 0.0) -> ExpectedUptake:
    answer = expected(colony, water(litres, uncertainty), found)
    assert isinstance(answer, ExpectedUptake)
    return answer


def test_a_colony_as_heavy_as_all_the_others_takes_about_as_much_as_they():
    # Common practice, no source: a colony that about doubles a system's coral mass takes about as much
    # calcium and alkalinity as all the others together.
    others = {"broad": of(broad())}
    found = foreseen(broad(), factor_of_system(others, measured(14.0, 1.0)))
    assert found.grams_per_day.estimate.value == pytest.approx(14.0, rel=0.01)
    assert isinstance(found.share, Finding)
    assert found.share.estimate.value == pytest.approx(0.5, abs=0.01)
    assert found.large


def test_five_colonies_that_weigh_as_much_together_take_somewhat_more_than_the_one():
    # Published allometry: less for each gram in the large colony (Carlot et al. 2022).
    small = {f"{n}": of(Colony(genus="Acropora", form="tabling", mass=broad(1.0, 680.0).mass)) for n in range(5)}
    large = Colony(genus="Acropora", form="tabling", mass=broad().mass)
    found = foreseen(large, factor_of_system(small, measured(14.0, 1.0)))
    assert 0.7 < found.grams_per_day.estimate.value / 14.0 < 1.0


def test_the_alkalinity_and_calcium_it_takes_are_those_of_its_calcium_carbonate():
    # 1 g/day of CaCO3 in 200 L takes 0.28014 dKH and 2.00218 mg/L of calcium a day (Dickson et al. 2007, ch. 2).
    found = foreseen(broad(), factor_of_system({}, UNKNOWN), 200.0)
    grams = found.grams_per_day.estimate.value
    assert found.alkalinity.estimate.value / 0.356652 == pytest.approx(0.28014 * grams, rel=1e-4)
    assert found.calcium.estimate.value == pytest.approx(2.00218 * grams, rel=1e-4)


def test_a_system_that_does_twice_what_the_books_say_takes_twice_as_much_of_a_newcomer():
    others = {"broad": of(broad(0.8, None))}
    usual, quick = (
        foreseen(broad(), factor_of_system(others, measured(times * others["broad"].median, 0.1)))
        for times in (1.0, 2.0)
    )
    assert quick.grams_per_day.estimate.value == pytest.approx(2.0 * usual.grams_per_day.estimate.value)
    assert quick.factor.known == "learned"


def test_a_factor_learned_from_its_own_kind_makes_a_newcomer_surer_than_one_learned_from_others():
    kin, stranger = {"a": of(broad(0.8, None))}, {"a": of(Colony(genus="Porites", form="massive", mass=broad().mass))}
    widths = []
    for others in (kin, stranger):
        estimate = foreseen(broad(), factor_of_system(others, measured(10.0, 0.5))).grams_per_day.estimate
        widths.append(estimate.high / estimate.low)
    assert widths[0] < widths[1]


@pytest.mark.parametrize(
    "unclear", [UNKNOWN, measured(1.0, 2.0), measured(-1.0, 0.5)], ids=["unknown", "wide", "negative"]
)
def test_where_nothing_is_measured_the_books_stand_with_a_wide_factor(unclear):
    found = factor_of_system({"broad": of(broad())}, unclear)
    assert found.known == "assumed"
    assert found.ratio == UNKNOWN_FACTOR


def test_without_other_corals_or_readings_the_share_is_not_told_and_the_colony_counts_as_large():
    found = foreseen(broad(), factor_of_system({}, UNKNOWN))
    assert isinstance(found.share, CannotTell)
    assert found.large


def test_a_cutting_is_not_large_for_a_grown_system():
    others = {f"{n}": of(broad(0.5, None)) for n in range(6)}
    found = foreseen(broad(0.1, None), factor_of_system(others, measured(20.0, 1.0)))
    assert isinstance(found.share, Finding)
    assert found.share.estimate.value < LARGE_SHARE
    assert not found.large


def test_the_water_volume_s_uncertainty_widens_the_levels_and_not_the_grams():
    sure, unsure = (foreseen(broad(), factor_of_system({}, UNKNOWN), 640.0, error) for error in (0.0, 300.0))
    assert unsure.grams_per_day.estimate == sure.grams_per_day.estimate
    assert unsure.alkalinity.estimate.high > sure.alkalinity.estimate.high


def test_a_newcomer_s_finding_names_the_lines_behind_it():
    found = foreseen(broad(), factor_of_system({"a": of(broad())}, measured(10.0, 0.5)))
    assert here(9) in found.grams_per_day.inputs
    assert found.grams_per_day.method == "expected-uptake"


def test_nine_in_ten_newcomers_fall_in_the_interval_if_colonies_are_as_unsure_as_said():
    # A world in which each kind has one error of method and each colony its own, and the factor is the
    # system's: the newcomer's true calcification must fall in the 90 % interval nine times in ten.
    rng = np.random.default_rng(5)
    kin = of(broad(0.6, None))
    newcomer = of(broad())
    held = 0
    runs = 1500
    for _ in range(runs):
        method = rng.normal(0.0, kin.of_method)
        true_factor = rng.lognormal(0.0, 0.5)
        others = [kin.median * np.exp(method + rng.normal(0.0, kin.of_colony)) for _ in range(4)]
        whole = true_factor * sum(others)
        answer = measured(rng.normal(whole, 0.05 * whole), 0.05 * 1.645 * whole)
        found = foreseen(broad(), factor_of_system({f"{n}": kin for n in range(4)}, answer))
        own_method = method * newcomer.of_method / kin.of_method
        truth = true_factor * newcomer.median * np.exp(own_method + rng.normal(0.0, newcomer.of_colony))
        interval = found.grams_per_day.estimate
        held += interval.low <= truth <= interval.high
    assert held / runs == pytest.approx(0.90, abs=0.03)


def learned(scale: float, grams: float, half_width: float = 0.5) -> SystemFactor:
    """The factor of a water with one Acropora, which lays down so much."""
    return factor_of_system({"one": of(broad(scale, None))}, measured(grams, half_width))


def test_a_coral_that_comes_from_another_water_takes_what_it_took_there_as_the_two_waters_compare():
    here_, there = learned(0.8, 10.0), learned(0.8, 20.0)
    # The same corals: what the methods get wrong is the same in both, and only the measurements leave it open.
    times, of_light_and_flow = times_there(here_, there), NOTHING_RECORDED.whole.spread
    kin = of(broad(0.8, None))
    of_ratio = here_.ratio.spread**2 + there.ratio.spread**2 - 2.0 * kin.of_method**2
    weight = BETWEEN_WATERS.value**2 / (BETWEEN_WATERS.value**2 + of_ratio)
    assert times.median == pytest.approx(2.0**weight)
    assert times.spread == pytest.approx(hypot((weight * of_ratio) ** 0.5, of_light_and_flow))
    for unknown in ((factor_of_system({}, UNKNOWN), there), (here_, factor_of_system({}, UNKNOWN))):
        assert times_there(*unknown).median == 1.0
        assert times_there(*unknown).spread == pytest.approx(hypot(BETWEEN_WATERS.value, of_light_and_flow))


def test_how_sure_it_is_of_a_coral_that_was_followed_comes_of_what_it_took_and_of_the_two_waters():
    took = Estimate(2.0, 0.0, 3.0, "g/day")
    there = factor_of_system({}, UNKNOWN)
    found = followed(Taken(took, there, (here(7),)), broad(), water(), there)
    assert isinstance(found, ExpectedUptake)
    grams, of_share = found.grams_per_day.estimate, log(3.0 / 2.0) / coverage_factor()
    of_waters = hypot(BETWEEN_WATERS.value, NOTHING_RECORDED.whole.spread)
    assert grams.value == pytest.approx(2.0)
    assert grams.high == pytest.approx(2.0 * exp(coverage_factor() * hypot(of_share, of_waters)))
    parts = {part.cause: part.standard for part in found.grams_per_day.parts}
    assert parts == {"share-before": pytest.approx(2.0 * of_share), "two-waters": pytest.approx(2.0 * of_waters)}
    assert found.factor.known == "followed"
    assert found.factor.ratio.median == pytest.approx(2.0 / of(broad()).median)
    assert found.grams_per_day.inputs == (here(7),)


@pytest.mark.parametrize("value", [0.0, -0.5])
def test_a_coral_that_took_nothing_there_is_expected_by_the_rates(value: float):
    there = factor_of_system({}, UNKNOWN)
    took = Taken(Estimate(value, -1.0, 1.0, "g/day"), there, (here(7),))
    assert followed(took, broad(), water(), there) == expected(broad(), water(), there)


def test_where_all_others_may_take_nothing_the_share_reaches_from_beside_their_most_to_all_of_it():
    found = foreseen(broad(), factor_of_system({}, measured(0.0, 1.0)))
    assert isinstance(found.share, Finding)
    share, least = found.share.estimate, found.grams_per_day.estimate.low
    assert (share.value, share.high) == (1.0, 1.0)
    assert share.low == pytest.approx(least / (least + measured(0.0, 1.0).estimate.high))


def test_a_share_is_told_by_the_odds_against_the_rest():
    # One to three is a quarter; 90 % of a log-normal with a spread of 0.5 lies within e^±0.822.
    share = share_against(LogNormal(1.0 / 3.0, 0.5))
    assert share.value == pytest.approx(0.25)
    assert share.low == pytest.approx(1.0 / (1.0 + 3.0 * exp(0.8224)), rel=1e-3)
    assert share.high == pytest.approx(1.0 / (1.0 + 3.0 * exp(-0.8224)), rel=1e-3)


def test_without_other_corals_the_share_is_that_of_the_measured_whole():
    found = foreseen(broad(), factor_of_system({}, measured(10.0, 1.0)))
    assert isinstance(found.share, Finding)
    grams = found.grams_per_day.estimate.value
    assert found.share.estimate.value == pytest.approx(grams / (grams + 10.0), rel=0.01)
    assert {part.cause for part in found.share.parts} >= {"system-factor", "uptake"}


EVENT = DemandEvent(datetime(2026, 9, 18, tzinfo=UTC), 0.3, "arrival", "new", here(8), DAY)


@pytest.mark.parametrize(
    ("new", "others", "share"),
    [
        (coral("new", species="Zoanthus sociatus"), ("old",), 0.0),
        (coral("new", None), ("old",), 0.3),
        (coral("new"), (), 1.0),
        (coral("new"), ("old",), 0.5),
        (coral("new"), ("old", "older", "oldest"), 0.25),
    ],
    ids=["no skeleton", "not measured", "alone", "beside its like", "beside three of its like"],
)
def test_how_much_of_the_uptake_an_arrival_moves(new, others, share: float):
    here_ = {
        each.id: each
        for each in (replace(new, placements=(replace(new.placements[0], since=DAY),)), *map(coral, others))
    }
    home = replace(system(), water=water())
    assert share_of(home, here_, EVENT) == pytest.approx(share)


def test_a_cut_moves_what_goes_with_the_share_of_the_mass_that_goes():
    # Carlot et al. 2022: calcification goes with size to the power 0.8813; half the mass leaves 54 % of it.
    home = replace(system(), water=water())
    mother = replace(coral("new"), cuttings=())
    cut = replace(EVENT, what="cutting")
    assert share_of(home, {"new": mother}, cut) == pytest.approx(1.0 - 0.5**0.8813, rel=1e-3)
    assert share_of(home, {"new": mother}, replace(cut, stays=0.5)) == pytest.approx(
        (1.0 - 0.5**0.8813) / 2.0, rel=1e-3
    )
    assert share_of(home, {"new": mother}, replace(EVENT, what="loss")) == pytest.approx(1.0)
