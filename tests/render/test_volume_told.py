"""A water volume that doses contradict, as the pages of a small journal offer it."""

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from generator.__main__ import main
from tests.render.pages import texts

JOURNAL = "title: One cube\nkeeper: Someone\ntime_zone: America/Los_Angeles\n"
SYSTEM = """name: Cube
water: {volume: 200 L, uncertainty: 8 L}
low: {alkalinity: 7 dKH}
high: {alkalinity: 9.5 dKH}
kits:
  drops: {precision: {alkalinity: 0.1 dKH}}
solutions:
  bicarb: {compound: NaHCO3, strength: 80 g/L}
"""
# 110 mL of it are 104.8 meq (84.007 g/mol), which raise so many litres by 2.1 dKH (0.3566 meq/L each).
LITRES = 140.0
RISE = 2.1


def _log() -> str:
    """A reading every other day, a big dose in the middle, readings on the days around it."""
    lines, level, start = [], 8.2, datetime(2026, 3, 1, 9, 0)
    for day in range(28):
        at = start + timedelta(days=day)
        if day % 2 == 0 or day in (13, 15):
            lines.append(f"- at: {at:%Y-%m-%d %H:%M}\n  readings: {{alkalinity: {level:.1f} dKH}}\n")
        if day == 14:
            lines.append(f"- at: {at:%Y-%m-%d} 09:10\n  doses: {{bicarb: 110 mL}}\n")
            level += RISE
            lines.append(f"- at: {at:%Y-%m-%d} 12:00\n  readings: {{alkalinity: {level:.1f} dKH}}\n")
        level -= 0.1
    return "".join(lines)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    home = tmp_path_factory.mktemp("cube")
    (home / "content/systems").mkdir(parents=True)
    (home / "content/logs/cube").mkdir(parents=True)
    (home / "content/journal.yaml").write_text(JOURNAL)
    (home / "content/systems/cube.yaml").write_text(SYSTEM)
    (home / "content/logs/cube/2026-03.yaml").write_text(_log())
    words = ["build", "--content", str(home / "content"), "--site", str(home / "site"), "--as-of", "2026-03-29"]
    assert main(words) == 0
    return home / "site"


@pytest.mark.parametrize("page", ["systems/cube.html", "systems/cube/dosing.html"])
def test_a_volume_that_a_dose_contradicts_is_offered_with_what_it_rests_on(site: Path, page: str):
    text = " ".join(words.strip() for _, words in texts((site / page).read_text(encoding="utf-8")))
    _, _, offered = text.partition("Water volume, from doses")
    litres = float(offered.split("\u00a0L")[0].split()[-1])
    assert litres == pytest.approx(LITRES, rel=0.1)
    assert "likely" in offered[:80]
    assert "From one dose and the readings around it. You recorded 200\u00a0L" in offered
    assert "the amount and strength of the doses" in offered
    assert "logs/cube/2026-03.yaml" in offered
