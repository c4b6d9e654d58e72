"""The page to write on: what it gives is what `corallite note` writes and what the reader takes."""

import re
import shlex
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import parse_qs, unquote, urlsplit
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Page, expect

from generator.__main__ import main
from generator.commands.asking import known_of
from generator.read.load import load
from generator.records.journal import Journal
from generator.shorthand.grammar import understood
from generator.shorthand.log_text import SCHEMA, entries_of, new_month
from generator.shorthand.yaml_text import new_coral, with_fact
from tests.browser.visits import ENLARGED, PHONE, opened
from tests.conftest import ROOT

ZONE = ZoneInfo("Atlantic/Azores")
NOW = datetime(2026, 11, 22, 21, 30, tzinfo=ZONE)
_HOSTILE = "<img src=x onerror=alert(1)> & “bells”"
_TINY = {
    "journal.yaml": "title: Tiny\nkeeper: Ines\ntime_zone: Europe/Berlin\nunits: {salinity: sg 25/25, rate: L/day}\n"
    "repository: {address: 'http://github.test/ines/reef', branch: trunk}\n",
    "systems/tank.yaml": f"name: '{_HOSTILE}'\nwater: {{volume: 100 L, uncertainty: 5 L}}\n"
    "low: {alkalinity: 7.5 dKH, salinity: 34 psu}\nhigh: {alkalinity: 9 dKH, salinity: 36 psu}\n"
    "solutions: {soda: {compound: Na2CO3, strength: 60 g/L, stock: 2 L}}\n",
    "corals/one.yaml": f"name: '{_HOSTILE}'\nspecies: Acropora tenuis\nline: one\nform: branching\n"
    "arrival: {at: 2026-02-01, how: gift}\nplacements: [{since: 2026-02-01, system: tank}]\n",
}


@pytest.fixture(scope="module")
def demo() -> Journal:
    found = load(ROOT / "content", NOW).journal
    assert found is not None
    return found


@pytest.fixture(scope="module")
def tiny_site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tiny")
    for name, text in _TINY.items():
        (folder / "content" / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / "content" / name).write_text(text, "utf-8")
    words = ["--content", str(folder / "content"), "--site", str(folder / "site"), "--as-of", "2026-11-22"]
    assert main(["build", *words, "--audience", "own"]) == 0
    return folder / "site"


@pytest.fixture
def writing(browser: Browser, own_site: Path) -> Iterator[Page]:
    """The page as a keeper opens it for the first time, from a folder, with a telephone of another time zone."""
    with opened(browser, (own_site / "write.html").as_uri(), PHONE, timezone_id="Asia/Tokyo") as (page, noise):
        page.evaluate("localStorage.clear()")
        page.reload()
        yield page
        page.evaluate("localStorage.clear()")
        assert not noise


def lines(page: Page) -> list[str]:
    """The texts of the finished lines: the commands first, then one for each file."""
    return page.locator("#output code").all_inner_texts()


def write(page: Page, **values: str) -> None:
    """Type into fields of the lagoon, at a moment of the 22nd."""
    page.check("#in-lagoon", force=True)
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    for name, value in {"at": "2026-11-22T10:40", **values}.items():
        page.locator(f'[name="lagoon/{name.replace("__", "/")}"]').fill(value)


def coral(page: Page, what: str, which: str = "", **values: str) -> None:
    """Fill in one more row for a coral."""
    page.locator("#another").click()
    row = page.locator(".coral-row").last
    row.locator('[data-name="what"]').select_option(what)
    if which:
        row.locator('[data-name="coral"]').select_option(which)
    for name, value in {"day": "2026-11-21", **values}.items():
        at = row.locator(f'[data-name="{name}"]')
        if at.evaluate("(element) => element.tagName") == "SELECT":
            at.select_option(value)
        elif at.get_attribute("type") == "checkbox":
            at.check()
        else:
            at.fill(value)


def test_what_it_gives_is_what_note_writes_and_what_the_reader_takes(
    writing: Page, demo: Journal, tmp_path: Path
) -> None:
    said = 'Polypen "weit" offen; um 8:00 schon, 3 davon\n\u200bfrei'
    write(writing, readings__alkalinity="8,9", readings__calcium="1,290", note=said)
    expect(writing.locator('[id="lagoon/readings/calcium-odd"]')).to_contain_text("1290")
    write(writing, readings__calcium="430", readings__ph="8.21", readings__phosphate="<0,02", readings__silicate=".4")
    write(writing, doses__soda="40", pumps__chloride="112", water_change__volume="45")
    writing.locator('[name="lagoon/kit"]').evaluate("(kit) => { kit.value = 'bench'; }")
    writing.locator('[name="lagoon/private"]').check()
    coral(writing, "sizes", "tide-lantern-1", length="24.5", width="22", height="13,5")
    coral(writing, "weighings", "tide-lantern-1", mass="960", holder="110")
    coral(writing, "placements", "kelp-witch-1", place="lagoon bommie")
    coral(writing, "cuttings", "harbour-glass-1", frags="2", cut="31", note="von hinten; Licht")
    coral(writing, "health", "saltmarsh-ember-1", health="tissue-loss", note="no: at 2 cm")
    coral(writing, "photos", "tide-lantern-1", file="IMG_2041.jpg", note="seine Spitzen")
    coral(writing, "end", "pilot-light-1", end="given", partner="tamsin-orlebrook", note="eine Reise")
    coral(writing, "new", name="Späte Glocke 1", species="Acropora tenuis", form="tabling", way="gift",
          partner="tamsin-orlebrook", place="lagoon bommie", note="im Glas")  # fmt: skip
    commands, *texts = lines(writing)
    files = writing.locator("#output h3").all_inner_texts()[1:]
    assert len(texts) == len(commands.splitlines()) == 9
    copy = shutil.copytree(ROOT / "content", tmp_path / "content")
    for command, text, file in zip(commands.splitlines(), texts, files, strict=True):
        program, verb, subject, line = shlex.split(command)
        assert (program, verb) == ("corallite", "note")
        home = demo.corals[subject].placement_on(NOW.date()) if subject in demo.corals else None
        system = demo.systems[home.system if home else subject]
        found = understood(line, known_of(demo, system, subject if home else "", NOW))
        assert found.refusals == (), command
        name = file.removeprefix("For ")
        path = copy / name
        if not found.changes[0].coral:
            assert new_month(entries_of(found.changes, ZONE)) == f"{SCHEMA}\n{text}\n"
            path.write_text(path.read_text("utf-8") + text + "\n", "utf-8")
            continue
        (change,) = found.changes
        if change.into == "new":
            assert new_coral(change, system.id, demo.corals) == f"{text}\n"
            path.write_text(f"{text}\n", "utf-8")
            continue
        before = path.read_text("utf-8")
        after = with_fact((ROOT / "content" / name).read_text("utf-8"), change, name)
        assert text.splitlines()[-1] in after.splitlines()
        last = before.splitlines()
        heading = f"{change.into}:"
        listed = last.index(heading) if heading in last else None
        if listed is None:
            path.write_text(f"{before}{text}\n", "utf-8")
        else:
            place = next((n for n in range(listed + 1, len(last)) if not last[n].startswith("  - ")), len(last))
            path.write_text("\n".join([*last[:place], text, *last[place:], ""]), "utf-8")
    shutil.copy(copy / "photos/tide-lantern.png", copy / "photos/IMG_2041.jpg")  # the page says to put it there
    loaded = load(copy, NOW)
    assert loaded.errors == ()
    assert loaded.journal is not None
    log = loaded.journal.log_of("lagoon")
    at = datetime(2026, 11, 22, 10, 40, tzinfo=ZONE)
    assert {r.kind: str(r.value) for r in log.readings if r.at == at} == {
        "alkalinity": "8.9 dKH",
        "calcium": "430 mg/L",
        "ph": "8.21 NBS",
        "phosphate": "<0.02 mg/L",
        "silicate": "0.4 mg/L",
    }
    assert [str(dose.amount) for dose in log.doses if dose.at == at] == ["40 mL"]
    (note,) = (note for note in log.notes if note.at == at and note.private)
    assert note.text == "Polypen ”weit” offen; um 8:00 schon, 3 davon frei"
    assert str(loaded.journal.corals["tide-lantern-1"].sizes[-1].height) == "13.5 cm"
    assert loaded.journal.corals["spate-glocke-1"].arrival.partner == "tamsin-orlebrook"


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("readings/alkalinity", "89", "89 dKH is impossible in a living reef. Did you mean 8.9 dKH?"),
        ("readings/alkalinity", "9.1", "Above the band, which ends at 8.8 dKH."),
        ("readings/temperature", "23.0", "Far from the last reading, 25.3 °C"),
        ("readings/alkalinity", "7.9", "The forecast for now is"),
        ("readings/calcium", "8.2 dKH", "This is not a number."),
        ("doses/soda", "6000", "More than its container holds, 5000 mL."),
        ("doses/soda", "40", "Alkalinity +0.26 dKH"),  # 2.4 g of Na2CO3 are 45.3 meq: 0.094 meq/L in 480 L
    ],
)
def test_it_says_at_once_what_is_odd(writing: Page, name: str, value: str, told: str) -> None:
    write(writing, at="2026-11-23T20:00", **{name.replace("/", "__"): value})
    said = writing.locator(f'[id="lagoon/{name}-odd"]').inner_text().replace("\u00a0", " ")
    assert told in said


def test_a_size_that_cannot_be_is_named(writing: Page) -> None:
    coral(writing, "sizes", "tide-lantern-1", length="245")
    expect(writing.locator(".coral-row .odd")).to_contain_text("More than can grow since then")
    coral(writing, "sizes", "tide-lantern-1", length="2.45")
    expect(writing.locator(".coral-row .odd").last).to_contain_text("Far less than before")


def test_the_moment_is_that_of_the_journals_clock_whatever_the_device_shows(writing: Page) -> None:
    moment = datetime.fromisoformat(writing.locator('[name="lagoon/at"]').input_value()).replace(tzinfo=ZONE)
    assert abs((datetime.now(UTC) - moment).total_seconds()) < 180
    writing.check("#in-lagoon", force=True)
    expect(writing.locator("#lagoon-clock")).to_contain_text("Atlantic/Azores")
    expect(writing.locator("#lagoon-clock")).to_contain_text("This device is in Asia/Tokyo")


def test_an_hour_that_the_clocks_skip_or_show_twice_is_told(writing: Page, demo: Journal) -> None:
    write(writing, at="2026-03-29T00:30", readings__alkalinity="8.1")
    expect(writing.locator("#lagoon-clock")).to_contain_text("The clocks skipped this hour")
    assert lines(writing) == []
    write(writing, at="2026-10-25T00:30", readings__alkalinity="8.1")
    expect(writing.locator("#lagoon-clock")).to_contain_text("twice")
    command, text = lines(writing)
    found = understood(shlex.split(command)[3], known_of(demo, demo.systems["lagoon"], "", NOW))
    assert new_month(entries_of(found.changes, ZONE)) == f"{SCHEMA}\n{text}\n"
    assert "+00:00" in text
    write(writing, at="2031-01-01T00:30")
    expect(writing.locator("#lagoon-clock")).to_contain_text("still to come")


def test_what_is_typed_is_there_again_after_the_page_was_closed(writing: Page) -> None:
    write(writing, readings__alkalinity="8.6", note="a note")
    coral(writing, "weighings", "tide-lantern-1", mass="960")
    before = lines(writing)
    writing.goto("about:blank")
    writing.go_back()
    assert lines(writing) == before
    assert writing.locator(".coral-row").count() == 1
    writing.once("dialog", lambda asked: asked.accept())
    writing.locator("#clear").click()
    writing.reload()
    assert lines(writing) == []


def test_a_browser_that_keeps_nothing_is_said_to(browser: Browser, own_site: Path) -> None:
    refused = (
        "Object.defineProperty(window, 'localStorage', {get() { throw new DOMException('no', 'SecurityError'); }})"
    )
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.add_init_script(refused)
    page.goto((own_site / "write.html").as_uri())
    write(page, readings__alkalinity="8.6")
    expect(page.locator("#keeping")).to_contain_text("keeps nothing")
    assert "alkalinity 8.6 dKH" in lines(page)[0]
    page.close()


def test_lines_can_be_copied_and_opened_in_the_forges_editor(writing: Page) -> None:
    write(writing, readings__alkalinity="8.6")
    coral(writing, "weighings", "tide-lantern-1", mass="960")
    here = "https://forge.quilverry.example/marit/tanks/_edit/main/journal"
    ways = [link.get_attribute("href") for link in writing.locator("#output a").all()]
    assert ways == [f"{here}/logs/lagoon/2026-11.yaml", f"{here}/corals/tide-lantern-1.yaml"]
    writing.locator("#output button").first.click()
    expect(writing.locator("#said")).to_have_text(re.compile("Copied|marked"))


def test_all_of_it_can_be_shared_where_the_device_shares(browser: Browser, own_site: Path) -> None:
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.add_init_script("navigator.share = async (what) => { window.shared = what.text; }")
    page.goto((own_site / "write.html").as_uri())
    expect(page.locator("#share")).to_be_hidden()
    write(page, readings__alkalinity="8.6")
    page.locator("#share").click()
    command, text = lines(page)
    assert page.evaluate("window.shared") == f"{command}\n\n# logs/lagoon/2026-11.yaml\n{text}"
    page.close()


def test_a_month_without_a_file_is_begun_with_its_lines_in_it(browser: Browser, tiny_site: Path) -> None:
    with opened(browser, (tiny_site / "write.html").as_uri(), PHONE) as (page, noise):
        page.locator('[name="tank/readings/alkalinity"]').fill("8.6")
        page.locator('[name="tank/at"]').fill("2026-11-02T20:15")
        way = urlsplit(page.locator("#output a").get_attribute("href") or "")
        assert (way.hostname, way.path) == ("github.test", "/ines/reef/new/trunk/logs/tank")
        asked = parse_qs(way.query)
        assert asked["filename"] == asked["file_name"] == ["2026-11.yaml"]
        assert asked["value"] == [f"{SCHEMA}\n- at: 2026-11-02 20:15\n  readings: {{alkalinity: 8.6 dKH}}\n"]
        assert unquote(way.query)
        assert not noise


def test_names_are_only_words_however_hostile(browser: Browser, tiny_site: Path) -> None:
    with opened(browser, (tiny_site / "write.html").as_uri(), PHONE) as (page, noise):
        page.on("dialog", lambda _: pytest.fail("a name became a script"))
        expect(page.locator("h2").first).to_have_text(_HOSTILE)
        page.locator("#another").click()
        page.locator('[data-name="coral"]').select_option(label=_HOSTILE)
        page.locator('[name="tank/note"]').fill(f"{_HOSTILE} $(date) `id` 'x' \\ !")
        assert page.locator("img").count() == 0
        line = shlex.split(lines(page)[0])[3]
        assert "$(date) `id` 'x' \\ !" in line
        assert not noise


def test_an_instruments_own_unit_has_the_band_in_it(browser: Browser, tiny_site: Path) -> None:
    with opened(browser, (tiny_site / "write.html").as_uri(), PHONE) as (page, _):
        for value, told in (("1.0264", ""), ("1.0290", "Above the band"), ("1.25", "impossible")):
            page.locator('[name="tank/readings/salinity"]').fill(value)
            expect(page.locator('[id="tank/readings/salinity-odd"]')).to_have_text(re.compile(told or "^$"))


def test_a_limit_below_one_of_its_unit_is_not_rounded_to_nothing(browser: Browser, tiny_site: Path) -> None:
    with opened(browser, (tiny_site / "write.html").as_uri(), PHONE) as (page, _):
        page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
        page.locator('[name="tank/pumps/soda"]').fill("3")
        expect(page.locator('[id="tank/pumps/soda-odd"]')).to_have_text(re.compile(r"more than 0\.26\sL"))


def test_every_field_is_large_enough_for_a_wet_thumb_at_every_width(any_fonts: Browser, own_site: Path) -> None:
    small = """[...document.querySelectorAll("input, select, textarea, button, .stages label")].filter((aim) => {
      const box = (aim.type === "checkbox" ? aim.closest("label") : aim).getBoundingClientRect();
      return box.width && aim.type !== "radio" && Math.min(box.width, box.height) < 44;
    }).map((aim) => aim.outerHTML.slice(0, 100))"""
    for size in (PHONE, ENLARGED):
        with opened(any_fonts, (own_site / "write.html").as_uri(), size, has_touch=True) as (page, _):
            coral(page, "new")
            assert page.evaluate(small) == []
            assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]


def test_the_keys_alone_write_a_line(writing: Page) -> None:
    writing.locator("#in-lagoon").focus()
    writing.keyboard.press("Space")
    writing.locator('[id="lagoon/readings/alkalinity"]').focus()
    writing.keyboard.press("Tab")
    writing.keyboard.press("Enter")  # the last value first
    writing.keyboard.press("Enter")
    assert writing.locator('[id="lagoon/readings/alkalinity"]').input_value() == "9.0"
    assert "alkalinity 9.0 dKH" in lines(writing)[0]


def test_without_scripts_the_page_says_how_to_write_by_hand_and_that_is_right(
    browser: Browser, own_site: Path, tmp_path: Path
) -> None:
    with opened(browser, (own_site / "write.html").as_uri(), PHONE, java_script_enabled=False) as (page, noise):
        expect(page.get_by_text("This page needs a script")).to_be_visible()
        assert page.locator("input:visible, button:visible, select:visible").count() == 0
        expect(page.locator("#by-hand")).to_contain_text("logs/fore-reef/2026-11.yaml")
        entry, size, command = page.locator("#by-hand pre").all_inner_texts()
        assert not noise
    copy = shutil.copytree(ROOT / "content", tmp_path / "content")
    month, file = copy / "logs/fore-reef/2026-11.yaml", copy / "corals/wet-slipway-3.yaml"
    month.write_text(f"{month.read_text('utf-8')}{entry.strip()}\n", "utf-8")
    kept = re.sub(r"sizes:\n(  - .*\n)+", "", file.read_text("utf-8"))
    file.write_text(f"{kept}{size.strip()}\n", "utf-8")
    assert load(copy, datetime(2026, 11, 23, tzinfo=ZONE)).errors == ()
    assert main([*shlex.split(command)[1:], "--content", str(copy)]) == 0
