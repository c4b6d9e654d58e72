"""A picture over time: no sign is on the name of a row."""

import re

from generator.render.base.words import words_of
from generator.render.drawings.timeline import Lane, Signs, Timeline, draw_timeline

# Letters of a name reach 3 px below their line and 9 px above it; a sign reaches 4.5 px to either side of its middle.
BELOW, ABOVE, HALF = 3.0, 9.0, 4.5


def test_what_was_given_and_received_is_drawn_on_no_partners_name() -> None:
    signs = tuple(Signs("deed-event", "above", [(500.0, y, "a twig")]) for y in (-4, 4))
    lanes = tuple(Lane(name, "reading", "diamond", (), (), signs) for name in ("Ilo", "Tamsin", "Wenna"))
    svg = str(draw_timeline(Timeline("swaps", "Swaps", "", 0.0, 1000.0, lanes), words_of("en")))
    names = [float(y) for y in re.findall(r'<text class="t-lane-heading"[^>]* y="([\d.]+)"', svg)]
    drawn = [float(y) for y in re.findall(r' y="([\d.]+)" overflow="visible"', svg)]
    assert (len(names), len(drawn)) == (3, 6)
    for sign in drawn:
        assert all(sign - HALF >= name + BELOW or sign + HALF <= name - ABOVE for name in names), (sign, names)
