"""The chart of a change: the prediction, what readings told and both, the same with scripts and without."""

from datetime import UTC, date, datetime
from pathlib import Path
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
import vl_convert
from msgspec.structs import replace

from generator.read.load import load
from generator.reckon.arrivals.observed import Observed
from generator.reckon.arrivals.story import CoralChange, story_of
from generator.render.base.blocks import Chart
from generator.render.base.numbers import Display, Say
from generator.render.base.page import specification
from generator.render.base.words import words_of
from generator.render.charts.change import change_chart
from tests.reckon.arrivals.waters import coral_changes

CONTENT = Path(__file__).parents[3] / "content"
SAY = Say(Display(ZoneInfo("Atlantic/Azores"), {"alkalinity": "dKH"}), words_of("en"))


def changed(as_of: datetime) -> CoralChange:
    journal = load(CONTENT, date(2026, 11, 22)).journal
    assert journal is not None
    of_system = journal.systems["fore-reef"], journal.log_of("fore-reef"), journal.corals
    found = coral_changes(story_of(*of_system, as_of), as_of)
    return next(change for change in found if change.coral == "ballast-1")


@pytest.fixture(scope="module")
def chart() -> Chart:
    found = change_chart(changed(datetime(2026, 10, 16, tzinfo=UTC)), "Ballast", SAY)
    assert found is not None
    return found


def test_each_reading_since_is_a_step_of_the_story(chart: Chart):
    assert len(chart.data["track"]["t"]) == len(chart.rows)
    assert all("in 100 that it matters" in words for words in chart.data["track"]["words"])


def test_what_was_foreseen_is_a_strip_that_lies_within_the_chart(chart: Chart):
    low, high = chart.data["frame"]["rise"]
    [prior_low], [prior_high] = chart.data["prior"]["low"], chart.data["prior"]["high"]
    assert low <= prior_low < prior_high <= high * (1.0 + 1e-4)
    assert "t-prior" in chart.svg


def test_vega_draws_it_from_the_same_data(chart: Chart):
    data = {
        name: [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
        for name, columns in chart.data.items()
    }
    drawn = vl_convert.vegalite_to_svg({**specification("change"), "datasets": data})
    assert drawn.count("<path") > 5


def test_the_picture_is_well_formed_and_has_no_style_of_its_own(chart: Chart):
    root = ElementTree.fromstring(chart.svg)
    assert root.get("role") == "img"
    assert not [node for node in root.iter() if "style" in node.attrib]


def test_before_the_first_reading_since_there_is_no_chart():
    assert change_chart(changed(datetime(2026, 10, 2, 20, 0, tzinfo=UTC)), "Ballast", SAY) is None


def test_one_reading_since_makes_no_line_and_so_no_chart():
    change = changed(datetime(2026, 10, 16, tzinfo=UTC))
    assert isinstance(change.observed, Observed)
    once = replace(change, observed=replace(change.observed, days=change.observed.days[:1]))
    assert change_chart(once, "Ballast", SAY) is None
