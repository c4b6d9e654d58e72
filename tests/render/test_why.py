"""Behind every figure stand the lines of the log that made it, each named once."""

import re
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from generator.records.source import Source
from generator.render.base.blocks import FileLines
from generator.render.base.numbers import Display, Say
from generator.render.base.why import LogInWords
from generator.render.base.words import words_of


@pytest.mark.parametrize(
    ("language", "several", "one"), [("en", "lines 2, 5", "line 7"), ("de", "Zeilen 2, 5", "Zeile 7")]
)
def test_older_lines_are_named_by_number_and_two_facts_on_one_line_once(language, several, one):
    newest = [Source("logs/lagoon/2026-03.yaml", line) for line in range(1, 9)]
    march = [Source("logs/lagoon/2026-02.yaml", line, column) for line, column in ((2, 5), (5, 5), (5, 30))]
    told = LogInWords({}, Say(Display(ZoneInfo("UTC"), {}), words_of(language)))
    _, older = told.lines([*newest, *march, Source("logs/lagoon/2026-01.yaml", 7)])
    assert older == (FileLines("logs/lagoon/2026-02.yaml", several), FileLines("logs/lagoon/2026-01.yaml", one))


def test_several_facts_on_one_line_are_in_no_order(demo_site: Path):
    told = [page.read_text(encoding="utf-8") for page in (demo_site / "systems").glob("*.html")]
    assert any(re.search(r"Based on \d+ lines of your files \(newest first\):", page) for page in told)
    assert any("Based on one line of your files:" in page for page in told)
    assert not any("Based on one line of your files (newest first)" in page for page in told)


def test_the_demo_s_uptake_names_its_readings_its_pumps_and_its_water_changes(demo_site: Path):
    page = (demo_site / "systems/lagoon.html").read_text(encoding="utf-8")
    figure = page.split("<h3>Alkalinity</h3>")[-1].split("</article>")[0]
    behind = re.sub(r"<[^>]+>", "", figure)
    for said in ("Alkalinity 8.9", "pump set to 122", "changed 45 L of water"):
        assert said in behind.replace("\N{NO-BREAK SPACE}", " ")
    count = int(re.search(r"Based on (\d+) lines of your files", behind)[1])
    named = re.findall(r"<code>[^<]+:(\d+)</code>", figure)
    older = [line for lines in re.findall(r"</code> lines? ([0-9, ]+)", figure) for line in lines.split(", ")]
    assert len(named) + len(older) == count
