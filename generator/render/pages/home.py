"""The pages that lead in: the first one, the guides, the data files and their columns, and an unknown address."""

from typing import Any

from generator.records.source import Source
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Fold, Paragraph, Section, facts, group, row, section
from generator.render.base.context import PageContext, onward, page
from generator.render.base.inline import Inline, Link, Phrase, Span, code, joined
from generator.render.base.page import Page
from generator.render.base.words import template_files
from generator.render.pages.attention import lines_at_risk, matters
from generator.render.pages.coral import gallery
from generator.render.pages.journal import entry_list, newest_first
from generator.render.pages.next_tests import calendar_link, due_soon, first_line
from generator.render.pages.system import MOST_MATTERS, glance
from generator.render.pages.trades import account_card, newest_trades, over_time, trade_table
from generator.render.tables.column import Column, Table
from generator.render.tables.files import JOURNAL, JOURNAL_KEYS, PACKAGE, SQLITE, all_tables, meaning

_AT_A_GLANCE = ("alkalinity", "calcium", "magnesium", "salinity")
_NEWEST_ENTRIES = 3


def today_page(ctx: PageContext) -> Page:
    """The day's page: what needs attention, every system at a glance, the tests ahead and the newest entries."""
    words, settings = ctx.words, ctx.view.settings
    needed = matters(ctx)
    # The page shows what a keeper can do today, and counts the rest below.
    headline = words("today.needs", n=min(len(needed), MOST_MATTERS)) if needed else words("today.nothing")
    hidden = len(needed) - MOST_MATTERS
    at_risk = joined(*lines_at_risk(ctx), by=", ") if hidden > 0 else ""
    newest, tests = newest_first(ctx.ties.headings.values())[:_NEWEST_ENTRIES], due_soon(ctx)
    return page(
        ctx,
        "today",
        "today",
        Paragraph("" if needed else settings.about or "", "lead"),
        section(
            Span(words("today.matters"), look="unseen"),
            Drawn("matters", needed[:MOST_MATTERS]),
            Paragraph(words("today.more", n=hidden) if hidden > 0 else "", "note"),
            Paragraph(joined(words("lines.at_risk"), Phrase((at_risk, "."))) if at_risk else "", "note"),
        ),
        section(words("today.glance"), glance(ctx, _AT_A_GLANCE), onward(ctx, links.SINCE, "since.title")),
        section(words("next_tests.heading"), *tests, Paragraph(calendar_link(ctx), "onward")) if tests else None,
        section(words("today.entries"), entry_list(ctx, newest), onward(ctx, links.JOURNAL, "today.all_entries"))
        if newest
        else None,
        onward(ctx, links.GUIDES, "guides.title"),
        description=headline,
        heading=headline,
        over=ctx.say.day(ctx.today),
        lead=first_line(ctx),
    )


_NEWEST_ON_FRONT = 5
_NEWEST_CORALS = 4


def front_page(ctx: PageContext) -> Page:
    """The page that greets a visitor; what the keeper has to do stands on the keeper's own site only."""
    words, settings = ctx.words, ctx.view.settings
    living = [coral for coral in ctx.view.corals.values() if coral.lives_on(ctx.today)]
    pictured = sorted(living, key=lambda coral: (bool(coral.photos), coral.arrival.at, coral.id), reverse=True)
    newest, corals = newest_first(ctx.ties.headings.values())[:_NEWEST_ON_FRONT], pictured[:_NEWEST_CORALS]
    return page(
        ctx,
        "front",
        "front",
        _between_us(ctx),
        section(words("front.corals"), gallery(ctx, corals), onward(ctx, links.CORALS, "front.all_corals"))
        if corals
        else None,
        section(words("front.entries"), entry_list(ctx, newest), onward(ctx, links.JOURNAL, "today.all_entries"))
        if newest
        else None,
        section(
            words("front.systems"),
            glance(ctx, _AT_A_GLANCE),
            onward(ctx, links.SINCE, "since.title") if ctx.view.shows_weeks else None,
        ),
        title=settings.title,
        description=settings.about or settings.title,
        lead=settings.about or "",
    )


def _between_us(ctx: PageContext) -> Section | None:
    """For a partner: what was given, taken and is owed, from the partner's side."""
    trades = newest_trades(ctx) if ctx.view.partner else []
    if not trades:
        return None
    cards = (account_card(ctx, each) for each in ctx.found.trade.accounts.values())
    return section(
        ctx.words("front.trades", keeper=ctx.view.settings.keeper),
        over_time(ctx, trades),
        group("accounts", *cards),
        trade_table(ctx, trades[:_NEWEST_ENTRIES]),
        onward(ctx, links.TRADES, "front.all_trades"),
    )


def guides_page(ctx: PageContext) -> Page:
    """One section for each task, with its command lines."""
    name = f"{ctx.words.language}.md"
    text = (template_files() / "guides" / name).read_text(encoding="utf-8")
    parts = [part.partition("\n") for part in text.removeprefix("## ").split("\n## ")]
    blocks: list[Block] = [row(*(Link(title, f"#{number}") for number, (title, _, _) in enumerate(parts, 1)))]
    for number, (title, _, body) in enumerate(parts, 1):
        blocks.append(section(title, group("prose", ctx.prose(body, Source(name)).html), id=str(number)))
    return page(ctx, "guides", "today", *blocks, text=text, contents=True)


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
    meanings = Fold(ctx.words("data.columns"), (facts(*columns),))
    return section(ctx.words(f"{told}.name"), Paragraph(ctx.words(f"{told}.text")), row(*files), meanings, id=name)


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
