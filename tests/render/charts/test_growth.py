"""The growth chart: what was measured, joined only where it may be compared, alike with scripts and without."""

import json
from datetime import date
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
import vl_convert

from generator.door.door import Door
from generator.reckon.analysis.steps import analyse_corals
from generator.reckon.growth.corals import CoralFindings
from generator.render.base.blocks import Chart
from generator.render.base.numbers import Display, Say
from generator.render.base.page import specification
from generator.render.base.words import words_of
from generator.render.charts.growth import growth_charts
from tests.reckon.growth.corals import coral, cut, day, place, placed, sizes, system

SAY = Say(Display(ZoneInfo("UTC"), {}), words_of("en"))
DAYS = list(range(0, 400, 40))
TODAY = day(380)


def findings(**more) -> CoralFindings:
    lengths = [6.0 + 4.0 * at / 365.25 for at in DAYS]
    one = coral(placements=(placed(),), sizes=sizes(DAYS, lengths), **more)
    found, _, _ = analyse_corals(
        {one.id: one}, {"lagoon": system(ledge=place(0, 0, 60, 40))}, {}, dict, lambda: TODAY, Door()
    )
    return found[one.id]


@pytest.fixture(scope="module")
def chart() -> Chart:
    drawn = growth_charts("Lantern", findings(cuttings=(cut(200),)), SAY)
    assert [each.id for each in drawn] == ["growth-diameter"]
    return drawn[0]


def test_every_measurement_is_there_once_with_its_error(chart: Chart) -> None:
    points = chart.data["points"]
    assert len(points["t"]) == len(DAYS) == len(chart.rows)
    assert all(
        low < value < high for low, value, high in zip(points["low"], points["value"], points["high"], strict=True)
    )


def test_a_cut_breaks_the_line(chart: Chart) -> None:
    runs = set(chart.data["joined"]["run"])
    assert runs == {0, 1}
    assert len(chart.data["breaks"]["t"]) == 1
    assert "cut" in str(chart.data["breaks"]["words"][0])


def test_what_lies_ahead_widens(chart: Chart) -> None:
    ahead = chart.data["ahead"]
    widths = [high - low for low, high in zip(ahead["low"], ahead["high"], strict=True)]
    assert widths == sorted(widths)
    assert ahead["t"][-1] > chart.data["today"]["t"][0]


def test_a_coral_measured_once_has_no_chart() -> None:
    one = coral(placements=(placed(),), sizes=sizes([0], [6.0]))
    found, _, _ = analyse_corals(
        {one.id: one}, {"lagoon": system(ledge=place(0, 0, 60, 40))}, {}, dict, lambda: TODAY, Door()
    )
    assert growth_charts("Lantern", found[one.id], SAY) == ()


def test_vega_draws_what_the_still_picture_shows(chart: Chart) -> None:
    filled = json.loads(json.dumps(specification("growth")))
    filled["datasets"] = {
        name: [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
        for name, columns in chart.data.items()
    }
    drawn = vl_convert.vegalite_to_svg(filled)
    assert drawn.count('aria-label="2025') == len(DAYS) or all(
        point in drawn for point in map(str, chart.data["points"]["words"])
    )
    still = ElementTree.fromstring(str(chart.svg))
    assert still.find("{http://www.w3.org/2000/svg}title").text == "Diameter of Lantern"
    assert date.fromisoformat(chart.rows[0][0]) == day(DAYS[-1])
