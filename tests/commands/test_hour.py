"""The hour before and after an arrival, a departure and a move: every page and command tells the same story."""

import csv
import re
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import pytest

from generator.__main__ import main
from generator.read.load import load
from generator.reckon.analysis.journal import Findings, analyse
from generator.reckon.arrivals.shares import Shares
from generator.reckon.attention import alerts
from generator.reckon.finding import Finding
from generator.records.journal import as_it_stood
from generator.render.audience import view
from generator.render.base import numbers
from generator.render.base.words import words_of
from generator.units.kinds import MEQ_PER_DKH
from tests.commands.test_commands import corallite
from tests.commands.two_tanks import AT, write
from tests.render.pages import drawn, site, texts

pytestmark = [pytest.mark.long, pytest.mark.usefixtures("courses_kept")]

BEFORE, AFTER = AT - timedelta(hours=1), AT + timedelta(hours=1)
CHANGES = ("newcomer", "stag-goes", "stag-moves")
TOUCHED = {"newcomer": ("bay",), "stag-goes": ("bay",), "stag-moves": ("bay", "pond")}
NAMES = {"newcomer": "Newcomer", "stag-goes": "Muricata", "stag-moves": "Muricata"}
Told = tuple[dict[str, str], Findings, dict[str, str]]
Say = Callable[..., str]


def said(html: str) -> str:
    return re.sub(r"\s+", " ", " ".join(text for _, text in texts(html)).replace("\u00a0", " "))


def told(folder: Path, at: datetime) -> Told:
    """Every page of the keeper's site as of a moment, what was found, and the uptake of each system as it is said."""
    journal = load(folder, AFTER).journal
    assert journal is not None
    stood = as_it_stood(journal, at)
    found = analyse(stood, at)
    pages = {
        url: said(html) for url, html in drawn(site(view(stood, "own"), found, alerts(stood, found), at, {})).items()
    }
    display = numbers.display_of(stood.settings, stood.systems, (log.units() for log in stood.logs.values()))
    uptakes = {}
    for id, water in found.water.items():
        answer = water.uptake["alkalinity"].per_day
        assert isinstance(answer, Finding)
        uptakes[id] = (
            numbers.Say(display, words_of("en")).per_day("alkalinity", answer.estimate).value.replace("\u00a0", " ")
        )
    return pages, found, uptakes


@pytest.fixture(scope="module", params=CHANGES)
def change(request: pytest.FixtureRequest) -> str:
    plan: str = request.param
    return plan


@pytest.fixture(scope="module")
def folder(change: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp(change), change, arrived=True)


@pytest.fixture(scope="module")
def both(folder: Path) -> tuple[Told, Told]:
    return told(folder, BEFORE), told(folder, AFTER)


@pytest.fixture(scope="module")
def command(folder: Path) -> Say:
    """What a command that only asks says as of a moment; several tests ask the same."""

    @cache
    def run(at: datetime, *words: str) -> str:
        said = corallite(*words, "--content", folder, "--as-of", f"{at:%Y-%m-%d %H:%M}")
        assert said.returncode == 0, said.stderr
        return said.stdout

    return run


def waters_pages(pages: dict[str, str], id: str) -> dict[str, str]:
    return {url: text for url, text in pages.items() if url in (f"systems/{id}.html", f"systems/{id}/dosing.html")}


def uptakes_in(text: str) -> list[str]:
    """Every uptake of today that a text tells."""
    return re.findall(r"(?:Today it is|The uptake is)(?: predicted to be)? (\d[\d.]* dKH a day)", text)


def test_before_nothing_is_predicted_and_after_every_page_of_the_water_says_so(both, change):
    (before, _, _), (after, _, _) = both
    assert not any("Predicted:" in text for text in before.values())
    for id in ("bay", "pond"):
        for url in waters_pages(after, id).keys() | {f"systems/{id}/shares.html", f"systems/{id}/log-sheet.html"}:
            assert (f"Predicted: {NAMES[change]} " in after[url]) == (id in TOUCHED[change]), url
    for coral, id in (("boulder-1", "bay"), ("dish-1", "pond")):
        assert (f"Predicted: {NAMES[change]} " in after[f"corals/{coral}.html"]) == (id in TOUCHED[change])


def test_what_came_has_its_page_and_its_trade_and_no_sheet_any_more(both, change):
    (before, _, _), (after, _, _) = both
    assert f"coming/{change}.html" in before
    assert f"coming/{change}.html" not in after
    if change == "newcomer":
        assert {"corals/newcomer-1.html", "trades/2026-10-30-newcomer.html"} <= after.keys() - before.keys()


def test_no_headline_says_that_uptake_changed_while_nobody_read_it(both, change):
    (before, _, _), (after, found, _) = both
    for url in ("index.html", "systems/index.html"):
        assert "Predicted alkalinity uptake" not in before[url]
        assert after[url].count("Predicted alkalinity uptake") == len(TOUCHED[change])
    assert "uptake rose" not in after["index.html"]
    assert "uptake fell" not in after["index.html"]
    assert not any(plan.plan.id in CHANGES for plan in found.plans)


def test_every_page_tells_the_one_uptake_of_its_water(both):
    for pages, _, uptakes in both:
        for id, uptake in uptakes.items():
            of_water = waters_pages(pages, id)
            assert len(of_water) == 2
            assert all(uptake in text for text in of_water.values())
            for url, text in pages.items():
                if url.startswith(f"systems/{id}/") or url == f"systems/{id}.html":
                    alkalinity = [each for each in uptakes_in(text) if each.endswith("dKH a day")]
                    assert set(alkalinity) <= {uptake}, url


def test_the_shares_add_up_to_it(both):
    for _, found, _ in both:
        for id, shared in found.shares.items():
            if isinstance(shared, Shares):
                whole = found.water[id].calcification.grams_per_day
                assert shared.whole == whole
                assert sum(each.grams_per_day.value for each in shared.corals.values()) == pytest.approx(
                    whole.estimate.value
                )
                assert sum(each.share.value for each in shared.corals.values()) == pytest.approx(1.0)


def rates(text: str) -> list[str]:
    """Every rate of a text. Sums go on with the pumps, and uncertainties (±) with the time since the last reading."""
    return re.findall(r"(?<![±\d.])\d[\d.]* (?:dKH|mg/L|g|mL|%|L) a (?:day|month)", text)


def test_the_water_that_nothing_came_to_keeps_every_number(both, change):
    (before, _, _), (after, _, _) = both
    for id in {"bay", "pond"} - set(TOUCHED[change]):
        for url in waters_pages(before, id):
            assert rates(before[url])
            assert rates(before[url]) == rates(after[url]), url


def value(pattern: str, text: str) -> float:
    match = re.search(pattern + r": (\d[\d.]*) ", re.sub("Today it is(?: predicted to be)?", "Today:", text))
    assert match, (pattern, text)
    return float(match[1])


def test_commands_tell_the_uptake_that_the_pages_tell(both, command, change):
    for at, (_, _, uptakes) in zip((BEFORE, AFTER), both, strict=True):
        for coral, home in (("boulder-1", "bay"), ("dish-1", "pond")):
            out = command(at, "what-if", coral)
            assert uptakes_in(out) == [uptakes[home]]
            assert ("predicted to be" in out) == (at == AFTER and home in TOUCHED[change])
        sheet = command(at, "sheet")
        assert (f"{change}: " in sheet) == (at == BEFORE)
        if change == "stag-moves":
            where = command(
                at, "predict", "--system", "pond", "--genus", "Porites", "--form", "massive", "--size", "9x9x5"
            )
            assert "Porites (massive) in The Pond" in where


def test_what_if_said_before_what_is_so_after(command, change):
    if change == "newcomer":
        out = command(AFTER, "what-if", "newcomer-1")
        today, gone = value("Today", command(BEFORE, "what-if", "stag-1")), value("Taken out", out)
        assert gone == pytest.approx(today, rel=0.05)
        return
    out = command(BEFORE, "what-if", "stag-1")
    home = value("Today", command(AFTER, "what-if", "boulder-1"))
    assert home == pytest.approx(value("Taken out", out), abs=0.05)
    if change == "stag-moves":
        away = value("Today", command(AFTER, "what-if", "dish-1"))
        assert away == pytest.approx(value("Moved to The Pond", out), rel=0.03)


def test_the_sheet_said_before_what_is_taken_up_after(both, command, change):
    uptakes = both[1][2]
    if change == "newcomer":
        return
    out = command(BEFORE, "sheet", change)
    if change == "stag-moves":
        assert "Then put Muricata in The Pond, ledge, its middle 45 cm from the left and 25 cm from the front." in out
        assert "It comes from 200 PAR." in out
    for id in TOUCHED[change]:
        assert uptakes[id].removesuffix(" dKH a day") in out
    # At a glance, and in full.
    assert out.count("first useful test") == 2 * len(TOUCHED[change])
    assert out.count("uptake fell by all that was predicted") == 1
    assert out.count("uptake rose by all that was predicted") == len(TOUCHED[change]) - 1


def test_place_finds_what_has_left_no_longer_in_the_way(command, change):
    size = ("--size", "26 x 22 x 10 cm", "--system", "bay")
    before, after = command(BEFORE, "place", *size), command(AFTER, "place", *size)
    if change != "newcomer":
        assert "What has to move: nothing." in after
    else:
        assert before.count(" → ") <= after.count(" → ")


def test_journey_packs_a_coral_that_stays_or_moves_just_as_before(command, change):
    for coral in ("boulder-1", "stag-1") if change == "stag-moves" else ("boulder-1",):
        words = ("journey", "--colony", coral, "--container", "vat", "--duration", "2 h")
        assert command(BEFORE, *words) == command(AFTER, *words)


def test_arrive_makes_every_number_that_the_line_alone_makes(both, change, tmp_path):
    folder = write(tmp_path, change)
    assert main(["arrive", change, "--at", f"{AT:%Y-%m-%d %H:%M}", "--content", str(folder)]) == 0
    pages, _, uptakes = told(folder, AFTER)
    alone, _, expected = both[1]
    assert uptakes == expected
    assert {url: rates(text) for url, text in pages.items()} == {url: rates(text) for url, text in alone.items()}


def test_a_cause_without_effect_is_not_listed(both):
    """Where levels stay as they are, the water's volume adds no more than a computer's rounding."""
    for pages, _, _ in both:
        spreads = [each for text in pages.values() for each in re.findall(r"±([\d.]+)", text)]
        assert spreads
        assert [each for each in spreads if re.match(r"0\.0{5}", each)] == []


def test_today_tells_what_is_predicted_and_names_it_so(both, command, change):
    before, after = command(BEFORE, "today"), command(AFTER, "today")
    assert (f"arrive {change}" in before, f"arrive {change}" in after) == (True, False)
    assert "Until the next test" not in before
    assert after.count("Until the next test, uptake, forecast and doses count its predicted uptake.") == len(
        TOUCHED[change]
    )
    assert not re.search(r"^ +Uptake: ", after, re.MULTILINE)
    uptakes = re.findall(r"Predicted uptake: (\d[\d.]* dKH a day)", after)
    assert set(uptakes) <= {both[1][2][id] for id in TOUCHED[change]}
    assert len(uptakes) == len(re.findall(r"Stop alkalinity", after))


def test_tables_hold_the_uptake_of_the_pages_and_say_what_of_it_is_predicted(both, folder, change, tmp_path):
    for at, (_, found, _) in zip((BEFORE, AFTER), both, strict=True):
        out = tmp_path / f"{at:%H}"
        words = ["tables", "--to", str(out), "--content", str(folder), "--as-of", f"{at:%Y-%m-%d %H:%M}"]
        assert main(words) == 0
        for id, water in found.water.items():
            with (out / f"systems/{id}/uptake.csv").open() as lines:
                rows = [row for row in csv.DictReader(lines) if row["quantity"] == "alkalinity"]
            answer = water.uptake["alkalinity"].per_day
            assert isinstance(answer, Finding)
            assert float(rows[-1]["per_day"]) == pytest.approx(answer.estimate.value / MEQ_PER_DKH, rel=1e-3, abs=1e-3)
            predicted = [row["at"] for row in rows if row["predicted"] == "true"]
            assert bool(predicted) == (at == AFTER and id in TOUCHED[change])
            assert all(datetime.fromisoformat(each) > AT for each in predicted)


def test_what_changed_since_the_hour_before_is_the_step_between_the_pages(both, folder, change, capsys):
    when, until = (f"{at:%Y-%m-%d %H:%M}" for at in (BEFORE, AFTER))
    assert main(["since", when, "--content", str(folder), "--as-of", until]) == 0
    out = capsys.readouterr().out
    for id, name in (("bay", "The Bay"), ("pond", "The Pond")):
        part = out.split(name)[1].split("\n\n")[0]
        then, now = (
            re.search(rf"Alkalinity, uptake: .*?{side}: (\d[\d.]* dKH a day)", part) for side in ("Then", "Now")
        )
        assert then is not None
        assert now is not None
        assert now[1] == both[1][2][id]
        assert float(then[1].split()[0]) == pytest.approx(float(both[0][2][id].split()[0]), abs=0.06)
        assert ("Predicted: " in part) == (id in TOUCHED[change])
