"""A journal as it stood on an earlier day."""

import shutil
from datetime import UTC, date, datetime
from pathlib import Path

from generator.read.load import load
from generator.records.journal import as_it_stood
from tests.archive import write_archive
from tests.conftest import ROOT

SOUND = (ROOT / "tests" / "read" / "sound.txt").read_text(encoding="utf-8")


def stood(day: str):
    journal = load(ROOT / "content", date(2026, 11, 22)).journal
    return as_it_stood(journal, datetime.fromisoformat(f"{day}T12:00").replace(tzinfo=UTC))


def test_a_coral_that_came_later_is_not_there_yet():
    assert "ballast-1" not in stood("2026-09-01").corals
    assert "ballast-1" in stood("2026-10-03").corals


def test_nothing_written_for_a_later_day_is_told():
    past = stood("2026-01-15")
    day = date(2026, 1, 15)
    assert past.entries
    assert all(entry.at <= day for entry in past.entries.values())
    assert all(trade.at <= day for trade in past.trades.values())
    for coral in past.corals.values():
        dated = [*coral.sizes, *coral.weighings, *coral.cuttings, *coral.health]
        assert all(each.at <= day for each in dated)
        assert coral.end is None or coral.end.at <= day
    for log in past.logs.values():
        assert all(reading.at.date() <= day for reading in log.readings)


def test_a_coral_that_died_since_was_alive():
    whole = load(ROOT / "content", date(2026, 11, 22)).journal
    ended = next(coral for coral in whole.corals.values() if coral.end and coral.arrival.at < coral.end.at)
    past = as_it_stood(whole, datetime.combine(ended.arrival.at, datetime.max.time(), UTC))
    assert past.corals[ended.id].end is None


def test_what_was_written_later_is_known_by_name_so_that_a_story_may_mention_it():
    past = stood("2026-09-01")
    assert ("coral", "ballast-1") in past.not_yet
    assert ("coral", "tide-lantern-1") not in past.not_yet


def test_a_day_tells_no_later_end_of_what_had_begun_by_then(tmp_path: Path):
    """A quarantine's end, the day a cut healed, and the corals it made."""
    later = {
        "corals/tide-lantern.yaml": """\
name: Tide Lantern
species: Acropora millepora
line: tide-lantern
form: branching
arrival: {at: 2025-02-01, how: trade, partner: marta, trade: 2025-02-01-swap}
placements: [{since: 2025-02-01, system: reef}]
health: [{at: 2025-02-01, what: quarantine, until: 2025-03-01}]
cuttings: [{at: 2025-02-10, frags: 1, into: [piece], healed: 2025-02-24}]
""",
        "corals/piece.yaml": """\
name: Piece
species: Acropora millepora
line: tide-lantern
form: branching
parent: tide-lantern
arrival: {at: 2025-02-20, how: cutting}
placements: [{since: 2025-02-20, system: reef}]
""",
        "trades/2025-02-01-swap.yaml": """\
at: 2025-02-01
partner: marta
received: [{coral: tide-lantern}]
owed: [{by: us, what: A frag of it, coral: piece, due: 2025-06-01}]
""",
    }
    write_archive(SOUND, tmp_path)
    for name in ("corals", "trades"):
        shutil.rmtree(tmp_path / name)
    write_archive("".join(f"--- {name}\n{text}" for name, text in later.items()), tmp_path)
    loaded = load(tmp_path, date(2026, 3, 5))
    assert loaded.journal is not None, loaded.problems
    past = as_it_stood(loaded.journal, datetime(2025, 2, 12, 12, tzinfo=UTC))
    lantern, trade = past.corals["tide-lantern"], past.trades["2025-02-01-swap"]
    assert lantern.health[0].until is None
    assert (lantern.cuttings[0].into, lantern.cuttings[0].healed) == ((), None)
    assert trade.owed[0].coral is None
    now = as_it_stood(loaded.journal, datetime(2026, 3, 5, tzinfo=UTC))
    assert now.corals["tide-lantern"].health[0].until == date(2025, 3, 1)
    assert now.corals["tide-lantern"].cuttings[0].into == ("piece",)
