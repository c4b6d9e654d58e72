"""What is planned: everything that is to come, go or move, the soonest first."""

from generator.reckon.planned.analysis import PlanFindings
from generator.records.planned import Planned
from generator.render.base import links
from generator.render.base.blocks import items
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.inline import Link, Span, bold, joined
from generator.render.base.listing import shortened
from generator.render.base.numbers import Moment
from generator.render.base.page import Page


def planned_page(ctx: PageContext) -> Page:
    """The index of all that is planned: each sheet, how far it has come, when, and with whom."""
    words = ctx.words
    shown = [found for found in ctx.found.plans if found.plan.id in ctx.view.plans]
    return page(
        ctx,
        "planned",
        "corals",
        items(*(_row(ctx, found) for found in shown), look="plain"),
        crumbs=(section_crumb(ctx, "corals"),),
        lead=words("planned.lead"),
    )


def _row(ctx: PageContext, found: PlanFindings) -> Span:
    plan, when = found.plan, when_of(ctx, found.plan)
    said = joined(
        bold(ctx.words(f"planned.stage.{plan.stage}")),
        joined(when, left_words(ctx, found.days), by=", ") if when else "",
        ctx.partner(plan.partner) if plan.partner else "",
        by=" · ",
    )
    return Span(joined(to_sheet(ctx, plan), Span(said, look="note")), "li", id=plan.id)


def to_sheet(ctx: PageContext, plan: Planned) -> Link:
    """The way to the sheet of a plan."""
    return ctx.link(links.page_of("plan", plan.id), title_of(ctx, plan))


def title_of(ctx: PageContext, plan: Planned) -> str:
    """What a plan is about: the colonies by name, and which way they go."""
    return ". ".join(ctx.words(f"planned.title_of.{way}", names=names_of(ctx, plan, way)) for way in plan.ways)


def names_of(ctx: PageContext, plan: Planned, *ways: str) -> str:
    """The colonies that go some ways (all), by name; of one that does not go whole, how many frags."""

    def name(id: str, frags: int | None = None) -> str:
        name = ctx.view.corals[id].name if id in ctx.view.corals else id
        return ctx.words("planned.frags", n=frags, name=name) if frags else name

    systems = (ctx.view.systems[move.all_of].name for move in plan.moving if move.all_of)
    every = {
        "coming": [new.name for new in plan.coming],
        "going": [name(given.coral, None if given.whole else given.frags) for given in plan.going],
        "moving": [*(name(move.coral) for move in plan.moving if move.coral), *systems],
    }
    return shortened(ctx, [name for way in ways or plan.ways for name in every[way]])


def when_of(ctx: PageContext, plan: Planned) -> Moment | None:
    """The day or the hour agreed; None while it is only perhaps."""
    if plan.date is None:
        return None
    if plan.date.at is None:
        return ctx.say.day(plan.date.day)
    return ctx.say.moment(plan.date.at)


def left_words(ctx: PageContext, days: int | None) -> str:
    """How many days are left, or how many have gone by."""
    if days is None:
        return ""
    if days < 0:
        return ctx.words("planned.gone_by", n=-days)
    return ctx.words("planned.today") if days == 0 else ctx.words("planned.left", n=days)
