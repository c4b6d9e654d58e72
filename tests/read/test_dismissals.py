"""Whatever the day's page tells a keeper to write, to put an alert aside, is taken without a word and does it."""

import shutil
from datetime import date
from pathlib import Path

from generator.read.load import load
from generator.reckon.analysis.journal import analyse
from generator.reckon.attention import alerts
from generator.records.journal import as_it_stood, moment
from tests.conftest import AS_OF

CONTENT = Path(__file__).parents[2] / "content"
DAY = date.fromisoformat(AS_OF)


def test_every_item_of_the_demo_can_be_dismissed_as_its_page_says(tmp_path: Path) -> None:
    folder = tmp_path / "journal"
    shutil.copytree(CONTENT, folder)
    journal = load(folder, DAY).journal
    assert journal is not None
    at = moment(DAY, journal.settings.time_zone)
    stood = as_it_stood(journal, at)
    found = analyse(stood, at)
    told = alerts(stood, found)
    assert len({alert.kind for alert in told}) >= 5
    for number, alert in enumerate(told):
        log = folder / "logs" / (alert.system or "lagoon") / "2026-11.yaml"
        entry = f"- at: {DAY} 20:{number:02}\n  dismiss: {{alert: {alert.id}, reason: We know.}}\n"
        log.write_text(log.read_text(encoding="utf-8") + entry, encoding="utf-8")
    again = load(folder, DAY)
    assert [str(problem) for problem in again.problems] == []
    assert again.journal is not None
    # What is found does not depend on what is dismissed.
    assert alerts(as_it_stood(again.journal, at), found) == ()
