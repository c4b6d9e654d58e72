"""A coral's footprints year by year, to one scale."""

import re

from generator.render.drawings.colony import Ring, draw_rings


def test_outlines_stand_in_one_scale_with_its_bar() -> None:
    svg = draw_rings("rings-a", "A", "said", [Ring(5, 4, "2024"), Ring(10, 8, "2025")], (5.0, "5 cm"))
    sides = [(float(rx), float(ry)) for rx, ry in re.findall(r'rx="([\d.]+)" ry="([\d.]+)"', svg)]
    assert [rx / ry for rx, ry in sides] == [1.25, 1.25]
    assert sides[0][0] == 2 * sides[1][0], "ten centimetres and five, the larger at the back"
    bar = re.search(r"m0-6h([\d.]+)m0-6", svg)
    assert bar
    assert float(bar[1]) == sides[1][0] * 2, "the bar of 5 cm is as long as the colony of 5 cm"


def test_a_colony_that_was_cut_keeps_its_earlier_outline_around_it() -> None:
    svg = draw_rings("rings-a", "A", "said", [Ring(10, 8, "2024"), Ring(6, 5, "2025")], (5.0, "5 cm"))
    assert svg.index('class="p-coral"') < svg.index('class="p-ring"'), "the smaller lies upon the larger"
