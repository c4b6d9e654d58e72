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
        page = read(path)
        for figure in classed(page, "article", "number"):
            # A colony that is the only one known takes all of it: there is nothing to be unsure of.
            if not any(said(each).startswith("likely") for each in classed(figure, "p", "interval")):
                continue
            seen += 1
            (behind,) = classed(figure, "details", "why")
            where = f"{path.relative_to(own_site)}: {said(figure)[:80]}"
            assert any("methods.html#" in (link.get("href") or "") for link in behind.iter("a")), where
            # Lines that several numbers share stand with the first of them.
            assert list(behind.iter("code")) or same(behind) in {each.get("id") for each in page.iter("p")}, where
            assert classed(behind, "ul", "parts"), where
    assert seen > 400


def same(behind: Any) -> str:
    return next(href[1:] for link in behind.iter("a") if (href := link.get("href") or "").startswith("#why-"))


def read(page: Path) -> Any:
    return html5lib.parse(page.read_text("utf-8"), namespaceHTMLElements=False)


def section_of(page: Any, id: str) -> Any:
    (found,) = [each for each in page.iter() if each.tag in ("section", "div") and each.get("id") == id]
    return found


def grounds(element: Any) -> dict[str, list[Any]]:
    """What unfolds behind the tables of a part of a page: by the name of a row, its cells."""
    tables = [table for behind in classed(element, "details", "why") for table in classed(behind, "table", "grounds")]
    return {said(row.find("th")): row.findall("td") for table in tables for row in table.find("tbody").iter("tr")}


def assert_unfolds(cells: list[Any], where: str) -> None:
    *parts, lines = cells
    assert any("±" in said(part) for part in parts), where
    assert "line" in said(lines), where
    assert list(lines.iter("code")), where


def test_each_row_of_a_plan_unfolds_the_parts_of_its_gap_and_its_day_and_its_lines(own_site: Path) -> None:
    seen = 0
    for path in (own_site / "plans").glob("*.html"):
        for section in read(path).iter("section"):
            tables = [
                table
                for table in classed(section, "table", "tall")
                if not {"grounds", "near"} & set(table.get("class").split())
            ]
            behind = grounds(section)
            for row in (row for table in tables for row in table.find("tbody").iter("tr")):
                coral, *cells = row
                name = f"{said(coral)}, {said(cells[0])}"
                found = behind.get(name) or behind[said(coral)]
                assert_unfolds(found, f"{path.name}: {name}")
                seen += 1
    assert seen > 30


def test_each_demand_that_would_be_unfolds_its_own_parts_and_the_lines_of_its_coral(own_site: Path) -> None:
    seen = 0
    for path in (own_site / "systems").glob("*/shares.html"):
        page = read(path)
        if not any(each.get("id") == "what-if" for each in page.iter("section")):
            continue
        section = section_of(page, "what-if")
        behind = grounds(section)
        (table,) = classed(section, "table", "stacked")
        _, *deeds = [said(head) for head in table.find("thead").iter("th")]
        for row in table.find("tbody").iter("tr"):
            coral, *cells = row
            for deed, cell in zip(deeds, cells, strict=True):
                if said(cell) != "–":
                    assert_unfolds(behind[f"{said(coral)}: {deed}"], f"{path.parent.name}: {said(coral)}")
                    seen += 1
        assert_unfolds(next(iter(behind.values())), f"{path.parent.name}: the demand as it is")
    assert seen > 60


def test_each_share_unfolds_its_own_parts_and_the_lines_of_its_coral(own_site: Path) -> None:
    for name in ("fore-reef", "lagoon", "raceway"):
        section = section_of(read(own_site / "systems" / name / "shares.html"), "shares")
        behind = grounds(section)
        (table,) = classed(section, "table", "stacked")
        for link in (row.find("th").find("a") for row in table.find("tbody").iter("tr")):
            assert_unfolds(behind[said(link)], f"{name}: {said(link)}")


def test_each_cause_of_the_ledger_unfolds_the_lines_it_adds_up(own_site: Path) -> None:
    for name in ("fore-reef", "lagoon", "raceway", "waiting-room"):
        section = section_of(read(own_site / "systems" / f"{name}.html"), "ledger")
        behind = grounds(section)
        (table,) = classed(section, "table", "figures")
        *causes, whole = [said(row.find("th")) for row in table.find("tbody").iter("tr")]
        assert causes == list(behind)
        assert whole == "Change of the level"
        for cells in behind.values():
            assert f"logs/{name}/" in said(cells[-1])
        assert_unfolds(behind["Coral uptake"], name)


def test_the_first_screen_leads_to_what_stands_behind_its_number(own_site: Path) -> None:
    page = read(own_site / "systems" / "lagoon.html")
    (answers,) = classed(page, "dl", "answers")
    assert same(answers) in {each.get("id") for each in page.iter() if each.get("id")}


def test_every_paragraph_and_table_of_estimates_stands_beside_how_it_came_about(own_site: Path) -> None:
    coral = read(own_site / "corals" / "bell-buoy-1.html")
    for section in ("room", "uptake", "cuttings"):
        found = section_of(coral, section)
        assert any(list(behind.iter("code")) for behind in classed(found, "details", "why")), section


def test_each_dose_unfolds_the_demand_and_the_solution_behind_it(own_site: Path) -> None:
    page = read(own_site / "systems" / "fore-reef" / "dosing.html")
    rows = [said(row.find("th")) for row in classed(page, "table", "doses")[0].iter("tr")][1:]
    behind = [said(each.find("summary")) for each in classed(page, "details", "why")]
    for row in rows:
        assert any(row.startswith(each.removeprefix("Why this number: ")) for each in behind if ": " in each), row
