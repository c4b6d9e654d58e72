"""The chart of one quantity shows what was found, on the keeper's clock, alike with scripts and without."""

import json
import re
from dataclasses import replace
from datetime import UTC, datetime
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
import vl_convert

from generator.render.base.chart import Chart, thinned, wall_clock
from generator.render.base.environment import environment
from generator.render.base.words import words_of
from generator.render.charts.beside import beside
from generator.render.charts.catalogue import KINDS, specification
from generator.render.charts.making import made
from generator.render.charts.water import water_chart
from generator.render.charts.water_rows import WaterRows, water_rows
from tests.render.charts import sample

WORDS = words_of("en")


@pytest.fixture(scope="module")
def alkalinity() -> Chart:
    return water_chart(sample.system(), sample.log(), sample.findings(), "alkalinity", sample.DISPLAY, WORDS)


@pytest.fixture(scope="module")
def nitrate() -> Chart:
    return water_chart(sample.system(), sample.log(), sample.findings(), "nitrate", sample.DISPLAY, WORDS)


@pytest.fixture(scope="module")
def rows() -> WaterRows:
    return water_rows(sample.system(), sample.log(), sample.findings(), "alkalinity", sample.DISPLAY, WORDS)


def filled(chart: Chart) -> dict[str, object]:
    """The specification with the page's data in it, as the script in the page puts it together."""
    data = {
        name: [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
        for name, columns in chart.data.items()
    }
    return {**specification(chart.kind), "datasets": data}


def test_a_reading_late_in_the_evening_stays_on_its_day_in_the_keepers_zone() -> None:
    # 23:30 in Lisbon in summer is 22:30 UTC, and would be the next day in Athens.
    moment = datetime(2026, 7, 1, 22, 30, tzinfo=UTC)
    shown = datetime.fromtimestamp(wall_clock(moment, ZoneInfo("Europe/Lisbon")) / 1000, UTC)
    assert shown.strftime("%Y-%m-%d %H:%M") == "2026-07-01 23:30"


def test_an_error_bar_holds_nine_of_ten_repeats_of_the_kit(rows: WaterRows) -> None:
    # 90 % of a normal distribution lie within 1.645 standard deviations (NIST handbook, table of the normal).
    seen = rows.readings[0]
    assert seen.low is not None
    assert seen.value - seen.low == pytest.approx(1.645 * 0.15, rel=1e-3)


def test_a_doubtful_reading_differs_by_shape_and_not_by_colour_alone(alkalinity: Chart, rows: WaterRows) -> None:
    assert [seen.standing for seen in rows.readings].count("doubtful") == 1
    assert alkalinity.svg.count("t-doubt t-sign") == 1
    assert list(alkalinity.data["readings"]["standing"]).count("doubtful") == 1


def test_what_is_seldom_read_is_shown_further_back() -> None:
    findings = sample.findings()
    rare = [pair for pair in findings.readings if pair[0].kind == "nitrate"]
    shown = [pair for pair in rare if pair[0].at < sample.at(185)] + rare[:1]
    few = replace(findings, readings=tuple(shown))
    seldom = water_rows(sample.system(), sample.log(), few, "nitrate", sample.DISPLAY, WORDS)
    assert len(seldom.readings) == len(shown) > 1


def test_what_is_read_many_times_a_day_is_shown_less_far_back() -> None:
    findings = sample.findings()
    reading, value = next(pair for pair in findings.readings if pair[0].kind == "nitrate")
    often = tuple((replace(reading, at=sample.at(hours / 8)), value) for hours in range(1000, 0, -1))
    shown = water_rows(
        sample.system(), sample.log(), replace(findings, readings=often), "nitrate", sample.DISPLAY, WORDS
    )
    assert len(shown.readings) == 120
    assert shown.readings[0].at == shown.start


def test_a_reading_below_what_the_kit_sees_is_marked_so(nitrate: Chart) -> None:
    assert "t-reading t-sign" in nitrate.svg
    assert [row for row in nitrate.rows if row[2] == WORDS("chart.standing.below")]


def test_a_pump_that_ran_at_two_rates_is_two_spans_however_many_lines_its_ledger_has(rows: WaterRows) -> None:
    spans = [deed for deed in rows.deeds if deed.lane == "pump"]
    assert len(spans) == 2
    assert spans[0].until == spans[1].at
    assert all("+1.0" in deed.words for deed in spans), "each adds 1.0 dKH a day"


def test_water_changes_and_events_of_the_half_year_are_there_once_each(rows: WaterRows) -> None:
    assert len([deed for deed in rows.deeds if deed.lane == "water-change"]) == 13
    assert len([deed for deed in rows.deeds if deed.lane == "event"]) == 2


def test_a_quantity_that_is_only_read_has_no_panel_of_uptake(alkalinity: Chart, nitrate: Chart) -> None:
    assert (alkalinity.kind, nitrate.kind) == ("water-uptake", "water-level")
    assert nitrate.data["track"]["t"] == ()


def test_the_chart_of_a_quantity_nobody_read_says_so() -> None:
    chart = water_chart(sample.system(), sample.log(), sample.findings(), "calcium", sample.DISPLAY, WORDS)
    assert chart.description == WORDS("chart.water.no_readings", quantity=WORDS("quantities.calcium"))
    assert chart.rows == ()
    ElementTree.fromstring(chart.svg)


@pytest.mark.parametrize("kind", KINDS)
def test_a_kind_of_chart_is_one_valid_specification_without_data(kind: str) -> None:
    kept = specification(kind)
    assert specification(kind) is kept
    assert "datasets" not in kept
    assert not re.search(r'"values":', json.dumps(kept))
    # altair validates what it makes; python .ci/chart_specifications.py keeps it, in the order it was made in.
    assert json.dumps(kept) == json.dumps(made(kind))


def test_every_data_set_and_field_the_specification_names_is_given(alkalinity: Chart, nitrate: Chart) -> None:
    for chart in (alkalinity, nitrate):
        wanted = _fields_by_data(specification(chart.kind))
        assert set(wanted) <= set(chart.data)
        for name, fields in wanted.items():
            assert fields <= set(chart.data[name]), name


def _fields_by_data(node: object, data: str = "") -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    if isinstance(node, dict):
        data = node.get("data", {}).get("name", data)
        if data and isinstance(node.get("field"), str):
            found.setdefault(data, set()).add(node["field"])
        children = list(node.values())
    else:
        children = node if isinstance(node, list) else []
    for child in children:
        for name, fields in _fields_by_data(child, data).items():
            found.setdefault(name, set()).update(fields)
    return found


def test_vega_draws_the_same_readings_as_the_still_picture(alkalinity: Chart, rows: WaterRows) -> None:
    drawn = vl_convert.vegalite_to_svg(filled(alkalinity))
    assert drawn.count('aria-roledescription="point"') >= len(rows.readings)
    dots = re.search(r'class="t-dot"[^>]* d="([^"]*)"', alkalinity.svg)
    assert dots is not None
    assert dots.group(1).count("M") == len(rows.readings) - 1, "all but the doubtful one"


def test_the_picture_is_well_formed_and_a_strict_policy_finds_no_style_in_it(alkalinity: Chart) -> None:
    root = ElementTree.fromstring(alkalinity.svg)
    name = "{http://www.w3.org/2000/svg}"
    assert root.get("role") == "img"
    assert root.findtext(f"{name}title") == alkalinity.title
    assert root.findtext(f"{name}desc") == alkalinity.description
    assert not [node for node in root.iter() if "style" in node.attrib or node.tag == f"{name}style"]
    ids = [node.get("id") for node in root.iter() if node.get("id")]
    assert len(ids) == len(set(ids))
    assert all(id.startswith(alkalinity.id) for id in ids if id)


def test_names_a_keeper_gave_are_words_in_the_picture_and_no_markup() -> None:
    system = replace(sample.system(), name='<script>"x"</script> & co')
    chart = water_chart(system, sample.log(), sample.findings(), "alkalinity", sample.DISPLAY, WORDS)
    assert "<script" not in chart.svg
    ElementTree.fromstring(chart.svg)


def test_a_chart_of_half_a_year_weighs_less_than_forty_kilobytes(alkalinity: Chart) -> None:
    page = environment("en").from_string('{% from "parts/chart.html" import figure %}{{ figure(chart) }}')
    assert len(page.render(chart=alkalinity).encode()) < 40_000


def test_what_a_pointer_asks_for_lies_beside_the_page(alkalinity: Chart, nitrate: Chart) -> None:
    address, script = beside((alkalinity, nitrate), WORDS)
    assert address.startswith("charts/lagoon-alkalinity-")
    given = json.loads(script.decode().removeprefix("chartData(").removesuffix(")\n"))
    assert given["data"][alkalinity.id] == json.loads(json.dumps(alkalinity.data))
    assert set(given["kinds"]) == {alkalinity.kind, nitrate.kind}
    assert beside((alkalinity, nitrate), WORDS) == (address, script)


def test_thinning_keeps_the_last_point_and_no_more_than_asked() -> None:
    assert thinned(range(10), 4)[-1] == 9
    assert len(thinned(range(10), 4)) <= 4
    assert thinned(range(3), 4) == [0, 1, 2]
    assert thinned([], 4) == []


def test_what_is_put_in_a_day_stands_beside_what_is_taken_up(rows: WaterRows) -> None:
    assert {round(rate, 6) for _, rate in rows.supply} == {1.0}, "the sample's pump adds 1.0 dKH a day throughout"
    assert rows.supply[-1][0] == rows.today


def test_a_pump_that_was_stopped_puts_nothing_in_from_then_on() -> None:
    found = sample.findings()
    until = replace(found, ledger=tuple(line for line in found.ledger if line.until <= sample.at(30)))
    stopped = water_rows(sample.system(), sample.log(), until, "alkalinity", sample.DISPLAY, WORDS)
    assert stopped.supply[-1] == (stopped.today, 0.0)
