"""When it was: the time in a line of shorthand ('yesterday 9pm', '22.11. 21 Uhr'), and the moment that it means."""

import re
from contextlib import suppress
from datetime import date, datetime, time, timedelta

from msgspec import Struct

from generator.shorthand.finish import Stamp
from generator.shorthand.scanner import Scanner, Tables

_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?!\d)(?:\s*([ap])\.?m\.?(?!\w))?", re.IGNORECASE)
_HALF_DAY = re.compile(r"(\d{1,2})\s*([ap])\.?m\.?(?!\w)", re.IGNORECASE)
_H = re.compile(r"(\d{1,2})(?:h(\d{2})|(?:[:.](\d{2}))? *uhr)(?!\w)", re.IGNORECASE)
_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?:T(?=\d))?(?![\d-])")
_SLASHES = re.compile(r"(\d{1,2})/(\d{1,2})(?:/(\d{4}|\d{2}))?(?![\w/])")
# With a stop after the month, the day is first wherever that is written.
_STOPS = re.compile(r"(\d{1,2})\. ?(\d{1,2})\.(?: ?(\d{4}|\d{2})(?! *uhr))?(?![\w.:]|,\d)", re.IGNORECASE)
_HOW_LONG_AGO = re.compile(r"(\d{1,3})\s*")
_DAY = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?(?=[\s,;]|:(?!\d)|$)")
# A time that names no day.
VAGUE = re.compile(
    r"last (?:night|week|month)\b|(?:some|several|few|[a-z]+) (?:hours|days|weeks|months) ago\b|a month ago\b",
    re.IGNORECASE,
)


class Said(Struct, frozen=True):
    """When something was, as it was said: each part None if it was not."""

    day: date | None
    clock: time | None
    ago: timedelta | None = None


class NoSuchTime(ValueError):
    """A time that cannot be meant; the arguments are what is wrong and what to write instead."""


def read_moment(scanner: Scanner, tables: Tables, now: datetime, order: str) -> Said | None:
    """The time that stands here, if one does; the place is then after it. Raises `NoSuchTime`.

    `order` is that of the keeper's dates. By 'month-day-year' 8/3 is one day; with the year first it can be two.
    """
    before = scanner.place
    scanner.name(("at", "on", "since", "from", "am", "um", "seit"))
    ago = _ago(scanner, tables)
    if ago is not None:
        return Said(None, None, ago)
    clock = _clock(scanner, tables)
    day = _day(scanner, tables, now, order)
    if day is not None and clock is None:
        place = scanner.place
        scanner.name(("at", "um", ","))
        clock = _clock(scanner, tables)
        scanner.place = scanner.place if clock else place
    if day is None and clock is None:
        scanner.place = before
        return None
    return Said(day, clock)


def stands_before_moment(scanner: Scanner, tables: Tables, now: datetime, order: str) -> bool:
    """Whether a time stands here, possible or not; the place stays. A short name of a weekday alone is none: 'sun'."""
    before = scanner.place
    word = re.match(r"\w*", scanner.folded[before:])
    if word and word[0] in tables.weekdays and len(word[0]) == 3:
        return False
    try:
        return read_moment(scanner, tables, now, order) is not None
    except NoSuchTime:
        return True
    finally:
        scanner.place = before


def moment_meant(said: Said | None, now: datetime, needs_clock: bool) -> Stamp:
    """The moment meant, on the keeper's clock. Raises `NoSuchTime` for one to come, or a day without its hour."""
    if said is None:
        return Stamp(now.date(), now.time().replace(second=0, microsecond=0))
    if said.ago is not None:
        then = now - said.ago
        return Stamp(then.date(), then.time().replace(second=0, microsecond=0))
    day, clock = said.day or now.date(), said.clock
    if clock is None and day == now.date():
        clock = now.time().replace(second=0, microsecond=0)
    late = day > now.date() or (day == now.date() and clock is not None and clock > now.time())
    if late:
        told = f"{day} {clock:%H:%M}" if clock else str(day)
        remedy = "write the day before it: 'yesterday 21:00'" if said.day is None else "check the date"
        raise NoSuchTime(f"{told} is still to come", remedy)
    if clock is None and needs_clock:
        raise NoSuchTime(f"{day} has no hour", f"write for example '{day} 21:00'")
    return Stamp(day, clock)


def _ago(scanner: Scanner, tables: Tables) -> timedelta | None:
    before = scanner.place
    count = scanner.take(_HOW_LONG_AGO)
    number = int(count[1]) if count else 1 if scanner.name(("an", "a", "one")) else 0
    unit = scanner.name(tables.ago) if number else None
    if unit and scanner.name(("ago",)):
        return timedelta(minutes=number * tables.ago[unit])
    scanner.place = before
    return None


def _clock(scanner: Scanner, tables: Tables) -> time | None:
    scanner.name(("at", "um"))
    if (word := scanner.name(tables.hours)) is not None:
        return time(tables.hours[word])
    if found := scanner.take(_H):
        return _time(found[0], int(found[1]), int(found[2] or found[3] or 0), None)
    if found := scanner.take(_CLOCK):
        return _time(found[0], int(found[1]), int(found[2]), found[3])
    if found := scanner.take(_HALF_DAY):
        return _time(found[0], int(found[1]), 0, found[2])
    return None


def _time(said: str, hour: int, minute: int, half: str | None) -> time:
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half.lower() == "p" else 0)
    elif half:
        hour = 99
    if hour > 23 or minute > 59:
        raise NoSuchTime(f"there is no time '{said.strip()}'", "write for example 21:00 or 9pm")
    return time(hour, minute)


def _day(scanner: Scanner, tables: Tables, now: datetime, order: str) -> date | None:
    if (word := scanner.name(tables.days)) is not None:
        return now.date() - timedelta(days=tables.days[word])
    before = scanner.place
    if (word := scanner.name(tables.weekdays)) is not None:
        back = (now.weekday() - tables.weekdays[word]) % 7
        if back == 0:
            raise NoSuchTime(f"'{word}' can be today or a week ago", "write today, or the date")
        return now.date() - timedelta(days=back)
    if found := scanner.take(_ISO):
        return _date(found[0], int(found[1]), int(found[2]), int(found[3]))
    if found := scanner.take(_STOPS):
        return _in_numbers(found[0], [(int(found[1]), int(found[2]))], found[3], now)
    if (found := scanner.take(_SLASHES)) and not (scanner.unit("volume") or scanner.unit("length")):
        one, other = int(found[1]), int(found[2])
        ways = {"day-month-year": (one, other), "month-day-year": (other, one)}
        with suppress(NoSuchTime, KeyError):
            return _in_numbers(found[0], [ways[order]], found[3], now)
        return _in_numbers(found[0], [*ways.values()], found[3], now)
    scanner.place = before
    day = scanner.take(_DAY)
    month = scanner.name(tables.months)
    if month and not day:
        day = scanner.take(_DAY)
    if month and day:
        said, number = f"{day[1]} {month}", tables.months[month]
        return _date(said, _year(number, int(day[1]), now), number, int(day[1]))
    scanner.place = before
    return None


def _in_numbers(said: str, ways: list[tuple[int, int]], year: str | None, now: datetime) -> date:
    """The day of one way to read two numbers as day and month. Raises `NoSuchTime` for none, or for two days."""
    days = set[date]()
    for day, month in ways:
        with suppress(NoSuchTime):
            days.add(_date(said, int(year) % 2000 + 2000 if year else _year(month, day, now), month, day))
    if not days:
        raise NoSuchTime(f"there is no day '{said.strip()}'", "write for example 2026-03-02")
    if len(days) > 1:
        raise NoSuchTime(f"'{said.strip()}' can be {' or '.join(map(str, sorted(days)))}", "write one of them")
    return days.pop()


def _year(month: int, day: int, now: datetime) -> int:
    """The last year that has had this day."""
    return now.year if (month, day) <= (now.month, now.day) else now.year - 1


def _date(said: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise NoSuchTime(f"there is no day '{said.strip()}'", "write for example 2026-03-02") from None
