"""The downloads and what each of their columns means."""

from generator.render import links
from generator.render.blocks import Paragraph, Section, facts, row, section
from generator.render.downloads import TABLES, Table
from generator.render.inline import Link, code
from generator.render.page import Page
from generator.render.pages.desk import Desk, page


def data_page(desk: Desk) -> Page:
    """The page that explains the downloads."""
    return page(desk, "data", "data", *(_table(desk, table) for table in TABLES), lead=desk.words("data.lead"))


def _table(desk: Desk, table: Table) -> Section:
    """One kind of download: what it holds, where it is, and its columns."""
    words, key = desk.words, f"data.tables.{table.name}"
    return section(
        words(f"{key}.name"),
        Paragraph(words(f"{key}.text")),
        row(*_files(desk, table.address)),
        facts(*((code(name), words(f"{key}.columns.{name}")) for name in table.columns)),
        id=table.name,
    )


def _files(desk: Desk, address: str) -> list[Link]:
    if "{system}" not in address:
        return [desk.link(address, address)]
    return [desk.link(address.format(system=id), system.name) for id, system in desk.view.systems.items()]


def not_found_page(desk: Desk) -> Page:
    """The page for an unknown address. Hosts serve it at any depth, so its links start at the site's root if known."""
    home = desk.link(links.HOME, desk.words("not_found.home"))
    return page(desk, "not_found", "", Paragraph(home, "onward"))
