"""`corallite tables`: the same files as the site's, for the audience asked for."""

from collections.abc import Callable
from pathlib import Path

import pytest

from generator.__main__ import main

JOURNAL = """--- journal.yaml
title: A tank
keeper: Somebody
time_zone: Atlantic/Azores
--- systems/reef.yaml
name: Reef
water: {volume: 400 L, uncertainty: 10 L}
low: {alkalinity: 7.5 dKH}
high: {alkalinity: 9 dKH}
--- logs/reef/2026-11.yaml
- at: 2026-11-20 08:00
  readings: {alkalinity: 8.0 dKH, nitrate: "<0.5 mg/L"}
"""


def test_it_writes_the_files_and_a_second_time_replaces_them(journal: Callable[[str], Path], tmp_path: Path):
    words = ["tables", "--content", str(journal(JOURNAL)), "--to", str(tmp_path / "out"), "--as-of", "2026-11-22"]
    assert main(words) == 0
    readings = tmp_path / "out/systems/reef/readings.csv"
    first = readings.read_bytes()
    assert b"2026-11-20T08:00:00-01:00,nitrate,0.5,true,mg/L" in first
    assert {"corallite.sqlite", "datapackage.json", "corals.csv"} <= {
        path.name for path in (tmp_path / "out").iterdir()
    }
    readings.write_text("stale", encoding="utf-8")
    assert main(words) == 0
    assert readings.read_bytes() == first


def test_a_link_in_its_way_is_not_followed(
    journal: Callable[[str], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    (tmp_path / "out").mkdir()
    (tmp_path / "out/corals.csv").symlink_to(tmp_path / "elsewhere.csv")
    words = ["tables", "--content", str(journal(JOURNAL)), "--to", str(tmp_path / "out"), "--as-of", "2026-11-22"]
    assert main(words) == 1
    assert "corals.csv: it is a link" in capsys.readouterr().err
    assert not (tmp_path / "elsewhere.csv").exists()


def test_mistakes_in_the_journal_are_printed_and_nothing_is_written(journal: Callable[[str], Path], tmp_path: Path):
    content = journal(JOURNAL.replace("8.0 dKH", "8.0 kg"))
    assert main(["tables", "--content", str(content), "--to", str(tmp_path / "out"), "--as-of", "2026-11-22"]) == 1
    assert not (tmp_path / "out").exists()
