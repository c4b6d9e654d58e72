"""The data files and what each of their columns means."""

from typing import Any

from generator.render.base import links
from generator.render.base.blocks import Paragraph, Section, facts, row, section
from generator.render.base.context import PageContext, page
from generator.render.base.inline import Inline, Link, code
from generator.render.base.page import Page
from generator.render.tables.column import Column, Table
from generator.render.tables.files import JOURNAL, JOURNAL_KEYS, PACKAGE, SQLITE, all_tables, meaning

Fact = tuple[Inline, Inline]
_IN_PYTHON = 'from generator.tables import tables; tables("content")["readings"]'


def data_page(ctx: PageContext) -> Page:
    """The page that explains the downloads."""
    words = ctx.words
    keys: list[Fact] = [(code(key), meaning(words, "journal", key)) for key in JOURNAL_KEYS]
    return page(
        ctx,
        "data",
        "data",
        row(ctx.link(SQLITE, words("data.sqlite")), ctx.link(PACKAGE, words("data.package"))),
        facts((words("data.python"), code(_IN_PYTHON))),
        *(_table(ctx, table.name, _files(ctx, table), _columns(ctx, table)) for table in all_tables()),
        _table(ctx, "journal", [ctx.link(JOURNAL, JOURNAL)], keys),
        lead=words("data.lead"),
        contents=True,
    )


def _table(ctx: PageContext, name: str, files: list[Link], columns: list[Fact]) -> Section:
    """One kind of download: what it holds, where it is, and its columns."""
    told = f"data.tables.{name}"
    return section(
        ctx.words(f"{told}.name"), Paragraph(ctx.words(f"{told}.text")), row(*files), facts(*columns), id=name
    )


def _files(ctx: PageContext, table: Table[Any]) -> list[Link]:
    if not table.by_system:
        return [ctx.link(table.address, table.address)]
    return [ctx.link(table.address.format(system=id), system.name) for id, system in ctx.view.systems.items()]


def _columns(ctx: PageContext, table: Table[Any]) -> list[Fact]:
    means = {each: meaning(ctx.words, table.name, each.name) for each in table.columns}
    return [(code(each.name), f"{text} ({_kind(ctx, each)})") for each, text in means.items()]


def _kind(ctx: PageContext, column: Column[Any]) -> str:
    """The type of a column's cells, and their unit."""
    words = ctx.words
    unit = words.unit(column.unit) if column.unit else column.unit_in and words("data.unit_in", column=column.unit_in)
    return ", ".join(filter(None, (words(f"data.types.{column.type}"), unit)))


def not_found_page(ctx: PageContext) -> Page:
    """The page for an unknown address. Hosts serve it at any depth, so its links start at the site's root if known."""
    home = ctx.link(links.HOME, ctx.words("not_found.home"))
    return page(ctx, "not_found", "", Paragraph(home, "onward"))
