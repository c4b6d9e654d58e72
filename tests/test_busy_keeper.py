"""What the pages tell a keeper who began in a hurry: a tank that cycles, corals written where they cannot stand."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from generator.__main__ import main
from tests.archive import write_archive

BEGUN = """\
--- journal.yaml
title: In a hurry
keeper: Ines
time_zone: Europe/Lisbon
units: {alkalinity: dKH, calcium: mg/L, ammonium: mg/L, nitrite: mg/L, phosphate: mg/L, length: cm, volume: L}
containers:
  cooler: {length: 50, width: 35, height: 30, volume: 40}
--- systems/cube.yaml
name: Cube
water: {volume: 60, uncertainty: 3}
low: {alkalinity: 7}
high: {alkalinity: 9}
--- logs/cube/2026-03.yaml
- at: 2026-03-01 19:00
  readings: {ammonium: 1.5, nitrite: 0.2}
- at: 2026-03-09 19:00
  readings: {ammonium: 0.6, nitrite: 0.9}
--- systems/reef.yaml
name: Reef
water: {volume: 200, uncertainty: 10}
low: {alkalinity: 7.6}
high: {alkalinity: 9}
kits:
  drops: {precision: {alkalinity: 0.1, phosphate: 0.01}}
solutions:
  soda: {compound: Na2CO3, strength: 60 g/L}
places:
  left: {x: 5, y: 5, width: 50, depth: 40, height: 25}
--- corals/one.yaml
name: One
species: Acropora muricata
line: one
form: branching
arrival: {at: 2025-03-01, how: bought}
placements: [{since: 2025-03-01, system: reef, place: left, x: 9, y: 20}]
sizes: [{at: 2026-02-01, length: 20, width: 20, height: 10}]
--- corals/two.yaml
name: Two
species: Acropora millepora
line: two
form: corymbose
arrival: {at: 2025-03-01, how: bought}
placements: [{since: 2025-03-01, system: reef, place: left, x: 18, y: 20}]
sizes: [{at: 2026-02-01, length: 20, width: 20, height: 10}]
--- logs/reef/2026-02.yaml
- at: 2026-02-01 09:00
  pumps: {soda: 40 mL/day}
"""
# Alkalinity falls a tenth every two days while the pump gives its 45 meq a day: 40 mL of 60 g/L at 53.0 g/eq.
FALLING = "".join(
    f"- at: 2026-{2 + day // 28:02d}-{1 + day % 28:02d} 19:00\n  readings: {{alkalinity: {9.3 - 0.05 * day:.2f}"
    f"{', phosphate: 0.04' if day % 6 == 0 else ''}}}\n"
    for day in range(0, 34, 2)
)
FEBRUARY, MARCH = FALLING.split("- at: 2026-03", 1)


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], str]:
    folder = tmp_path_factory.mktemp("hurry")
    write_archive(f"{BEGUN}{FEBRUARY}--- logs/reef/2026-03.yaml\n- at: 2026-03{MARCH}", folder / "content")
    words = ["--content", str(folder / "content"), "--site", str(folder / "site"), "--as-of", "2026-03-10"]
    assert main(["build", "--audience", "own", *words]) == 0

    def told(name: str) -> str:
        html = (folder / "site" / name).read_text(encoding="utf-8")
        return re.sub(r"\s+", " ", re.sub(r"<script.*?</script>|<[^>]+>", " ", html, flags=re.DOTALL))

    return told


def test_a_tank_that_cycles_has_its_tests_on_the_days_page(page: Callable[[str], str]) -> None:
    # Read on the 9th while ammonium and nitrite stand: again three days on, not after a quarter of a year.
    assert "Thursday 2026-03-12 Nitrite and ammonium: due every 3 days" in page("index.html")


def test_neighbours_that_overlap_are_not_said_to_touch_soon(page: Callable[[str], str]) -> None:
    today = page("index.html")
    assert "Check whether One and Two touch Overlap today" in today
    assert "Check whether One has outgrown its place Over by" in today
    assert "2026-03-10 to 2026-03-10" not in today + page("corals/one.html") + page("plans/reef.html")
    assert re.search(r"Overlaps Two by \d", page("corals/one.html"))


def test_what_a_matter_is_put_aside_with_can_be_copied(page: Callable[[str], str], tmp_path: Path) -> None:
    found = re.search(r"- at: (\S+ \S+) dismiss: \{alert: (\S+), reason: your reason\}", page("index.html"))
    assert found is not None
    more = f"- at: {found[1]}\n  dismiss: {{alert: {found[2]}, reason: your reason}}\n"
    write_archive(f"{BEGUN}{FEBRUARY}--- logs/reef/2026-03.yaml\n- at: 2026-03{MARCH}{more}", tmp_path / "content")
    words = ["--content", str(tmp_path / "content"), "--site", str(tmp_path / "site"), "--as-of", "2026-03-10"]
    assert main(["build", "--audience", "own", *words]) == 0
    assert f"item: {found[2]}," not in (tmp_path / "site/index.html").read_text(encoding="utf-8")


def test_what_does_not_move_is_steady_and_within_how_much(page: Callable[[str], str]) -> None:
    # Five readings of 0.04 mg/L over 30 days: a step of 0.01 mg/L could hide in each month of them.
    assert "Phosphate steady at most 0.010 mg/L a month, up or down" in page("systems/reef.html").replace("\u00a0", " ")


def test_the_ledger_balances_up_to_today_though_the_last_reading_is_days_old(page: Callable[[str], str]) -> None:
    """What the pumps give after the last reading stands against the uptake as forecast."""
    rows = re.search(
        r"Pumps \+([\d.]+)\sdKH.*?Coral uptake \u2212([\d.]+)\sdKH.*?Change of the level \u2212([\d.]+)\sdKH",
        page("systems/reef.html"),
        re.DOTALL,
    )
    assert rows is not None
    paid, taken, fell = map(float, rows.groups())
    assert paid - taken == pytest.approx(-fell, abs=0.015)
    # From 2026-02-08 to the last reading on 2026-03-05 the level fell by 0.05 dKH a day, whatever the pump gave,
    # and if nothing changes it does so until 2026-03-10.
    assert fell == pytest.approx(0.05 * 30, abs=0.3)


def test_a_cut_that_would_leave_no_coral_is_not_simply_advised(page: Callable[[str], str]) -> None:
    assert "First check its recorded place" in page("corals/one.html")
