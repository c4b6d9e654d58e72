"""What may have happened, where a reading is a surprise: the same odds on every page that rests on them."""

import re
from datetime import timedelta
from pathlib import Path

from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.reckon.attention import alerts
from generator.records.journal import as_it_stood
from generator.render.audience import view
from tests.commands.two_tanks import AT, write
from tests.render.pages import drawn, site, texts


def test_a_surprise_is_told_with_its_odds_on_the_waters_page_and_on_its_dosing_plan(tmp_path: Path):
    at = AT - timedelta(hours=1)
    with (write(tmp_path) / "logs/bay/2026-10.yaml").open("a", encoding="utf-8") as log:
        log.write(f"- at: {at:%Y-%m-%d %H:%M}\n  readings: {{alkalinity: 6.9 dKH}}\n")
    journal = load(tmp_path, AT).journal
    assert journal is not None
    stood = as_it_stood(journal, AT)
    found = analyse(stood, AT)
    pages = drawn(site(view(stood, "own"), found, alerts(stood, found), AT, {}))
    told = []
    for url in ("systems/bay.html", "systems/bay/dosing.html"):
        text = " ".join(text for _, text in texts(pages[url]))
        assert "More than one explanation" in text, url
        told.append(re.findall(r"\(\d+ in 100\)", text.replace("\u00a0", " "))[:2])
    assert told[0] == told[1]
    assert len(told[0]) == 2
