"""The first page of every site but the keeper's own: the journal, the corals and the water, for those who visit."""

from generator.render import links
from generator.render.blocks import section
from generator.render.page import Page
from generator.render.pages.corals import gallery
from generator.render.pages.desk import Desk, onward, page
from generator.render.pages.journal import entry_list, newest_first
from generator.render.pages.system import glance

_NEWEST_ENTRIES = 5
_NEWEST_CORALS = 8
_AT_A_GLANCE = ("alkalinity", "calcium", "magnesium", "salinity")


def front_page(desk: Desk) -> Page:
    """The page that greets a visitor; what the keeper has to do stands on the keeper's own site only."""
    words, settings = desk.words, desk.view.settings
    living = [coral for coral in desk.view.corals.values() if coral.lives_on(desk.today)]
    pictured = sorted(living, key=lambda coral: (bool(coral.photos), coral.arrival.at, coral.id), reverse=True)
    newest, corals = newest_first(desk.view.entries.values())[:_NEWEST_ENTRIES], pictured[:_NEWEST_CORALS]
    return page(
        desk,
        "front",
        "front",
        section(words("front.entries"), entry_list(desk, newest), onward(desk, links.JOURNAL, "today.all_entries"))
        if newest
        else None,
        section(words("front.corals"), gallery(desk, corals), onward(desk, links.CORALS, "front.all_corals"))
        if corals
        else None,
        section(words("front.systems"), glance(desk, _AT_A_GLANCE)),
        title=settings.title,
        description=settings.about or settings.title,
        lead=settings.about or "",
    )
