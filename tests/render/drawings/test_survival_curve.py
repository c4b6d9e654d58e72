"""A survival curve steps down on the day of a loss and says how many were still watched."""

from xml.etree import ElementTree

from generator.render.drawings.statistics import draw_survival

SVG = "{http://www.w3.org/2000/svg}"


def test_the_curve_steps_where_one_was_lost():
    steps = [(0.0, 100.0, 80.0, 100.0), (100.0, 90.0, 70.0, 97.0)]
    curve = draw_survival("s", "Ten arrivals", "alive", 400.0, 300.0, steps, [(0, "0", "10"), (400, "400", "4")])
    drawn = ElementTree.fromstring(curve)
    line = next(each for each in drawn.iter(f"{SVG}path") if each.get("class") == "t-level-line")
    # 150 units are 100 %: to the day of the loss at the top, then a tenth lower until too few were watched.
    assert line.get("d") == "M0 0.0V0.0H250.0V15.0H750.0"
    words = [each.text for each in drawn.iter(f"{SVG}text")]
    assert {"10", "4"} <= set(words)
