"""The demo journal's site: pages that hold to the rules of the house."""

import re
from pathlib import Path

import html5lib
import pytest

from tests.browser.visits import KINDS, pages_by_kind
from tests.conftest import ROOT
from tests.render.pages import texts

# Attributes by which a page could run or paint something its policy forbids, or fetch from another host.
_INLINE = re.compile(r"<[a-z][^<>]*\s(?:style|on[a-z]+)=", re.IGNORECASE)
# A canonical address only says where the page will be; nothing fetches it.
_FETCHED = re.compile(
    r'<(?!a[\s>]|link rel="canonical")[a-z][^<>]*\s(?:src|href|srcset|data)="(?:[a-z]+:|//)', re.IGNORECASE
)
_SCRIPT = re.compile(r"<script(?![^>]*(?:\ssrc=|type=\"application/(?:ld\+)?json\"))", re.IGNORECASE)
_STYLE = re.compile(r"<style[\s>]", re.IGNORECASE)


def pages(site: Path) -> list[Path]:
    return [path for path in sorted(site.rglob("*.html")) if path.name != "404.html"]


def test_each_public_system_and_coral_has_a_page_and_no_other_has(demo_site: Path) -> None:
    for folder in ("systems", "corals"):
        for record in (ROOT / "content" / folder).glob("*.yaml"):
            public = not re.search(r"^audience: (own|partners)", record.read_text("utf-8"), re.MULTILINE)
            assert (demo_site / folder / f"{record.stem}.html").is_file() == public, record.name
    assert len(pages(demo_site)) > 70


def test_the_browser_visits_every_kind_of_page_there_is(demo_site: Path, own_site: Path) -> None:
    assert {*pages_by_kind(demo_site), *pages_by_kind(own_site)} == {*KINDS, "not_found"}


def test_no_page_runs_paints_or_fetches_what_its_policy_forbids(demo_site: Path) -> None:
    for page in pages(demo_site):
        html = page.read_text("utf-8")
        assert "default-src 'none'" in html
        for forbidden in (_INLINE, _FETCHED, _SCRIPT, _STYLE):
            found = forbidden.search(html)
            assert not found, f"{page.name}: {found}"


def test_every_page_is_html_that_a_strict_parser_takes(demo_site: Path) -> None:
    for page in pages(demo_site)[::5]:
        parser = html5lib.HTMLParser(strict=False)
        parser.parse(page.read_text("utf-8"))
        assert not parser.errors, f"{page.name}: {parser.errors[:3]}"


def test_on_project_pages_every_address_is_of_a_file_below_their_path(demo_site: Path) -> None:
    base, seen = "https://quilverry.example/reef/", set()
    texts = [path for path in demo_site.rglob("*") if path.suffix in (".html", ".xml", ".ics", ".json", ".txt", ".csv")]
    for path in texts:
        # A long line of a calendar goes on after a break and a space. Source: RFC 5545, 3.1.
        text = path.read_bytes().decode("utf-8").replace("\r\n ", "")
        seen |= set(re.findall(r"https://quilverry\.example[^\s\"'<>&\\,]*", text))
        assert not re.search(r"(?:href|src|srcset|data-[a-z]+)=\"/", text), f"{path.name} leads to the root of the host"
    assert len(seen) > 150
    assert not [each for each in seen if not each.startswith(base)]
    assert not [each for each in seen if not (demo_site / each.removeprefix(base).partition("#")[0]).exists()]
    assert f"{base}feed.xml" in seen
    assert any(each.startswith(f"{base}assets/style.") for each in seen), "404.html is shown at any depth"


def test_a_systems_page_weighs_less_than_three_hundred_kilobytes(demo_site: Path) -> None:
    sizes = {path.name: path.stat().st_size for path in (demo_site / "systems").glob("*.html")}
    assert max(sizes.values()) < 300_000, sizes


def test_every_entry_coral_and_system_has_a_picture_for_who_shares_it(demo_site: Path) -> None:
    shared = [*(demo_site / "journal").glob("*-*-*-*.html"), *(demo_site / "systems").glob("*-*.html")]
    shared += [demo_site / "index.html", demo_site / "corals" / "tide-lantern-1.html"]
    assert len(shared) > 20
    for page in shared:
        assert re.search(r'og:image" content="https://[^"]+\.(png|webp)"', page.read_text("utf-8")), page.name


def test_every_page_with_an_estimate_leads_to_how_it_is_reckoned(demo_site: Path) -> None:
    # There every number leads to its system's page, where its reasons are.
    glances = {demo_site / "index.html", demo_site / "systems" / "index.html"}
    with_estimates = [page for page in pages(demo_site) if re.search(r"likely [\d\u2212]", page.read_text("utf-8"))]
    assert len(with_estimates) > 30
    assert {page for page in with_estimates if "methods.html#" not in page.read_text("utf-8")} == glances


def test_no_list_of_all_corals_stands_in_every_page(demo_site: Path) -> None:
    corals = {path.name for path in (demo_site / "corals").glob("*.html")} - {"index.html", "lines.html"}
    for page in (demo_site / "journal").glob("*.html"):
        text = page.read_text("utf-8")
        assert len({name for name in corals if f'{name}"' in text}) < len(corals) / 2, page.name


def test_ranges_that_are_made_wider_are_said_to_be_where_they_stand_and_where_they_are_judged(demo_site: Path) -> None:
    said = "since 2026-11-20 ranges are 1.14 times as wide as calculated"
    for page, says in (("track-record.html", True), ("systems/fore-reef.html", True), ("systems/lagoon.html", False)):
        text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", (demo_site / page).read_text("utf-8")))
        assert (said in text) == says, page


_IN_ORDER = re.compile(
    # What is called so, and what begins with the newest on a coral's page, in the journal and on the first page.
    r'\(newest first\):</p>\s*<ul>(.*?)</ul>|<ol class="history">(.*?)</ol>|<ul class="entries">(.*?)</ul>'
    r'|<table class="dated tall">.*?<tbody>(.*?)</tbody>',
    re.DOTALL,
)


def test_lists_called_newest_first_are(own_site: Path) -> None:
    lists = 0
    for path in own_site.rglob("*.html"):
        # A month and a year are told from their first day on.
        if re.match(r"journal/\d{4}(-\d\d)?\.html", path.relative_to(own_site).as_posix()):
            continue
        for found in _IN_ORDER.finditer(path.read_text("utf-8")):
            rows = re.split(r"<li\b|<tr\b", next(filter(None, found.groups())))
            days = [day[0] for row in rows if (day := re.search(r"\d{4}-\d\d-\d\d(, \d\d:\d\d)?", row))]
            assert days == sorted(days, reverse=True), path.relative_to(own_site)
            lists += len(days) > 1
    assert lists > 200


def test_a_reading_too_old_to_tell_does_not_count_as_in_band(own_site: Path) -> None:
    # Potassium, strontium, boron, nitrite, ammonium and silicate of the lagoon were tested once, a year before.
    html = (own_site / "systems/lagoon.html").read_text(encoding="utf-8")
    assert len(re.findall(r'<p class="standing old">was in its band</p>', html)) == 6
    assert "7 of 14 in their bands" in html
    assert "potassium, strontium, boron and 3 more not tested lately" in html


def test_today_its_cards_the_systems_and_the_tests_say_one_thing(own_site: Path) -> None:
    """The first card is the head line and its system's next; what its card asks for is what the list of tests says."""
    pages = ("index.html", "systems/raceway.html", "systems/raceway/dosing.html")
    today, raceway, dosing = _told(own_site, *pages)
    assert "First: Stop alkalinity falling in The Raceway." in today
    assert "Next Stop alkalinity falling in The Raceway" in raceway
    # It was tested two days ago and may be out of its band by now: all ask for a test before any dose.
    (card,) = re.findall(r"perhaps today\. (.{,80}?) Record it, and why", today)
    assert card == "Test today, then adjust the dose."
    assert f"{card} 5 more things to do" in raceway
    waits = r"Test alkalinity again now ?\. The last test is too old to change a dose by\. Until then go on as now\."
    assert re.search(waits, dosing)
    assert "Today Alkalinity and calcium: the level may leave its band" in raceway
    assert "alkalinity leaves its band probably tomorrow, perhaps today" in raceway
    # It nearly doubled since May, though the last month alone cannot tell.
    assert re.search(r"no clear change since 2026-10-\d\d ?: likely .{,40} up since 2026-05-\d\d by 0\.4", raceway)
    assert today.index(" Act ") < today.index(" Check ") < today.index(" Plan ")


def test_a_card_gives_every_change_of_dose_that_the_dosing_page_gives_once_a_test_confirms_it(own_site: Path) -> None:
    today, dosing = _told(own_site, "index.html", "systems/lagoon/dosing.html")
    # It is only perhaps above its band: all goes on as now until it is tested again, on both pages.
    heads = "Now, until the test", "If it is confirmed, for one day"
    drawn = re.findall(rf"(\w+): {heads[0]} (\d+ mL a day) {heads[1]}[\w ·]*? (\d+ mL a day)", dosing)
    assert [now != then for _, now, then in drawn].count(True) > 0
    for solution, now, then in drawn:
        said = rf"as now until then. If it shows the same, for one day: [^.;]*{solution} {then}[^.]*; then"
        assert bool(re.search(said, today)) == (now != then)
    assert "Until then go on as now." in dosing
    assert "For one day" not in dosing, "no dose is changed at once for what may be nothing"


def test_a_reading_perhaps_out_of_its_band_tells_of_the_one_before_it(own_site: Path) -> None:
    (today,) = _told(own_site, "index.html")
    assert "The one before was above too: 9.3 dKH (doubtful) on" in today
    assert "Since then soda went from 122 mL a day to 109 mL a day." in today


def test_what_was_tested_too_long_ago_is_counted_alike_on_cards_tiles_and_glances(own_site: Path) -> None:
    today, systems = _told(own_site, "index.html", "systems/index.html")
    old = 0
    for name in ("lagoon", "raceway", "fore-reef"):
        html = (own_site / f"systems/{name}.html").read_text("utf-8")
        standings = re.findall(r'<p class="standing ([\w-]+)">', html)
        said = re.search(r"(\d+) of (\d+) in their bands|all (\d+) quantities are in their bands", html)
        assert said
        assert standings.count("within") == int(said[1] or said[3])
        assert len(standings) == int(said[2] or said[3])
        old += standings.count("old")
    assert f"Test {old} quantities not tested lately" in today
    for page in (today, systems):
        assert "7 of 14 in band; one perhaps out of its band; 6 not tested lately" in page


def test_a_promise_beyond_what_is_owed_stands_beside_it(own_site: Path) -> None:
    (page,) = _told(own_site, "trades/index.html")
    assert "They owe us 65.00 EUR, 50.00 EUR of it promised" in page
    assert "Even in value, they promised 18.00 EUR beyond that" in page


def test_a_coral_that_recovered_is_not_said_to_have_had_no_trouble(own_site: Path) -> None:
    (page,) = _told(own_site, "corals/tide-lantern-1.html")
    assert "No trouble now; the last was tissue loss, 2026-06-27" in page


@pytest.mark.parametrize(
    ("system", "name"),
    [
        ("fore-reef", "The Fore-reef"),
        ("lagoon", "The Lagoon"),
        ("raceway", "The Raceway"),
        ("waiting-room", "The Waiting Room"),
    ],
)
def test_an_uptake_and_a_count_of_corals_are_the_same_on_every_page(own_site: Path, system: str, name: str) -> None:
    lists = _told(own_site, "index.html", "systems/index.html", "since.html")
    page, plan = _told(own_site, f"systems/{system}.html", f"plans/{system}.html")
    uptake, told = r"([\d.]+ dKH a day) ?,? likely ([\d.]+ to [\d.]+ dKH a day)", []
    for said in lists:
        # The water at a glance: uptake, volume, corals.
        told.append(
            re.search(rf"{name} (?:all|\d+ of)[^·]* · last tested .*? uptake ?: {uptake} .*? · (\d+) corals", said)
        )
    assert told[0]
    assert all(each and each.groups() == told[0].groups() for each in told)
    for before in ("Alkalinity used", "now it is", "The uptake is"):
        found = re.search(rf"{before} {uptake}", page)
        assert found
        assert found.groups() == told[0].groups()[:2]
    assert f"with {told[0][3]} corals" in plan or told[0][3] == "0"


def test_the_lines_that_one_loss_would_end_are_as_many_on_every_page(own_site: Path) -> None:
    today, lines = _told(own_site, "index.html", "corals/lines.html")
    found = re.search(r"(\d+) of them would each end with one loss", lines)
    assert found
    assert f"Spread {found[1]} lines that one loss would end" in today


def test_corals_too_close_now_are_said_on_today_on_the_plan_and_on_their_pages(own_site: Path) -> None:
    """Brain corals keep 10 cm (`nature/genera`); these two stand 2.9 cm apart by their files."""
    today, plan, coral = _told(own_site, "index.html", "plans/lagoon.html", "corals/dry-stone-1.html")
    assert "pairs are too close now Dry Stone 1 – Slate Garden 1 (3 cm apart, 10 cm needed)" in today
    assert re.search(r"Too close now: Dry Stone 1 – +Slate Garden 1 \(3 cm apart, 10 cm needed\)", plan)
    assert "Room Too close to Slate Garden 1 now: 3 cm apart, 10 cm needed." in coral
    assert "Where else it could go" in coral


def _told(site: Path, *names: str) -> tuple[str, ...]:
    """The words of some pages."""
    pages = ((site / name).read_text("utf-8") for name in names)
    return tuple(" ".join(" ".join(said for _, said in texts(page)).split()) for page in pages)


def test_what_a_plan_gives_is_drawn_as_it_stands_in_its_table(own_site: Path) -> None:
    html = (own_site / "systems/lagoon/dosing.html").read_text(encoding="utf-8")
    drawn, table = html[html.index('class="ranges"') :].split("</figure>")[:2]
    amounts = re.findall(r"<b>(\d+\smL\sa\sday)</b>", drawn)
    assert len(amounts) == 5, "two pumps: now, for some days, and after that; one goes on as it is"
    assert all(amount in table for amount in amounts)


def test_a_change_that_the_readings_do_not_tell_is_called_neither_a_rise_nor_a_fall(own_site: Path) -> None:
    clear = 0
    for path in sorted(own_site.glob("systems/*/changes/*.html")):
        (page,) = _told(own_site, path.relative_to(own_site).as_posix())
        for found in re.finditer(r"(had (?:risen|fallen)|no clear change)[^,]+, likely (−?[\d.]+) to (−?[\d.]+)", page):
            low, high = (float(end.replace("−", "-")) for end in found.groups()[1:])
            assert (found[1] == "no clear change") == (low <= 0.0 <= high), path.name
            clear += 1
    assert clear > 3


def test_what_did_not_change_in_a_week_is_one_sentence(own_site: Path) -> None:
    html = (own_site / "since.html").read_text(encoding="utf-8")
    shown = re.sub(r"<details.*?</details>", "", html, flags=re.DOTALL)
    assert "No clear change:" in shown
    assert "<td>no clear change</td>" not in shown


def test_a_card_of_what_is_on_offer_has_a_picture_its_age_and_what_its_line_was_agreed_at(
    own_site: Path, demo_site: Path
) -> None:
    own, public = (
        (site / "offers.html").read_text("utf-8").split("</ul>\n</section>")[0] for site in (own_site, demo_site)
    )
    (mine,) = _told(own_site, "offers.html")
    assert re.search(r"Bell Buoy 2 .{,120} here since 2026-01-10 agreed for one piece of its line: 35\.00 EUR", mine)
    assert "photo of Bell Buoy 1, of the same line" in mine
    for page in (own, public):
        cards = re.findall(r'<li class="coral".*?</li>', page, re.DOTALL)
        assert len(cards) == 6
        assert all("<img " in card and "here since " in card for card in cards)
    assert "EUR" not in public, "what was agreed is not published"


def test_the_day_has_one_count_and_the_coming_tests_in_few_words(own_site: Path) -> None:
    today, lagoon = _told(own_site, "index.html", "systems/lagoon.html")
    assert "10 things to do" in today
    assert "3 more: Give away a frag" in today, "seven cards, and three more"
    assert "Act Move corals apart: 7 pairs" in today
    assert "Act Keep Tide Lantern 6 at 97 PAR or less" in today
    assert "Calcium in The Raceway, ammonium in The Lagoon" in today, "a card begins with a capital"
    assert re.search(r"Next test Today : calcium, .{,40} Tomorrow : alkalinity", lagoon)


def test_visitors_learn_how_to_reach_the_keeper_and_the_keeper_is_not_told(own_site: Path, demo_site: Path) -> None:
    shown = '<a href="mailto:tanks@quilverry.example"><bdi>tanks@quilverry.example</bdi></a>'
    assert all(shown in (demo_site / page).read_text("utf-8") for page in ("index.html", "offers.html"))
    assert all("mailto:" not in page.read_text("utf-8") for page in own_site.glob("*.html"))


def test_what_goes_is_told_first_with_its_day_its_partner_and_what_to_do_about_its_risk(own_site: Path) -> None:
    (sheet,) = _told(own_site, "coming/bell-buoy-for-ilo.html")
    first = sheet.partition("The plan")[0]
    assert "2026-12-12, 08:30 · in 20 days · Ilo Marchetti-Ruan" in first
    assert "Insulate the container and shorten the trip." in first
    assert "a frag of it, calculated for the whole" in first
    assert re.search(r"\b10\.6 kg likely 10\.\d to 11\.\d kg", first), "poured water is known to a litre in twenty"
    assert "Within the guideline of" in first
    assert "lift with two people" not in sheet


def test_a_trade_says_who_paid_and_its_balance(own_site: Path) -> None:
    (trade,) = _told(own_site, "trades/2026-10-02-ballast.html")
    # 75 and 35 for 260.
    assert "We paid 35.00 EUR This trade alone We received 150.00 EUR more" in trade


def test_survival_answers_first(own_site: Path) -> None:
    (page,) = _told(own_site, "corals/survival.html")
    assert re.search(
        r"Survival of arrivals 17 arrivals, one lost: after 90 days 100 % live, likely \d+ to \d+ %\.", page
    )
