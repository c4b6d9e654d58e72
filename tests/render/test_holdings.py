"""Who holds what: one row for each line, and what hangs by a thread first."""

from pathlib import Path

import html5lib


def rows(site: Path) -> dict[str, dict[str, str]]:
    page = html5lib.parse((site / "corals" / "lines.html").read_text("utf-8"), namespaceHTMLElements=False)
    (table,) = [each for each in page.iter("table") if "holds" in (each.get("class") or "").split()]
    heads = ["".join(head.itertext()) for head in table.find("thead").iter("th")]
    found = {}
    for row in table.find("tbody").iter("tr"):
        cells = [
            next((mark.get("aria-label") for mark in cell.iter() if mark.get("aria-label")), "")
            for cell in row.findall("td")
        ]
        name = "".join(row.find("th").find("a").itertext())
        found[name] = {**dict(zip(heads[1:], cells, strict=True)), "look": row.get("class") or ""}
    return found


def test_lines_that_one_loss_would_end_come_first_with_who_could_give_one_back(own_site: Path) -> None:
    held = rows(own_site)
    hanging = [name for name, row in held.items() if row["look"] == "hangs"]
    assert hanging == list(held)[: len(hanging)]
    assert len(hanging) == 5
    assert held["Ballast"]["The Fore-reef"] == "one living piece"
    assert held["Ballast"]["Skerrow Head Field Station"] == "gave us ours"
    assert held["Kelp Witch"]["The Lagoon"] == "3 living pieces"


def test_a_line_whose_last_coral_the_public_may_not_see_is_not_said_to_have_one(
    demo_site: Path, own_site: Path
) -> None:
    own, public = rows(own_site)["Rainward"], rows(demo_site)["Rainward"]
    assert (own["The Raceway"], own["look"]) == ("one living piece", "hangs")
    assert (public["The Raceway"], public["look"]) == ("", "")
    assert "0 living here" in (demo_site / "corals" / "lines.html").read_text("utf-8")


def test_a_partner_who_is_not_named_to_the_public_is_not_named_here(demo_site: Path, own_site: Path) -> None:
    public, own = (set(next(iter(rows(site).values()))) for site in (demo_site, own_site))
    assert "Tamsin Orlebrook" in own
    assert "Tamsin Orlebrook" not in public
