"""Every data file of a site: one CSV file a table, one SQLite file, the data package, and the journal as JSON."""

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
from functools import cache
from itertools import chain
from operator import itemgetter
from types import NoneType
from typing import Any, NamedTuple

from generator import __version__
from generator.door.door import Door
from generator.render.base import links
from generator.render.base.words import Words
from generator.render.tables.column import Basis, Cell, Column, DataTable

JOURNAL = "data/journal.json"
SQLITE = "data/corallite.sqlite"
PACKAGE = "data/datapackage.json"
SYSTEM = Column("system")
# A spreadsheet would run a cell that begins with one of these as a formula, full-width signs and unseen ones before it
# included.
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")
_UNSEEN = " \u00a0\u00ad\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"
# SQLite keeps these as they are; most cells are of these types.
_AS_THEY_ARE = frozenset((str, float, int, bool, NoneType))
_SQL_TYPES = {"number": "REAL", "integer": "INTEGER", "boolean": "INTEGER"}

Rows = list[tuple[Cell, ...]]


@cache
def all_tables() -> tuple[DataTable, ...]:
    """Every table, in the order of the data page."""
    from generator.render.tables.contents import TABLES

    return TABLES


def data_files(basis: Basis, words: Words, door: Door | None = None) -> Mapping[str, bytes]:
    """Every data file by its address in the site."""
    door = door or Door()
    addresses = door.one(
        "tables by address",
        lambda: {each.address.format(system=id): (each.name, id) for each in all_tables() for id in each.files(basis)},
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
        PACKAGE: lambda: _json(data_package(basis, words)),
    }
    return door.each(
        "data file",
        lambda: (*addresses(), *others),
        lambda address: others[address]() if address in others else csv_at(address),
        keep=False,
    )


def _table(addresses: Callable[[], Mapping[str, tuple[str, str]]], address: str) -> DataTable:
    return next(table for table in all_tables() if table.name == addresses()[address][0])


def whole_columns(table: DataTable) -> tuple[Column, ...]:
    """The columns where the rows of all systems are in one table: the system comes first."""
    return (SYSTEM, *table.columns) if table.by_system else table.columns


def whole_rows(table: DataTable, basis: Basis) -> Rows:
    """The rows of all systems, for `whole_columns`."""
    every = ((id, row) for id in table.ids(basis) for row in table.cells(basis, id))
    return [(id, *row) if table.by_system else row for id, row in every]


class _OfCoral(NamedTuple):
    """The rows of a table that are about one coral, as SQLite keeps them, and as lines of text."""

    stored: list[list[Any]]
    lines: str


def _rows_of_corals(basis: Basis, ids: Iterable[str]) -> list[tuple[str, dict[str, _OfCoral]]]:
    tables = [table for table in all_tables() if table.by == "corals"]
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
        for table in all_tables():
            columns = whole_columns(table)
            base.execute(f'CREATE TABLE "{table.name}" ({_declared(columns)})')
            told = [(table.name, c.name, c.unit, c.unit_in, meaning(words, table.name, c.name)) for c in columns]
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


def meaning(words: Words, table: str, column: str) -> str:
    """What a column means, in words."""
    told = f"data.tables.{table}.columns.{column}"
    return words(told if words.has(told) else f"data.every.{column}")


def data_package(basis: Basis, words: Words) -> dict[str, Any]:
    """The descriptor of the files: a tabular Data Package (Open Knowledge, Data Package 1.0, Table Schema 1.0)."""
    settings = basis.view.settings
    return {
        "profile": "data-package",
        "name": "corallite",
        "title": settings.title,
        "description": words("data.description"),
        "created": basis.found.as_of.astimezone(basis.display.zone).isoformat(timespec="seconds"),
        "resources": [
            *(_resource(table, id, words) for table in all_tables() for id in table.files(basis)),
            {
                "profile": "data-resource",
                "name": "journal",
                "path": JOURNAL.removeprefix("data/"),
                "title": words("data.tables.journal.name"),
                "description": words("data.tables.journal.text"),
                "format": "json",
                "mediatype": "application/json",
                "encoding": "utf-8",
            },
        ],
    }


def _resource(table: DataTable, system: str, words: Words) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": f"{table.name}.{system}" if system else table.name,
        "path": table.address.format(system=system).removeprefix("data/"),
        "title": words(f"data.tables.{table.name}.name"),
        "description": words(f"data.tables.{table.name}.text"),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "schema": {"fields": [_field(table, column, words) for column in table.columns], "missingValues": [""]},
    }


def _field(table: DataTable, column: Column, words: Words) -> dict[str, Any]:
    field = {"name": column.name, "type": column.type, "description": meaning(words, table.name, column.name)}
    if column.type == "datetime":
        field["format"] = "%Y-%m-%dT%H:%M:%S%z"
    # Table Schema has no word for units, and allows words of one's own.
    named = {"unit": column.unit, "unitField": column.unit_in}
    return {**field, **{key: value for key, value in named.items() if value}}


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
