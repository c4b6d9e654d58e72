"""What is in one cell: a number with its unit, a day, an hour."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from generator.shorthand.scanner import tables

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


@dataclass(frozen=True, slots=True)
class Number:
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
    if text in tables().hours:
        return time(tables().hours[text])
    match = _CLOCK.fullmatch(text)
    if match is None or not (match[2] or match[3]):
        return None
    hour = int(match[1]) % 12 + (12 if match[3][0] == "p" else 0) if match[3] else int(match[1])
    return time(hour, int(match[2] or 0)) if hour < 24 and int(match[2] or 0) < 60 else None


def _month(word: str) -> int | None:
    short = word.casefold()[:3]
    return _MONTHS.get(short) or tables().months.get(short)
