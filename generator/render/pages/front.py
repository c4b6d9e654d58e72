"""The first page of every site but the keeper's own: the journal, the corals and the water, for those who visit."""

from dataclasses import dataclass

from generator.render import links
from generator.render.inline import Link
from generator.render.page import Frame
from generator.render.pages.corals import CoralRow, coral_rows
from generator.render.pages.desk import Desk, frame
from generator.render.pages.entries import EntryLink, entry_links, newest_first
from generator.render.pages.system import SystemCard, system_cards

_NEWEST_ENTRIES = 5
_NEWEST_CORALS = 8
_AT_A_GLANCE = ("alkalinity", "calcium", "magnesium", "salinity")


@dataclass(frozen=True, slots=True)
class FrontPage:
    """The journal's title and purpose, the newest entries and corals, every system at a glance."""

    frame: Frame
    title: str
    about: str
    entries: tuple[EntryLink, ...]
    journal: Link
    corals: tuple[CoralRow, ...]
    gallery: Link
    systems: tuple[SystemCard, ...]


def front_page(desk: Desk) -> FrontPage:
    """The page that greets a visitor; what the keeper has to do stands on the keeper's own site only."""
    words, settings = desk.words, desk.view.settings
    living = [coral for coral in desk.view.corals.values() if coral.lives_on(desk.today)]
    pictured = sorted(living, key=lambda coral: (bool(coral.photos), coral.arrival.at, coral.id), reverse=True)
    return FrontPage(
        frame=frame(desk, settings.title, settings.about or settings.title, "front"),
        title=settings.title,
        about=settings.about or "",
        entries=entry_links(desk, newest_first(desk.view.entries.values())[:_NEWEST_ENTRIES]),
        journal=desk.link(links.JOURNAL, words("today.all_entries")),
        corals=coral_rows(desk, pictured[:_NEWEST_CORALS]),
        gallery=desk.link(links.CORALS, words("front.all_corals")),
        systems=system_cards(desk, _AT_A_GLANCE),
    )
