"""The evidence for a table of figures, row by row: the parts of their uncertainty, and their log lines."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot

from generator.reckon.finding import UncertaintyPart
from generator.records.source import Source
from generator.render.blocks import FileLines
from generator.render.inline import Link
from generator.render.numbers import say_deviation
from generator.render.pages.desk import Desk
from generator.render.pages.why import by_file, to_method


@dataclass(frozen=True, slots=True)
class Parts:
    """The parts of one figure's uncertainty, and the unit and factor by which they are shown."""

    parts: Sequence[UncertaintyPart]
    unit: str
    factor: float = 1.0


@dataclass(frozen=True, slots=True)
class Ground:
    """The evidence for one row of a table: its name, the parts of each of its figures, and its lines."""

    name: str
    figures: tuple[Parts, ...]
    inputs: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class BehindRow:
    """One row: a cell for each cause, with its part of each figure ("" for none), and the lines by file."""

    name: str
    cells: tuple[str, ...]
    files: tuple[FileLines, ...]


@dataclass(frozen=True, slots=True)
class Behind:
    """The evidence for a table of figures: its method, the causes of uncertainty, and a row for each of its rows."""

    method: Link
    causes: tuple[str, ...]
    rows: tuple[BehindRow, ...]


def behind(desk: Desk, method: str, grounds: Iterable[Ground]) -> Behind:
    """The evidence for a table, with those of its lines that this audience may read."""
    every = tuple(grounds)
    causes = tuple(dict.fromkeys(part.cause for row in every for figure in row.figures for part in figure.parts))
    return Behind(
        to_method(desk, method),
        tuple(desk.words(f"causes.{cause}") for cause in causes),
        tuple(_row(desk, ground, causes) for ground in every),
    )


def lengths(desk: Desk, parts: Sequence[UncertaintyPart]) -> Parts:
    """Parts in cm as the journal shows lengths."""
    return Parts(parts, desk.words.unit(desk.display.unit("length")), desk.display.change("length", 1.0))


def _row(desk: Desk, ground: Ground, causes: tuple[str, ...]) -> BehindRow:
    told = [source for source in ground.inputs if desk.view.tells(source)]
    return BehindRow(ground.name, tuple(_cell(desk, ground, cause) for cause in causes), by_file(desk.words, told))


def _cell(desk: Desk, ground: Ground, cause: str) -> str:
    """A cause's part of each figure of a row, side by side."""
    of_figures = (
        (hypot(*(part.standard for part in each.parts if part.cause == cause)) * each.factor, each.unit)
        for each in ground.figures
    )
    return ", ".join(say_deviation(desk.words, standard, unit) for standard, unit in of_figures if standard > 0.0)
