"""The parts of a fact: one small reader for each kind of slot in the tables, and for when it was ('yesterday 9pm')."""

import re
from collections.abc import Callable
from contextlib import suppress
from datetime import date, datetime, time, timedelta

from msgspec import Struct

from generator.shorthand.finish import Stamp, Terms, Value, id_of
from generator.shorthand.scanner import Scanner, Slot, Tables, decimal_point
from generator.units.kinds import KINDS, WATER_KINDS, unit_said_by
from generator.units.quantity import NotAQuantity, NoUnit, Quantity, parse_quantity

_PERCENT = re.compile(r"(\d{1,2}(?:[.,]\d+)?)\s*(?:%|percent\b)")
_TIMES = re.compile(r"\s*[x×*]\s*(?=\d)", re.IGNORECASE)
_COUNT = re.compile(r"(\d{1,4})(?![\w.,:/]*\d|\w)\s*(?!x\s*\d)")
_SPECIES = re.compile(r"[A-Z][a-z]{2,} +(?:(?:cf|aff)\. *)?(?:[a-z]{3,}(?:-[a-z]+)?|sp\.)(?!\w)")
_COLOUR = re.compile(r"[B-Eb-e][1-6](?!\w)")
_FILE = re.compile(r"[^\s,;:\"']+\.(?:jpe?g|png|webp|heic|heif)(?!\w)", re.IGNORECASE)
# No sea is as fresh as 1 psu: such a number is a density beside that of pure water.
_LIKE_GRAVITY = re.compile(r"[<>]?\s*[01][.,]\d+(?![\d.,])")
_COLON = re.compile(r":\s*(?=\S)")
_WORDS = re.compile(r"[^\W\d_][^\d,;:]*")
_ANYTHING = re.compile(r".+", re.DOTALL)
_ID = re.compile(r"[a-z0-9](?:[a-z0-9-]*[a-z0-9])?(?!\w)")
_AFTER = {"kit": ("kit", "test kit"), "solution": ("pump", "doser")}  # 'with the lab kit', 'soda pump 60 mL/day'
_NAMES = ("solution", "mix", "kit", "coral", "place", "system", "partner")


class Reader(Struct, frozen=True):
    """What all slots of a line are read with."""

    scanner: Scanner
    tables: Tables
    known: Terms

    def read(self, slot: Slot, after_comma: bool = False) -> Value | None:
        """What stands here for a slot; None, and the place as before, if nothing does.

        Raises `NotAQuantity` for a number that cannot be taken.
        """
        scanner, before = self.scanner, self.scanner.place
        another = slot.name == "coral" and self.known.coral  # it begins a fact of its own
        if after_comma and not slot.after and (another or slot.kind in (*WATER_KINDS, "words", "rest")):
            return None
        if slot.after:
            if scanner.name(slot.after) is None:
                return None
            if slot.kind == "flag":
                return "true"
            scanner.fillers((*self.tables.fillers, *self.tables.signs))
        value = self._value(slot)
        if value is None and not slot.after:
            scanner.place = before
            scanner.fillers(self.tables.fillers)
            value = self._value(slot)
        if value is None:
            scanner.place = before
        return value

    def level(self, kind: str, name: str | None) -> Quantity | None:
        """A level of a quantity after its name, or with its unit if it has no name here."""
        said = unit_said_by(name, kind) if name else None
        if name is None:
            try:
                return self.scanner.quantity(kind, {})
            except NoUnit:
                return None
        return self.scanner.quantity(kind, self.known.units, said or self._gravity(kind, name))

    def level_by_unit(self) -> Quantity | None:
        """A level with a unit that only one quantity has, such as 78 F; None, and the place as before, if none is."""
        scanner, before = self.scanner, self.scanner.place
        kind = scanner.kind_of_unit() if scanner.number() else None
        scanner.place = before
        if kind:
            with suppress(NotAQuantity):
                return scanner.quantity(kind, {})
            scanner.place = before
        return None

    def _gravity(self, kind: str, name: str) -> str | None:
        """What a bare number of specific gravity means: nothing certain, unless the journal says so."""
        if name not in ("sg", "specific gravity") and not (
            kind == "salinity" and _LIKE_GRAVITY.match(self.scanner.rest)
        ):
            return None
        unit = self.known.units.get("salinity", "")
        return unit if unit.startswith("sg ") else "sg"

    def _value(self, slot: Slot) -> Value | None:
        scanner, kind = self.scanner, slot.kind
        if kind in _NAMES:
            names = self.known.names.get(kind, {})
            found = scanner.whole_name(names)
            if found:
                scanner.name(_AFTER.get(kind, ()))
            return names[found] if found else None
        if kind in self.tables.choices:
            return self._choice(kind)
        if kind in WATER_KINDS:
            return self._named_level(kind, needs_name=slot.name in ("salinity", "temperature"))
        if kind in KINDS:
            return self._amount(slot)
        if kind == "count":
            found_count = scanner.take(_COUNT)
            if found_count:
                scanner.name(slot.units)
            return int(found_count[1]) if found_count else None
        return _OTHERS[kind](self)

    def _named_level(self, kind: str, needs_name: bool) -> Quantity | None:
        before = self.scanner.place
        name = self.scanner.name([each for each, of in self.tables.quantities.items() if of == kind])
        self.scanner.fillers((*self.tables.fillers, *self.tables.signs))
        value = None if needs_name and name is None else self.level(kind, name)
        if value is None:
            self.scanner.place = before
        return value

    def _amount(self, slot: Slot) -> Quantity | None:
        if not slot.with_unit:
            return self.scanner.quantity(slot.kind, self.known.units)
        try:
            return self.scanner.quantity(slot.kind, {})
        except NoUnit as error:
            raise NotAQuantity(error.wrong, "write for example 40 mL, or 62 mL/day for a pump") from None

    def _choice(self, kind: str) -> str | None:
        words = self.tables.choices[kind]
        found = self.scanner.name(words)
        return words[found] if found else None


def _sides(reader: Reader, least: int, most: int) -> tuple[Quantity, ...] | None:
    """Numbers with a cross between them, and one unit after the last, or one after each."""
    scanner, before, units = reader.scanner, reader.scanner.place, reader.known.units
    texts: list[str] = []
    while (number := scanner.number("length")) and not number[0]:
        text = decimal_point(number[1])
        unit = scanner.unit("length")
        texts.append(f"{text} {unit}" if unit else text)
        if len(texts) == most or not scanner.take(_TIMES):
            break
    if len(texts) < least or (least > 1 and len(texts) == 1):
        scanner.place = before
        return None
    last = texts[-1].partition(" ")[2] or units.get("length")
    return tuple(parse_quantity(text, "length", last) for text in texts)


def _share(reader: Reader) -> Value | None:
    found = reader.scanner.take(_PERCENT)
    if found is None:
        return reader.scanner.quantity("volume", reader.known.units)
    return f"{decimal_point(found[1])} %"


def _text(reader: Reader) -> str | None:
    quoted = reader.scanner.quoted()
    if quoted is not None:
        return quoted or None
    return _rest(reader) if reader.scanner.take(_COLON) else None


def _rest(reader: Reader) -> str | None:
    reader.scanner.take(_COLON)
    before = reader.scanner.place
    if (quoted := reader.scanner.quoted()) and reader.scanner.at_end:
        return quoted
    reader.scanner.place = before
    found = reader.scanner.take(_ANYTHING)
    return found[0].strip() or None if found else None


def _words(reader: Reader) -> str | None:
    text = _text(reader)
    return text if text is not None else _matched(_WORDS)(reader)


def _matched(pattern: re.Pattern[str]) -> Callable[[Reader], str | None]:
    def read(reader: Reader) -> str | None:
        found = reader.scanner.take(pattern)
        return found[0].strip() if found else None

    return read


def _new_name(reader: Reader) -> str | None:
    quoted = reader.scanner.quoted()
    if quoted is not None:
        return quoted or None
    found = reader.scanner.take(_ID)
    return found[0].replace("-", " ").title() if found else None


def _species(reader: Reader) -> str | None:
    """A genus and its species. After 'Acropora branching' the species is not known: that word is the form."""
    before, found = reader.scanner.place, reader.scanner.take(_SPECIES)
    if found is None:
        return None
    genus, *rest = found[0].replace(".", ". ").split()
    if rest[0] not in reader.tables.choices["form"]:
        return " ".join([genus, *rest])
    reader.scanner.place = before + len(genus)
    reader.scanner.skip()
    return f"{genus} sp."


_OTHERS: dict[str, Callable[[Reader], Value | None]] = {
    "size": lambda reader: _sides(reader, 1, 3),
    "spot": lambda reader: _sides(reader, 2, 2),
    "volume-or-share": _share,
    "text": _text,
    "rest": _rest,
    "words": _words,
    "species": _species,
    "colour": lambda reader: (_matched(_COLOUR)(reader) or "").upper() or None,
    "file": _matched(_FILE),
    "word": lambda reader: id_of(reader.scanner.quoted() or "") or _matched(_ID)(reader),
    "new-name": _new_name,
}


_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?!\d)(?:\s*([ap])\.?m\.?(?!\w))?", re.IGNORECASE)
_HALF_DAY = re.compile(r"(\d{1,2})\s*([ap])\.?m\.?(?!\w)", re.IGNORECASE)
_H = re.compile(r"(\d{1,2})h(\d{2})(?!\w)", re.IGNORECASE)
_ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?:T(?=\d))?(?![\d-])")
_SLASHES = re.compile(r"\d{1,2}/\d{1,2}(?:/\d{2,4})?(?![\w/]|\s*[a-z\"])", re.IGNORECASE)
_HOW_LONG_AGO = re.compile(r"(\d{1,3})\s*")
_DAY = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?(?=[\s,;]|:(?!\d)|$)")


class Said(Struct, frozen=True):
    """When something was, as it was said: each part None if it was not."""

    day: date | None
    clock: time | None
    ago: timedelta | None = None


class NoSuchTime(ValueError):
    """A time that cannot be meant; the arguments are what is wrong and what to write instead."""


def read_moment(scanner: Scanner, tables: Tables, now: datetime) -> Said | None:
    """The time that stands here, if one does; the place is then after it. Raises `NoSuchTime`."""
    before = scanner.place
    scanner.name(("at", "on", "since"))
    ago = _ago(scanner, tables)
    if ago is not None:
        return Said(None, None, ago)
    clock = _clock(scanner, tables)
    day = _day(scanner, tables, now)
    if day is not None and clock is None:
        place = scanner.place
        scanner.name(("at", ","))
        clock = _clock(scanner, tables)
        scanner.place = scanner.place if clock else place
    if day is None and clock is None:
        scanner.place = before
        return None
    return Said(day, clock)


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
    if clock is None and needs_clock:
        raise NoSuchTime(f"{day} has no hour", f"write for example '{day} 21:00'")
    late = day > now.date() or (day == now.date() and clock is not None and clock > now.time())
    if late:
        told = f"{day} {clock:%H:%M}" if clock else str(day)
        remedy = "write the day before it: 'yesterday 21:00'" if said.day is None else "check the date"
        raise NoSuchTime(f"{told} is still to come", remedy)
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
    scanner.name(("at",))
    if (word := scanner.name(tables.hours)) is not None:
        return time(tables.hours[word])
    if found := scanner.take(_CLOCK):
        return _time(found[0], int(found[1]), int(found[2]), found[3])
    if found := scanner.take(_HALF_DAY):
        return _time(found[0], int(found[1]), 0, found[2])
    if found := scanner.take(_H):
        return _time(found[0], int(found[1]), int(found[2]), None)
    return None


def _time(said: str, hour: int, minute: int, half: str | None) -> time:
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half.lower() == "p" else 0)
    elif half:
        hour = 99
    if hour > 23 or minute > 59:
        raise NoSuchTime(f"there is no time '{said.strip()}'", "write for example 21:00 or 9pm")
    return time(hour, minute)


def _day(scanner: Scanner, tables: Tables, now: datetime) -> date | None:
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
    if found := scanner.take(_SLASHES):
        raise NoSuchTime(f"'{found[0]}' can be read with the month first or last", f"write for example {now:%Y-%m-%d}")
    day = scanner.take(_DAY)
    month = scanner.name(tables.months)
    if month and not day:
        day = scanner.take(_DAY)
    if month and day:
        said, number = f"{day[1]} {month}", tables.months[month]
        past = (number, int(day[1])) <= (now.month, now.day)
        return _date(said, now.year if past else now.year - 1, number, int(day[1]))
    scanner.place = before
    return None


def _date(said: str, year: int, month: int, day: int) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise NoSuchTime(f"there is no day '{said.strip()}'", "write for example 2026-03-02") from None
