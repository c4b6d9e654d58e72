"""Cells of tables, as lines of CSV and as SQLite keeps them."""

import csv
import io
import math
import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from types import NoneType
from typing import Any

from generator.records.source import Source

# A Decimal keeps the digits that the keeper wrote.
Cell = str | Decimal | float | int | bool | date | datetime | None
# A source is told to those who may read it.
Row = tuple[Cell | Source, ...]
Rows = list[tuple[Cell, ...]]
# A spreadsheet would run a cell that begins with one of these as a formula, full-width signs and unseen ones before it
# included.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
_UNSEEN = " \u00a0\u00ad\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"
# SQLite keeps these as they are; most cells are of these types.
_AS_THEY_ARE = frozenset((str, float, int, bool, NoneType))


def csv_of(rows: Iterable[Sequence[Cell]]) -> str:
    """Rows of a table, or its heads, as lines of text: RFC 4180."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows([_text(cell) for cell in row] for row in rows)
    return text.getvalue()


def _text(cell: Cell) -> str:
    if isinstance(cell, str):
        # Most cells begin with a plain letter or digit.
        if "0" <= cell[:1] <= "z" and cell[:1].isalnum():
            return cell
        begins = cell[:1] if cell[:1] in _FORMULA_STARTS else cell.lstrip(_UNSEEN)[:1]
        return f"'{cell}" if unicodedata.normalize("NFKC", begins) in _FORMULA_STARTS else cell
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "true" if cell else "false"
    if isinstance(cell, float):
        # Table Schema writes what is not finite as INF, -INF and NaN.
        return f"{cell:.6g}" if math.isfinite(cell) else "NaN" if math.isnan(cell) else f"{cell:.6g}".upper()
    return f"{cell:f}" if isinstance(cell, Decimal) else in_sqlite(cell)


def in_sqlite(cell: Cell) -> Any:
    """A cell as SQLite keeps it. Days and moments are RFC 3339 text."""
    if isinstance(cell, datetime):
        return cell.isoformat(timespec="seconds")
    if isinstance(cell, date):
        return cell.isoformat()
    return float(cell) if isinstance(cell, Decimal) else cell


def stored_of(rows: Iterable[Sequence[Cell]]) -> list[list[Any]]:
    """Rows of a table as SQLite keeps them."""
    return [[cell if type(cell) in _AS_THEY_ARE else in_sqlite(cell) for cell in row] for row in rows]
