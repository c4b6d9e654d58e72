"""Whatever text a journal may hold: feeds, calendars and tables stay well-formed, and hold it as text."""

import csv
import io
import re
from datetime import UTC, date, datetime
from xml.etree import ElementTree

import icalendar
from hypothesis import given
from hypothesis import strategies as st
from markupsafe import Markup, escape

from generator.records.fields import UNREADABLE
from generator.render.site.feed import CalendarEvent, Feed, FeedEntry, _drawn, calendar
from generator.render.tables.cells import csv_of

ATOM = "{http://www.w3.org/2005/Atom}"
# More of what breaks a line, ends a text or begins a formula than chance would give.
BREAKING = st.sampled_from(list("\r\n\t\x85\u2028\u2029\u202e\u00a0\\;,:\"'<>&=+-@]＝＋－＠"))
TEXTS = st.text(BREAKING | st.characters(codec="utf-8"), min_size=1).filter(lambda text: not UNREADABLE.search(text))


def test_what_xml_cannot_hold_is_refused_when_it_is_read() -> None:
    # XML 1.0, 2.2: Char ::= #x9 | #xA | #xD | [#x20-#xD7FF] | [#xE000-#xFFFD] | [#x10000-#x10FFFF].
    held = re.compile("[\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
    assert not [code for code in range(0x10000) if not held.match(chr(code)) and not UNREADABLE.match(chr(code))]


@given(TEXTS)
def test_a_feed_stays_well_formed_and_holds_the_text_as_text(text: str) -> None:
    address = "https://reef.example/"
    entry = FeedEntry("tag:a", address, text, "2026-03-02T00:00:00+00:00", text, Markup("<p>{}</p>").format(text))
    feed = ElementTree.fromstring(_drawn(Feed("en", "tag:b", address, address, text, text, entry.updated, (entry,))))
    # XML 1.0, 2.11: every end of a line is read as a line feed.
    as_read = re.sub("\r\n?", "\n", text)
    assert feed.findtext(f"{ATOM}title") == as_read
    assert feed.findtext(f"{ATOM}entry/{ATOM}title") == as_read
    assert feed.findtext(f"{ATOM}entry/{ATOM}content") == f"<p>{escape(as_read)}</p>"


@given(TEXTS)
def test_a_calendar_stays_well_formed_and_gets_no_event_from_a_text(text: str) -> None:
    event = CalendarEvent(
        "tests@reef.example", date(2026, 3, 2), f"{text}\r\nEND:VEVENT", text, "https://reef.example/"
    )
    raw = calendar(text, [event], datetime(2026, 3, 1, tzinfo=UTC))
    lines = raw.split(b"\r\n")
    assert all(len(line) <= 75 and not re.search(rb"[\x00-\x08\n-\x1f\x7f]", line) for line in lines)
    assert [line for line in lines if line.startswith(b"END:")] == [b"END:VEVENT", b"END:VCALENDAR"]
    assert len(icalendar.Calendar.from_ical(raw).walk("VEVENT")) == 1


@given(TEXTS)
def test_a_table_keeps_its_cells_and_no_text_is_a_formula(text: str) -> None:
    written = csv_of([("text", "number"), (text, -1.5)])
    heads, row = csv.reader(io.StringIO(written, newline=""))
    assert (heads, row[1]) == (["text", "number"], "-1.5")
    assert row[0] in (text, f"'{text}")
    assert not row[0].startswith(("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"))
