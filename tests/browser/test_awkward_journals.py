"""Journals as they come: on the first day, and with names longer than a telephone is wide or from the right."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from generator.__main__ import main
from tests.browser.visits import PHONE, opened
from tests.conftest import made_once

_LONG = "Donaudampfschifffahrtsgesellschaftskapitänskajütenriffbecken"
_RIGHT_TO_LEFT = "האקווריום הגדול"
_SYSTEM = """name: {name}
water: {{volume: 100 L, uncertainty: 5 L}}
low: {{alkalinity: 7.5 dKH}}
high: {{alkalinity: 9 dKH}}
"""
_CORAL = """name: {name}
species: Acropora tenuis
line: {line}
form: branching
arrival: {{at: 2026-02-01, how: gift}}
placements: [{{since: 2026-02-01, system: tank}}]
sizes:
  - {{at: 2026-03-01, length: 5 cm, width: 4 cm, height: 3 cm}}
  - {{at: 2026-11-01, length: 7 cm, width: 6 cm, height: 4 cm}}
"""


def built(folder: Path, name: str, log: str = "", corals: int = 0) -> Path:
    """The site of a journal of one system."""
    files = {
        "journal.yaml": f"title: {name}\nkeeper: {name}\ntime_zone: Europe/Berlin\n",
        "systems/tank.yaml": _SYSTEM.format(name=name),
        **({"logs/tank/2026-11.yaml": log} if log else {}),
        **{
            f"corals/one-{n}.yaml": _CORAL.format(name=name, line="a-line" + "-of-long-standing" * 3)
            for n in range(corals)
        },
    }
    for path, text in files.items():
        (folder / "content" / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / "content" / path).write_text(text, "utf-8")
    site = folder / "site"
    words = ["--content", str(folder / "content"), "--site", str(site), "--as-of", "2026-11-22", "--audience", "own"]
    assert main(["build", *words]) == 0
    return site


def log(readings: int) -> str:
    """Readings that leave the band, so that something calls for a person."""
    days = range(22 - 2 * readings, 22, 2)
    return "".join(
        f"- at: 2026-11-{day:02d} 09:00\n  readings: {{alkalinity: {8.9 + day / 40:.2f} dKH}}\n" for day in days
    )


@pytest.fixture(scope="session", params=[_LONG, _RIGHT_TO_LEFT], ids=["long", "right-to-left"])
def awkward_site(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site of a journal in which every name is awkward."""
    folder = made_once(tmp_path_factory, request.param, lambda made: built(made, request.param, log(6), corals=2))
    return folder / "site"


def test_no_name_pushes_a_page_sideways(any_fonts: Browser, awkward_site: Path) -> None:
    pages = [page for page in sorted(awkward_site.rglob("*.html")) if page.name != "404.html"]
    assert len(pages) > 15
    for page_file in pages:
        with opened(any_fonts, page_file.as_uri(), PHONE) as (page, _):
            assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"], page_file


@pytest.mark.parametrize("readings", [0, 1])
def test_a_young_journal_says_what_is_missing_once_and_draws_no_empty_box(
    browser: Browser, tmp_path: Path, readings: int
) -> None:
    site = built(tmp_path, "Tank", log(readings))
    with opened(browser, (site / "systems" / "tank.html").as_uri()) as (page, noise):
        said = page.locator("main").inner_text()
        assert "Cannot tell yet." in said
        told = [each.text_content() for each in page.locator(".cannot").all()]
        assert page.locator("section", has=page.locator(".alike")).count() >= 1
        assert all(told)
        assert page.locator(".numbers:not(:has(.number)), .readings:not(:has(.reading))").count() == 0
        assert not noise
