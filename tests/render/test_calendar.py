"""The tests ahead as a calendar, read by a general iCalendar library (RFC 5545)."""

import shutil
from datetime import UTC, date, datetime, timedelta, timezone

import icalendar
import pytest

from generator.read.load import load
from generator.reckon.attention import alerts
from generator.records.journal import as_it_stood, moment
from generator.render.audience import view
from generator.render.site.feed import CalendarEvent, calendar
from tests.conftest import AS_OF, calculated, lately
from tests.render.pages import site


@pytest.mark.parametrize("address", ["data/tests.ics", "data/systems/lagoon/tests.ics"])
def test_a_calendar_program_can_read_every_test_ahead(demo_site, address):
    raw = (demo_site / address).read_bytes()
    calendar = icalendar.Calendar.from_ical(raw)
    events = calendar.walk("VEVENT")
    assert events
    assert calendar["VERSION"] == "2.0"
    assert calendar["PRODID"]
    for event in events:
        assert event["UID"]
        assert event["DTSTAMP"]
        assert isinstance(event.decoded("DTSTART"), date)
        assert event.decoded("DTSTART") >= date.fromisoformat(str(AS_OF))
        assert event["SUMMARY"]


def test_each_event_is_named_once_and_lines_are_folded_as_the_standard_asks(demo_site):
    raw = (demo_site / "data/tests.ics").read_bytes()
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    assert b"\n" not in raw.replace(b"\r\n", b"")
    uids = [event["UID"] for event in icalendar.Calendar.from_ical(raw).walk("VEVENT")]
    assert len(uids) == len(set(uids))


def test_whatever_a_system_is_called_its_words_come_back_whole():
    name = "Reef; the \\ long, long one, 浅い礁 " * 4
    event = CalendarEvent(
        "tests-reef-2026-11-26@a.example", date(2026, 11, 26), f"Test {name}", "one\ntwo", "https://a.example/"
    )
    raw = calendar("Tests, all", [event], datetime(2026, 11, 22, 20, 0, tzinfo=UTC))
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    read = icalendar.Calendar.from_ical(raw)
    [found] = read.walk("VEVENT")
    assert found["SUMMARY"] == event.summary
    assert found["DESCRIPTION"] == "one\ntwo"
    assert found.decoded("DTSTART") == date(2026, 11, 26)
    assert found.decoded("DTEND") == date(2026, 11, 27)
    assert found.decoded("DTSTAMP") == datetime(2026, 11, 22, 20, 0, tzinfo=UTC)


def test_a_reading_that_has_its_hour_is_put_down_at_that_instant():
    # RFC 5545, 3.3.5, form 2: a time in UTC.
    at = datetime(2026, 11, 26, 17, 45, tzinfo=timezone(timedelta(hours=-1)))
    event = CalendarEvent("tests-reef-20261126T1845Z@a.example", at.date(), "Test", "why", "", at)
    raw = calendar("Tests", [event], datetime(2026, 11, 22, 20, 0, tzinfo=UTC))
    assert b"DTSTART:20261126T184500Z" in raw
    [found] = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    assert found.decoded("DTSTART") == at
    assert found.decoded("DURATION") == timedelta(minutes=15)
    assert "DTEND" not in found


@pytest.mark.long
def test_the_reading_after_an_arrival_stands_in_the_calendar_at_the_hour_it_came(tmp_path):
    # Ballast came at 17:20 on 2026-10-02, on Azores summer time, which is UTC.
    content = lately(tmp_path / "content", "2026-0[1-4]")
    for others in {*(content / "logs").iterdir()} - {content / "logs/fore-reef"}:
        shutil.rmtree(others)
    journal = load(content, date.fromisoformat(AS_OF)).journal
    at = moment(date(2026, 10, 2), journal.settings.time_zone)
    journal = as_it_stood(journal, at)
    found = calculated(journal, at)
    made = site(view(journal, "own"), found, alerts(journal, found), at, {})
    raw = made.files["data/systems/fore-reef/tests.ics"]
    events = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    timed = [event for event in events if isinstance(event.decoded("DTSTART"), datetime)]
    first = min(event.decoded("DTSTART") for event in timed)
    assert (first.hour, first.minute) == (17, 20)
    assert date(2026, 10, 3) <= first.date() <= date(2026, 10, 4)
    assert b"from 17:20 on\\, shows the change" in b"".join(raw.split(b"\r\n "))
