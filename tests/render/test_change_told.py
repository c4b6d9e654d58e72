"""What the report of a change says of its odds, whichever way the readings lean."""

import re
from pathlib import Path

import pytest

from tests.render.pages import texts


def _reports(site: Path, what: str) -> list[str]:
    pages = sorted(site.glob(f"systems/*/changes/*-{what}.html"))
    return [" ".join(text for _, text in texts(page.read_text(encoding="utf-8"))) for page in pages]


@pytest.mark.parametrize(("what", "way", "other"), [("arrival", "rose", "fell"), ("cutting", "fell", "rose")])
def test_the_odds_are_those_of_what_such_a_change_leads_to_expect(demo_site: Path, what: str, way: str, other: str):
    reports = _reports(demo_site, what)
    assert any(f"The odds that it {way} by more than" in report for report in reports)
    assert not any(f"The odds that it {other} by more than" in report for report in reports)


def test_what_could_not_be_told_is_not_said_to_be_unread(demo_site: Path):
    reports = [report for report in _reports(demo_site, "arrival") if "not read often enough" in report]
    assert reports
    assert all("What it did cannot be told." in report and "Nothing was read since" not in report for report in reports)


def test_a_report_says_from_what_size_a_change_matters_and_where_that_is_written(demo_site: Path):
    (cut,) = [report for report in _reports(demo_site, "cutting") if "Slate Garden 1" in report]
    assert "fell by more than 0.1\u00a0dKH\u00a0a\u00a0day" in cut
    assert "a fifth to four fifths, is taken to be gone" in cut
    (boulder,) = [report for report in _reports(demo_site, "arrival") if "Ballast came into" in report]
    assert re.search(r"rose by more than 10\u00a0% of the demand before it \(0\.0\d", boulder)
    assert "(smallest_change)" in boulder


def test_what_more_to_dose_for_a_newcomer_stands_beside_its_cautions(demo_site: Path):
    (boulder,) = [report for report in _reports(demo_site, "arrival") if "Ballast came into" in report]
    _, _, doses = boulder.partition("What more to dose")
    assert "burn skin and eyes" in doses
    assert "safety sheet and local codes" in doses


def test_the_only_coral_known_to_take_any_takes_all_of_it(demo_site: Path):
    reports = [*_reports(demo_site, "loss"), *_reports(demo_site, "arrival")]
    assert not any("100.00" in report for report in reports)
    assert any("All of it" in report for report in reports)


def test_no_demand_below_nothing_is_foreseen(demo_site: Path):
    for report in (*_reports(demo_site, "loss"), *_reports(demo_site, "cutting")):
        _, found, after = report.partition("Foreseen for after")
        assert not found or not after.lstrip().startswith("\u2212")
