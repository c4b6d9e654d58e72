"""Laws that hold for every kind of quantity and every unit."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, NotAQuantity, Quantity, convert, coverage_factor, parse_quantity, per_day

FACTOR_UNITS = {kind.id: [unit.symbol for unit in kind.units if not unit.form] for kind in KINDS.values()}
VALUES = st.floats(-1e6, 1e6, allow_nan=False)
DENSITIES = st.floats(0.99, 1.05)


@st.composite
def kind_and_units(draw: st.DrawFn) -> tuple[str, str, str, str]:
    kind = draw(st.sampled_from(sorted(FACTOR_UNITS)))
    return (kind, *(draw(st.sampled_from(FACTOR_UNITS[kind])) for _ in range(3)))


def _near(value: float) -> object:
    return pytest.approx(value, rel=1e-9, abs=1e-6)


@given(kind_and_units(), VALUES, DENSITIES)
def test_there_and_back_is_the_same(units: tuple[str, str, str, str], value: float, density: float):
    kind, first, second, _ = units
    assert convert(convert(value, kind, first, second, density), kind, second, first, density) == _near(value)


@given(kind_and_units(), VALUES, DENSITIES)
def test_by_way_of_a_third_unit_is_the_same(units: tuple[str, str, str, str], value: float, density: float):
    kind, first, second, third = units
    direct = convert(value, kind, first, third, density)
    by_way = convert(convert(value, kind, first, second, density), kind, second, third, density)
    assert by_way == pytest.approx(direct, rel=1e-9, abs=1e-9 * max(1.0, abs(direct)))


@given(kind_and_units(), VALUES, VALUES)
def test_a_change_converts_as_the_difference_of_two_levels(units: tuple[str, str, str, str], one: float, two: float):
    kind, first, second, _ = units
    difference = convert(one, kind, first, second) - convert(two, kind, first, second)
    scale = abs(convert(one, kind, first, second)) + abs(convert(two, kind, first, second))
    assert per_day(one - two, kind, first, second) == pytest.approx(difference, rel=1e-9, abs=1e-9 * scale + 1e-12)


@given(st.sampled_from(["alkalinity", "calcium", "nitrate"]), DENSITIES)
def test_a_litre_holds_as_many_times_what_a_kilogram_holds_as_it_weighs_kilograms(kind: str, density: float):
    assert convert(1.0, kind, "mmol/kg", "mmol/L", density) == pytest.approx(density, rel=1e-12)


def test_every_name_of_a_unit_is_read_and_kept_by_its_symbol():
    for kind in KINDS.values():
        for unit in kind.units:
            for name in (unit.symbol, *unit.aliases):
                assert parse_quantity(f"1.50 {name}", kind.id) == Quantity(1.5, unit.symbol, kind.id, 2)


def test_every_kind_reads_its_own_example_within_what_is_plausible():
    for kind in KINDS.values():
        example = parse_quantity(kind.example, kind.id)
        assert str(example) == kind.example
        if kind.plausible:
            low, high = kind.plausible
            assert low <= example.canonical() <= high


@pytest.mark.parametrize(
    ("text", "kind", "both"),
    [
        ("8.1 dKH", "volume", ("alkalinity", "volume")),
        ("40 L", "alkalinity", ("volume", "alkalinity")),
        ("78 °F", "length", ("temperature", "length")),
        ("412 g", "length", ("mass", "length")),
        ("40 km", "volume", ("distance", "volume")),
        ("53 mS/cm", "calcium", ("salinity", "calcium")),
    ],
)
def test_a_wrong_dimension_is_named_on_both_sides(text: str, kind: str, both: tuple[str, str]):
    with pytest.raises(NotAQuantity) as caught:
        parse_quantity(text, kind)
    assert all(words in caught.value.wrong for words in both)
    assert KINDS[kind].canonical in caught.value.remedy


def test_specific_gravity_must_name_its_reference_pair():
    with pytest.raises(NotAQuantity, match="salinity uncertain by 2 psu"):
        parse_quantity("1.026 sg", "salinity")


def test_parts_per_million_are_taken_for_milligrams_a_litre():
    # By rights mg/kg, which differs by 2 % in seawater: under the error of any kit. Common practice, no source.
    assert str(parse_quantity("420 ppm", "calcium")) == "420 mg/L"
    assert str(parse_quantity("30 PPB", "phosphate")) == "30 µg/L"
    with pytest.raises(NotAQuantity, match="does not say of what"):
        parse_quantity("145 ppm", "alkalinity")


def test_what_is_no_factor_is_refused_as_one():
    for kind, unit in (("salinity", "sg 25/25"), ("salinity", "mS/cm"), ("ph", "total"), ("calcium", "dKH")):
        with pytest.raises(ValueError, match="no factor"):
            convert(1.0, kind, unit, KINDS[kind].canonical)


def test_an_estimate_keeps_its_interval_the_right_way_round():
    estimate = Estimate(2.0, 1.0, 4.0, "meq/L")
    assert estimate.scaled(-2.0, "x") == Estimate(-4.0, -8.0, -2.0, "x")


def test_what_cannot_be_negative_is_not_unless_all_of_it_is():
    assert Estimate(-1.0, -2.0, 1.0, "x").at_least_zero() == Estimate(0.0, 0.0, 1.0, "x")
    assert Estimate(-2.0, -3.0, -1.0, "x").at_least_zero() == Estimate(-2.0, -3.0, -1.0, "x")
    assert [Estimate(0.0, low, high, "x").is_clear for low, high in ((-1.0, 1.0), (-2.0, -1.0), (1.0, 2.0))] == [
        False,
        True,
        True,
    ]


def test_the_interval_of_a_normal_estimate_holds_nine_cases_in_ten():
    # Source: standard normal distribution, 95th percentile 1.644854; JCGM 100:2008, table G.1.
    found = Estimate.normal(10.0, 2.0, "g")
    assert (found.low, found.high) == pytest.approx((10.0 - 3.289707, 10.0 + 3.289707), abs=1e-6)
    assert found.standard == pytest.approx(2.0)
    assert Estimate.normal(1.0, 2.0, "g", least=0.0).low == 0.0
    assert coverage_factor(0.95) == pytest.approx(1.959964, abs=1e-6)


def test_what_check_lets_pass_in_any_unit_lies_where_the_calculations_hold():
    from generator.reckon.water.seawater import salinity_from_unit
    from generator.units.quantity import BY_UNIT

    for unit, (low, high) in BY_UNIT.items():
        if unit != "total":
            assert 5.0 <= salinity_from_unit(low, unit) < 5.2
            assert 41.8 < salinity_from_unit(high, unit) <= 42.0


def test_less_than_nothing_that_rounds_to_nothing_has_no_sign():
    assert str(Quantity(-0.3, "mL", "volume", 0)) == "0 mL"
    assert str(Quantity(-0.3, "mL", "volume", 1)) == "-0.3 mL"
