"""What a table of data is, and what each of its columns is: name, type and unit."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Literal, cast

from msgspec import Struct

from generator.door.door import Door
from generator.reckon.analysis.journal import Findings
from generator.records.source import Source
from generator.render.audience import View
from generator.render.base.numbers import Display, display_of
from generator.render.found import found_for
from generator.units.quantity import Estimate

# The names of Table Schema, the open standard in which the data package describes the columns.
Type = Literal["string", "number", "integer", "boolean", "date", "datetime"]
# A Decimal keeps the digits that the keeper wrote.
Cell = str | Decimal | float | int | bool | date | datetime | None
# A source is told to those who may read it.
Row = tuple[Cell | Source, ...]


@dataclass(frozen=True, slots=True)
class Basis:
    """What every table is made from: what one audience may see, what was calculated, and the units shown."""

    view: View
    found: Findings
    display: Display

    @property
    def today(self) -> date:
        """The day of the build where the keeper lives."""
        return self.found.as_of.astimezone(self.display.zone).date()


def basis_of(view: View, found: Findings, door: Door | None = None) -> Basis:
    """What tables and pages are made from, without what the audience may not see."""
    door = door or Door()
    seen = found_for(view, found, door)
    units = door.each("units read in", lambda: view.logs, lambda id: view.logs[id].units())
    display = door.one("display", lambda: display_of(view.settings, view.systems, units.values()))
    return door.view(Basis, view=lambda: view, found=lambda: seen, display=display)


class Column(Struct, frozen=True):
    """One column. Its meaning is in the catalogues, at `data.tables.TABLE.columns.NAME`.

    Its numbers are in `unit`, or each in the unit in the same row's column `unit_in`.
    """

    name: str
    type: Type = "string"
    unit: str = ""
    unit_in: str = ""


def columns_of(told: str) -> tuple[Column, ...]:
    """Columns in words, with commas between.

    `id` holds text, `x number in cm` numbers in cm, `value number by unit` numbers in the unit of column `unit`.
    """
    return tuple(_column(*each.split()) for each in told.split(","))


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
    rows: Callable[[Basis, str], Iterable[Row]]
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


def _cell(basis: Basis, cell: Cell | Source) -> Cell:
    if isinstance(cell, Source):
        return str(cell) if basis.view.tells(cell) else None
    return cell.astimezone(basis.display.zone) if isinstance(cell, datetime) else cell
