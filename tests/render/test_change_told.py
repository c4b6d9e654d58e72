"""What the report of a change says of its odds, whichever way the readings lean."""

import re
from pathlib import Path

import pytest

from tests.render.pages import texts


def _reports(site: Path, what: str) -> list[str]:
    pages = sorted(site.glob(f"systems/*/changes/*-{what}.html"))
    return [" ".join(text for _, text in texts(page.read_text(encoding="utf-8"))) for page in pages]


@pytest.mark.parametrize(("what", "way", "other"), [("arrival", "rise", "fall"), ("cutting", "fall", "rise")])
def test_the_odds_are_those_of_what_such_a_change_leads_to_expect(demo_site: Path, what: str, way: str, other: str):
    reports = _reports(demo_site, what)
    assert any(f"Chance of a {way} of more than" in report for report in reports)
    assert not any(f"Chance of a {other} of more than" in report for report in reports)


def test_what_could_not_be_told_is_not_said_to_be_unread(demo_site: Path):
    reports = [report for report in _reports(demo_site, "arrival") if "too few readings before that day" in report]
    assert reports
    assert all(
        "The readings cannot tell what it did." in report and "There is no reading since" not in report
        for report in reports
    )


def test_a_report_says_from_what_size_a_change_matters_and_where_that_is_written(demo_site: Path):
    (cut,) = [report for report in _reports(demo_site, "cutting") if "Slate Garden 1" in report]
    assert "fall of more than 0.1\u00a0dKH\u00a0a\u00a0day" in cut
    assert "Half of the coral is assumed, between a fifth and four fifths." in cut
    (boulder,) = [report for report in _reports(demo_site, "arrival") if "Ballast arrived in" in report]
    assert re.search(r"rise of more than 10\u00a0% of the uptake before \(0\.0\d", boulder)
    assert "(smallest_change)" in boulder


def test_what_more_to_dose_for_a_newcomer_stands_beside_its_cautions(demo_site: Path):
    (boulder,) = [report for report in _reports(demo_site, "arrival") if "Ballast arrived in" in report]
    _, _, doses = boulder.partition("Extra doses")
    assert "burn skin and eyes" in doses
    assert "safety sheet and local codes" in doses


def test_the_only_coral_known_to_take_any_takes_all_of_it(demo_site: Path):
    reports = [*_reports(demo_site, "loss"), *_reports(demo_site, "arrival")]
    assert not any("100.00" in report for report in reports)
    assert any("All of it" in report for report in reports)


def test_no_demand_below_nothing_is_foreseen(demo_site: Path):
    for report in (*_reports(demo_site, "loss"), *_reports(demo_site, "cutting")):
        _, found, after = report.partition("Predicted for after")
        assert not found or not after.lstrip().startswith("\u2212")
