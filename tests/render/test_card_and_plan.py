"""The day's card and the dosing page say the same of water to change and a reactor, and the lines to copy log it."""

import html
import re
from collections.abc import Mapping
from itertools import count
from pathlib import Path

import pytest

from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.reckon.attention import alerts
from generator.records.journal import as_it_stood
from generator.render.audience import view
from generator.render.base import links
from generator.render.pages.doses import written_poured
from tests.commands.two_tanks import AT, write
from tests.render.pages import drawn, site, texts

_READY = re.compile(r"When it is done, add to (logs/\S+):</p>\s*<pre><code>(.*?)</code>", re.DOTALL)
WEAK = "mixes:\n  sea: {alkalinity: 7 dKH, calcium: 430 mg/L}\n"
CHANGED = "- at: 2026-10-30 09:00\n  water_change: {volume: 25 L, mix: sea}\n"
REACTOR = "- at: 2026-10-01 08:00\n  reactor: {flow: 40 L/day, alkalinity: 20 dKH, calcium: 480 mg/L}\n"
FIRST = "First test alkalinity once more in the same water."


def pages_of(
    folder: Path,
    mixes: str,
    level: str,
    more: str = "",
    reactor: str = "",
    calcium: str = "430",
    solutions: bool = False,
    fell: float = 0.0,
) -> Mapping[str, str]:
    """The keeper's pages of a reef whose levels were the same in every reading, with pumps if it has `solutions`.

    Or alkalinity `fell` by so many dKH from each reading to the next.
    """
    write(folder)
    file, log = folder / "systems/bay.yaml", folder / "logs/bay/2026-10.yaml"
    system, told = file.read_text("utf-8").replace("kits:", mixes + "kits:"), log.read_text("utf-8")
    if not solutions:
        system = re.sub(r"solutions:\n(  .*\n)+", "", system)
        told = re.sub(r"^.*\n.*pumps.*\n", reactor, told)
    file.write_text(system, "utf-8")
    left = count(told.count("8.2 dKH"), -1)
    told = re.sub("8.2 dKH", lambda _: f"{float(level) + fell * next(left):.1f} dKH", told)
    told = told.replace("430 mg/L", f"{calcium} mg/L")
    log.write_text(f"{told}- at: 2026-10-30 08:00\n  readings: {{alkalinity: {level} dKH}}\n{more}", "utf-8")
    loaded = load(folder, AT)
    assert loaded.journal is not None, loaded.problems
    journal = as_it_stood(loaded.journal, AT)
    found = analyse(journal, AT)
    return drawn(site(view(journal, "own"), found, alerts(journal, found), AT, {}))


def said(page: str) -> str:
    return " ".join(text for _, text in texts(page)).replace("\N{NO-BREAK SPACE}", " ")


def ready(pages: Mapping[str, str]) -> tuple[str, str]:
    """The file and the lines that the card of the bay's alkalinity gives to copy."""
    found = [(file, html.unescape(line)) for file, line in _READY.findall(pages["index.html"])]
    return next((file, line) for file, line in found if "logs/bay" in file and "alkalinity" in line)


@pytest.mark.parametrize(("changed", "when"), [("", "today"), (CHANGED, "tomorrow")])
def test_water_to_change_is_on_the_card_with_its_day(tmp_path: Path, changed: str, when: str) -> None:
    pages = pages_of(tmp_path, WEAK, "11.0", changed)
    card, plan = said(pages["index.html"]), said(pages[links.dosing_of("bay")])
    deed = re.search(rf"Replace ([\d.]+) L of the water \(\d+ %\) with sea {when} and daily after that", plan)
    assert deed, plan
    assert f"If it shows the same: {deed[0]}" in card
    assert FIRST in plan, "the page asks to test first as the card does"
    day = {"today": "2026-10-30", "tomorrow": "2026-10-31"}[when]
    file, lines = ready(pages)
    assert f"- at: {day} …\n  water_change: {{volume: {float(deed[1]):g} L, mix: sea}}" in lines
    assert lines.index("readings") < lines.index("water_change") or day == "2026-10-30", (
        "it is tested before the change"
    )
    log = tmp_path / file
    log.write_text(log.read_text("utf-8") + lines.replace(" …\n", " 20:00\n").replace("…", "8.2") + "\n", "utf-8")
    assert [str(problem) for problem in load(tmp_path, AT.replace(day=31, hour=23)).errors] == []


def test_a_reactor_to_set_is_there_to_copy_with_a_blank_for_its_effluent(tmp_path: Path) -> None:
    pages = pages_of(tmp_path, "", "6.4", reactor=REACTOR)
    flow = re.search(r"Set reactor effluent to ([\d.]+) L a day", said(pages["index.html"]))
    assert flow
    assert f"reactor: {{flow: {float(flow[1]):g} L/day, alkalinity: … dKH, calcium: … mg/L}}" in ready(pages)[1]


def test_a_reactor_to_turn_off_is_there_to_copy_as_its_effluent_was_read(tmp_path: Path) -> None:
    _, lines = ready(pages_of(tmp_path, "", "9.6", reactor=REACTOR))
    assert re.search(r"reactor: \{flow: 0 mL/day, alkalinity: 20 dKH, calcium: 480 mg/L\}", lines), lines


def test_what_a_card_says_to_pour_is_what_it_gives_to_copy(tmp_path: Path) -> None:
    by_hand = "solutions: {bicarb: {compound: NaHCO3, strength: 60 g/L, stock: 10 L}}\n"
    pages = pages_of(tmp_path, by_hand, "6.4", "- at: 2026-10-30 09:00\n  doses: {bicarb: 100 mL}\n")
    card, (_, lines) = said(pages["index.html"]), ready(pages)
    poured = re.search(r"Dose (\d+ mL) of bicarb today", card)
    assert poured, card
    assert f"doses: {{bicarb: {poured[1]}}}" in lines


def test_what_two_cards_ask_for_is_there_to_copy_once(tmp_path: Path) -> None:
    pages = pages_of(tmp_path, "", "6.4", reactor=REACTOR, calcium="380")
    assert said(pages["index.html"]).count("Set reactor effluent to") == 2
    lines = [html.unescape(line) for file, line in _READY.findall(pages["index.html"]) if "logs/bay" in file]
    assert len([line for line in lines if "readings" in line]) == 2, lines
    assert len([line for line in lines if "reactor" in line]) == 1, lines


def test_what_is_to_be_set_without_waiting_is_there_to_copy_even_if_the_level_may_be_in_its_band(
    tmp_path: Path,
) -> None:
    again = "- at: 2026-10-30 09:00\n  readings: {alkalinity: 7.3 dKH}\n"
    pages = pages_of(tmp_path, "", "7.35", again, REACTOR)
    card = said(pages["index.html"])
    assert "Perhaps below its band" in card
    flow = re.search(r"If it shows the same: Set reactor effluent to ([\d.]+) L a day", card)
    assert flow
    (lines,) = [line for _, line in _READY.findall(pages["index.html"]) if "readings: {alkalinity" in line]
    assert f"reactor: {{flow: {float(flow[1]):g} L/day" in lines, "on the same card"


@pytest.mark.parametrize(
    ("litres", "said_so"),
    [
        (0.00384, "3.8 mL"),
        (0.00997, "10 mL"),
        (0.0426, "43 mL"),
        (0.999, "999 mL"),
        (1.2345, "1230 mL"),
        (2.345, "2.3 L"),
    ],
)
def test_what_is_poured_is_said_and_written_no_more_exactly_than_a_measuring_cup_shows(litres, said_so) -> None:
    assert written_poured(litres) == said_so


def test_a_page_asks_to_test_first_where_the_card_does_and_nothing_at_hand_helps(tmp_path: Path) -> None:
    pages = pages_of(tmp_path, "", "7.0")
    assert "Test the same water once more before you act." in said(pages["index.html"])
    assert FIRST in said(pages[links.dosing_of("bay")])


def test_a_level_in_its_band_is_not_asked_for_again_before_its_plan(tmp_path: Path) -> None:
    assert FIRST not in said(pages_of(tmp_path, WEAK, "8.2")[links.dosing_of("bay")])


@pytest.mark.parametrize("gave", ["", "30 mL/day"])
def test_a_pump_to_set_has_one_rate_on_card_and_page_and_one_to_mend_is_set_once_it_is_mended(
    tmp_path: Path, gave: str
) -> None:
    measured = f"- at: 2026-10-30 09:00\n  measured_rate: {{soda: {gave}}}\n" if gave else ""
    pages = pages_of(tmp_path, "", "6.4", measured, solutions=True)
    card, plan = said(pages["index.html"]), said(pages[links.dosing_of("bay")])
    asked = "Mend the pump for soda first, then set it to" if gave else "Set soda to"
    rate = re.search(rf"{asked} (\d+ mL a day)\.", card)
    assert rate, card
    assert re.search(rf"soda: Now \d+ mL a day For [\w ]+? {rate[1]}", plan), plan
    assert ("Mend the soda pump in The Bay" in card) == bool(gave)
    assert ("Mend the pump for soda: set to" in plan) == bool(gave)
    poured = re.search(
        r"Until then also pour (\d+) mL of soda by hand every day: that much the pump does not give", plan
    )
    assert bool(poured) == bool(gave)
    if poured:
        assert int(poured[1]) == pytest.approx(int(rate[1].split()[0]) - 30, abs=1), "what it does not give"
    assert ("Set soda to" in card) != bool(gave), "no card asks to set higher a pump that another asks to mend"
    assert bool(re.search(r"pumps: \{.*soda: ", ready(pages)[1])) != bool(gave)


def test_where_there_is_nothing_to_dose_no_dose_is_blamed(tmp_path: Path):
    pages = pages_of(tmp_path, "", "7.6", fell=0.2)
    card, plan = (" ".join(said(pages[page]).split()) for page in ("index.html", links.dosing_of("bay")))
    assert "Stop alkalinity falling in The Bay" in card
    assert "adjust the dose" not in card
    assert "because nothing is dosed to cover the uptake. " in plan
    assert "the doses do not cover" not in plan


@pytest.mark.parametrize("by_hand", [False, True])
def test_the_dosing_page_says_where_now_is_by_pump_and_by_hand(tmp_path: Path, by_hand: bool):
    poured = "".join(f"- at: 2026-10-{day} 09:00\n  doses: {{soda: 40 mL}}\n" for day in range(20, 31))
    page = pages_of(tmp_path, "", "8.2", poured if by_hand else "", solutions=True)[links.dosing_of("bay")]
    assert ("what the pump gives and what you pour of soda by hand" in said(page)) == by_hand


def test_who_is_to_pour_until_a_pump_is_mended_is_not_told_to_pour_nothing(tmp_path: Path):
    poured = "".join(f"- at: 2026-10-{day} 09:00\n  doses: {{soda: 40 mL}}\n" for day in range(20, 30))
    measured = "- at: 2026-10-30 09:00\n  measured_rate: {soda: 30 mL/day}\n"
    page = said(pages_of(tmp_path, "", "8.2", poured + measured, solutions=True)[links.dosing_of("bay")])
    assert "of soda by hand every day: that much the pump does not give" in page
    assert "pour none by hand" not in page
