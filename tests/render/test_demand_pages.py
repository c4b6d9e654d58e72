"""The pages of a system's demand: reports of changes, shares and dosing, and who may see of whom."""

import csv
import dataclasses
import io
import re
from pathlib import Path

import yaml
from msgspec.structs import replace

from generator.reckon.analysis.journal import analyse
from generator.reckon.finding import Finding
from generator.units.quantity import Estimate
from tests.conftest import ROOT
from tests.render import sample
from tests.render.pages import drawn, elements, site, texts

OWN, PUBLIC = sample.built(sample.seen("own")), sample.built(sample.seen())
BOULDER = "systems/fore-reef/changes/2026-10-02-ballast-1-arrival.html"


def said(html: str) -> str:
    return re.sub(r"\s+", " ", " ".join(text for inside, text in texts(html) if "script" not in inside))


def read(site: Path, address: str) -> str:
    return (site / address).read_text(encoding="utf-8")


def test_a_newcomer_has_its_report_from_what_was_foreseen_to_what_to_dose(demo_site: Path):
    page = read(demo_site, BOULDER)
    words = said(page)
    for heading in ("What it changed", "Prediction", "When to test", "Extra doses"):
        assert heading in words
    assert "Published methods compared" in words
    # At least two independent ways, with all together and as this water's corals do.
    assert page.count('class="range way"') >= 2
    assert "A change gets its own report when it moves at least 15 % of its system's uptake." in words
    assert "Share of the whole uptake" in words


def test_reports_shares_and_dosing_are_linked_from_the_system_and_the_coral(demo_site: Path):
    system, coral = read(demo_site, "systems/fore-reef.html"), read(demo_site, "corals/ballast-1.html")
    to = {page: {a["href"] for tag, a in elements(page) if tag == "a" and "href" in a} for page in (system, coral)}
    for name in (BOULDER.removeprefix("systems/"), "fore-reef/shares.html", "fore-reef/dosing.html"):
        assert name in to[system]
        assert f"../systems/{name}" in to[coral]


def test_shares_stand_in_a_table_that_needs_no_script_and_add_up(demo_site: Path):
    page = read(demo_site, "systems/fore-reef/shares.html")
    assert "<script" not in page
    table = re.search(r'<table class="stacked tall">.*?</table>', page, re.DOTALL)
    assert table is not None
    shares = re.findall(r"<td[^>]*><b>(\d+)\u00a0%</b>", table[0])
    assert abs(sum(map(int, shares)) - 100) <= len(shares) / 2
    assert 'href="#what-if"' in page.split('id="shares"')[0], "the first screen leads to what if"
    assert "Moved to" in said(page)


def test_a_change_of_a_coral_that_is_not_shown_has_no_page_and_no_line():
    hidden = "systems/lagoon/changes/2026-03-06-back-coral-arrival.html"
    assert hidden in {page.url for page in OWN.pages}
    assert hidden not in {page.url for page in PUBLIC.pages}
    for pages, there in ((OWN, True), (PUBLIC, False)):
        rows = csv.DictReader(io.StringIO(pages.files["data/systems/lagoon/changes.csv"].decode(), newline=""))
        assert any(row["coral"] == "back-coral" for row in rows) is there
    assert not [url for url, html in drawn(PUBLIC).items() if "back-coral" in html]


def test_a_change_in_data_is_in_the_unit_of_the_pages(demo_site: Path):
    rows = list(csv.DictReader(io.StringIO(read(demo_site, "data/systems/fore-reef/changes.csv"), newline="")))
    [boulder] = [row for row in rows if row["coral"] == "ballast-1"]
    assert boulder["unit"] == "dKH/day"
    low, measured, high = (float(boulder[name]) for name in ("measured_low90", "measured", "measured_high90"))
    truth = yaml.load((ROOT / "tests/simulator/demo_truth.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader)
    grams = truth["newcomers"]["ballast-1"]["grams_of_caco3"]["2026-11-15"]
    # A gram of CaCO3 in a litre takes 56.03 dKH: 2 eq a mole of 100.086 g, 2.80385 dKH a meq.
    assert low < grams * 56.03 / truth["systems"]["fore-reef"]["litres"] < high
    assert low < measured < high


def test_a_plan_says_until_when_from_what_and_with_what_care(demo_site: Path):
    page = read(demo_site, "systems/fore-reef/dosing.html")
    words = said(page)
    assert "Test alkalinity again by" in words
    assert "Uptake it is based on" in words
    assert "The maker's safety sheet and local codes come first." in words
    assert "residual-current device" in words
    # 10 L of washing soda at 60 g/L, by definition 600 g.
    assert "600 g Na2CO3" in words.replace("\u00a0", " ")


def test_where_nothing_is_dosed_there_is_no_plan_and_no_link_to_one(demo_site: Path):
    assert not (demo_site / "systems/waiting-room/dosing.html").exists()
    assert "waiting-room/dosing.html" not in read(demo_site, "systems/waiting-room.html")


def test_the_waters_health_stands_on_the_systems_page(demo_site: Path):
    words = said(read(demo_site, "systems/lagoon.html"))
    for figure in ("Aragonite saturation", "Nitrogen per phosphorus", "Temperature, swing over the week"):
        assert figure in words
    assert "Salts at salinity 35" in words


def test_a_rise_of_salinity_is_in_the_unit_of_all_salinities() -> None:
    by_gravity = sample.settings(units={"alkalinity": "dKH", "salinity": "sg 25/25"})
    found = analyse(sample.journal(), sample.AS_OF)
    drift = Finding(Estimate(0.4, 0.3, 0.5, "psu/month"), "salinity-drift", ())
    found = dataclasses.replace(
        found, dosing={**found.dosing, "lagoon": replace(found.dosing["lagoon"], salinity_drift=drift)}
    )
    pages = site(sample.seen("own", settings=by_gravity), found, (), sample.AS_OF, sample.PICTURES)
    told = said(drawn(pages)["systems/lagoon/dosing.html"])
    assert "sg 25/25 a month" in told
    assert "psu a month" not in told
