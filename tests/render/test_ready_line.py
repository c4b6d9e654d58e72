"""What a card says to add to the files is what the files take, and cards about several corals are one."""

import html
import json
import re
import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.render.pages.attention import in_log
from generator.units.quantity import Quantity, parse_quantity
from tests.conftest import AS_OF, ROOT
from tests.render import sample
from tests.render.pages import drawn, site, texts

_READY = re.compile(r"When it is done, add to (\S+?)(?:, under (\w+))?:</p>\s*<pre><code>(.*?)</code>", re.DOTALL)


def test_every_line_that_a_card_gives_to_copy_is_one_that_the_files_take(own_site: Path, tmp_path: Path) -> None:
    content = shutil.copytree(ROOT / "content", tmp_path / "content")
    pages = [own_site / "index.html", *sorted((own_site / "systems").glob("*.html"))]
    ready = {found for page in pages for found in _READY.findall(page.read_text("utf-8"))}
    assert {file.split("/")[0] for file, _, _ in ready} >= {"logs", "corals", "trades"}
    (of_six,) = [line for file, _, line in ready if "lagoon" in file and "potassium" in line]
    assert "strontium: …" in of_six, "readings that are due together are one entry"
    waits = [line for _, _, line in ready if re.search("soda|bicarb|limewater", line)]
    assert waits == [], "a dose that waits for a test is not there to copy"
    # A plan that gives a frag also needs the line of its cutting.
    for file, key, line in (each for each in ready if not each[0].startswith("plans/")):
        filled = html.unescape(re.sub("<[^>]+>", "", line)).replace("condition: …", "condition: good")
        filled = (
            re.sub(r"(at: [-0-9]+) …", r"\1 08:00", filled)
            .replace("calcium: …", "calcium: 420")
            .replace("magnesium: …", "magnesium: 1300")
            .replace("potassium: …", "potassium: 400")
            .replace("…", "8")
        )
        path = content / file
        text = path.read_text("utf-8")
        if not key:
            path.write_text(f"{text.rstrip()}\n{filled}\n", "utf-8")
        elif key == "owed":
            path.write_text(re.sub(r"(due: [\d-]+)\}", rf"\1, {filled}}}", text, count=1), "utf-8")
        elif f"\n{key}:\n" in text:
            path.write_text(text.replace(f"\n{key}:\n", f"\n{key}:\n{filled}\n", 1), "utf-8")
        else:
            path.write_text(f"{text.rstrip()}\n{key}:\n{filled}\n", "utf-8")
    # A size out of the order of its days, or of eight centimetres each way, is a doubt and no mistake.
    errors = load(content, date.fromisoformat(AS_OF) + timedelta(days=2)).errors
    assert [str(problem) for problem in errors if "order" not in str(problem)] == []


def test_at_the_end_of_a_month_the_dose_of_today_goes_into_the_file_of_today() -> None:
    dose, test = (date(2026, 11, 30), "doses: {soda: 40 mL}"), (date(2026, 12, 2), "readings: {alkalinity: … dKH}")
    assert in_log("lagoon", [dose, test]) == ("logs/lagoon/2026-11.yaml", "- at: 2026-11-30 …\n  doses: {soda: 40 mL}")
    assert in_log("lagoon", [test])[0] == "logs/lagoon/2026-12.yaml"


def test_lines_that_one_loss_would_end_are_one_card(own_site: Path) -> None:
    lagoon = (own_site / "systems" / "lagoon.html").read_text("utf-8")
    assert lagoon.count('class="matter know"') == 1
    assert re.search(
        r"Spread 3 lines that one loss would end</a></h3>\s*<p>Dry Stone, Old Ferry and Kelp Witch\.</p>", lagoon
    )


@pytest.mark.parametrize(
    ("language", "said"), [("en", "(once it recovers) and"), ("de", "(sobald sie sich erholt hat) und")]
)
def test_one_card_of_several_lines_says_which_is_not_to_be_cut_yet(language: str, said: str) -> None:
    (sound,) = (each for each in sample.coral_alerts() if each.kind == "line-at-risk")
    bleached = replace(sound, mark="y", facts={**sound.facts, "side": "bleached"}, weight=1.0)
    journal = sample.journal(settings=replace(sample.journal().settings, language=language))
    found = analyse(journal, sample.AS_OF)
    shown = sample.seen("own", settings=journal.settings)
    page = drawn(site(shown, found, (bleached, sound), sample.AS_OF, sample.PICTURES))["index.html"]
    told = " ".join(text.strip() for _, text in texts(page))
    assert said in told
    assert told.count(said.partition(")")[0]) == 1, "the other may be cut now"
    assert page.count("frags: 1") == 1, "and only that has a line of a cut to copy"


def test_of_hundreds_of_pairs_that_stand_too_close_a_card_unfolds_a_dozen() -> None:
    close = next(each for each in sample.coral_alerts() if each.kind == "too-close")
    pairs = tuple(replace(close, mark=f"m{number}") for number in range(301))
    page = drawn(
        site(sample.seen("own"), analyse(sample.journal(), sample.AS_OF), pairs, sample.AS_OF, sample.PICTURES)
    )["index.html"]
    told = " ".join(text.strip() for _, text in texts(page))
    assert "Move corals apart: 301 pairs are too close now" in told
    assert "289 more follow here once these are done." in told
    assert page.count("dismiss: {alert: too-close") == 12


def test_who_dosed_by_the_spoon_is_asked_for_spoons() -> None:
    (dose,) = sample.log().doses
    for amount, asked in ((Quantity(2.0, "tsp", "volume"), "tsp"), (Quantity(0.03, "L", "volume", 2), "mL")):
        poured = replace(sample.log(), doses=(replace(dose, amount=amount),))
        page = drawn(sample.built(sample.seen("own", logs={"lagoon": poured})))["write.html"]
        (told,) = re.findall(r'"lagoon/doses/soda":(\{.*?\})', page)
        assert (json.loads(told)["unit"], json.loads(told)["last"]) == (asked, 2.0 if asked == "tsp" else 30.0)


@pytest.mark.parametrize(
    ("amount", "digits"), [("2.5 mL", 1), ("40 mL", 0), ("0.25 tsp", 2), ("0.03 L", 0), ("0.0025 L", 1)]
)
def test_the_last_dose_can_be_written_again_as_it_was(amount: str, digits: int) -> None:
    (dose,) = sample.log().doses
    poured = replace(sample.log(), doses=(replace(dose, amount=parse_quantity(amount, "volume")),))
    page = drawn(sample.built(sample.seen("own", logs={"lagoon": poured})))["write.html"]
    (told,) = re.findall(r'"lagoon/doses/soda":(\{.*?\})', page)
    assert json.loads(told)["digits"] == digits


def test_a_pump_is_asked_for_in_the_journals_unit_in_steps_that_it_can_be_set_by() -> None:
    (pump,) = sample.log().pumps
    runs = replace(sample.log(), pumps=(replace(pump, rate=parse_quantity("62 mL/day", "rate")),))
    settings = sample.settings(units={"rate": "L/day"})
    page = drawn(sample.built(sample.seen("own", logs={"lagoon": runs}, settings=settings)))["write.html"]
    (told,) = re.findall(r'"lagoon/pumps/soda":(\{.*?\})', page)
    assert {name: json.loads(told)[name] for name in ("last", "digits", "step")} == {
        "last": pytest.approx(0.062),
        "digits": 3,
        "step": pytest.approx(0.001),
    }
