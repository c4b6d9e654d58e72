"""The pages about a system's uptake: every coral's share, and a report for every large change."""

from collections.abc import Iterator

from generator.records.source import Source
from generator.render import links
from generator.render.environment import PageOut, told
from generator.render.pages.change import change_address, change_page
from generator.render.pages.desk import Desk
from generator.render.pages.shares import shares_page


def demand_pages(desk: Desk) -> Iterator[tuple[PageOut, Source]]:
    """The pages of every system of the view, each with the record it is about; none about a hidden coral."""
    for id, system in desk.view.systems.items():
        if id in desk.findings and id in desk.found.shares:
            url = links.shares_of(id)
            yield told(url, shares_page(desk.at(url), system, desk.found.shares[id])), system.source
        for change in desk.found.changes.get(id, ()):
            if change.coral in desk.view.corals:
                url = change_address(change)
                yield told(url, change_page(desk.at(url), system, change)), desk.view.corals[change.coral].source
