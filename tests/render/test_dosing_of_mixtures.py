"""Beside pumps a plan says that it does not count on water changes; where they are the supply, it counts on them."""

import re
from datetime import timedelta
from pathlib import Path

import pytest

from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.reckon.attention import alerts
from generator.records.past import as_it_stood
from generator.render.audience import view
from generator.render.base import links
from generator.render.site.site_map import site
from tests.commands.two_tanks import AT, START, write
from tests.render.pages import drawn, texts

MIXES = "mixes:\n  salt: {alkalinity: 11 dKH, calcium: 450 mg/L}\n"
NOT_COUNTED = "The doses do not count on water changes to come."


@pytest.mark.parametrize("pumped", [True, False])
def test_what_a_plan_counts_on(tmp_path: Path, pumped: bool) -> None:
    write(tmp_path)
    file, log = tmp_path / "systems/bay.yaml", tmp_path / "logs/bay/2026-10.yaml"
    told = file.read_text(encoding="utf-8")
    file.write_text(told.replace("kits:", MIXES + "kits:"), encoding="utf-8")
    if not pumped:
        file.write_text(re.sub(r"solutions:\n(  .*\n)+", "", file.read_text(encoding="utf-8")), encoding="utf-8")
        log.write_text(re.sub(r"^.*\n.*pumps.*\n", "", log.read_text(encoding="utf-8")), encoding="utf-8")
    with log.open("a", encoding="utf-8") as more:
        for day in range(0, 29, 2):
            at = START + timedelta(days=day, minutes=10)
            more.write(f"- at: {at:%Y-%m-%d %H:%M}\n  water_change: {{volume: 40 L, mix: salt}}\n")
    loaded = load(tmp_path, AT)
    assert loaded.journal is not None, loaded.problems
    journal = as_it_stood(loaded.journal, AT)
    found = analyse(journal, AT)
    pages = drawn(site(view(journal, "own"), found, alerts(journal, found), AT, {}))
    said = " ".join(text for _, text in texts(pages[links.dosing_of("bay")]))
    assert "Effect of a water change" in said
    assert (NOT_COUNTED in said) == pumped
    assert ("This replaces the uptake." in said) != pumped
