"""Whatever the day's page tells a keeper to write, to put an alert aside, is taken without a word and does it."""

import shutil
from datetime import date, datetime
from pathlib import Path

from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.reckon.attention import alerts
from generator.records.past import as_it_stood
from tests.conftest import found_once

CONTENT = Path(__file__).parents[2] / "content"
DAY = date(2026, 11, 24)


def test_every_item_of_the_demo_can_be_dismissed_as_its_page_says(tmp_path: Path, tmp_path_factory) -> None:
    folder = tmp_path / "journal"
    shutil.copytree(CONTENT, folder)
    journal = load(folder, DAY).journal
    assert journal is not None
    at = datetime(2026, 11, 24, 23, 0, tzinfo=journal.settings.time_zone)
    stood = as_it_stood(journal, at)
    found = found_once(tmp_path_factory, "demo-in-the-evening", lambda: analyse(stood, at))
    told = alerts(stood, found)
    assert len({alert.kind for alert in told}) >= 5
    for number, alert in enumerate(told):
        log = folder / "logs" / (alert.system or "lagoon") / "2026-11.yaml"
        entry = f"- at: 2026-11-24 20:{number:02}\n  dismiss: {{alert: {alert.id}, reason: We know.}}\n"
        log.write_text(log.read_text(encoding="utf-8") + entry, encoding="utf-8")
    again = load(folder, DAY)
    assert [str(problem) for problem in again.problems] == []
    assert again.journal is not None
    # What is found does not depend on what is dismissed.
    assert alerts(as_it_stood(again.journal, at), found) == ()
