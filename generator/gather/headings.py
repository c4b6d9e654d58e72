"""What a column's heading says: a quantity with its unit, a day, a note, a dose, a name; and what is in a cell."""

import importlib.resources
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from functools import cache
from typing import Any, Literal
from zoneinfo import ZoneInfo

import yaml
from msgspec import Struct

from generator.shorthand.finish import id_of
from generator.shorthand.scanner import folded_text, word_tables
from generator.units.kinds import KINDS, WATER_KINDS, kind_named, kinds_of_unit, unit_said_by

Role = Literal[
    "level", "day", "clock", "system", "note", "name", "value", "unit", "below", "kit", "dose", "pump", "change",
    "field", "event", "ignore", "unknown",
]  # fmt: skip


class _Words(Struct, frozen=True):
    """The words of `words.yaml`. A quantity is its kind, and the unit or element that its name says."""

    roles: Mapping[str, Role]
    quantities: Mapping[str, tuple[str, str]]
    elements: frozenset[str]
    pump: frozenset[str]
    coral: Mapping[str, str]
    events: Mapping[str, str]


@cache
def _words() -> _Words:
    text = (importlib.resources.files("generator.gather") / "words.yaml").read_text(encoding="utf-8")
    # Every scalar stays text: elsewhere YAML takes `no` for false.
    plain: dict[str, Any] = yaml.load(text, Loader=yaml.BaseLoader)
    return _Words(
        {word: role for role, words in plain["roles"].items() for word in words},
        {name: (each["kind"], each["as"]) for each in plain["quantities"] for name in each["names"]},
        frozenset(plain["elements"]),
        frozenset(plain["pump"]),
        *({word: field for field, words in plain[of].items() for word in words} for of in ("coral", "events")),
    )


# Stands for a unit that is written, and is none of the quantity.
UNSURE = "?"
_UNIT = re.compile(r"[(\[]\s*([^)\]]*?)\s*[)\]]")
_POURED = re.compile(r"(\w[\w -]*?) *[(\[]? *m?l *(?:/ *\w+)? *[)\]]?", re.IGNORECASE)
_SPLIT = re.compile(r"\s+|(?<=\w)[:,;](?=\s|$)|_")


class Heading(Struct, frozen=True):
    """A heading and what it says.

    `of` is the kind of a level, the solution of a dose or a pump, or the field of a coral or of its event. `label` is
    what is left of the text: perhaps the name of a tank.
    """

    text: str
    role: Role
    of: str = ""
    unit: str = ""
    label: str = ""


TableKind = Literal["", "coral", "events"]


def heading(
    text: str, names: Mapping[str, Mapping[str, str]], told: Mapping[str, str], table: TableKind = ""
) -> Heading:
    """What a heading says. `names` are those of the journal, `told` what the keeper said a heading means.

    `table` says that it is one of new corals, or of what happened to corals.
    """
    asked = told.get(folded_text(text))
    if asked is not None:
        made = heading(asked, names, {}, table)
        return Heading(text, made.role, made.of, made.unit, "")
    name = folded_text(_UNIT.sub(" ", text)).strip()
    if table == "coral" and (field_of_it := _field(text, name, "field", _words().coral)):
        return field_of_it
    if table == "events" and (event := _field(text, name, "event", _words().events)):
        return event
    if name in _words().roles or name in ("ignore", "skip"):
        return Heading(text, _words().roles.get(name, "ignore"), unit=_in_brackets(text))
    first, _, rest = name.partition(" ")
    if first in _words().elements and (not rest or _is_unit(rest)):
        return Heading(text, "ignore", "element")
    return _level(text) or _dose(text, name, names.get("solution", {})) or Heading(text, "unknown", label=text)


def table_of(row: Sequence[str]) -> TableKind:
    """What a row of headings is of: new corals, by their species; or what happened to corals that are there."""
    if any(_words().coral.get(folded_text(cell)) == "species" for cell in row):
        return "coral"
    names = ((cell, folded_text(_UNIT.sub(" ", cell)).strip()) for cell in row)
    found = {event.of for each in names if (event := _field(*each, "event", _words().events))}
    return "events" if "coral" in found and found - {"coral", "place"} else ""


def _field(text: str, name: str, role: Role, fields: Mapping[str, str]) -> Heading | None:
    """A heading of a table of corals; its unit in brackets, or as its last word."""
    first, _, last = name.rpartition(" ")
    if name in fields:
        return Heading(text, role, fields[name], _in_brackets(text))
    measured = first in fields and any(KINDS[kind].unit(last) for kind in ("length", "mass"))
    return Heading(text, role, fields[first], last) if measured else None


def unit_of(kind: str, text: str, per: str = "") -> str | None:
    """A unit as keepers write it, in the house's form; None if the kind has no such unit.

    `per` is the element in which a laboratory counts: `P` for phosphate as phosphorus.
    """
    said = re.sub(r"\s+", " ", text.strip()).replace("l⁻¹", "/L").replace(" l-1", "/L").replace(" L-1", "/L")
    if kind == "salinity" and re.fullmatch(r"s\.?g\.?", said, re.IGNORECASE):
        return "sg"
    said = re.sub(r"^ppm\b", "mg/L", said, flags=re.IGNORECASE) if re.search("caco3", said, re.IGNORECASE) else said
    counted = KINDS[kind].unit(f"{said} {per}") if per else None
    found = counted or KINDS[kind].unit(said) or KINDS[kind].unit(said.replace(" ", ""))
    if found is None:
        found = KINDS[kind].unit(re.sub(r"^ppm\b", "mg/L", said)) or KINDS[kind].unit(re.sub(r"^ppb\b", "µg/L", said))
    if per and counted is None:
        return None
    return found.symbol if found else None


def _level(text: str) -> Heading | None:
    """A quantity, its unit in brackets or as the last words, and what is left."""
    brackets = _in_brackets(text)
    words = [word for word in _SPLIT.split(_UNIT.sub(" ", text)) if word and word not in ("-", "in", "·", "/", "|")]
    for size in range(len(words), 0, -1):
        for start in range(len(words) - size + 1):
            named = " ".join(words[start : start + size])
            kind, per = _kind(named)
            if kind is None:
                continue
            rest, after = words[:start], words[start + size :]
            unit, after = _unit(kind, per, brackets, after)
            again = [word for word in (*rest, *after) if _kind(word)[0] != kind]
            bare = unit or (per if per == "sg" else "") or unit_said_by(named, kind) or ""
            if per == "dKH" and not unit:
                bare = "dKH"
            of = f"{kind} {per}" if per in ("N", "P", "Si") else kind
            if _words().roles.get(folded_text(" ".join(again))) == "ignore":
                return Heading(text, "ignore")
            return Heading(text, "level", of, bare, " ".join(again))
    return None


def _kind(text: str) -> tuple[str | None, str]:
    name = folded_text(text)
    if name.endswith(".") and name not in _words().quantities:
        name = name[:-1]  # shortened, as Temp.
    if name in _words().quantities:
        return _words().quantities[name]
    kind = kind_named(name)
    return (kind if kind in WATER_KINDS else None), ""


def _unit(kind: str, per: str, brackets: str, after: list[str]) -> tuple[str, list[str]]:
    counted = per if per in ("N", "P", "Si") else ""
    if brackets and (unit := unit_of(kind, brackets, counted)):
        return unit, after
    for size in range(min(3, len(after)), 0, -1):
        if unit := unit_of(kind, " ".join(after[:size]), counted):
            return unit, after[size:]
    strange = next((each for each in (brackets, *after) if _is_unit(each)), "")
    return (UNSURE if strange else ""), [each for each in after if each != strange]


def _is_unit(text: str) -> bool:
    return folded_text(text) in ("ppm", "ppb") or (len(text) > 1 and bool(kinds_of_unit(text)))


def _dose(text: str, name: str, solutions: Mapping[str, str]) -> Heading | None:
    for word, id in sorted(solutions.items(), key=lambda each: -len(each[0])):
        if re.search(rf"(?<!\w){re.escape(word)}(?!\w)", name):
            match = re.search(r"(?<!\w)m?l(/\w+)?(?!\w)", name)
            unit = _in_brackets(text) or (match[0] if match else "")
            rate, found = KINDS["rate"].unit(unit), KINDS["volume"].unit(unit)
            left = folded_text(re.sub(rf"(?<!\w){re.escape(word)}(?!\w)", " ", name)).split()
            if rate or (not found and _words().pump & set(left)):
                return Heading(text, "pump", id, rate.symbol if rate else "")
            return Heading(text, "dose", id, found.symbol if found else "")
    return None


def poured(text: str) -> str:
    """The id of the solution that a heading may name, before a volume or a rate; "" if it names none."""
    found = _POURED.fullmatch(text.strip())
    return id_of(found[1]) if found else ""


def _in_brackets(text: str) -> str:
    found = _UNIT.search(text)
    return found[1] if found else ""


DateOrder = Literal["day-month-year", "month-day-year", "year-month-day"]
EMPTY = frozenset(("", "-", "--", "–", "—", "n/a", "na", "nan", "none", "null", "n.a.", "x", "/", "not tested"))
_NUMBER = re.compile(r"([<>≤≥~≈]?)\s*([-−+]?(?:\d[\d.,'’\u00a0\u202f]*|[.,]\d+))\s*(.*)", re.DOTALL)
_THOUSANDS = re.compile(r"[1-9]\d{0,2}([.,])\d{3}")
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?!\d)")
_NUMERIC = re.compile(r"(\d{1,2})([./-])\s?(\d{1,2})\2\s?(\d{4}|\d{2})\b")
_DAY_WORD = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?[. -]+([^\W\d_]{3,})[.,]?[ -]+(\d{4}|\d{2})\b")
_WORD_DAY = re.compile(r"([^\W\d_]{3,})\.? +(\d{1,2})(?:st|nd|rd|th)?,? +(\d{4})\b")
_CLOCK = re.compile(
    r"(\d{1,2})(?:[:.h](\d{2}))?(?::\d{2}(?:\.\d+)?)?\s*(am|pm|a\.m\.|p\.m\.)?\s*(?:uhr|h)?", re.IGNORECASE
)
# The months' names that other languages write differently, by their first three letters.
_MONTHS = {"mär": 3, "mrz": 3, "mae": 3, "mai": 5, "okt": 10, "dez": 12}
# Spreadsheets count days from here.
_DAY_ZERO = date(1899, 12, 30)


class Number(Struct, frozen=True):
    """A number as a cell has it: its digits with a decimal point, `<` before it, and what comes after it.

    `other` is the same number where its only sign may part thousands or decimals, otherwise "".
    """

    digits: str
    below: bool
    rest: str
    other: str = ""


def empty(cell: str) -> bool:
    """Whether a cell says that there is nothing."""
    return cell.strip().casefold() in EMPTY


def number_in(cell: str, decimal: str = "") -> Number | None:
    """The number at the start of a cell; `decimal` is the sign for what could be read in two ways.

    Only a number, after which comes nothing or a unit: None for `~8`, `>20`, a date or words.
    """
    match = _NUMBER.fullmatch(cell.strip())
    if match is None or match[1] not in ("", "<", "≤"):
        return None
    digits = re.sub(r"['’\u00a0\u202f]", "", match[2]).replace("−", "-").lstrip("+").rstrip(".,")
    other = ""
    if "," in digits and "." in digits:
        last = max(digits.rfind(","), digits.rfind("."))
        digits = re.sub(r"[.,]", "", digits[:last]) + "." + digits[last + 1 :]
    elif found := _THOUSANDS.fullmatch(digits):
        whole, parted = re.sub(r"[.,]", "", digits), digits.replace(",", ".")
        digits, other = (parted, whole) if (decimal or found[1]) == found[1] else (whole, parted)
        other = "" if decimal else other
    elif digits.count(",") > 1 or digits.count(".") > 1:
        digits = re.sub(r"[.,]", "", digits)
    digits = digits.replace(",", ".")
    if digits.startswith((".", "-.")):
        digits = digits.replace(".", "0.", 1)
    return Number(digits, bool(match[1]), match[3].strip(), other)


def decimal_sign(cells: Iterable[str]) -> str:
    """The decimal sign that the numbers of a sheet show, or "" if they show none, or both."""
    signs = set()
    for cell in cells:
        match = _NUMBER.fullmatch(cell.strip())
        digits = match[2] if match else ""
        if re.fullmatch(r"-?\d+[.,]\d+", digits) and not _THOUSANDS.fullmatch(digits) and not days_in(cell):
            signs.add("," if "," in digits else ".")
    return signs.pop() if len(signs) == 1 else ""


def days_in(cell: str) -> dict[DateOrder, date]:
    """The day at the start of a cell, by each order in which it can be read; none if there is not a day."""
    text = cell.strip()
    found: dict[DateOrder, date] = {}

    def put(order: DateOrder, year: str, month: int, day: int) -> None:
        whole = int(year) + (2000 if len(year) == 2 else 0)
        try:
            found[order] = date(whole, month, day)
        except ValueError:
            return

    text = re.sub(r"^[^\W\d_]{2,}[.,]? +(?=\d)", "", text) if not _WORD_DAY.match(text) else text
    if match := _ISO.match(text):
        put("year-month-day", match[1], int(match[2]), int(match[3]))
    elif match := _NUMERIC.match(text):
        put("day-month-year", match[4], int(match[3]), int(match[1]))
        put("month-day-year", match[4], int(match[1]), int(match[3]))
    elif (match := _DAY_WORD.match(text)) and (month := _month(match[2])):
        put("year-month-day", match[3], month, int(match[1]))
    elif (match := _WORD_DAY.match(text)) and (month := _month(match[1])):
        put("year-month-day", match[3], month, int(match[2]))
    return found


def serial_day(cell: str) -> date | None:
    """The day that a spreadsheet counts as a number; 30000 is in 1982, 60000 in 2064."""
    number = number_in(cell, ".")
    value = float(number.digits) if number and not number.rest else 0.0
    return _DAY_ZERO + timedelta(days=int(value)) if 30000 <= value < 60000 else None


def moment_in(cell: str, zone: ZoneInfo) -> datetime | None:
    """The local time of a moment written with its offset from UTC, as our own files have it."""
    try:
        found = datetime.fromisoformat(cell.strip())
    except ValueError:
        return None
    return found.astimezone(zone).replace(tzinfo=None) if found.tzinfo else None


def clock_in(cell: str) -> time | None:
    """The hour in a cell, or after the day in it: `8:40`, `8:40 pm`, `20h15`, `evening`."""
    text = cell.strip().casefold()
    for pattern in (_ISO, _NUMERIC, _DAY_WORD, _WORD_DAY):
        if match := pattern.search(text):
            text = text[match.end() :].lstrip(" t,")
            break
    if text in word_tables().hours:
        return time(word_tables().hours[text])
    match = _CLOCK.fullmatch(text)
    if match is None or not (match[2] or match[3]):
        return None
    hour = int(match[1]) % 12 + (12 if match[3][0] == "p" else 0) if match[3] else int(match[1])
    return time(hour, int(match[2] or 0)) if hour < 24 and int(match[2] or 0) < 60 else None


def _month(word: str) -> int | None:
    short = word.casefold()[:3]
    return _MONTHS.get(short) or word_tables().months.get(short)
