"""Why this number: from a figure, one step to its method, the lines it rests on and what it is unsure of."""

from pathlib import Path
from typing import Any

import html5lib
import pytest

from tests.conftest import build_once


@pytest.fixture(scope="session")
def own_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo journal as its keeper sees it."""
    return build_once(tmp_path_factory, "own")


def classed(element: Any, tag: str, name: str) -> list[Any]:
    return [found for found in element.iter(tag) if name in (found.get("class") or "").split()]


def said(element: Any) -> str:
    return "".join(element.itertext()).strip()


def test_every_figure_with_an_interval_unfolds_its_method_its_lines_and_its_uncertaintys_parts(own_site: Path) -> None:
    seen = 0
    for path in own_site.rglob("*.html"):
        page = html5lib.parse(path.read_text("utf-8"), namespaceHTMLElements=False)
        for figure in classed(page, "article", "number"):
            # A colony that is the only one known takes all of it: there is nothing to be unsure of.
            if not any(said(each).startswith("most likely") for each in classed(figure, "p", "interval")):
                continue
            seen += 1
            (behind,) = classed(figure, "details", "why")
            where = f"{path.relative_to(own_site)}: {said(figure)[:80]}"
            assert any("methods.html#" in (link.get("href") or "") for link in behind.iter("a")), where
            assert list(behind.iter("code")), where
            assert classed(behind, "ul", "parts"), where
    assert seen > 400


def test_every_paragraph_and_table_of_estimates_stands_beside_how_it_came_about(own_site: Path) -> None:
    for name in ("corals/bell-buoy-1.html", "plans/fore-reef.html", "systems/fore-reef/shares.html"):
        page = html5lib.parse((own_site / name).read_text("utf-8"), namespaceHTMLElements=False)
        assert classed(page, "details", "why"), name
    coral = html5lib.parse((own_site / "corals/bell-buoy-1.html").read_text("utf-8"), namespaceHTMLElements=False)
    for section in ("room", "cuttings"):
        (found,) = [each for each in coral.iter("section") if each.get("id") == section]
        assert any(list(behind.iter("code")) for behind in classed(found, "details", "why")), section


def test_each_dose_unfolds_the_demand_and_the_solution_behind_it(own_site: Path) -> None:
    page = html5lib.parse((own_site / "systems/fore-reef/dosing.html").read_text("utf-8"), namespaceHTMLElements=False)
    rows = [said(row.find("th")) for row in classed(page, "table", "doses")[0].iter("tr")][1:]
    behind = [said(each.find("summary")) for each in classed(page, "details", "why")]
    for row in rows:
        assert any(row.startswith(each.removeprefix("Why this number: ")) for each in behind if ": " in each), row
