"""The pages about corals: what they show, and to whom."""

import csv
import io
import re
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from msgspec.structs import replace

from generator.records.coral import Coral, Photo
from generator.records.log import Event
from generator.records.source import Source
from generator.render.tables.contents import growth, lines, places, survival
from tests.render import sample
from tests.render.pages import drawn, elements, texts

OWN = drawn(sample.built(sample.seen("own")))
PUBLIC = drawn(sample.built(sample.seen()))


def said(html: str) -> str:
    return re.sub(r"\s+", " ", " ".join(text for _, text in texts(html)))


def test_a_photo_nobody_described_is_told_by_what_is_known_of_it() -> None:
    photos = tuple(Photo(source=Source("c"), file="lantern.jpg", at=on) for on in (date(2026, 3, 2), None))
    corals = {c.id: c for c in (sample.coral(photos=photos),)}
    html = drawn(sample.built(sample.seen("own", corals=corals)))
    shown = [a["alt"] for tag, a in elements(html["corals/tide-lantern-1.html"]) if tag == "img"]
    newest, other = (
        "Tide Lantern 1, 2 Mar 2026: a photo that nobody described",
        "Tide Lantern 1: a photo that nobody described",
    )
    assert [alt.replace("\u00a0", " ") for alt in shown] == [newest, other, newest], (
        "the newest, then all in order of days"
    )
    assert shown[0] in [a["alt"] for tag, a in elements(html["corals/index.html"]) if tag == "img"]


def test_a_coral_that_is_here_has_its_growth_light_room_and_cutting_plan() -> None:
    page = said(OWN["corals/tide-lantern-1.html"])
    for heading in ("Growth", "Place and light", "Room", "Cutting plan", "Before you cut", "Health"):
        assert heading in page, heading


def test_how_fast_a_coral_grew_and_how_fast_it_will_are_two_answers(demo_site: Path) -> None:
    text = said((demo_site / "corals" / "tide-lantern-2.html").read_text(encoding="utf-8")).replace("\u00a0", " ")
    so_far, ahead = text.index("Its mass grew by"), text.index("How fast it will grow")
    assert so_far < ahead < text.index("Mass, next 3 weeks")
    assert "weighings assumed to repeat to" in text[so_far:ahead]
    data = csv.DictReader((demo_site / growth.address).read_text(encoding="utf-8").splitlines())
    what = {row["what"]: row for row in data if row["coral"] == "tide-lantern-2"}
    widths = [float(what[each]["high90"]) - float(what[each]["low90"]) for each in ("mass-rate", "mass-rate-ahead")]
    assert widths[0] < widths[1]


def test_cautions_stand_beside_every_cutting_plan_and_local_rules_come_first() -> None:
    for url, html in OWN.items():
        if "To stay within its place" in html or "Nothing needs to be cut" in html:
            assert "Cover eyes and hands" in html, url
            assert "Follow local rules on keeping, cutting and passing on coral." in html, url


def test_the_light_of_a_day_is_par_by_the_photoperiod() -> None:
    # 250 µmol/m²/s for 10 h: 250 × 36000 / 1e6 = 9.0 mol/m².
    assert "9.0\u00a0mol/m²" in OWN["corals/tide-lantern-1.html"]


def test_every_line_has_a_tree_with_all_pieces_the_audience_may_see() -> None:
    own, public = OWN["corals/lines.html"], PUBLIC["corals/lines.html"]
    assert own.count('class="f-label"') == 3
    assert public.count('class="f-label"') == 2
    assert "CANARY" not in public


def test_a_plan_shows_today_without_any_script_and_offers_later_months() -> None:
    page = PUBLIC["plans/lagoon.html"]
    choices = [a for tag, a in elements(page) if tag == "input" and a["type"] == "radio"]
    assert [("checked" in a) for a in choices] == [True, *[False] * (len(choices) - 1)]
    assert 'class="p-coral' in page


def test_the_gallery_lists_every_coral_without_a_script_and_marks_those_to_offer() -> None:
    offered = sample.coral(to_offer=True)
    page = drawn(sample.built(sample.seen(corals={offered.id: offered}, trades={}, entries={})))["corals/index.html"]
    assert [a["href"] for tag, a in elements(page) if tag == "a" and a["href"].startswith("tide-")]
    assert "on offer" in said(page)
    assert next(a for tag, a in elements(page) if "data-find" in a)["data-find"].startswith("tide lantern 1")


def test_numbered_frags_stand_as_one_counts_them() -> None:
    frags = {frag.id: frag for frag in (sample.coral(f"ash-weir-{number}", to_offer=True) for number in (14, 2))}
    pages = drawn(sample.built(sample.seen(corals=frags, trades={}, entries={})))
    told = said(pages["corals/index.html"])
    assert told.index("Ash Weir 2") < told.index("Ash Weir 14")


def rack_of(frags: int) -> dict[str, Coral]:
    """So many frags of two lines, and one of a third."""
    lines = ["alone", *("ash-weir", "wet-stone") * (frags // 2)]
    return {
        frag.id: frag for n, line in enumerate(lines) for frag in [sample.coral(f"{line}-{n}", line=line, cuttings=())]
    }


@pytest.mark.parametrize("address", ["corals/index.html", "offers.html"])
def test_where_there_are_many_corals_those_of_a_line_unfold_and_none_is_left_out(address: str) -> None:
    few, many = (
        drawn(sample.built(sample.seen("own", corals=rack_of(frags), trades={}, entries={})))[address]
        for frags in (8, 62)
    )
    assert "ash-weir, 4 corals" not in said(few).casefold()
    folds = re.findall(r"<details><summary>(.*?)</summary>(.*?)</details>", many, re.DOTALL)
    by_line = {said(head): body for head, body in folds if "31 corals" in said(head)}
    assert len(by_line) >= 2
    for id in rack_of(62):
        line = id.rpartition("-")[0]
        inside = [body for body in by_line.values() if f"{id}.html" in body]
        assert f"{id}.html" in many
        assert bool(inside) == (line != "alone"), "one alone of its line needs no fold"


def test_of_few_arrivals_nothing_is_said() -> None:
    page = PUBLIC["corals/survival.html"]
    assert "Too few to tell" in page
    assert "<figure" not in page


def test_five_arrivals_make_a_curve_with_the_numbers_at_risk() -> None:
    early = date(2024, 1, 1)
    arrived = replace(sample.coral().arrival, at=early)
    five = {f"c{n}": sample.coral(f"c{n}", arrival=arrived, line=f"l{n}", cuttings=()) for n in range(5)}
    kept = ((2023, 12), (2024, 8), (2025, 4), (2025, 12))  # never a year without a line
    first = [
        Event(source=Source("log"), at=datetime(*month, 1, tzinfo=UTC), what="other", coral=None, text=None)
        for month in kept
    ]
    logs = {"lagoon": replace(sample.log(), events=(*first, *sample.log().events))}
    page, late = (
        drawn(sample.built(sample.seen(corals=five, trades={}, entries={}, **more)))["corals/survival.html"]
        for more in ({"logs": logs}, {})
    )
    assert "<figure" in page
    # None of five lost: exact 90 % interval of a proportion, 0.05 ** (1/5) = 0.549.
    assert "likely 55 to 100" in said(page)
    # Where the journal began two years after they came, nobody saw their first days.
    assert "For some of the first 30 days too few were followed: 0." in said(late)
    assert "<figure" not in late
    assert "No picture: at some time in the first 30 days fewer than 3 were followed." in said(late)


def rows(name: str, audience: str = "public") -> list[dict[str, str]]:
    files = sample.built(sample.seen(audience)).files
    return list(csv.DictReader(io.StringIO(files[f"data/{name}.csv"].decode())))


def test_the_data_about_corals_hold_what_the_pages_show() -> None:
    assert {row["what"] for row in rows("growth")} >= {"drained", "diameter"}
    drained = next(row for row in rows("growth") if row["what"] == "drained")
    # 212 g with a holder of 30 g.
    assert float(drained["value"]) == 182.0
    assert float(drained["low90"]) < 182.0 < float(drained["high90"])
    assert {row["coral"] for row in rows("lines")} == {"tide-lantern-1", "tide-lantern-2"}
    (standing,) = rows("places")
    assert (standing["place"], standing["par_low"], standing["length"]) == ("crest", "200", "12.5")
    assert all(row["survival"] == "" for row in rows("survival"))


def test_what_is_hidden_is_in_no_data_file() -> None:
    for table in (growth, lines, places, survival):
        assert "back-coral" not in str(rows(table.name))
    assert "back-coral" in str(rows("lines", "own"))


def test_the_days_page_names_every_line_on_one_thread_however_many_matters_come_first(own_site: Path) -> None:
    page = said((own_site / "index.html").read_text(encoding="utf-8"))
    told = page.split("Lines that one loss would end, hardest to replace first:")[1].split(".")[0]
    assert [name.strip() for name in told.split(",")] == ["Dry Stone", "Old Ferry", "Rainward", "Ballast", "Kelp Witch"]


def test_a_cutting_plan_says_what_it_does_to_the_whole_demand(demo_site: Path) -> None:
    page = said((demo_site / "corals/saltmarsh-ember-1.html").read_text(encoding="utf-8"))
    number = r"([0-9.]+)"
    found = [
        re.search(f"{words} {number}", page)
        for words in (
            "Its own uptake falls by about",
            "uptake of The Fore-reef falls by about",
            "Share of the uptake in The Fore-reef",
        )
    ]
    own, whole, share = (float(match[1]) for match in found if match)
    assert whole == pytest.approx(own * share / 100.0, rel=0.1)


def test_what_is_to_be_cut_says_why_and_growth_begins_with_the_doubling_time(demo_site: Path) -> None:
    page = said((demo_site / "corals/tide-lantern-1.html").read_text(encoding="utf-8"))
    assert re.search(
        r"so that it gets no closer to Night Trawler 1 than now for 6 months .* gives about \d+ frags of 3 cm \(\d+ to",
        page,
    )
    assert re.search(r"Growth in numbers At the rate of the next weeks its (mass|footprint) doubles in \d+ days", page)


def test_visitors_are_told_of_the_survival_of_corals_that_they_may_see() -> None:
    came = {"arrival": sample.coral().arrival, "cuttings": ()}
    hidden = {f"h{n}": sample.coral(f"h{n}", line=f"h{n}", audience="own", **came) for n in range(3)}
    five = {f"c{n}": sample.coral(f"c{n}", line=f"l{n}", **came) for n in range(5)}
    page = drawn(sample.built(sample.seen(corals=five | hidden, trades={}, entries={})))["corals/survival.html"]
    assert "5 arrivals" in page
    assert "8 arrivals" not in page
