"""What a coral lays down by published rates."""

from datetime import UTC, datetime, time, timedelta
from math import log

import pytest
from msgspec.structs import replace

from generator.nature.rates import RATES, Rate
from generator.reckon.arrivals.colony import SKELETON_OF_DRAINED, Colony, Mass, colony_of, skeleton
from generator.reckon.arrivals.informed import part_cut
from generator.reckon.arrivals.published import Published, _farthest, _grams_per_day, pooled, published, rates_for
from generator.reckon.estimate.uncertainty import LogNormal
from generator.reckon.finding import CannotTell
from generator.reckon.growth.measurements import Body
from generator.reckon.water.demand_events import DemandEvent
from generator.records.coral import Cutting
from generator.units.quantity import parse_quantity
from tests.reckon.arrivals.colonies import DAY, broad, coral, here

CENSUS = [rate for rate in RATES if rate.study == "census"]


def of(colony: Colony) -> Published:
    found = published(colony)
    assert isinstance(found, Published)
    return found


@pytest.mark.parametrize("length", [3.0, 8.0, 15.0, 30.0, 60.0])
@pytest.mark.parametrize(
    "rate", [rate for rate in RATES if rate.study == "census"], ids=lambda r: f"{r.genus} {r.basis}"
)
def test_what_is_expected_holds_every_census_rate_of_its_genus_at_any_size(rate: Rate, length: float):
    for form in rate.forms:
        for body in (Body(length=length), Body(length=length, width=0.8 * length, height=0.4 * length)):
            colony = Colony(genus=rate.genus, form=form, body=body)
            by_census = _grams_per_day(colony, rate)
            assert by_census is not None
            told = of(colony).combined.estimate("g/day")
            assert told.low < by_census.median < told.high


def test_rates_that_contradict_each_other_make_it_less_sure_and_no_others():
    sizes = [Body(length=15.0), Body(length=60.0)]
    at_odds, agreed = (
        [of(Colony(genus=genus, form=form, body=body)).combined.spread for body in sizes]
        for genus, form in (("Galaxea", "massive"), ("Acropora", "tabling"))
    )
    assert min(at_odds) > 1.2 * max(agreed)


def test_a_broad_acropora_lays_down_what_the_census_gives_for_its_area():
    # Courtney et al. 2024: 22.8 kg/m²/yr on an ellipse of 36 by 33 cm is 5.82 g a day, the middle of the ways here.
    found = of(broad())
    assert found.combined.estimate("g/day").low < 5.82 < found.combined.estimate("g/day").high
    assert found.median == pytest.approx(5.82, rel=0.25)


def test_at_least_two_independent_ways_stand_side_by_side():
    found = of(broad())
    assert found.independent >= 2
    assert {way.basis for way in found.ways} >= {"planar-area", "extension-density", "surface-area", "mass"}
    assert all(way.grams_per_day.low < way.grams_per_day.value < way.grams_per_day.high for way in found.ways)


@pytest.mark.parametrize(
    ("genus", "form"),
    [("Euphyllia", "branching"), ("Goniopora", "massive"), ("Pavona", "plating"), ("Fungia", "solitary")],
)
def test_a_size_alone_gives_two_independent_ways_for_any_stony_coral(genus, form):
    found = of(Colony(genus=genus, form=form, body=Body(length=12.0)))
    assert found.independent >= 2


def test_ways_that_agree_leave_a_coral_no_surer_than_ways_are_known_to_be():
    found = of(broad())
    apart = max(way.grams_per_day.value for way in found.ways) / min(way.grams_per_day.value for way in found.ways)
    assert apart < 1.3
    assert found.of_method >= 0.35 / found.independent**0.5


def test_a_mass_alone_is_enough_and_less_sure():
    heavy = of(replace(broad(), body=None))
    assert {way.basis for way in heavy.ways} == {"mass"}
    assert heavy.of_method > of(broad()).of_method
    assert heavy.median == pytest.approx(of(broad()).median, rel=0.5)


def test_a_coral_of_which_nobody_keeps_rates_is_less_sure_than_acropora():
    body = Body(length=20.0, width=18.0, height=10.0)
    known, unknown = (of(Colony(genus=g, form="branching", body=body)) for g in ("Acropora", "Hydnophora"))
    assert unknown.of_method > known.of_method


def test_the_larger_the_colony_the_less_it_lays_down_for_each_gram():
    # Carlot et al. 2022: calcification goes with the surface to the power 0.88.
    small, large = (
        of(Colony(genus="Acropora", form="branching", mass=Mass(grams=grams, resolution=1.0)))
        for grams in (100.0, 1000.0)
    )
    assert large.median / small.median == pytest.approx(10**0.8813, rel=0.01)


def test_a_massive_coral_grows_on_its_surface_only():
    # A dome of ten times the mass has 10^(2/3) times the surface (Kahng, Odle & Wakeman 2024).
    small, large = (
        of(Colony(genus="Porites", form="massive", mass=Mass(grams=grams, resolution=1.0))) for grams in (100.0, 1000.0)
    )
    assert large.median / small.median == pytest.approx(10 ** (0.8813 * 2.0 / 3.0), rel=0.01)


def test_zoanthids_and_soft_corals_take_nothing_worth_counting():
    for genus in ("Zoanthus", "Sinularia", "Discosoma"):
        found = published(Colony(genus=genus, form="encrusting", body=Body(length=20.0)))
        assert isinstance(found, CannotTell)
        assert found.why == "no-skeleton"


def test_without_size_or_mass_nothing_is_told():
    found = published(Colony(genus="Acropora", form="tabling"))
    assert isinstance(found, CannotTell)
    assert found.what_would_tell == "measure-or-weigh"


def test_the_holder_is_not_coral():
    bare = skeleton(Mass(grams=300.0, resolution=1.0), "Acropora")
    held = skeleton(Mass(grams=420.0, resolution=1.0, holder=120.0), "Acropora")
    assert bare is not None
    assert held is not None
    assert held.median == pytest.approx(bare.median)
    assert held.spread > bare.spread
    assert skeleton(Mass(grams=100.0, resolution=1.0, holder=120.0), "Acropora") is None


def test_a_mass_is_as_unsure_as_the_step_of_its_scale():
    # JCGM 100:2008, F.2.2.1: a step is spread evenly, s / sqrt(12); with a holder two readings are taken.
    under_water = Mass(grams=100.0, resolution=12.0, in_water=True)
    alone = skeleton(under_water, "Acropora")
    held = skeleton(replace(under_water, grams=140.0, holder=40.0), "Acropora")
    assert alone is not None
    assert held is not None
    assert (alone.spread, held.spread) == pytest.approx((0.12**0.5 * 0.1, 0.24**0.5 * 0.1))


def test_a_mass_under_water_is_the_skeleton_s_less_what_it_displaces():
    # Spencer Davies 1989: 1 g in water of 1.0233 g/cm³ is 1.566 g of skeleton of 2.83 g/cm³.
    dry = skeleton(Mass(grams=100.0, resolution=0.01, in_water=True), "Acropora")
    assert dry is not None
    assert dry.median == pytest.approx(156.64, abs=0.05)


def test_what_was_cut_since_a_weighing_is_taken_off_under_water_as_in_air():
    # A drained frag is mostly skeleton; 100 g under water is 156.6 g of it.
    whole = Mass(grams=100.0, resolution=0.01, in_water=True)
    for mass in (whole, Mass(grams=195.8, resolution=0.01)):
        left = skeleton(replace(mass, cut=50.0), "Acropora")
        assert left is not None
        assert left.median == pytest.approx(156.64 - 50.0 * SKELETON_OF_DRAINED.median, abs=0.1)
        assert skeleton(replace(mass, cut=200.0), "Acropora") is None
    sure, less_sure = skeleton(whole, "Acropora"), skeleton(replace(whole, cut=50.0), "Acropora")
    assert sure is not None
    assert less_sure is not None
    assert less_sure.spread > sure.spread


def test_a_coral_that_is_weighed_on_the_day_it_is_cut_is_weighed_after_it():
    weighed = coral("one", mass=400.0)
    for days, cut in ((-1, 0.0), (0, 0.0), (1, 100.0), (30, 0.0)):
        at = DAY + timedelta(days=days)
        mass = parse_quantity("100 g", "mass")
        lost = replace(weighed, cuttings=(Cutting(source=here(4), at=at, frags=2, mass=mass),))
        found = colony_of(lost, DAY + timedelta(days=20)).mass
        assert found is not None
        assert (found.grams, found.cut) == (400.0, cut)


@pytest.mark.parametrize(
    ("weighed", "expected", "sure"),
    [
        # 400 g, drained; 400 g under water: 626.6 g of skeleton, four fifths of what it weighs drained.
        ({"mass": 400.0}, 0.1, True),
        ({"mass": 400.0, "in_water": True}, 40.0 / (626.6 / 0.8), False),
        # Only measured: by what a colony of its size and form weighs.
        ({}, None, False),
    ],
)
def test_the_share_that_is_cut_is_its_mass_over_that_of_the_coral_however_that_is_known(weighed, expected, sure):
    one = coral("one", mass=weighed.get("mass"))
    one = replace(one, weighings=tuple(replace(w, in_water=weighed.get("in_water", False)) for w in one.weighings))
    day = DAY + timedelta(days=9)
    cut = Cutting(source=here(4), at=day, frags=2, mass=parse_quantity("40 g", "mass"))
    event = DemandEvent(datetime.combine(day, time(), UTC), 0.1, "cutting", "one", here(4), day)
    part = part_cut(replace(one, cuttings=(cut,)), event)
    assert part is not None
    assert expected is None or part.value == pytest.approx(expected, rel=0.01)
    assert part.low <= part.value <= part.high
    assert (part.low == part.high) is sure
    assert 0.01 < part.value < 0.15
    # A second cut of the day that nobody weighed leaves the share open.
    assert part_cut(replace(one, cuttings=(cut, replace(cut, mass=None))), event) is None
    # Weighed or measured for the first time once it was cut, it had been larger by the frags.
    of_later = part_cut(replace(one, cuttings=(replace(cut, at=DAY),)), replace(event, day=DAY))
    assert of_later is not None
    assert of_later.value == pytest.approx(part.value / (1.0 + part.value), rel=0.01)


@pytest.mark.parametrize("grams", [40.0, 700.0, 800.0, 900.0, 2000.0])
def test_the_share_that_is_likely_cut_is_one_that_may_be(grams: float):
    # 400 g under water are some 780 g drained, between 650 and 950.
    one = coral("one", mass=400.0)
    one = replace(one, weighings=tuple(replace(each, in_water=True) for each in one.weighings))
    day = DAY + timedelta(days=9)
    cut = Cutting(source=here(4), at=day, frags=2, mass=parse_quantity(f"{grams} g", "mass"))
    event = DemandEvent(datetime.combine(day, time(), UTC), 0.1, "cutting", "one", here(4), day)
    part = part_cut(replace(one, cuttings=(cut,)), event)
    assert part is not None
    assert part.low <= part.value <= part.high <= 1.0
    assert part.value == pytest.approx(max(min(grams / 783.0, 0.8), part.low), rel=0.01)


def test_a_coral_s_file_is_read_as_it_stood_on_a_day():
    found = colony_of(coral("one", mass=455.0), DAY)
    assert found.genus == "Acropora"
    assert found.body is not None
    assert found.mass is not None
    assert (found.body.length, found.mass.grams, found.measured_years_ago) == (20.0, 455.0, 0.0)
    assert [source.line for source in found.inputs] == [2, 3]


def test_a_coral_measured_long_ago_is_less_sure():
    old = of(colony_of(coral("one"), DAY.replace(year=2028)))
    new = of(colony_of(coral("one"), DAY))
    assert old.median == pytest.approx(new.median, rel=0.1)
    assert old.of_method > new.of_method


def test_a_genus_that_was_split_off_has_the_rates_of_its_old_one():
    assert rates_for("Fimbriaphyllia", "branching") == rates_for("Euphyllia", "branching")
    assert rates_for("Fimbriaphyllia", "branching") != rates_for("Nemo", "branching")
    # By a name that was given up as well.
    assert rates_for("Symphyllia", "massive") == rates_for("Lobophyllia", "massive")


def test_groups_that_might_all_be_its_own_give_their_geometric_mean_and_their_spread():
    # Two rates a factor of four apart: the mean of the logarithms, and their sample variance beside that of each.
    # Source: analysis of variance, e.g. NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.4.
    both = pooled([LogNormal(1.0, 0.3), LogNormal(4.0, 0.5)])
    assert both.median == pytest.approx(2.0)
    assert both.spread**2 == pytest.approx((0.3**2 + 0.5**2) / 2.0 + 2.0 * log(2.0) ** 2)
    three = pooled([LogNormal(1.0, 0.2), LogNormal(2.0, 0.2), LogNormal(4.0, 0.2)])
    assert three.spread**2 == pytest.approx(0.2**2 + log(2.0) ** 2)


def test_the_farthest_rate_is_one_of_its_own_genus_or_none():
    body = Body(length=20.0, width=18.0, height=10.0)
    unknown, known = (Colony(genus=genus, form="branching", body=body) for genus in ("Hydnophora", "Acropora"))
    ways = {
        each.genus: [(way, LogNormal(1.0, 0.1)) for way in rates_for(each.genus, each.form)]
        for each in (unknown, known)
    }
    assert _farthest(unknown, ways["Hydnophora"], 5.0) == 0.0
    of_genus = [
        rate for way, _ in ways["Acropora"] if way.closeness in ("genus", "genus-and-form") for rate in way.rates
    ]
    grams = [each.median for rate in of_genus if (each := _grams_per_day(known, rate)) is not None]
    assert len(grams) > 3
    assert _farthest(known, ways["Acropora"], min(grams)) == pytest.approx(log(max(grams) / min(grams)))
    assert _farthest(known, ways["Acropora"], 2.0 * max(grams)) == pytest.approx(log(2.0 * max(grams) / min(grams)))
