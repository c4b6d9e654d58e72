"""The downloads and what each of their columns means."""

from dataclasses import dataclass

from generator.render import links
from generator.render.downloads import TABLES
from generator.render.pages.desk import Desk, Frame, Link, frame


@dataclass(frozen=True, slots=True)
class Column:
    """A column's name and its meaning."""

    name: str
    text: str


@dataclass(frozen=True, slots=True)
class TableCard:
    """One kind of download: what it holds, where it is, and its columns."""

    id: str
    name: str
    text: str
    files: tuple[Link, ...]
    columns: tuple[Column, ...]


@dataclass(frozen=True, slots=True)
class DataPage:
    """Every download."""

    frame: Frame
    tables: tuple[TableCard, ...]


def data_page(desk: Desk) -> DataPage:
    """The page that explains the downloads."""
    words = desk.words
    return DataPage(
        frame(desk, words("data.title"), words("data.description"), "data"),
        tuple(
            TableCard(
                table.name,
                words(f"data.tables.{table.name}.name"),
                words(f"data.tables.{table.name}.text"),
                tuple(_files(desk, table.address)),
                tuple(Column(name, words(f"data.tables.{table.name}.columns.{name}")) for name in table.columns),
            )
            for table in TABLES
        ),
    )


def _files(desk: Desk, address: str) -> list[Link]:
    if "{system}" not in address:
        return [desk.link(address, address)]
    found = [(system.name, address.format(system=id)) for id, system in desk.view.systems.items()]
    return [desk.link(there, name) for name, there in found]


@dataclass(frozen=True, slots=True)
class NotFoundPage:
    """The page for an address without a page."""

    frame: Frame
    home: Link


def not_found_page(desk: Desk) -> NotFoundPage:
    """The page for an unknown address. Hosts serve it at any depth, so its links start at the site's root if known."""
    words = desk.words
    return NotFoundPage(
        frame(desk, words("not_found.title"), words("not_found.description"), ""),
        desk.link(links.HOME, words("not_found.home")),
    )
