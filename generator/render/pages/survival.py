"""Survival of arrivals: the share alive after some days, by how they came and how they travelled."""

from markupsafe import Markup

from generator.reckon.lineage.survival import HORIZONS, LEAST_ARRIVALS, GroupSurvival
from generator.render.base.blocks import Paragraph, Picture, Section, figures, items, section
from generator.render.base.context import PageContext, as_file, page, section_crumb
from generator.render.base.inline import joined, small
from generator.render.base.page import Page
from generator.render.base.why import figure, how
from generator.render.drawings.statistics import draw_survival


def survival_page(ctx: PageContext) -> Page:
    """The page about survival of arrivals."""
    words, found = ctx.words, ctx.found.survival
    enough = [group for group in found if group.arrivals >= LEAST_ARRIVALS]
    few = [f"{group_name(ctx, group)}: {_count(ctx, group)}" for group in found if group not in enough]
    return page(
        ctx,
        "survival",
        "corals",
        *(_group(ctx, group) for group in enough),
        None if enough else Paragraph(words("survival.none")),
        section(words("survival.few"), items(*few)),
        as_file(ctx, "data/survival.csv", "survival"),
        crumbs=(section_crumb(ctx, "corals"),),
        lead=joined(words("survival.lead", least=LEAST_ARRIVALS), how(ctx, "survival")),
    )


def _group(ctx: PageContext, group: GroupSurvival) -> Section:
    """A group of arrivals that is large enough for a picture."""
    words, id = ctx.words, f"{group.by}-{group.name}"
    name, count = group_name(ctx, group), _count(ctx, group)
    return section(
        joined(name, small(count)),
        Picture(_curve(ctx, group, id, f"{name}: {count}"), words("survival.rows")),
        figures(
            *(
                figure(
                    ctx,
                    words("survival.after", n=horizon.days),
                    horizon.survival,
                    note=words("survival.watched", n=horizon.at_risk),
                )
                for horizon in group.horizons
            )
        ),
        id=id,
    )


def _count(ctx: PageContext, group: GroupSurvival) -> str:
    arrivals = ctx.words("survival.arrivals", n=group.arrivals)
    return ctx.words("survival.count", arrivals=arrivals, lost=ctx.words("survival.lost", n=group.lost))


def group_name(ctx: PageContext, group: GroupSurvival) -> str:
    """A group in words."""
    if group.by == "all":
        return ctx.words("survival.all")
    name = ctx.words(f"arrivals.{group.name}" if group.by == "how-it-came" else f"trips.{group.name}")
    return name[:1].upper() + name[1:]


def _curve(ctx: PageContext, group: GroupSurvival, id: str, title: str) -> Markup:
    words = ctx.words
    last = float(HORIZONS[-1])
    days = [0.0, *(step.time for step in group.curve.steps if step.time < last)]
    # Without a loss the interval widens with every coral that is no longer watched.
    days = sorted({*days, *(time for time in group.curve.times if 0.0 < time < last)})
    steps = []
    for day in days:
        share, _ = group.curve.survival(day)
        low, high = group.curve.interval(day)
        steps.append((day, 100 * share, 100 * low, 100 * high))
    ticks = [(float(day), f"{day}", f"{group.curve.at_risk(day)}") for day in (0, *HORIZONS)]
    return draw_survival(id, title, words("survival.picture", name=group_name(ctx, group)), last, steps, ticks)
