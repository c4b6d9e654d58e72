"""Whatever the day's page tells a keeper to write, to put an item aside, is taken without a word and does it."""

import shutil
from datetime import date, datetime
from pathlib import Path

from generator.read.load import load
from generator.reckon.attention import items
from generator.reckon.survey import survey
from generator.records.past import as_it_stood

CONTENT = Path(__file__).parents[2] / "content"
DAY = date(2026, 11, 24)


def test_every_item_of_the_demo_can_be_dismissed_as_its_page_says(tmp_path: Path) -> None:
    folder = tmp_path / "journal"
    shutil.copytree(CONTENT, folder)
    journal = load(folder, DAY).journal
    assert journal is not None
    at = datetime(2026, 11, 24, 23, 0, tzinfo=journal.settings.time_zone)
    told = items(as_it_stood(journal, at), survey(as_it_stood(journal, at), at))
    assert len({item.kind for item in told}) >= 5
    for number, item in enumerate(told):
        log = folder / "logs" / (item.system or "lagoon") / "2026-11.yaml"
        entry = f"- at: 2026-11-24 20:{number:02}\n  dismiss: {{item: {item.id}, reason: We know.}}\n"
        log.write_text(log.read_text(encoding="utf-8") + entry, encoding="utf-8")
    again = load(folder, DAY)
    assert [str(problem) for problem in again.problems] == []
    assert again.journal is not None
    assert items(as_it_stood(again.journal, at), survey(as_it_stood(again.journal, at), at)) == ()
