"""A line of text and how far it has been read; and the tables of what begins a fact and what may follow, read once."""

import importlib.resources
import re
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Any, get_args

import yaml
from msgspec import Struct, field

from generator.records.coral import Arrival, Form, Health
from generator.records.log import EventKind
from generator.units.compounds import COMPOUNDS
from generator.units.kinds import KINDS, WATER_KINDS, kind_named, kinds_of_unit, names_of_quantities
from generator.units.quantity import NotAQuantity, NoUnit, Quantity, negative, parse_quantity, share_of

# A part such as 1/3 is no number, but for measures of volume and length, which are halved (`_HALVED`).
_NUMBER = re.compile(r"([<>]?)\s*(-?\d+(?:[.,]\d+)?|(?<![\d.,])\.\d+)(?![\d.,]*/\d)")
# A telephone puts a full stop for two spaces; before a digit it is part of a number.
_STOP = re.compile(r"(?<=\S)\.(?=\s|$)")
_PART = re.compile(r"(?:1/2|[13]/4|[1357]/8|[¼-¾⅛-⅞])(?![\d/])")
_HALVED = re.compile(rf"(?:(\d{{1,3}})(?:\s+|(?=[¼-¾⅛-⅞])))?({_PART.pattern})")
_GROUPED = re.compile(r"[1-9]\d{0,2},\d{3}")
_QUOTED = re.compile(r"\"([^\"]*)\"|'([^']*)'(?!\w)|“([^”]*)”|„([^“”]*)[“”]|‘([^’]*)’(?!\w)")
_WORD = re.compile(r"[^\s,;:\"]+")
_LONGER = re.compile(r"-\w")
_SPACE = re.compile(r"[\s\u00a0]*")
_ALIKE = str.maketrans({"-": " ", "_": " ", "\u00a0": " ", "\u00b5": "u", "\u03bc": "u", "\u2010": " ", "\u2011": " "})


def folded_text(text: str) -> str:
    """Text as names are compared: small letters; hyphens and spaces the same. As long as before."""
    return "".join(low if len(low := each.lower()) == 1 else each for each in text).translate(_ALIKE)


class Scanner:
    """One segment of a line, and the place up to which it has been read."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.folded = folded_text(text)
        self.place = 0
        self.skip()

    @property
    def at_end(self) -> bool:
        """Whether nothing is left."""
        return self.place >= len(self.text)

    @property
    def rest(self) -> str:
        """What is left."""
        return self.text[self.place :]

    def skip(self) -> None:
        """Go on over spaces."""
        found = _SPACE.match(self.text, self.place)
        self.place = found.end() if found else self.place

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """What matches here, if anything; the place is then after it."""
        found = pattern.match(self.text, self.place)
        if found is not None:
            self.place = found.end()
            self.skip()
        return found

    def name(self, names: Iterable[str]) -> str | None:
        """The longest of some (folded) names that stands here as whole words."""
        best = ""
        for each in names:
            if len(each) > len(best) and self.folded.startswith(each, self.place) and self._ends(each):
                best = each
        if not best:
            return None
        self.place += len(best)
        self.skip()
        return best

    def whole_name(self, names: Iterable[str]) -> str | None:
        """A name, unless it is the first part of a longer one: 'green' in 'green-slimer-2'."""
        before = self.place
        found = self.name(names)
        if found and _LONGER.match(self.text, before + len(found)):
            self.place = before
            return None
        return found

    def _ends(self, name: str) -> bool:
        """Whether a name at this place is not the start of a longer word."""
        after = self.folded[self.place + len(name) : self.place + len(name) + 1]
        return not name[-1].isalnum() or not (after.isalnum() or after in ("/", "%"))

    def fillers(self, words: Iterable[str]) -> None:
        """Go on over words that mean nothing here."""
        while self.name(words):
            pass

    def between(self, words: Iterable[str]) -> None:
        """Go on over what may stand between two facts."""
        while self.name(words) or self.take(_STOP):
            pass

    def quoted(self) -> str | None:
        """The words between quotation marks that begin here."""
        found = self.take(_QUOTED)
        return next((each.strip() for each in found.groups() if each is not None), "") if found else None

    def word(self) -> str | None:
        """The next word, whatever it is."""
        found = self.take(_WORD)
        return found[0] if found else None

    def number(self, kind: str = "") -> tuple[str, str] | None:
        """A sign (`<`, `>` or none) and a number as written; the unit may follow at once.

        `1 1/2` and `1½` of a volume or a length are handed on as 1.5, as files have it.
        """
        if kind in ("volume", "length") and (halved := self.take(_HALVED)):
            return "", f"{int(halved[1] or 0) + share_of(halved[2]):g}"
        found = self.take(_NUMBER)
        return (found[1], f"0{found[2]}" if found[2][0] == "." else found[2]) if found else None

    def unit(self, kind: str) -> str | None:
        """A unit of a kind of quantity, if one stands here: the longest."""
        names = _units_of(kind)
        found = self.name(names)
        return names[found] if found else None

    def kind_of_unit(self) -> str | None:
        """The quantity of a unit that stands here, if no other has that unit."""
        kinds = _kinds_of_units()
        found = self.name(kinds)
        return kinds[found] if found else None

    def quantity(self, kind: str, units: Mapping[str, str], said: str | None = None) -> Quantity | None:
        """A quantity of a kind. None, and the place as before, if none stands here.

        A bare number takes the unit `said` by its name, or else that of `units`. Raises `NotAQuantity` for a bare
        number without either, and for a comma that can mean two things.
        """
        before = self.place
        number = self.number(kind)
        if number is None:
            return None
        unit = self.unit(kind)
        if number[1].startswith("-") and kind != "temperature":
            value = float(number[1].replace(",", "."))
            raise NotAQuantity(*negative(number[1], value, kind, unit or said or units.get(kind, "")))
        if unit is None and kind == "volume" and (part := _PART.match(self.text, before)):
            raise NotAQuantity(f"'{part[0]}' can be a part of all of it", "write for example 1/4 gal, or 25 %")
        usual = said or units.get(kind)
        if unit is None and _another_unit(self, kind):
            self.place = before
            return None
        if unit is None and kind == "alkalinity" and self.name(("ppm",)):
            unit = "ppm"  # of what is not said, and the reader of quantities says so
        if unit is None and not usual and (word := _WORD.match(self.text, self.place)) and kind not in WATER_KINDS:
            what = KINDS[kind].words or kind
            raise NoUnit(f"'{number[1]} {word[0]}' has no unit of {what}", f"write for example {KINDS[kind].example}")
        return parse_quantity(
            f"{number[0]}{decimal_point(number[1], kind, unit or usual)} {unit or ''}".strip(), kind, usual
        )


def decimal_point(number: str, kind: str = "", unit: str | None = None) -> str:
    """A number with a decimal point. Raises `NotAQuantity` if its comma can be a decimal or a thousands comma.

    Of the two, a value that is possible in a living reef is taken, if only one is.
    """
    if not _GROUPED.fullmatch(number):
        return number.replace(",", ".")
    both = (number.replace(",", "."), number.replace(",", ""))
    possible = [each for each in both if _plausible(float(each), kind, unit)]
    if len(possible) != 1:
        raise NotAQuantity(f"'{number}' can be {both[1]} or {both[0]}", "write one of them")
    return possible[0]


def _plausible(value: float, kind: str, unit_name: str | None) -> bool:
    bounds = KINDS[kind].plausible if kind else None
    unit = KINDS[kind].unit(unit_name) if kind and unit_name else None
    if bounds is None or unit is None:
        return True
    if unit.form:
        return (value < 2.0) == (unit.form == "specific gravity")
    return bounds[0] <= value * unit.factor + unit.offset <= bounds[1]


def _another_unit(scanner: Scanner, kind: str) -> bool:
    """Whether a unit stands here that is of another kind only: `40 ml` is no mass."""
    before = scanner.place
    others = (other for other in ("volume", "rate", "mass", "length", "light", "temperature") if other != kind)
    found = any(scanner.unit(other) for other in others)
    written = scanner.text[before : scanner.place]
    scanner.place = before
    # After a bare number, mg begins the next fact: it is magnesium.
    return found and not (kind in WATER_KINDS and kind_named(written))


@cache
def _units_of(kind: str) -> dict[str, str]:
    """A kind's units by each (folded) name that they have."""
    named = ((name, unit.symbol) for unit in KINDS[kind].units for name in (*unit.aliases, unit.symbol))
    return {folded_text(each): symbol for name, symbol in named for each in (name, name.replace("°", ""))}


@cache
def _kinds_of_units() -> dict[str, str]:
    """Quantities of water by each (folded) name of a unit that no other kind has."""
    each = ((name, unit, kind) for kind in WATER_KINDS for name, unit in _units_of(kind).items())
    return {name: kind for name, unit, kind in each if len(kinds_of_unit(unit)) == 1}


class Slot(Struct, frozen=True):
    """One part of a fact: its name in the files, what it is, the words of which one must come before it.

    `units` are words that may follow a count. `with_unit`: the unit of a number must be written.
    """

    name: str
    kind: str
    after: tuple[str, ...] = ()
    may: bool = False
    units: tuple[str, ...] = ()
    with_unit: bool = False


class FactWords(Struct, frozen=True):
    """One kind of fact: the words that begin it (longest first), its slots, and the field it becomes."""

    into: str
    words: tuple[str, ...]
    slots: tuple[Slot, ...]
    set: Mapping[str, str] = field(default_factory=dict)
    bare: bool = False
    of_coral: bool = False


class Tables(Struct, frozen=True):
    """All that the grammar knows by heart. `quantities` maps each name of a quantity to its kind."""

    rows: tuple[FactWords, ...]
    choices: Mapping[str, Mapping[str, str]]
    quantities: Mapping[str, str]
    fillers: tuple[str, ...]
    signs: tuple[str, ...]
    between: tuple[str, ...]
    days: Mapping[str, int]
    weekdays: Mapping[str, int]
    months: Mapping[str, int]
    hours: Mapping[str, int]
    ago: Mapping[str, int]

    def openings(self) -> tuple[str, ...]:
        """Every word that begins a fact."""
        return (*self.quantities, *(word for row in self.rows for word in row.words))

    def openings_of_corals(self) -> tuple[str, ...]:
        """Every word that begins a fact of a coral."""
        return tuple(word for row in self.rows if row.of_coral for word in row.words)


def plain_tables() -> dict[str, Any]:
    """The tables as plain data, for whoever reads the same shorthand elsewhere."""
    text = (importlib.resources.files("generator.shorthand") / "words.yaml").read_text(encoding="utf-8")
    # Every scalar stays text: elsewhere YAML takes `on` for true.
    found: dict[str, Any] = yaml.load(text, Loader=yaml.BaseLoader)
    return found | {"quantities": found["quantities"] | names_of_quantities()}


@cache
def word_tables() -> Tables:
    """The tables of the shorthand."""
    plain = plain_tables()
    own: dict[str, tuple[str, ...]] = {
        "how": get_args(Arrival.__annotations__["how"]),
        "form": get_args(Form),
        "event": get_args(EventKind),
        "compound": tuple(COMPOUNDS),
        "health": get_args(Health.__annotations__["what"]),
    }
    rows = [_row(row, of_coral=part == "coral") for part in ("log", "coral") for row in plain[part]]
    states = {word: row.set["what"] for row in rows if row.into == "health" and row.set for word in row.words}
    choices = {**plain["choices"], "health": plain["choices"]["health"] | states}
    return Tables(
        rows=tuple(rows),
        choices={kind: _folded(words | {each: each for each in own[kind]}) for kind, words in choices.items()},
        quantities=_folded(plain["quantities"]),
        fillers=tuple(map(folded_text, plain["fillers"])),
        signs=tuple(map(folded_text, plain["signs"])),
        between=tuple(map(folded_text, plain["between"])),
        days=_counts(plain["days"]),
        weekdays=_with_short(plain["weekdays"], 0),
        months=_with_short(plain["months"], 1),
        hours=_counts(plain["hours"]),
        ago=_counts(plain["ago"]),
    )


def _row(row: dict[str, Any], of_coral: bool) -> FactWords:
    slots = tuple(
        Slot(
            each["name"],
            each["is"],
            tuple(map(folded_text, each.get("after", ()))),
            bool(each.get("may")),
            tuple(map(folded_text, each.get("units", ()))),
            bool(each.get("with_unit")),
        )
        for each in row["slots"]
    )
    return FactWords(
        row["into"], tuple(map(folded_text, row["words"])), slots, row.get("set", {}), bool(row.get("bare")), of_coral
    )


def _folded(words: Mapping[str, Any]) -> dict[str, Any]:
    return {folded_text(word): meant for word, meant in words.items()}


def _counts(words: Mapping[str, str]) -> dict[str, int]:
    return {folded_text(word): int(number) for word, number in words.items()}


def _with_short(names: list[str], first: int) -> dict[str, int]:
    """The number of each name; of those that stand in one place, of the first one's first three letters too."""
    return {each: number for number, name in enumerate(names, first) for each in (*name.split(), name[:3])}


def nearly(word: str, openings: tuple[str, ...]) -> str:
    """The opening that a word of four letters or more is one slip away from, or "" if there is none."""
    if len(word) < 4:
        return ""
    return next((each for each in openings if len(each) > 3 and each != word and _one_slip(word, each)), "")


def _one_slip(a: str, b: str) -> bool:
    """Whether one letter more, less or other, or two swapped, makes one word of the other."""
    if abs(len(a) - len(b)) > 1:
        return False
    at = next((i for i, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
    return (
        a[at + 1 :] == b[at + 1 :]
        or a[at:] == b[at + 1 :]
        or a[at + 1 :] == b[at:]
        or (a[at : at + 2] == b[at : at + 2][::-1] and a[at + 2 :] == b[at + 2 :])
    )
