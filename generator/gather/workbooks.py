"""From the bytes of a spreadsheet (XLSX, ODS) to its sheets as text: within limits, for it may be a stranger's.

A file of a kilobyte can unfold to gigabytes. So what it unfolds to is counted first, no entity of XML is taken, and no
sheet is read beyond more rows and columns than notes of a life have.
"""

import io
import re
import zipfile
from collections.abc import Iterable, Iterator
from datetime import date, datetime, time
from typing import Any
from xml.etree import ElementTree

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
