"""A line's tree reads at any size: each piece below what it was cut from, no lines crossed, fates told by shape."""

import itertools
from xml.etree import ElementTree

from generator.render.base.words import words_of
from generator.render.drawings.statistics import FATES, Bar, Tree, draw_trees

SVG = "{http://www.w3.org/2000/svg}"
YEAR = 365.25 * 86_400_000


def bar(name: str, start: float, end: float = 5.0, parent: int | None = None, **more) -> Bar:
    return Bar(name, f"{name}.html", "somewhere", start * YEAR, end * YEAR, more.pop("fate", "living"), parent, **more)


def tree(*bars: Bar) -> ElementTree.Element:
    return ElementTree.fromstring(draw_trees(Tree("t", "A line", 0.0, 5.0 * YEAR, bars), words_of("en")))


def test_every_fate_has_a_shape_of_its_own_and_its_words():
    assert len(set(FATES.values())) == len(FATES)
    drawn = tree(*(bar(fate, 1.0, fate=fate) for fate in FATES))
    ends = [each for each in drawn.iter(f"{SVG}path") if "f-end" in each.get("class", "")]
    assert [each.get("d") for each in ends] == list(FATES.values())
    assert all(each.find(f"{SVG}title") is not None for each in ends)


def test_a_piece_begins_on_its_day_below_the_bar_it_was_cut_from():
    drawn = tree(bar("mother", 0.0), bar("cutting", 2.5, parent=0))
    mother, cutting = (each for each in drawn.iter(f"{SVG}line") if "f-bar" in each.get("class", ""))
    elbow = next(each for each in drawn.iter(f"{SVG}line") if each.get("class") == "f-cut")
    assert (elbow.get("y1"), elbow.get("y2")) == (mother.get("y1"), cutting.get("y1"))
    assert elbow.get("x1") == cutting.get("x1")
    middle = (float(mother.get("x1")[:-1]) + float(mother.get("x2")[:-1])) / 2
    assert abs(float(cutting.get("x1")[:-1]) - middle) < 0.1


def test_three_hundred_pieces_keep_a_row_and_a_name_each():
    bars = [bar("mother", 0.0), *(bar(f"piece-{n}", 4.9 - n / 100, parent=0) for n in range(299))]
    drawn = tree(*bars)
    rows = [float(each.get("y")) for each in drawn.iter(f"{SVG}text") if each.get("class") == "f-label"]
    assert len(rows) == 300
    assert min(later - earlier for earlier, later in itertools.pairwise(rows)) >= 24
    assert drawn.get("width") == "100%"
    assert "viewBox" not in drawn.attrib, "letters would shrink with the picture"


def test_what_a_keeper_wrote_is_words_and_no_markup():
    drawn = tree(bar("<b>&", 1.0, given=((2.0 * YEAR, "<i>two</i> pieces"),)))
    assert drawn.find(f".//{SVG}b") is None
    assert "<b>&" in "".join(drawn.itertext())


def test_a_name_of_any_length_stays_within_a_telephone() -> None:
    drawn = tree(bar("A coral with a name as long as a goods train", 1.0))
    label = next(each for each in drawn.iter(f"{SVG}text") if each.get("class") == "f-label")
    assert "".join(label.itertext()) == "A coral with a name as…"
