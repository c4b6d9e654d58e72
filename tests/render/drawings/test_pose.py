"""The picture of a colony in its container: to scale, and inside where it fits."""

import math
import re

import pytest

from generator.reckon.trade.carrying import Sides
from generator.reckon.trade.journey import fit, outlines
from generator.render.drawings.colony import Face, OvalOutline, draw_pose

CRATE = Sides(66.0, 54.0, 41.0)


def reach(oval) -> tuple[float, float]:
    """How far an ellipse goes across and up; geometry."""
    turn = math.radians(oval.turned)
    across = math.hypot(oval.half_long * math.cos(turn), oval.half_short * math.sin(turn))
    return across, math.hypot(oval.half_long * math.sin(turn), oval.half_short * math.cos(turn))


@pytest.mark.parametrize(
    "colony", [Sides(57, 43, 23), Sides(30, 20, 10), Sides(50, 50, 30), Sides(20, 20, 20), Sides(62, 45, 20)], ids=str
)
def test_the_outlines_reach_as_far_as_the_fit_says(colony: Sides) -> None:
    found = fit(colony, CRATE, 2.5)
    above, front = outlines(colony, found.pose)
    assert reach(above) == pytest.approx((found.extent.length / 2, found.extent.width / 2))
    assert reach(front) == pytest.approx((found.extent.length / 2, found.extent.height / 2))


def test_a_colony_that_lies_flat_shows_its_own_measures() -> None:
    found = fit(Sides(30, 20, 10), CRATE, 2.5)
    above, front = outlines(Sides(30, 20, 10), found.pose)
    assert (2 * above.half_long, 2 * above.half_short) == pytest.approx((30, 20))
    assert 2 * front.half_short == pytest.approx(10)


def drawn(**given: object) -> str:
    shape = OvalOutline(20.0, 10.0, 30.0, (18.0, 13.0))
    basic: dict[str, object] = {
        "id": "front",
        "title": "From <the> front",
        "across": 70.0,
        "up": 44.0,
        "padding": 2.5,
        "colony": shape,
        "sides": ("70 cm", "44 cm"),
        "gaps": ("17\u00a0cm free", "5\u00a0cm free"),
        "water": 30.0,
        "stands_on": 2.5,
    }
    return draw_pose(Face(**{**basic, **given}), 70.0)  # type: ignore[arg-type]


def numbers(svg: str, element: str) -> dict[str, float]:
    found = re.search(rf"<{element}[^>]*/>", svg)
    assert found
    return {name: float(value) for name, value in re.findall(r'(\w+)="(-?[\d.]+)"', found[0])}


def test_the_colony_stands_on_its_padding_and_the_water_on_the_ground() -> None:
    svg = drawn()
    scale = 420 / 70
    wall, water, colony = (
        numbers(svg, element) for element in ('rect class="o-wall"', 'rect class="o-water"', "ellipse")
    )
    ground = wall["y"] + wall["height"]
    assert water["y"] + water["height"] == pytest.approx(ground, abs=0.2)
    assert water["height"] == pytest.approx(30 * scale, abs=0.2)
    assert ground - (colony["cy"] + 13 * scale) == pytest.approx(2.5 * scale, abs=0.2)
    assert (colony["rx"], colony["ry"]) == pytest.approx((20 * scale, 10 * scale), abs=0.2)


def test_a_view_has_no_style_and_its_words_are_escaped() -> None:
    svg = drawn()
    assert "style" not in svg
    assert "From &lt;the&gt; front" in svg
    assert "<the>" not in svg


def test_the_room_that_is_left_does_not_read_like_a_side_of_the_container() -> None:
    written = re.findall(r">([^<>]+)</text>", drawn())
    assert written[:3] == ["17\u00a0cm", "free", "5\u00a0cm free"]
