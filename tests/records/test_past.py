"""A journal as it stood on an earlier day."""

from datetime import UTC, date, datetime

from generator.read.load import load
from generator.records.past import as_it_stood
from tests.conftest import ROOT


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
