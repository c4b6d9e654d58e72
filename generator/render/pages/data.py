"""The data files and what each of their columns means."""

from typing import Any

from generator.render.base import links
from generator.render.base.blocks import Paragraph, Section, facts, row, section
from generator.render.base.context import Desk, page
from generator.render.base.inline import Inline, Link, code
from generator.render.base.page import Page
from generator.render.tables.column import Column, Table
from generator.render.tables.files import JOURNAL, JOURNAL_KEYS, PACKAGE, SQLITE, TABLES, meaning

Fact = tuple[Inline, Inline]
_IN_PYTHON = 'from generator.tables import tables; tables("content")["readings"]'


def data_page(desk: Desk) -> Page:
    """The page that explains the downloads."""
    words = desk.words
    keys: list[Fact] = [(code(key), meaning(words, "journal", key)) for key in JOURNAL_KEYS]
    return page(
        desk,
        "data",
        "data",
        row(desk.link(SQLITE, words("data.sqlite")), desk.link(PACKAGE, words("data.package"))),
        facts((words("data.python"), code(_IN_PYTHON))),
        *(_table(desk, table.name, _files(desk, table), _columns(desk, table)) for table in TABLES),
        _table(desk, "journal", [desk.link(JOURNAL, JOURNAL)], keys),
        lead=words("data.lead"),
    )


def _table(desk: Desk, name: str, files: list[Link], columns: list[Fact]) -> Section:
    """One kind of download: what it holds, where it is, and its columns."""
    told = f"data.tables.{name}"
    return section(
        desk.words(f"{told}.name"), Paragraph(desk.words(f"{told}.text")), row(*files), facts(*columns), id=name
    )


def _files(desk: Desk, table: Table[Any]) -> list[Link]:
    if not table.by_system:
        return [desk.link(table.address, table.address)]
    return [desk.link(table.address.format(system=id), system.name) for id, system in desk.view.systems.items()]


def _columns(desk: Desk, table: Table[Any]) -> list[Fact]:
    means = {each: meaning(desk.words, table.name, each.name) for each in table.columns}
    return [(code(each.name), f"{text} ({_kind(desk, each)})") for each, text in means.items()]


def _kind(desk: Desk, column: Column[Any]) -> str:
    """The type of a column's cells, and their unit."""
    words = desk.words
    unit = words.unit(column.unit) if column.unit else column.unit_in and words("data.unit_in", column=column.unit_in)
    return ", ".join(filter(None, (words(f"data.types.{column.type}"), unit)))


def not_found_page(desk: Desk) -> Page:
    """The page for an unknown address. Hosts serve it at any depth, so its links start at the site's root if known."""
    home = desk.link(links.HOME, desk.words("not_found.home"))
    return page(desk, "not_found", "", Paragraph(home, "onward"))
