"""From a file's bytes to sheets of text: CSV and TSV of any delimiter and encoding, and workbooks (XLSX, ODS)."""

import codecs
import csv
import io
import re
import zipfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from datetime import date, datetime, time
from typing import Any
from xml.etree import ElementTree

from msgspec import Struct

Row = tuple[str, ...]

ROWS, COLUMNS = 100_000, 256
_UNFOLDED = 200_000_000
_ERRORS = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A")
# Names of OpenDocument 1.3 (OASIS); a length of time there is as in XML Schema.
_OFFICE, _TABLE, _TEXT = (
    f"{{urn:oasis:names:tc:opendocument:xmlns:{name}:1.0}}" for name in ("office", "table", "text")
)
_CLOCK = re.compile(r"PT(\d+)H(\d+)M.*")


class CannotRead(ValueError):
    """A spreadsheet that is broken or too large; the text says what is wrong."""


def xlsx(content: bytes) -> Iterator[tuple[str, tuple[Row, ...]]]:
    """The name and the rows of each sheet. Raises `CannotRead`, and `ImportError` without openpyxl."""
    import openpyxl

    _unfolded(content)
    try:
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        for sheet in book.worksheets:
            sheet.reset_dimensions()
            read = sheet.iter_rows(max_row=ROWS + 1, max_col=COLUMNS + 1, values_only=True)
            yield (
                sheet.title,
                _within(_cut(list(map(_said, row))) if row.count(None) < len(row) else () for row in read),
            )
    except CannotRead:
        raise
    except Exception as error:  # a broken file fails in as many ways as it can be broken
        raise CannotRead(" ".join(str(error).split())) from None


def ods(content: bytes) -> Iterator[tuple[str, tuple[Row, ...]]]:
    """The name and the rows of each sheet. Raises `CannotRead`."""
    _unfolded(content)
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            text = parts.read("content.xml")
        if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
            raise CannotRead("it declares entities")
        root = ElementTree.fromstring(text)
    except (zipfile.BadZipFile, KeyError, ElementTree.ParseError, NotImplementedError, RuntimeError, OSError) as error:
        raise CannotRead(str(error)) from None
    for table in root.iter(f"{_TABLE}table"):
        yield table.get(f"{_TABLE}name", ""), _within(_rows(table))


def _unfolded(content: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as parts:
            size = sum(part.file_size for part in parts.infolist())
    except (zipfile.BadZipFile, NotImplementedError, OSError) as error:
        raise CannotRead(str(error)) from None
    if size > _UNFOLDED:
        raise CannotRead(f"it unfolds to {size // 10**6} MB")


def _within(rows: Iterable[Row]) -> tuple[Row, ...]:
    """The rows up to the last that says something. Raises `CannotRead`."""
    found: list[Row] = []
    last = 0
    for row in rows:
        found.append(row)
        last = len(found) if row else last
        if len(row) > COLUMNS or last > ROWS:
            raise CannotRead(f"it has more than {ROWS} rows or {COLUMNS} columns")
    return tuple(found[:last])


def _cut(cells: list[str]) -> Row:
    """A row up to its last cell that says something."""
    while cells and not cells[-1]:
        cells.pop()
    return tuple(cells)


def _rows(table: ElementTree.Element) -> Iterator[Row]:
    left = ROWS + 1
    for row in table.iter(f"{_TABLE}table-row"):
        cells: list[str] = []
        for cell in row:
            if cell.tag in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
                times = min(_times(cell.get(f"{_TABLE}number-columns-repeated")), COLUMNS + 1 - len(cells))
                cells += [_of(cell)] * times
        times = min(_times(row.get(f"{_TABLE}number-rows-repeated")), left)
        left -= times
        yield from (_cut(cells),) * times


def _times(repeated: str | None) -> int:
    return int(repeated) if repeated and re.fullmatch(r"[1-9]\d{0,8}", repeated) else 1


def _of(cell: ElementTree.Element) -> str:
    """What a cell of OpenDocument says; its value where it has one, else its text."""
    kind = cell.get(f"{_OFFICE}value-type", "")
    if kind == "date":
        day, _, clock = cell.get(f"{_OFFICE}date-value", "").partition("T")
        return f"{day} {clock[:5]}" if clock[:5] not in ("", "00:00") else day
    if kind == "time" and (found := _CLOCK.fullmatch(cell.get(f"{_OFFICE}time-value", ""))):
        return f"{int(found[1]):02d}:{found[2]}"
    value = cell.get(f"{_OFFICE}value", "")
    if value and kind != "string":
        return _said(float(value)) if re.fullmatch(r"[-+]?\d{1,30}(\.\d{0,30})?([eE][-+]?\d{1,3})?", value) else value
    lines = (_inside(line) for line in cell if line.tag == f"{_TEXT}p")
    return "\n".join(lines).strip()


def _inside(line: ElementTree.Element) -> str:
    """The text of a paragraph; several blanks are an element of their own there."""
    for blanks in line.iter(f"{_TEXT}s"):
        blanks.text = " "
    return "".join(line.itertext())


def _said(value: Any) -> str:
    """A value of a spreadsheet as text: days and moments as in ISO 8601."""
    if isinstance(value, datetime):
        return f"{value:%Y-%m-%d}" if value.time() == time() else f"{value:%Y-%m-%d %H:%M}"
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float):
        return "" if value != value else f"{value:.10g}"
    return "" if value is None or value in _ERRORS else str(value).strip()


_DELIMITERS = ("\t", ";", "|", ",")
_LARGEST = 50_000_000
Reader = Callable[[bytes], Iterator[tuple[str, tuple[Row, ...]]]]
_READERS: dict[str, Reader] = {"xlsx": xlsx, "xlsm": xlsx, "ods": ods}


class CannotOpen(ValueError):
    """A file that is no spreadsheet, or that needs a reader which is not installed; the text says how to mend it."""


class Sheet(Struct, frozen=True):
    """A sheet as text; row n of the spreadsheet is `rows[n - 1]`. Days and moments are as in ISO 8601."""

    name: str
    rows: tuple[Row, ...]


def sheets_of(name: str, content: bytes) -> tuple[Sheet, ...]:
    """All sheets of a file, by the ending of its name. Raises `CannotOpen`."""
    if len(content) > _LARGEST:
        raise CannotOpen(f"{name} has more than {_LARGEST // 10**6} MB (save only the sheet with your notes)")
    ending = name.rpartition(".")[2].lower()
    if ending == "xls" or content.startswith(b"\xd0\xcf\x11\xe0"):
        raise CannotOpen(f"{name} is in the old format of before 2007 (save it as .xlsx, .ods or .csv)")
    if ending in _READERS or content.startswith(b"PK\x03\x04"):
        return _workbook(name, content, _READERS.get(ending, xlsx))
    text = _decoded(content)
    if "\x00" in text:
        raise CannotOpen(f"{name} is not a table of text (save it as .csv, .xlsx or .ods)")
    try:
        return (Sheet(name, _text_rows(text)),)
    except csv.Error as error:
        raise CannotOpen(f"{name} cannot be read as a table of text ({error})") from None


def _workbook(name: str, content: bytes, read: Reader) -> tuple[Sheet, ...]:
    try:
        return tuple(Sheet(title, rows) for title, rows in read(content))
    except ImportError:
        raise CannotOpen(
            f"{name} needs the package openpyxl (pip install 'corallite[gather]', or save the sheet as .csv)"
        ) from None
    except CannotRead as error:
        raise CannotOpen(
            f"{name} cannot be read as a spreadsheet: {error} (save the sheet with your notes as .csv)"
        ) from None


def _decoded(content: bytes) -> str:
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return content.decode("utf-16", errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _text_rows(text: str) -> tuple[Row, ...]:
    lines = text.splitlines()
    named = re.fullmatch(r"sep=(.)", lines[0].strip().strip('"')) if lines else None
    delimiter = named[1] if named else _delimiter(lines)
    if delimiter == "  ":
        return tuple(tuple(re.split(r"\s{2,}", line.strip())) for line in lines)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    found = [tuple(cell.strip() for cell in row) for row in rows]
    return ((), *found[1:]) if named else tuple(found)


def _delimiter(lines: list[str]) -> str:
    """The first sign that cuts most lines into equally many cells. Two spaces or more if none does."""
    best, most = "  ", 0.0
    told = [line for line in lines if line.strip()][:200]
    for sign in _DELIMITERS:
        counts = Counter(len(row) for row in csv.reader(told, delimiter=sign) if len(row) > 1)
        share = max(counts.values(), default=0) / max(1, len(told))
        # Decimal commas cut as evenly as delimiters do, so a rarer sign comes first.
        if share >= 0.5:
            return sign
        if share > most:
            best, most = sign, share
    return best
