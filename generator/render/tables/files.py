"""Tables of data and their columns, and every file of them: CSV, SQLite, the data package, and the journal as JSON."""

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from datetime import datetime
from itertools import chain
from operator import itemgetter
from typing import Any, Literal, NamedTuple, cast

from msgspec import Struct

from generator import __version__
from generator.door.door import Door, grouped, later
from generator.records.source import Source
from generator.render.base import links
from generator.render.base.words import Words
from generator.render.found import Basis
from generator.render.tables.cells import Cell, Row, Rows, csv_of, in_sqlite, stored_of
from generator.units.quantity import Estimate

with later():  # to draw an entry anew needs none of what it calculates with
    from generator.render.tables import contents as _contents

JOURNAL = "data/journal.json"
SQLITE = "data/corallite.sqlite"
PACKAGE = "data/datapackage.json"
_SQL_TYPES = {"number": "REAL", "integer": "INTEGER", "boolean": "INTEGER"}
# The names of Table Schema, the open standard in which the data package describes the columns.
Type = Literal["string", "number", "integer", "boolean", "date", "datetime"]
_Rows = Callable[[Basis, str], Iterable[Row]]
# What the rows of a table are told by.
By = Literal["", "systems", "stretches", "corals"]


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

    `rows` gets the id of a system, a stretch of a system's water or a coral if they are told `by` each of them,
    otherwise "". There is one file for each system, and one of all corals. `kind_by_kind`: those of one quantity come
    together, and a file has the quantities in order.
    """

    name: str
    rows: _Rows
    columns: tuple[Column, ...]
    by: By = ""
    kind_by_kind: bool = False

    @property
    def by_system(self) -> bool:
        """Whether each system has its own file."""
        return self.by in ("systems", "stretches")

    @property
    def address(self) -> str:
        """The address of its file in the site; `{system}` stands for a system's id."""
        return f"data/systems/{{system}}/{self.name}.csv" if self.by_system else f"data/{self.name}.csv"

    def files(self, basis: Basis) -> tuple[str, ...]:
        """The systems that have a file; "" for a table with one file."""
        return tuple(basis.view.systems) if self.by_system else ("",)

    def ids(self, basis: Basis, file: str) -> tuple[str, ...]:
        """The ids to ask `cells` for, of one of its files."""
        if self.by == "stretches":
            return tuple(stretch for stretch in basis.found.stretches if stretch.rpartition("/")[0] == file)
        return tuple(basis.view.corals) if self.by == "corals" else (file,)

    def cells(self, basis: Basis, id: str) -> Iterator[tuple[Cell, ...]]:
        """The cells of each row. Moments are on the keeper's clock; sources hidden from the audience are left out."""
        for row in self.rows(basis, id):
            yield tuple(_cell(basis, cell) for cell, _ in zip(row, self.columns, strict=True))


def table(columns: str, by: By = "", kind_by_kind: bool = False) -> Callable[[_Rows], DataTable]:
    """Make a table of the function that yields its rows, under that one's name; its columns in words, between commas.

    `id` holds text, `x number in cm` numbers in cm, `value number by unit` numbers in the unit of column `unit`.
    """
    told = tuple(_column(*each.split()) for each in columns.split(","))
    return lambda rows: DataTable(rows.__name__, rows, told, by, kind_by_kind)


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
        return _database(_table(addresses, address), chain.from_iterable(each.stored for each in told_of(address)))

    def told_of(address: str) -> Iterator[_SomeRows]:
        table, (_, file) = _table(addresses, address), addresses()[address]
        if table.by == "corals":
            told = dict(chain(*of_corals()))
            parts = [told[id][table.name] for id in table.ids(basis, file)]
        elif table.by == "stretches":
            parts = [of_stretch(stretch)[table.name] for stretch in table.ids(basis, file)]
        else:
            parts = [_by_kind(table, rows(address))]
        return (part[kind] for kind in sorted({*chain(*parts)}) for part in parts if kind in part)

    rows = door.step("rows of", rows_at, keep=False)
    of_stretch = door.step("rows of stretch", lambda stretch: _rows_told_by("stretches", basis, stretch))
    stored = door.step("rows in SQLite", stored_at)
    corals = door.in_parts("corals in data", lambda: basis.view.corals, lambda ids: _corals(basis, ids))
    entries = door.in_parts("entries in data", lambda: basis.view.entries, lambda ids: _entries(basis, ids))

    def csv_at(address: str) -> bytes:
        table = _table(addresses, address)
        heads = csv_of([[each.name for each in table.columns]])
        return "".join((heads, *(each.lines for each in told_of(address)))).encode()

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
    whole: Rows = []
    for file in table.files(basis):
        rows = [row for id in table.ids(basis, file) for row in table.cells(basis, id)]
        rows.sort(key=_kind_in(table))
        whole += ((file, *row) if table.by_system else row for row in rows)
    return whole


def _kind_in(table: DataTable) -> Callable[[Sequence[Cell]], str]:
    """What tells which rows of a table come together."""
    if not table.kind_by_kind:
        return lambda _: ""
    at = next(at for at, column in enumerate(table.columns) if column.name == "quantity")
    return lambda row: str(row[at])


class _SomeRows(NamedTuple):
    """Some rows of a table, as SQLite keeps them, and as lines of text."""

    stored: list[list[Any]]
    lines: str


# Rows of a table by quantity where those of one come together, otherwise under "".
_ByKind = dict[str, _SomeRows]


def _by_kind(table: DataTable, rows: Rows) -> _ByKind:
    kind_of = _kind_in(table)
    kinds = grouped((kind_of(row), row) for row in rows)
    return {kind: _SomeRows(stored_of(some), csv_of(some)) for kind, some in kinds.items()}


def _rows_told_by(what: By, basis: Basis, id: str) -> dict[str, _ByKind]:
    """The rows of every table that is told by corals or by stretches, of one of these."""
    tables = (table for table in _contents.TABLES if table.by == what)
    return {table.name: _by_kind(table, list(table.cells(basis, id))) for table in tables}


def _rows_of_corals(basis: Basis, ids: Iterable[str]) -> list[tuple[str, dict[str, _ByKind]]]:
    return [(id, _rows_told_by("corals", basis, id)) for id in ids]


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
        "as_of": in_sqlite(basis.found.as_of.astimezone(basis.display.zone)),
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
