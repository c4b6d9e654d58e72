"""The tests ahead as a calendar, read by a general iCalendar library (RFC 5545)."""

from datetime import UTC, date, datetime

import icalendar
import pytest

from generator.render.calendar import Event, calendar
from tests.conftest import AS_OF


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
    event = Event(
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
