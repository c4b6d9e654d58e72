"""Light and flow of another place are stated factors with a range; what is not recorded stays an assumed spread."""

from itertools import product
from math import log, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from generator.nature.constants import OF_ITS_PLACE
from generator.reckon.arrivals.colony import FLOWS, UNKNOWN, LightAndFlow, anywhere_in, of_place, response, spot_of
from generator.records.coral import Placement
from generator.records.system import Place
from generator.units.quantity import parse_quantity
from tests.reckon.arrivals.colonies import DAY, here
from tests.reckon.water.journals import system


def ends(least: float, most: float):
    return st.tuples(st.floats(least, most), st.floats(least, most)).map(lambda pair: (min(pair), max(pair)))


spots = st.builds(LightAndFlow, ends(30.0, 900.0), ends(0.0, 1.0), st.floats(0.3, 0.6))


@given(spots, spots)
def test_the_way_back_is_the_way_there_turned_over(one, other):
    there, back = of_place(one, other), of_place(other, one)
    for way, again in ((there.light, back.light), (there.flow, back.flow)):
        assert way.median * again.median == pytest.approx(1.0)
        assert way.spread == pytest.approx(again.spread)


@given(spots)
def test_places_that_are_alike_make_no_difference(spot):
    same = of_place(spot, spot)
    assert same.light.median == pytest.approx(1.0)
    assert same.flow.median == pytest.approx(1.0)


@given(st.floats(30.0, 900.0), st.floats(1.05, 3.0), spots)
def test_more_light_and_more_flow_never_take_less_and_half_of_it_at_most_is_said_to_stay(light, more, spot):
    dim, bright = replace(spot, light=(light, light)), replace(spot, light=(light * more, light * more))
    found = of_place(dim, bright).light
    assert 1.0 <= found.median <= sqrt(more)
    # The range holds all of it and none of it.
    interval = found.estimate("times")
    assert interval.low <= 1.0 + 1e-9
    weak, strong = (replace(spot, flow=(each, each)) for each in (0.0, 1.0))
    assert of_place(weak, strong).flow.median == pytest.approx(1.25)


@given(spots, spots)
def test_anywhere_in_a_system_spans_every_place_of_it(one, other):
    whole = LightAndFlow(
        (min(one.light[0], other.light[0]), max(one.light[1], other.light[1])),
        (min(one.flow[0], other.flow[0]), max(one.flow[1], other.flow[1])),
        one.lit,
    )
    start = LightAndFlow((200.0, 200.0), (0.5, 0.5), one.lit)
    for spot, name in product((one, other), ("light", "flow")):
        part = getattr(of_place(start, replace(spot, lit=one.lit)), name)
        span = getattr(of_place(start, whole), name).estimate("times")
        assert span.low - 1e-9 <= part.median <= span.high + 1e-9


def test_the_response_is_that_of_the_hyperbolic_tangent_on_a_third_in_the_dark():
    # tanh(1) = 0.761594; a third in the dark (Gattuso et al. 1999), so 1/3 + 2/3 * 0.5 * 0.761594 of a half-lit day.
    assert response(200.0, 0.5, 200.0) == pytest.approx(1.0 / 3.0 + 0.761594 / 3.0)


def test_what_is_not_recorded_keeps_its_part_of_the_assumed_spread():
    lit = LightAndFlow((100.0, 100.0), None)
    assert of_place(UNKNOWN, lit).light is None
    assert of_place(UNKNOWN, lit).whole.spread == pytest.approx(OF_ITS_PLACE.value)
    assert of_place(UNKNOWN, lit).whole.median == 1.0
    assert of_place(lit, LightAndFlow((300.0, 300.0), None)).whole.spread >= OF_ITS_PLACE.value / sqrt(2.0)


def test_a_coral_has_the_light_measured_at_it_and_the_flow_of_its_place():
    def place(light: str | None, flow: str | None) -> Place:
        side = parse_quantity("20 cm", "length")
        par = parse_quantity(light, "light") if light else None
        return Place(source=here(), x=side, y=side, width=side, depth=side, light=par, flow=flow)

    home = replace(system(), places={"crest": place("300 PAR", "strong"), "cave": place(None, "weak")})
    at = Placement(source=here(), since=DAY, system="lagoon", place="crest", light=parse_quantity("240 PAR", "light"))
    assert spot_of(at, home).light == (240.0, 240.0)
    assert spot_of(at, home).flow == (FLOWS["strong"], FLOWS["strong"])
    assert spot_of(replace(at, light=None), home).light == (300.0, 300.0)
    # One of its places has no light recorded: then nobody knows what a coral gets somewhere in there.
    assert anywhere_in(home).light is None
    assert anywhere_in(home).flow == (0.0, 1.0)
    assert log(of_place(spot_of(at, home), anywhere_in(home)).flow.median) < 0.0
