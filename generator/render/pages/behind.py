"""The evidence for a table of figures, row by row: the parts of their uncertainty, and their log lines."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import hypot

from generator.reckon.finding import UncertaintyPart
from generator.records.source import Source
from generator.render.blocks import Fold, Paragraph, Table
from generator.render.inline import Inline, code, joined
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


def behind(desk: Desk, row: str, method: str, grounds: Iterable[Ground], tall: bool = True) -> Fold:
    """The evidence for a table: its method, the parts of each figure, and the lines that this audience may read.

    `row` heads the names. Where the rows are not `tall` on a telephone they are short, for there are many.
    """
    words, every = desk.words, tuple(grounds)
    causes = tuple(dict.fromkeys(part.cause for row in every for figure in row.figures for part in figure.parts))
    heads = (row, *(words(f"causes.{cause}") for cause in causes), words("system.source"))
    rows = tuple(_row(desk, ground, causes) for ground in every)
    title = words("why.titles")
    parts = f"{words('why.parts')} ({words('why.parts_note')}):" if causes else ""
    table = Table(title, heads, rows, "grounds tall" if tall else "grounds")
    return Fold(title, (Paragraph(joined(f"{words('why.method')}:", to_method(desk, method))), Paragraph(parts), table))


def lengths(desk: Desk, parts: Sequence[UncertaintyPart]) -> Parts:
    """Parts in cm as the journal shows lengths."""
    return Parts(parts, desk.words.unit(desk.display.unit("length")), desk.display.change("length", 1.0))


def _row(desk: Desk, ground: Ground, causes: tuple[str, ...]) -> tuple[Inline, ...]:
    """A cell for each cause, with its part of each figure ("" for none), and the lines by file."""
    told = [source for source in ground.inputs if desk.view.tells(source)]
    files = (joined(code(each.file), each.lines) for each in by_file(desk.words, told))
    return ground.name, *(_cell(desk, ground, cause) for cause in causes), joined(*files, by="; ")


def _cell(desk: Desk, ground: Ground, cause: str) -> str:
    """A cause's part of each figure of a row, side by side."""
    of_figures = (
        (hypot(*(part.standard for part in each.parts if part.cause == cause)) * each.factor, each.unit)
        for each in ground.figures
    )
    return ", ".join(say_deviation(desk.words, standard, unit) for standard, unit in of_figures if standard > 0.0)
