"""From a file's bytes to sheets of text: CSV and TSV of any delimiter and encoding, XLSX, ODS."""

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from generator.gather.workbooks import CannotRead, Row, ods, xlsx

_DELIMITERS = ("\t", ";", "|", ",")
_LARGEST = 50_000_000
Reader = Callable[[bytes], Iterator[tuple[str, tuple[Row, ...]]]]
_READERS: dict[str, Reader] = {"xlsx": xlsx, "xlsm": xlsx, "ods": ods}


class CannotOpen(ValueError):
    """A file that is no spreadsheet, or that needs a reader which is not installed; the text says how to mend it."""


@dataclass(frozen=True, slots=True)
class Sheet:
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
