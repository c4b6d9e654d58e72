"""The chart of one quantity shows what was found, on the keeper's clock, alike with scripts and without."""

import json
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any
from xml.etree import ElementTree
from zoneinfo import ZoneInfo

import pytest
import vl_convert
from msgspec.structs import replace

from generator.reckon.water.findings import WaterFindings
from generator.records.system import System
from generator.render.base.blocks import Chart
from generator.render.base.numbers import Say
from generator.render.base.page import KINDS_OF_CHART, beside, environment, specification
from generator.render.base.scale import thinned, wall_clock
from generator.render.base.words import words_of
from generator.render.charts.specifications import made
from generator.render.charts.water import water_chart
from generator.render.charts.water_rows import Deed, Telling, WaterRows, deeds, water_rows
from tests.render.charts import sample

WORDS = words_of("en")
SAY = Say(sample.DISPLAY, WORDS)


KINDS_READ = ("alkalinity", "nitrate")
HALF_YEAR = (wall_clock(sample.at(180), sample.DISPLAY.zone), wall_clock(sample.at(-14), sample.DISPLAY.zone))


def chart_of(findings: WaterFindings, system: System | None = None, kinds: Sequence[str] = KINDS_READ) -> Chart:
    return water_chart(system or sample.system(), sample.log(), findings, kinds, SAY)


def rows_of(findings: WaterFindings, kind: str = "alkalinity") -> WaterRows:
    telling = Telling(kind, SAY, sample.at(sample.DAYS), sample.AS_OF)
    return water_rows(sample.system(), findings, telling).since(*HALF_YEAR)


@pytest.fixture(scope="module")
def chart() -> Chart:
    return chart_of(sample.findings())


@pytest.fixture(scope="module")
def rows() -> WaterRows:
    return rows_of(sample.findings())


@pytest.fixture(scope="module")
def done() -> tuple[Deed, ...]:
    tellings = [Telling(kind, SAY, sample.at(180), sample.AS_OF) for kind in KINDS_READ]
    of = [water_rows(sample.system(), sample.findings(), telling) for telling in tellings]
    return deeds(tellings, of, sample.log(), sample.findings())


def filled(chart: Chart, range_: int = 2) -> dict[str, Any]:
    """The specification with the page's data in it, as the script in the page puts it together."""
    data = {
        name: [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
        for name, columns in chart.data.items()
    }
    spec: dict[str, Any] = json.loads(json.dumps(specification(chart.kind)))
    parts = {panel["name"]: panel for panel in spec["vconcat"]}
    span, panels = data["ranges"][range_], []
    data |= {"frame": [{"t": span["since"]}, {"t": span["until"]}], "here": [{}]}
    for head in data["panels"]:
        name = f"{head['of']}-{head['part']}"
        ends = next(each for each in data["ends"] if each["panel"] == name and each["range"] == range_)
        data[f"{name}-frame"] = [
            {"t": span["since"], "value": ends["low"]},
            {"t": span["until"], "value": ends["high"]},
        ]
        data[f"{name}-head"] = [{"words": head["words"]}]
        panels.append(json.loads(json.dumps({**parts[head["part"]], "name": name}).replace("of-", f"{head['of']}-")))
    return {**spec, "vconcat": [*panels, parts["deeds"]], "datasets": data}


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


def test_a_doubtful_reading_differs_by_shape_and_not_by_colour_alone(chart: Chart, rows: WaterRows) -> None:
    assert [seen.standing for seen in rows.readings].count("doubtful") == 1
    assert chart.svg.count("t-doubt t-sign") == 1
    assert list(chart.data["alkalinity-readings"]["standing"]).count("doubtful") == 1


def test_what_is_read_many_times_a_day_keeps_its_page_small() -> None:
    findings = sample.findings()
    reading, value = next(pair for pair in findings.readings if pair[0].kind == "nitrate")
    often = tuple((replace(reading, at=sample.at(hours / 8)), value) for hours in range(1600, 0, -1))
    shown = rows_of(replace(findings, readings=often), "nitrate").readings
    assert 90 < len(shown) <= 2 * 90
    month = [seen for seen in shown if seen.at >= shown[-1].at - 30 * 86_400_000]
    assert len(month) > len(shown) / 3, "the last month is shown more closely"


def test_a_reading_below_what_the_kit_sees_is_marked_so() -> None:
    chart = chart_of(sample.findings(), kinds=("nitrate",))
    assert "t-reading t-sign" in chart.svg
    assert [row for row in chart.rows if WORDS("chart.standing.below") in row[1]]


def test_a_pump_that_ran_at_two_rates_is_two_spans_however_many_lines_its_ledger_has(done: tuple[Deed, ...]) -> None:
    spans = [deed for deed in done if deed.lane == "pump"]
    assert len(spans) == 2
    assert spans[0].until == spans[1].at
    assert all("+1.0" in deed.words for deed in spans), "each adds 1.0 dKH a day"


def test_water_changes_and_events_of_the_half_year_are_there_once_each(done: tuple[Deed, ...]) -> None:
    assert len([deed for deed in done if deed.lane == "water-change"]) == 13
    assert len([deed for deed in done if deed.lane == "event"]) == 2


def test_a_quantity_that_is_only_read_has_no_panel_of_uptake(chart: Chart) -> None:
    panels = list(zip(chart.data["panels"]["of"], chart.data["panels"]["part"], strict=True))
    assert panels == [("alkalinity", "level"), ("alkalinity", "uptake"), ("nitrate", "level")]
    assert chart.data["nitrate-track"]["t"] == ()


def test_the_chart_of_a_quantity_nobody_read_says_so() -> None:
    chart = chart_of(sample.findings(), kinds=("calcium",))
    assert chart.description == WORDS("chart.water.no_readings", quantity=WORDS("quantities.calcium"))
    assert chart.rows == ()
    ElementTree.fromstring(chart.svg)


def test_every_range_ends_where_its_own_readings_do(chart: Chart) -> None:
    since, until = (chart.data["ranges"][name] for name in ("since", "until"))
    assert list(since) == sorted(since, reverse=True), "week, month, half year, all; the record is shorter than a year"
    assert all(end > wall_clock(sample.AS_OF, sample.DISPLAY.zone) for end in until)
    assert [here for _, here in chart.ranges].index(True) == 2, "the still picture shows the half year"
    ends = chart.data["ends"]
    widths = [
        (number, high - low)
        for panel, number, low, high in zip(*(ends[name] for name in ("panel", "range", "low", "high")), strict=True)
        if panel == "alkalinity-level"
    ]
    assert [number for number, _ in widths] == list(range(4))
    assert widths[0][1] <= widths[-1][1]


@pytest.mark.parametrize("kept", [4, 1])
def test_a_record_of_some_weeks_fills_its_first_picture_and_one_evening_a_week_of_it(kept: int) -> None:
    whole = sample.findings()
    short = replace(whole, readings=tuple(sorted(whole.readings, key=lambda each: each[0].at)[-kept:]))
    begun = min(reading.at for reading, _ in short.readings)
    chart = chart_of(short)
    assert [here for _, here in chart.ranges].index(True) == len(chart.ranges) - 1, "the still picture shows all"
    assert chart.data["ranges"]["since"][-1] == wall_clock(min(begun, sample.at(7)), sample.DISPLAY.zone)


@pytest.mark.parametrize("kind", KINDS_OF_CHART)
def test_a_kind_of_chart_is_one_valid_specification_without_data(kind: str) -> None:
    kept = specification(kind)
    assert specification(kind) is kept
    assert "datasets" not in kept
    assert not re.search(r'"values":', json.dumps(kept))
    # altair validates what it makes; python .ci/chart_specifications.py keeps it, in the order it was made in.
    assert json.dumps(kept) == json.dumps(made(kind))


def test_every_data_set_and_field_the_specification_names_is_given(chart: Chart) -> None:
    spec = filled(chart)
    wanted = _fields_by_data(spec["vconcat"])
    assert set(wanted) <= set(spec["datasets"])
    for name, fields in wanted.items():
        given = {field for row in spec["datasets"][name] for field in row} | set(chart.data.get(name, ()))
        assert fields - {"t"} <= given if name == "here" else fields <= given, name


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


def test_vega_draws_the_same_readings_as_the_still_picture(chart: Chart, rows: WaterRows) -> None:
    drawn = vl_convert.vegalite_to_svg(filled(chart))
    assert drawn.count('aria-roledescription="point"') >= len(rows.readings)
    dots = re.search(r'class="t-dot"[^>]* d="([^"]*)"', chart.svg)
    assert dots is not None
    assert dots.group(1).count("M") == len(rows.readings) - 1, "all but the doubtful one"


def test_the_picture_is_well_formed_and_a_strict_policy_finds_no_style_in_it(chart: Chart) -> None:
    root = ElementTree.fromstring(chart.svg)
    name = "{http://www.w3.org/2000/svg}"
    assert root.get("role") == "img"
    assert root.findtext(f"{name}title") == chart.title
    assert root.findtext(f"{name}desc") == chart.description
    assert not [node for node in root.iter() if "style" in node.attrib or node.tag == f"{name}style"]
    ids = [node.get("id") for node in root.iter() if node.get("id")]
    assert len(ids) == len(set(ids))
    assert all(id.startswith(chart.id) for id in ids if id)


def test_names_a_keeper_gave_are_words_in_the_picture_and_no_markup() -> None:
    system = replace(sample.system(), name='<script>"x"</script> & co')
    chart = chart_of(sample.findings(), system)
    assert "<script" not in chart.svg
    ElementTree.fromstring(chart.svg)


def test_a_chart_of_half_a_year_weighs_less_than_forty_kilobytes(chart: Chart) -> None:
    page = environment("en").from_string('{% from "parts/chart.html" import figure %}{{ figure(chart) }}')
    assert len(page.render(chart=chart).encode()) < 40_000


def test_what_a_pointer_asks_for_lies_beside_the_page(chart: Chart) -> None:
    address, script = beside((chart,), WORDS)
    assert address.startswith("charts/lagoon-")
    given = json.loads(script.decode().removeprefix("chartData(").removesuffix(")\n"))
    assert given["data"][chart.id] == json.loads(json.dumps(chart.data))
    assert set(given["kinds"]) == {chart.kind}
    assert beside((chart,), WORDS) == (address, script)


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
    stopped = rows_of(until)
    assert stopped.supply[-1] == (stopped.today, 0.0)
