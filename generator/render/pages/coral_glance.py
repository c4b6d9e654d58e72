"""The first screen of a coral's page: how it is, how large, how fast it grows, its room, its uptake, what to do."""

from collections.abc import Iterator

from generator.reckon.growth.corals import CoralFindings
from generator.records.coral import Coral
from generator.render.base import links
from generator.render.base.blocks import Facts, Figure, facts
from generator.render.base.context import PageContext
from generator.render.base.inline import Inline, Link, joined, small
from generator.render.base.why import figure
from generator.render.pages.attention import titles_about
from generator.render.pages.coral_growth import share_of_uptake, state_words
from generator.render.pages.room import soonest


def glance(ctx: PageContext, coral: Coral, found: CoralFindings | None) -> Facts | None:
    """What a keeper asks of a coral that lives here; None for another."""
    if found is None or not coral.placement_on(ctx.today):
        return None
    words, growth = ctx.words, found.growth
    share = share_of_uptake(ctx, coral)
    needed = titles_about(ctx, coral.id) if ctx.view.audience == "own" else ()
    return facts(
        (words("coral.health"), " ".join(state_words(ctx, found)) or words("coral.glance.well")),
        (words("coral.sizes"), joined(*_size(ctx, coral))),
        (words(f"growth.specific.{growth.specific_of}"), _said(figure(ctx, "", growth.specific))),
        (words("room.title"), soonest(ctx, coral)),
        (share.label if share else "", _said(share) if share else ""),
        (words("coral.glance.next"), joined(*(Link(title, ctx.way(links.HOME)) for title in needed), by="; ")),
    )


def _size(ctx: PageContext, coral: Coral) -> Iterator[Inline]:
    """Its last measured size and when that was."""
    sizes = [size for size in coral.sizes if size.at <= ctx.today]
    if not sizes:
        yield ctx.words("coral.glance.no_size")
        return
    last = max(sizes, key=lambda size: size.at)
    yield " × ".join(ctx.say.written(side) for side in (last.length, last.width, last.height) if side)
    yield small(ctx.words("coral.glance.measured", day=ctx.say.on(last.at)))


def _said(found: Figure) -> Inline:
    return found.shown or found.cannot or ""
