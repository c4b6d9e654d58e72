"""A plan is to scale: a coral twice as long is drawn twice as long, and the front is below."""

from xml.etree import ElementTree

import pytest
from msgspec.structs import replace

from generator.render.drawings.tank import Clearance, CoralShape, FloorPlan, Outline, PlaceShape, Stage, draw_floor

SVG = "{http://www.w3.org/2000/svg}"


def plan(*corals: CoralShape, stages: tuple[Stage, ...] = ()) -> ElementTree.Element:
    places = (PlaceShape("dim", "90 PAR", 0, 0, 100, 40, 0.1), PlaceShape("bright", "400 PAR", 100, 0, 100, 40, 0.8))
    return ElementTree.fromstring(
        draw_floor(FloorPlan("p", "Plan", 200, 80, places, corals, stages, "front", (20, "20 cm")))
    )


def coral(x: float, y: float, length: float = 20.0, width: float = 10.0) -> CoralShape:
    return CoralShape("1", "Coral, 20 by 10 cm", "coral.html", x, y, length, width)


def drawn(root: ElementTree.Element, look: str) -> list[ElementTree.Element]:
    return [each for each in root.iter() if each.get("class") == look]


def test_a_coral_stands_to_scale_in_the_vessel():
    one, other = drawn(plan(coral(50, 20), coral(150, 60, length=40)), "p-coral")
    assert float(one.get("rx")) / 1000 == pytest.approx(10 / 200)
    assert float(other.get("rx")) == pytest.approx(2 * float(one.get("rx")))
    assert float(one.get("cx")) / 1000 == pytest.approx(50 / 200)
    assert float(one.get("cy")) > float(other.get("cy")), "nearer the front is nearer the lower edge"


def test_more_light_is_shaded_deeper_and_said_in_numbers():
    dim, bright = drawn(plan(), "p-light")
    assert float(dim.get("fill-opacity")) < float(bright.get("fill-opacity"))
    assert "400 PAR" in "".join(plan().itertext())


def test_a_later_day_is_in_the_picture_for_the_stylesheet_to_show():
    stage = Stage(12, (Outline(50, 20, 24, 14, 3),), ((60, 20, "they touch"),))
    groups = {each.get("class"): each for each in plan(coral(50, 20), stages=(stage,)).iter(f"{SVG}g")}
    group = groups["stage in-12"]
    will, may = drawn(group, "p-will")[0], drawn(group, "p-may")[0]
    assert float(may.get("rx")) - float(will.get("rx")) == pytest.approx(1000 * 3 / 200)
    assert "they touch" in "".join(group.itertext())


def test_a_small_coral_has_its_number_beside_it():
    small, large = (plan(coral(50, 20, *size)) for size in ((3.0, 3.0), (30.0, 30.0)))
    assert drawn(small, "p-number p-beside")
    assert not drawn(large, "p-number p-beside")


def test_the_words_of_a_gap_stand_on_no_name_and_on_no_other_words():
    named = [replace(coral(x, 40, 22, 22), number=f"{n}", name="Coral") for n, x in enumerate((40, 64, 88), 1)]
    gaps = tuple(Clearance((x + 11, 40), (x + 13, 40), "2 cm", True) for x in (40, 64))
    drawing = FloorPlan("p", "Plan", 200, 80, (), tuple(named), (), "front", (20, "20 cm"), gaps)
    root = ElementTree.fromstring(draw_floor(drawing))
    assert len(drawn(root, "p-gap p-near")) == len(gaps)
    words = [(float(each.get("x")), float(each.get("y"))) for each in drawn(root, "p-words p-say p-beside")]
    names = [(float(each.get("x")), float(each.get("y"))) for each in drawn(root, "p-inside")]
    assert len(names) == len(named)
    # Four letters and five of about eight units, and lines of about fourteen.
    apart = [abs(x - u) > 32 or abs(y - v) > 11 for x, y in words for u, v in names]
    assert all(apart)
    assert len(set(words)) == len(gaps)


def test_what_a_place_is_called_and_says_is_folded_into_it_and_stands_on_no_coral():
    ledge = PlaceShape("east-ledge", "190–260 PAR, moderate flow", 100, 30, 46, 30, 0.5)
    root = ElementTree.fromstring(
        draw_floor(FloorPlan("p", "Plan", 150, 64, (ledge,), (coral(108, 55),), (), "front", (20, "20 cm")))
    )
    words = next(each for each in drawn(root, "p-words") if len(each))
    lines = [each.text or "" for each in words]
    assert lines == ["east-ledge", "190–260 PAR, moderate flow"]
    # On paper, where they are largest, letters are about ten units wide.
    assert max(map(len, lines)) * 10 < 1000 * 46 / 150
    assert float(words.get("y")) > 1000 * (64 - 50) / 150, "below the coral at the back"


def test_a_name_wider_than_its_place_is_cut_short():
    rack = PlaceShape("quarantine", "90 PAR", 0, 0, 15, 30, 0.5)
    root = ElementTree.fromstring(draw_floor(FloorPlan("p", "Plan", 150, 64, (rack,), (), (), "front", (20, "20 cm"))))
    assert [each.text for each in drawn(root, "p-name")] == ["qua…"]


def test_the_number_of_a_small_coral_stays_in_its_place():
    rack = PlaceShape("rack", "90 PAR", 0, 0, 50, 40, 0.1)
    drawing = FloorPlan("p", "Plan", 200, 80, (rack,), (coral(47.5, 20, 3, 3),), (), "front", (20, "20 cm"))
    (number,) = drawn(ElementTree.fromstring(draw_floor(drawing)), "p-number p-beside")
    assert float(number.get("x")) + 9 <= 1000 * 50 / 200
