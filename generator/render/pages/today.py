"""The day's page: what needs the keeper, why, and how certain that is; or that nothing does."""

from dataclasses import dataclass

from generator.render import links
from generator.render.inline import Link
from generator.render.numbers import Moment, say_day
from generator.render.page import Frame
from generator.render.pages.attention import Matter, lines_at_risk, matters
from generator.render.pages.desk import Desk, frame
from generator.render.pages.entries import EntryLink, entry_links, newest_first
from generator.render.pages.next_tests import DuePlan, calendar_link, due_soon, first_line
from generator.render.pages.system import SystemCard, system_cards

# A keeper can do only so much in a day; the systems' own pages have all matters.
MOST_MATTERS = 7
_AT_A_GLANCE = ("alkalinity", "calcium", "magnesium", "salinity")
_NEWEST_ENTRIES = 3


@dataclass(frozen=True, slots=True)
class TodayPage:
    """What needs attention, every system at a glance, and the newest entries."""

    frame: Frame
    day: Moment
    headline: str
    about: str
    matters: tuple[Matter, ...]
    more: str
    at_risk: tuple[Link, ...]
    next_test: str
    tests: tuple[DuePlan, ...]
    calendar: Link
    systems: tuple[SystemCard, ...]
    entries: tuple[EntryLink, ...]
    journal: Link


def today_page(desk: Desk) -> TodayPage:
    """The day's page."""
    words, settings = desk.words, desk.view.settings
    needed = matters(desk)
    # The page shows what a keeper can do today, and counts the rest below.
    headline = words("today.needs", n=min(len(needed), MOST_MATTERS)) if needed else words("today.nothing")
    hidden = len(needed) - MOST_MATTERS
    return TodayPage(
        frame=frame(desk, words("today.title"), headline, "today"),
        day=say_day(desk.display, words, desk.today),
        headline=headline,
        about=settings.about or "",
        matters=needed[:MOST_MATTERS],
        more=words("today.more", n=hidden) if hidden > 0 else "",
        at_risk=lines_at_risk(desk) if hidden > 0 else (),
        next_test=first_line(desk),
        tests=due_soon(desk),
        calendar=calendar_link(desk),
        systems=system_cards(desk, _AT_A_GLANCE),
        entries=entry_links(desk, newest_first(desk.view.entries.values())[:_NEWEST_ENTRIES]),
        journal=desk.link(links.JOURNAL, words("today.all_entries")),
    )
