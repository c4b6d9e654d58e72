from math import pi

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.nature.genera import SHAPES, surface_factor
from generator.nature.rates import DENSITIES, EXTENSIONS, published_density, published_extension
from generator.reckon.growth.measurements import Body, expected_mass, surface_area

lengths = st.floats(1.0, 150.0)


@given(lengths)
def test_the_surface_of_a_half_sphere_is_half_that_of_a_sphere(d: float):
    assert surface_area(d, d, d / 2.0, 2.0) == pytest.approx(2.0 * pi * (d / 2.0) ** 2)


@pytest.mark.parametrize(
    ("genus", "density", "spread"),
    [
        ("Porites", 1.264, 0.051),
        ("Dipsastraea", 1.067, 0.152),
        ("Platygyra", 1.055, 0.115),
        ("Goniastrea", 1.352, 0.153),
    ],
)
@pytest.mark.parametrize("across", [9.0, 27.0, 44.0])
def test_a_boulder_weighs_half_an_ellipsoid_of_its_published_density(genus, density, spread, across):
    # Density of skeleton, g/cm³, with its 95 % half-width: Perry et al. 2018, ReefBudget, Indo-Pacific, version 1.3.
    length, width, height = across, 0.9 * across, 0.55 * across
    grams = 2.0 / 3.0 * pi * length / 2.0 * width / 2.0 * height * density
    found = expected_mass(Body(length, width, height), genus, "massive").estimate
    assert found.low < grams < found.high
    assert found.value == pytest.approx(grams, rel=spread / density + 0.15)
    assert found.high / found.low < 6.0  # a range that excludes nothing would say nothing


@pytest.mark.parametrize(
    ("genus", "form", "extension"),
    [
        ("Acropora", "tabling", 6.61),
        ("Acropora", "corymbose", 3.03),
        ("Pocillopora", "branching", 2.53),
        ("Stylophora", "branching", 1.73),
        ("Seriatopora", "branching", 1.58),
        ("Montipora", "plating", 3.15),
        ("Porites", "massive", 1.167),
    ],
)
def test_what_a_reef_census_measured_is_within_the_published_range(genus, form, extension):
    # Extension, cm a year: Perry et al. 2018, ReefBudget, Indo-Pacific, version 1.3.
    published = published_extension(genus, form)
    assert published.low < extension < published.high


@given(lengths, lengths, st.sampled_from(sorted(SHAPES)), st.sampled_from(["Acropora", "Porites", "Nemo"]))
def test_a_larger_colony_is_expected_to_weigh_more(a: float, b: float, form: str, genus: str):
    small, large = sorted((a, b))
    one, other = (expected_mass(Body(d, d, d / 2.0), genus, form).estimate for d in (small, large))
    assert one.low < one.value < one.high
    assert one.value <= other.value


def test_a_measured_height_narrows_what_a_massive_colony_may_weigh():
    known = expected_mass(Body(20.0, 20.0, 12.0), "Porites", "massive").estimate
    unknown = expected_mass(Body(20.0, 20.0), "Porites", "massive").estimate
    assert known.high / known.low < unknown.high / unknown.low


def test_a_solid_half_sphere_of_the_usual_density_lies_in_the_range_for_massive_coral():
    # Source: geometry; 10 cm across at 1.4 g/cm³ weighs 366.5 g.
    found = expected_mass(Body(10.0, 10.0, 5.0), "Porites", "massive").estimate
    assert found.low < 366.5 < found.high


def test_acropora_carries_more_surface_than_other_branching_coral_and_a_crust_none_but_its_own():
    # Source: EPA/600/R-12/029, table 3-2.
    assert surface_factor("Acropora", "branching") == 4.0
    assert surface_factor("Acropora", "encrusting") == 1.0
    assert surface_factor("Pocillopora", "branching") == 3.0
    assert surface_factor("Porites", "massive") == 2.0


def test_every_published_range_is_in_order_and_says_where_it_is_from():
    for each in (*EXTENSIONS, *DENSITIES):
        assert 0.0 < each.low <= each.typical <= each.high, each
        assert each.source


@pytest.mark.parametrize("form", sorted(SHAPES))
@pytest.mark.parametrize("genus", ["Acropora", "Porites", "Nemo"])
def test_every_genus_and_form_has_a_range(genus: str, form: str):
    assert published_extension(genus, form).genus in (genus, "")
    assert published_density(genus, form).low > 0.9


def test_the_nearest_range_is_taken():
    assert published_extension("Acropora", "tabling").form == "tabling"
    assert published_extension("Acropora", "massive").form is None
    assert published_extension("Nemo", "massive").genus == ""


def test_the_density_of_genus_and_form_goes_before_that_of_the_genus():
    # Source: NOAA calcification rates, as in tests/published/coral_rates.yaml.
    assert published_density("Acropora", "branching").typical == 1.015
    assert published_density("Acropora", "corymbose").typical == 1.475
    assert published_density("Nemo", "branching").typical == 1.4
