"""Beside pumps a plan counts on regular water changes, and says so; where they are the supply, it sets them."""

import re
from datetime import timedelta
from pathlib import Path

import pytest

from generator.read.load import load
from generator.reckon.analysis.journal import Findings, analyse
from generator.reckon.attention import alerts
from generator.reckon.dosing.new_water import WaterChanges
from generator.records.journal import as_it_stood
from generator.render.audience import view
from generator.render.base import links
from generator.render.base.context import PageContext, Shared
from generator.render.base.numbers import display_of
from generator.render.base.ties import ties
from generator.render.base.words import words_of
from generator.render.pages.by_hand import change_words
from generator.render.site.site_map import site
from tests.commands.two_tanks import AT, START, write
from tests.render import sample
from tests.render.pages import drawn, texts

COUNTED = "The doses count on your water changes: 40.0 L of salt every 2 days add 0.13 dKH a day of alkalinity"
UNKNOWN = "because the alkalinity of salt is not recorded"


def said(folder: Path, mixes: str, pumped: bool = True) -> str:
    write(folder)
    file, log = folder / "systems/bay.yaml", folder / "logs/bay/2026-10.yaml"
    told = file.read_text(encoding="utf-8")
    file.write_text(told.replace("kits:", mixes + "kits:"), encoding="utf-8")
    if not pumped:
        file.write_text(re.sub(r"solutions:\n(  .*\n)+", "", file.read_text(encoding="utf-8")), encoding="utf-8")
        log.write_text(re.sub(r"^.*\n.*pumps.*\n", "", log.read_text(encoding="utf-8")), encoding="utf-8")
    with log.open("a", encoding="utf-8") as more:
        for day in range(0, 29, 2):
            at = START + timedelta(days=day, minutes=10)
            more.write(f"- at: {at:%Y-%m-%d %H:%M}\n  water_change: {{volume: 40 L, mix: salt}}\n")
    loaded = load(folder, AT)
    assert loaded.journal is not None, loaded.problems
    journal = as_it_stood(loaded.journal, AT)
    found = analyse(journal, AT)
    pages = drawn(site(view(journal, "own"), found, alerts(journal, found), AT, {}))
    return " ".join(text for _, text in texts(pages[links.dosing_of("bay")])).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("pumped", [True, False])
def test_what_a_plan_counts_on(tmp_path: Path, pumped: bool) -> None:
    page = said(tmp_path, "mixes:\n  salt: {alkalinity: 11 dKH, calcium: 450 mg/L}\n", pumped)
    assert "Effect of a water change" in page
    assert (COUNTED in page) == pumped
    assert ("This replaces the uptake." in page) != pumped


def test_a_mix_whose_alkalinity_nobody_wrote_is_not_counted_and_named(tmp_path: Path) -> None:
    assert UNKNOWN in said(tmp_path, "mixes:\n  salt: {calcium: 450 mg/L}\n")


@pytest.mark.parametrize(("in_days", "day"), [(0.0, "today"), (1.0, "tomorrow")])
@pytest.mark.parametrize("times", [1, 3])
def test_water_changed_to_bring_a_level_down_is_told_its_day(in_days: float, day: str, times: int) -> None:
    seen = sample.seen("own")
    display = display_of(seen.settings, seen.systems, (log.units() for log in seen.logs.values()))
    ctx = PageContext(
        Shared(seen, Findings(sample.AS_OF), (), {}, sample.AS_OF, words_of("en"), display, {}, ties(seen))
    )
    change = WaterChanges("sea", 100.0, 1, times, 3.0, first=in_days)
    told = change_words(ctx, sample.system(), change, sample.AS_OF)
    assert f"with sea {day}" in told
    assert ("daily after that" in told) == (times > 1)
