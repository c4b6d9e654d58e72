"""Every coral's share of its system's uptake, and what cutting or moving one would do: tables without scripts."""

from collections.abc import Iterator, Sequence

from generator.reckon.arrivals.analysis import MOST_TOLD, Demand, Moved, WhatIf
from generator.reckon.arrivals.shares import CoralShare, Shares
from generator.reckon.finding import CannotTell
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import Block, Drawn, Fold, Paragraph, Section, Table, figures, section
from generator.render.base.context import PageContext, page_of_system
from generator.render.base.forecast_words import times_words
from generator.render.base.inline import Inline, joined, small
from generator.render.base.numbers import Shown
from generator.render.base.page import Page
from generator.render.base.scale import Look, Row, ranges
from generator.render.base.why import amount_figure, cannot, evidence
from generator.render.pages.behind import behind_shares, behind_what_ifs, whole_label
from generator.render.pages.change_foreseen import say_share
from generator.units.quantity import Estimate

# With more strips than this, only the table is shown.
_MOST_STRIPS = 12


def shares_page(ctx: PageContext, system: System, found: Shares | CannotTell) -> Page:
    """The shares of one system's corals, as far as this audience may see them, and what would change them."""
    words = ctx.words
    told = evidence(ctx, system.id)
    measured = ctx.findings[system.id].calcification.grams_per_day
    whole = figures(amount_figure(ctx, whole_label(ctx, system.id), measured, told), look="small spaced")
    shared = _shares(ctx, found) if isinstance(found, Shares) else (cannot(words, found),)
    return page_of_system(
        ctx,
        system.id,
        "shares",
        words("shares.title", system=system.name),
        words("shares.description", system=system.name),
        section(words("shares.heading"), *shared, whole, id="shares"),
        _what_ifs(ctx, found) if isinstance(found, Shares) else None,
        lead=words("shares.lead"),
    )


def _shares(ctx: PageContext, found: Shares) -> tuple[Block, ...]:
    """Each coral's part of the uptake, and its evidence."""
    words = ctx.words
    seen = [each for each in found.corals.values() if each.coral in ctx.view.corals]
    if not seen:
        return ()
    unseen = sum(each.share.value for each in found.corals.values()) - sum(each.share.value for each in seen)
    hidden = words("shares.hidden", share=f"{100.0 * unseen:.0f}") if unseen > 1e-9 else ""
    method = ctx.link(f"{links.METHODS}#shares", words("shares.method"))
    rows = tuple(
        (
            joined(ctx.to_coral(each.coral), small(words("shares.assumed")) if each.assumed else ""),
            say_share(ctx, each.share),
            ctx.say.amount(each.grams_per_day),
            _per_day(ctx, each.alkalinity),
        )
        for each in seen
    )
    heads = words.each("shares.coral", "shares.share", "shares.grams", "quantities.alkalinity")
    return (
        _picture(ctx, seen),
        Paragraph(joined(words("shares.adds_up"), hidden, method), "note"),
        Fold(words("chart.numbers"), (Table(words("shares.heading"), heads, rows, "stacked tall"),)),
        behind_shares(ctx, found, seen),
    )


def _what_ifs(ctx: PageContext, found: Shares) -> Section | None:
    """Alkalinity uptake with a third of a coral cut, without the coral, and in each other system with it."""
    words = ctx.words
    ifs = [each for each in ctx.found.what_if.get(found.system, ()) if each.coral in ctx.view.corals]
    if not ifs:
        return None
    others = [id for id, _ in ifs[0].moved if id in ctx.view.systems]
    moved: Iterator[Inline] = (joined(words("shares.moved"), ctx.to_system(id)) for id in others)
    most = words("shares.most", n=MOST_TOLD) if len(found.corals) > MOST_TOLD else ""
    title, heads = words("shares.what_if"), (*words.each("shares.coral", "shares.cut", "shares.gone"), *moved)
    return section(
        title,
        _without(ctx, ifs),
        Fold(
            words("chart.numbers"),
            (Table(title, heads, tuple(_what_if(ctx, each, others) for each in ifs), "stacked tall many"),),
        ),
        behind_what_ifs(ctx, found, ifs, others),
        id="what-if",
        lead=joined(words("shares.what_if_lead"), _now(ctx, ifs), most),
    )


def _picture(ctx: PageContext, seen: Sequence[CoralShare]) -> Drawn:
    rows = [
        Row(
            ctx.view.corals[each.coral].name,
            Shown(say_share(ctx, each.share).value),
            each.share.scaled(100.0, "%"),
            "way" if each.assumed else "measured",
        )
        for each in seen[:_MOST_STRIPS]
    ]
    return Drawn("ranges", ranges(ctx.words, ctx.words("shares.picture"), "%", rows))


def _without(ctx: PageContext, ifs: Sequence[WhatIf]) -> Drawn:
    """The uptake now, and without each coral, on one scale."""
    words, unit = ctx.words, ctx.say.unit("alkalinity")
    rows: list[Row] = []
    for each in ifs[:_MOST_STRIPS]:
        if isinstance(each.gone, Demand):
            if not rows:
                rows.append(strip(ctx, words("shares.as_now"), each.gone.alkalinity_before, "measured"))
            rows.append(strip(ctx, ctx.view.corals[each.coral].name, each.gone.alkalinity_after, "predicted"))
    unit = ctx.say.a_day(unit)
    return Drawn("ranges", ranges(words, words("shares.without"), unit, rows) if rows else None)


def strip(ctx: PageContext, label: str, found: Estimate, look: Look) -> Row:
    """An alkalinity uptake (meq/L/day) as a row of a picture, in the unit shown."""
    return Row(label, _per_day(ctx, found), ctx.display.estimate("alkalinity", found, of_level=False), look)


def _now(ctx: PageContext, ifs: Sequence[WhatIf]) -> str:
    """The uptake now, with which all the others are compared."""
    before = next((each.cut.alkalinity_before for each in ifs if isinstance(each.cut, Demand)), None)
    if before is None:
        return ""
    said = _per_day(ctx, before)
    key = "shares.now_predicted" if ifs[0].predicted else "shares.now"
    return ctx.words(key, value=said.value, interval=said.interval)


def _what_if(ctx: PageContext, each: WhatIf, others: Sequence[str]) -> tuple[Inline, ...]:
    moved = dict(each.moved)
    cut, gone = (
        _per_day(ctx, demand.alkalinity_after) if isinstance(demand, Demand) else "–"
        for demand in (each.cut, each.gone)
    )
    return ctx.to_coral(each.coral), cut, gone, *(_moved(ctx, moved[id]) for id in others)


def _moved(ctx: PageContext, moved: Moved | CannotTell) -> Inline:
    """What a coral's move does to the uptake of its new system, and how much it takes there against here."""
    if isinstance(moved, CannotTell):
        return "–"
    now = _per_day(ctx, moved.arriving.alkalinity_before)
    before = ctx.words("shares.from", value=now.value, interval=now.interval)
    said = small(f"{before}. {times_words(ctx.say, moved)}")
    return joined(_per_day(ctx, moved.arriving.alkalinity_after), said)


def _per_day(ctx: PageContext, found: Estimate) -> Shown:
    return ctx.say.per_day("alkalinity", found)
