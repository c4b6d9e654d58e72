"""The calibration's picture: chance along, share found upwards, and what luck alone can do between them."""

from xml.etree import ElementTree

from generator.render.drawings.statistics import draw_calibration

SVG = "{http://www.w3.org/2000/svg}"


def test_what_held_as_often_as_stated_lies_on_the_straight_line():
    picture = draw_calibration("c", "Stated & found", "all held", "stated chance", [(50, 50), (90, 70)], [(0, 0, 0)])
    drawn = ElementTree.fromstring(picture)
    first, second = ((float(d.get("cx", "")), float(d.get("cy", ""))) for d in drawn.iter(f"{SVG}circle"))
    straight = next(p for p in drawn.iter(f"{SVG}path") if p.get("class") == "t-ahead-line").get("d", "")
    (x0, y0), (x1, y1) = (tuple(map(float, end.split())) for end in straight[1:].split("L"))
    assert (first[0] - x0) / (x1 - x0) == (first[1] - y0) / (y1 - y0) == 0.5
    # Ranges that held less often than stated lie below it.
    assert (second[1] - y0) / (y1 - y0) < (second[0] - x0) / (x1 - x0)
    assert drawn.get("role") == "img"
    assert [t.text for t in drawn.iter(f"{SVG}title")] == ["Stated & found"]
