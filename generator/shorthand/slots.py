"""The parts of a fact: one small reader for each kind of slot in the tables."""

import re
from collections.abc import Callable
from contextlib import suppress

from msgspec import Struct

from generator.shorthand.finish import Terms, Value, id_of
from generator.shorthand.moments import VAGUE, stands_before_moment
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
# Words that turn round what was said are none of its words: 'bleached no more'. Some do wherever they stand.
_TURN_ANYWHERE = (
    r"(?:(?:seems? to )?(?:has|have|had) (?:\w+ )?(?:stopped|ended|gone)|(?:grow\w*|grew|com\w+|came) back|"
    r"heal(?:s|ed|ing)|recover\w*|no (?:more|longer)|nichts?|kein\w*)\b"
)
TURNS = re.compile(
    rf"(?:no|not|nothing|never|none|gone|stopped|ended|over|less|better)\b|{_TURN_ANYWHERE}", re.IGNORECASE
)
_TURNS_LATER = re.compile(_TURN_ANYWHERE, re.IGNORECASE)
_WORDS = re.compile(rf"(?!{TURNS.pattern})[^\W\d_][^\d,;:]*", re.IGNORECASE)
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
        if value is None and not slot.after and slot.kind != "words":
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
            poured = "write for example 40 mL, or 62 mL/day for a pump"
            remedy = error.remedy if slot.kind == "mass" else poured
            raise NotAQuantity(error.wrong, remedy) from None

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
    """The words up to when it was, or to what turns them round: neither is one of them."""
    text, scanner = _text(reader), reader.scanner
    if text is not None or not (found := scanner.take(_WORDS)):
        return text
    after, end = scanner.place, found.end()
    for word in re.finditer(r"\S+", scanner.text[: found.end()][found.start() :]):
        scanner.place = found.start() + word.start()
        turned = _TURNS_LATER.match(scanner.text, scanner.place) or VAGUE.match(scanner.text, scanner.place)
        if turned or stands_before_moment(scanner, reader.tables, reader.known.now, reader.known.date_order):
            after = end = found.start() + word.start()
            break
    scanner.place = after
    return scanner.text[found.start() : end].strip() or None


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
