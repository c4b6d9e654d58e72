"""The first page: what needs a keeper today, what greets everyone else; and every system at a glance."""

from collections.abc import Iterator

from msgspec import Struct

from generator.reckon.finding import Finding
from generator.reckon.water.findings import WaterFindings
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Paragraph, Section, group, items, row, section
from generator.render.base.context import PageContext, onward, page
from generator.render.base.links import Link, Phrase, Span, joined, plain_text
from generator.render.base.numbers import Shown
from generator.render.base.page import Page
from generator.render.pages.attention import links_to_lines_at_risk, matters
from generator.render.pages.deals import still_owed
from generator.render.pages.journal import entry_list
from generator.render.pages.next_tests import (
    ReadingCard,
    calendar_link,
    due_soon,
    first_line,
    nothing_due_words,
    reading_cards,
)
from generator.render.pages.offers import contact, gallery, offered
from generator.render.pages.system import MOST_MATTERS, leaving, standings_of, volume_words, within
from generator.render.pages.trades import account_card, newest_trades, over_time, trade_table
from generator.units.kinds import WATER_KINDS

_NEWEST_ENTRIES, _NEWEST_TODAY, _NEWEST_TRADES, _NEWEST_CORALS = 5, 3, 3, 4
AT_A_GLANCE = ("alkalinity", "calcium", "magnesium", "salinity")


def today_page(ctx: PageContext) -> Page:
    """The day's page: what needs attention, every system at a glance, the tests ahead and the newest entries."""
    words, settings = ctx.words, ctx.view.settings
    needed = matters(ctx)
    headline = words("today.needs", n=len(needed)) if needed else nothing_due_words(ctx)
    hidden = len(needed) - MOST_MATTERS
    rest = joined(*(Link(each.title, each.evidence.href) for each in needed[MOST_MATTERS:]), by="; ")
    at_risk = joined(*links_to_lines_at_risk(ctx), by=", ") if hidden > 0 else ""
    tests = due_soon(ctx)
    return page(
        ctx,
        "today",
        "today",
        Paragraph("" if needed else settings.about or "", "lead"),
        section(
            Span(words("today.matters"), look="unseen"),
            Drawn("matters", needed[:MOST_MATTERS]),
            Paragraph(joined(words("today.more", n=hidden), rest, by=" ") if hidden > 0 else "", "note"),
            Paragraph(
                joined(words("lines.at_risk"), Phrase((at_risk, "" if plain_text(at_risk).endswith(".") else ".")))
                if at_risk
                else "",
                "note",
            ),
        ),
        section(words("today.glance"), systems_at_a_glance(ctx, AT_A_GLANCE), onward(ctx, links.SINCE, "since.title")),
        section(words("next_tests.heading"), *tests, Paragraph(calendar_link(ctx), "onward")) if tests else None,
        _newest_entries(ctx, words("today.entries"), _NEWEST_TODAY),
        onward(ctx, links.GUIDES, "guides.title"),
        description=headline,
        heading=headline,
        over=ctx.say.day(ctx.today),
        lead=words("today.first", title=needed[0].title) if needed else first_line(ctx),
    )


def _newest_entries(ctx: PageContext, title: str, most: int) -> Section | None:
    """The newest entries of the journal, with the way to all; None without any."""
    newest = ctx.ties.newest[:most]
    return section(title, entry_list(ctx, newest), onward(ctx, links.JOURNAL, "today.all_entries")) if newest else None


def front_page(ctx: PageContext) -> Page:
    """The page that greets a visitor; what the keeper has to do stands on the keeper's own site only."""
    words, settings = ctx.words, ctx.view.settings
    living = [coral for coral in ctx.ties.corals if coral.lives_on(ctx.today)]
    newest = sorted(living, key=lambda coral: (coral.pictured, coral.came, coral.id), reverse=True)
    corals = [ctx.view.corals[coral.id] for coral in newest[:_NEWEST_CORALS]]
    return page(
        ctx,
        "front",
        "front",
        *(_between_us(ctx) if ctx.view.partner else ()),
        section(words("front.offered"), *offered(ctx), onward(ctx, links.OFFERS, "offers.title"))
        if ctx.view.shows_offers
        else None,
        section(words("front.corals"), gallery(ctx, corals), onward(ctx, links.CORALS, "front.all_corals"))
        if corals
        else None,
        group("side-by-side", _newest_entries(ctx, words("front.entries"), _NEWEST_ENTRIES), group("", *_beside(ctx))),
        section(
            words("front.systems"),
            systems_at_a_glance(ctx, AT_A_GLANCE),
            onward(ctx, links.SINCE, "since.title") if ctx.view.shows_weeks else None,
        ),
        title=settings.title,
        description=settings.about or settings.title,
        lead=settings.about or "",
    )


def _between_us(ctx: PageContext) -> Iterator[Section]:
    """For a partner, from their side: what was given, taken and is owed, and what came from them."""
    words, trades = ctx.words, newest_trades(ctx)
    accounts = ctx.found.trade.accounts.values()
    theirs = gallery(ctx, (each for each in ctx.view.corals.values() if each.arrival.partner == ctx.view.partner))
    if trades or accounts:
        yield section(
            words("front.trades", keeper=ctx.view.settings.keeper),
            items(*still_owed(ctx, list(accounts)), look="plain"),
            over_time(ctx, trades) if trades else None,
            group("accounts", *(account_card(ctx, each) for each in accounts)),
            trade_table(ctx, trades[:_NEWEST_TRADES]),
            onward(ctx, links.TRADES, "front.all_trades") if trades else None,
        )
    if theirs:
        yield section(words("front.theirs"), theirs)


def _beside(ctx: PageContext) -> Iterator[Section]:
    """How to reach the keeper, and where to go on reading."""
    words = ctx.words
    yield section(words("front.contact"), contact(ctx), id="contact")
    ways = {links.LINES: "front.lines", links.SURVIVAL: "survival.title", links.TRACK_RECORD: "track_record.title"}
    yield section(words("front.more"), row(*(ctx.link(url, words(key)) for url, key in ways.items())))


class SystemCard(Struct, frozen=True):
    """One system in a list: its water at a glance."""

    link: Link
    about: str
    volume: str
    corals: str
    uptake_words: str
    uptake: Shown | None
    last_reading: str
    readings: tuple[ReadingCard, ...]
    state: str
    state_words: str


def systems_page(ctx: PageContext) -> Page:
    """The index of systems."""
    return page(ctx, "systems", "systems", systems_at_a_glance(ctx, WATER_KINDS))


def systems_at_a_glance(ctx: PageContext, kinds: tuple[str, ...]) -> Block:
    """Every system of the view at a glance, with the readings of some quantities."""
    systems = {id: system for id, system in ctx.view.systems.items() if id in ctx.findings}
    cards = tuple(card_of(ctx, system, ctx.findings[id], kinds) for id, system in systems.items())
    return Drawn("systems", cards) if cards else Paragraph(ctx.words("today.no_systems"))


def card_of(ctx: PageContext, system: System, findings: WaterFindings, kinds: tuple[str, ...]) -> SystemCard:
    """A system at a glance."""
    words = ctx.words
    readings = reading_cards(ctx, system, findings)
    uptake = findings.uptake.get("alkalinity")
    shown = None
    if uptake and isinstance(uptake.per_day, Finding):
        shown = ctx.say.per_day("alkalinity", uptake.per_day.estimate)
    last = max((reading.at for reading, _ in findings.readings), default=None)
    age = words("systems.never_read")
    if last:
        age = words("systems.last_reading", age=ctx.say.age(last, ctx.as_of))
    leaves, standings, rest = leaving(ctx, system.id), standings_of(readings), ""
    counts = {"outside": standings.count("low") + standings.count("high"), "edge": standings.count("edge")}
    state = next((name for name, n in counts.items() if n), "within" if readings else "unknown")
    told = [words(f"systems.state.{name}", n=n) for name, n in counts.items() if n]
    if readings and ctx.is_empty(system.id):
        rest = words("systems.state.empty")
    elif old := standings.count("old"):
        rest = words("systems.state.old", n=old)
    first = within(ctx, "systems.state", readings) or words("systems.state.unknown")
    return SystemCard(
        ctx.to_system(system.id),
        system.about or "",
        volume_words(ctx, system),
        words("systems.corals", n=len(ctx.ids_in(system.id))),
        words("systems.takes_up_predicted" if ctx.found.predicted.get(system.id) else "systems.takes_up"),
        shown,
        age,
        tuple(card for card in readings if card.id in kinds),
        "edge" if leaves and state == "within" else state,
        "; ".join(filter(None, (first, *told, *leaves, rest))),
    )
