"""Tables of data and their columns, and every file of them: CSV, SQLite, the data package, and the journal as JSON."""

import csv
import io
import json
import math
import sqlite3
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from datetime import date, datetime
from decimal import Decimal
from itertools import chain
from operator import itemgetter
from types import NoneType
from typing import Any, Literal, NamedTuple, cast

from msgspec import Struct

from generator import __version__
from generator.door.door import Door, later
from generator.records.source import Source
from generator.render.base import links
from generator.render.base.words import Words
from generator.render.found import Basis
from generator.units.quantity import Estimate

with later():  # to draw an entry anew needs none of what it calculates with
    from generator.render.tables import contents as _contents

JOURNAL = "data/journal.json"
SQLITE = "data/corallite.sqlite"
PACKAGE = "data/datapackage.json"
# A spreadsheet would run a cell that begins with one of these as a formula, full-width signs and unseen ones before it
# included.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
_UNSEEN = " \u00a0\u00ad\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"
# SQLite keeps these as they are; most cells are of these types.
_AS_THEY_ARE = frozenset((str, float, int, bool, NoneType))
_SQL_TYPES = {"number": "REAL", "integer": "INTEGER", "boolean": "INTEGER"}
# The names of Table Schema, the open standard in which the data package describes the columns.
Type = Literal["string", "number", "integer", "boolean", "date", "datetime"]
# A Decimal keeps the digits that the keeper wrote.
Cell = str | Decimal | float | int | bool | date | datetime | None
# A source is told to those who may read it.
Row = tuple[Cell | Source, ...]
Rows = list[tuple[Cell, ...]]
_Rows = Callable[[Basis, str], Iterable[Row]]


class Column(Struct, frozen=True):
    """One column. Its meaning is in the catalogues, at `data.tables.TABLE.columns.NAME`.

    Its numbers are in `unit`, or each in the unit in the same row's column `unit_in`.
    """

    name: str
    type: Type = "string"
    unit: str = ""
    unit_in: str = ""


def _column(name: str, type_: str = "string", how: str = "", unit: str = "") -> Column:
    return Column(name, cast(Type, type_), unit if how == "in" else "", unit if how == "by" else "")


def ends(found: Estimate | None) -> tuple[float | None, float | None, float | None]:
    """The three cells of an estimate: its value, and the ends of its 90 % interval; None leaves them empty."""
    return (found.value, found.low, found.high) if found else (None, None, None)


class DataTable(Struct, frozen=True):
    """A table: its name, where its rows come from, and its columns in order.

    `rows` gets the id of a system or a coral if they are told `by` each of them, otherwise "". There is one file for
    each system, and one of all corals.
    """

    name: str
    rows: _Rows
    columns: tuple[Column, ...]
    by: Literal["", "systems", "corals"] = ""

    @property
    def by_system(self) -> bool:
        """Whether each system has its own file."""
        return self.by == "systems"

    @property
    def address(self) -> str:
        """The address of its file in the site; `{system}` stands for a system's id."""
        return f"data/systems/{{system}}/{self.name}.csv" if self.by_system else f"data/{self.name}.csv"

    def files(self, basis: Basis) -> tuple[str, ...]:
        """The systems that have a file; "" for a table with one file."""
        return tuple(basis.view.systems) if self.by_system else ("",)

    def ids(self, basis: Basis) -> tuple[str, ...]:
        """The ids to ask `cells` for."""
        return tuple(basis.view.corals) if self.by == "corals" else self.files(basis)

    def cells(self, basis: Basis, id: str) -> Iterator[tuple[Cell, ...]]:
        """The cells of each row. Moments are on the keeper's clock; sources hidden from the audience are left out."""
        for row in self.rows(basis, id):
            yield tuple(_cell(basis, cell) for cell, _ in zip(row, self.columns, strict=True))


def table(columns: str, by: Literal["", "systems", "corals"] = "") -> Callable[[_Rows], DataTable]:
    """Make a table of the function that yields its rows, under that one's name; its columns in words, between commas.

    `id` holds text, `x number in cm` numbers in cm, `value number by unit` numbers in the unit of column `unit`.
    """
    told = tuple(_column(*each.split()) for each in columns.split(","))
    return lambda rows: DataTable(rows.__name__, rows, told, by)


def _cell(basis: Basis, cell: Cell | Source) -> Cell:
    if isinstance(cell, Source):
        return str(cell) if basis.view.tells(cell) else None
    return cell.astimezone(basis.display.zone) if isinstance(cell, datetime) else cell


def data_files(basis: Basis, words: Words, door: Door | None = None) -> Mapping[str, bytes]:
    """Every data file by its address in the site."""
    door = door or Door()
    addresses = door.one(
        "tables by address",
        lambda: {
            each.address.format(system=id): (each.name, id) for each in _contents.TABLES for id in each.files(basis)
        },
    )
    of_corals = door.in_parts("rows of corals", lambda: basis.view.corals, lambda ids: _rows_of_corals(basis, ids))

    def rows_at(address: str) -> Rows:
        return list(_table(addresses, address).cells(basis, addresses()[address][1]))

    def stored_at(address: str) -> bytes:
        table = _table(addresses, address)
        of_each = (each.stored for each in told_of(table)) if table.by == "corals" else [stored_of(rows(address))]
        return _database(table, chain.from_iterable(of_each))

    def told_of(table: DataTable) -> Iterator[_OfCoral]:
        told = {id: of_tables[table.name] for id, of_tables in chain(*of_corals())}
        return (told[id] for id in basis.view.corals)

    rows = door.step("rows of", rows_at, keep=False)
    stored = door.step("rows in SQLite", stored_at)
    corals = door.in_parts("corals in data", lambda: basis.view.corals, lambda ids: _corals(basis, ids))
    entries = door.in_parts("entries in data", lambda: basis.view.entries, lambda ids: _entries(basis, ids))

    def csv_at(address: str) -> bytes:
        table = _table(addresses, address)
        heads = csv_of([[each.name for each in table.columns]])
        lines = (each.lines for each in told_of(table)) if table.by == "corals" else [csv_of(rows(address))]
        return "".join((heads, *lines)).encode()

    def sqlite() -> bytes:
        return _sqlite([(*named, stored(address)) for address, named in addresses().items()], words)

    others: dict[str, Callable[[], bytes]] = {
        JOURNAL: lambda: _json(journal(basis, corals(), entries())),
        SQLITE: sqlite,
        PACKAGE: lambda: _json(_contents.data_package(basis, words)),
    }
    return door.each(
        "data file",
        lambda: (*addresses(), *others),
        lambda address: others[address]() if address in others else csv_at(address),
        keep=False,
    )


def _table(addresses: Callable[[], Mapping[str, tuple[str, str]]], address: str) -> DataTable:
    return next(table for table in _contents.TABLES if table.name == addresses()[address][0])


def whole_columns(table: DataTable) -> tuple[Column, ...]:
    """The columns where the rows of all systems are in one table: the system comes first."""
    return (Column("system"), *table.columns) if table.by_system else table.columns


def whole_rows(table: DataTable, basis: Basis) -> Rows:
    """The rows of all systems, for `whole_columns`."""
    every = ((id, row) for id in table.ids(basis) for row in table.cells(basis, id))
    return [(id, *row) if table.by_system else row for id, row in every]


class _OfCoral(NamedTuple):
    """The rows of a table that are about one coral, as SQLite keeps them, and as lines of text."""

    stored: list[list[Any]]
    lines: str


def _rows_of_corals(basis: Basis, ids: Iterable[str]) -> list[tuple[str, dict[str, _OfCoral]]]:
    tables = [table for table in _contents.TABLES if table.by == "corals"]
    of_each = ((id, {table.name: list(table.cells(basis, id)) for table in tables}) for id in ids)
    return [(id, {name: _OfCoral(stored_of(rows), csv_of(rows)) for name, rows in of.items()}) for id, of in of_each]


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
    return f"{cell:f}" if isinstance(cell, Decimal) else _stored(cell)


def _stored(cell: Cell) -> Any:
    """A cell as SQLite keeps it. Days and moments are RFC 3339 text."""
    if isinstance(cell, datetime):
        return cell.isoformat(timespec="seconds")
    if isinstance(cell, date):
        return cell.isoformat()
    return float(cell) if isinstance(cell, Decimal) else cell


def stored_of(rows: Rows) -> list[list[Any]]:
    """Rows of a table as SQLite keeps them."""
    return [[cell if type(cell) in _AS_THEY_ARE else _stored(cell) for cell in row] for row in rows]


def _database(table: DataTable, stored: Iterable[list[Any]]) -> bytes:
    """The rows of one file as a database of their own, from which they are copied much faster than they are written."""
    with closing(sqlite3.connect(":memory:")) as base:
        with base:
            base.execute(f'CREATE TABLE "{table.name}" ({_declared(table.columns)})')
            blanks = ", ".join("?" * len(table.columns))
            base.executemany(f'INSERT INTO "{table.name}" VALUES ({blanks})', stored)
        return base.serialize()


def _sqlite(parts: Sequence[tuple[str, str, bytes]], words: Words) -> bytes:
    """One SQLite file with every table, and a table `columns` that explains them.

    `parts` have a table's name, the system if each has its own rows, and those as `_database` gives them.
    """
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as base:
        base.execute('CREATE TABLE "columns" ("table" TEXT, "column" TEXT, "unit" TEXT, "unit_in" TEXT, "means" TEXT)')
        for table in _contents.TABLES:
            columns = whole_columns(table)
            base.execute(f'CREATE TABLE "{table.name}" ({_declared(columns)})')
            told = [
                (table.name, c.name, c.unit, c.unit_in, _contents.meaning(words, table.name, c.name)) for c in columns
            ]
            base.executemany('INSERT INTO "columns" VALUES (?, ?, ?, ?, ?)', told)
            for _, system, stored in (part for part in parts if part[0] == table.name):
                base.execute("ATTACH ':memory:' AS part")
                base.deserialize(stored, name="part")
                own = (system,) if table.by_system else ()
                base.execute(
                    f'INSERT INTO main."{table.name}" SELECT {"?, " * len(own)}* FROM part."{table.name}"', own
                )
                base.execute("DETACH part")
        return base.serialize()


def _declared(columns: Sequence[Column]) -> str:
    return ", ".join(f'"{each.name}" {_SQL_TYPES.get(each.type, "TEXT")}' for each in columns)


# What journal.json holds, in order; the data page explains each.
JOURNAL_KEYS = ("title", "keeper", "as_of", "version", "systems", "corals", "entries")


_Told = list[dict[str, str | None]]


def journal(basis: Basis, corals: Iterable[_Told], entries: Iterable[_Told]) -> dict[str, Any]:
    """The journal's contents, with the address of each page; corals and entries come in parts."""
    view = basis.view
    return {
        "title": view.settings.title,
        "keeper": view.settings.keeper,
        "as_of": _stored(basis.found.as_of.astimezone(basis.display.zone)),
        "version": __version__,
        "systems": [
            {"id": each.id, "name": each.name, "page": links.page_of("system", each.id)}
            for each in view.systems.values()
        ],
        "corals": sorted(chain(*corals), key=itemgetter("id")),
        "entries": sorted(chain(*entries), key=itemgetter("id")),
    }


def _corals(basis: Basis, ids: Iterable[str]) -> _Told:
    corals = (basis.view.corals[id] for id in ids)
    return [
        {"id": each.id, "name": each.name, "line": each.line, "page": links.page_of("coral", each.id)}
        for each in corals
    ]


def _entries(basis: Basis, ids: Iterable[str]) -> _Told:
    return [
        {
            "id": each.id,
            "title": each.title,
            "at": each.at.isoformat(),
            "summary": each.summary,
            "page": links.page_of("entry", each.id),
        }
        for each in (basis.view.entries[id] for id in ids)
    ]


def _json(record: dict[str, Any]) -> bytes:
    return (json.dumps(record, ensure_ascii=False, indent=2) + "\n").encode()
