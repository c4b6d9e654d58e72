"""A coral's growth, light, share of the uptake and cutting plan, as its page shows them."""

from collections.abc import Iterator

from generator.reckon.arrivals.shares import PartOfWhole
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.growth.analysis import SOON_DAYS, Growth
from generator.reckon.growth.corals import CUT_MONTHS, PIECE_CM, CoralFindings, CuttingPlan, demand_of_all_after
from generator.reckon.growth.forecast import Spread
from generator.reckon.growth.measurements import body
from generator.reckon.growth.spots import LightMove
from generator.records.coral import Coral
from generator.render.base.blocks import (
    Block,
    Figure,
    Fold,
    Paragraph,
    Picture,
    Section,
    ShareTold,
    Table,
    figures,
    folded,
    group,
    items,
    row,
    section,
)
from generator.render.base.context import PageContext, predicted
from generator.render.base.links import Inline, Link, Span, joined
from generator.render.base.why import cannot, figure, why_of
from generator.render.charts.growth import growth_charts
from generator.render.drawings.colony import Ring, draw_rings
from generator.render.pages.room import what_it_keeps

# The largest cut of a footprint, in percent, that still leaves a colony; our choice.
_MOST_CUT = 50.0


def growth_section(ctx: PageContext, coral: Coral, found: CoralFindings, drawn: Picture | None) -> Section:
    """How it grew (`drawn`: its outlines, where they stand nowhere else), how fast it will, and whether it slowed."""
    words, fall = ctx.words, found.growth.decline
    fell = Paragraph(decline_words(ctx, found))
    ahead = figures(*_ahead(ctx, found))
    return section(
        words("growth.title"),
        group("caution", fell, why_of(ctx, "growth-decline", fall.inputs)) if fall else None,
        group(
            "anchors",
            group("anchor", drawn),
            *(group("anchor", chart) for chart in growth_charts(coral.name, found, ctx.say)),
        ),
        Fold(
            words("growth.numbers"),
            (
                figures(_doubling(ctx, found), *(each for each in _grown(ctx, found) if each.shown or found.ahead)),
                section(words("growth.ahead"), ahead, lead=words("growth.ahead_note")),
            ),
            "more",
        ),
        id="growth",
    )


def rings(ctx: PageContext, coral: Coral) -> Picture | None:
    """Its footprint when it was first measured and at the end of each year, one within the other."""
    words, sizes = ctx.words, coral.measured_until(ctx.today)
    ends = {size.at.year: size for size in sizes}
    drawn, told = [], []
    # Two outlines of one year are drawn only if they differ.
    first = [size for size in sizes[:1] if body(size).diameter != body(ends[size.at.year]).diameter]
    for size in (*first, *ends.values()):
        seen = body(size)
        drawn.append(Ring(seen.length, seen.width or seen.length, ctx.say.on(size.at)))
        sides = " × ".join(ctx.say.written(side) for side in (size.length, size.width) if side)
        told.append(words("growth.rings.at", day=ctx.say.on(size.at), size=sides))
    if not drawn:
        return None
    title = words(f"growth.rings.{'title' if drawn[1:] else 'one'}", name=coral.name)
    said, scale = words("growth.rings.said", sizes="; ".join(told)), ctx.say.length(5.0)
    return Picture(draw_rings(f"rings-{coral.id}", title, said, drawn, (5.0, scale)), title, "drawing")


def _grown(ctx: PageContext, found: CoralFindings) -> Iterator[Figure]:
    """Mass, how fast it grew between its measurements, and all that it grew."""
    words, growth = ctx.words, found.growth
    kind = "skeleton" if growth.mass_kind == "skeleton" else "drained"
    yield figure(ctx, words(f"growth.mass.{kind}"), growth.mass, "mass")
    if isinstance(growth.mass, CannotTell) and not isinstance(found.mass, CannotTell):
        yield figure(ctx, words("growth.mass.expected"), found.mass, "mass", words("growth.mass.expected_note"))
    told = "; ".join(filter(None, (unclear(ctx, growth.specific), _between(ctx, growth))))
    yield figure(ctx, words(f"growth.specific.{growth.specific_of}"), growth.specific, note=told)
    yield figure(ctx, words("growth.radial"), radial := growth.radial_extension, "length", unclear(ctx, radial))
    if isinstance(height := growth.height_extension, Finding):
        yield figure(ctx, words("growth.height"), height, "length", unclear(ctx, height))
    if isinstance(growth.grown, Finding):
        yield figure(ctx, words("growth.grown"), growth.grown, "mass", words("growth.grown_note"))


def _ahead(ctx: PageContext, found: CoralFindings) -> Iterator[Figure]:
    """How fast it will grow, as far as its own measurements tell; nothing for one that is no longer here."""
    words, growth = ctx.words, found.growth
    if found.ahead is None:
        return
    if isinstance(growth.specific_ahead, Finding):
        label = words(f"growth.specific_ahead.{growth.specific_of}", n=SOON_DAYS // 7)
        yield figure(ctx, label, growth.specific_ahead)
    if isinstance(found.spread, Spread):
        note = words(f"growth.by.{found.spread.known}")
        yield figure(ctx, words("growth.radial_ahead", n=CUT_MONTHS), found.extension, "length", note)
    if isinstance(growth.height_ahead, Finding):
        yield figure(ctx, words("growth.height_ahead", n=CUT_MONTHS), growth.height_ahead, "length")


def _doubling(ctx: PageContext, found: CoralFindings) -> Figure | None:
    """In how long it doubles, if it still grows; nothing for one that is no longer here."""
    doubling = found.growth.doubling if found.ahead else None
    if not isinstance(doubling, Finding):
        return None
    return figure(ctx, ctx.words(f"growth.doubling.{found.growth.specific_of}"), doubling)


def unclear(ctx: PageContext, grew: Answer) -> str:
    """That the measurements tell no growth, where their interval holds none."""
    return ctx.words("since.no_change") if isinstance(grew, Finding) and not grew.estimate.is_clear else ""


def _between(ctx: PageContext, growth: Growth) -> str:
    """Between which days a rate holds, and how far the weighings behind it are taken to repeat."""
    if growth.between is None or isinstance(growth.specific, CannotTell):
        return ""
    since, until = (ctx.say.on(day) for day in growth.between)
    told = ctx.words("growth.between", since=since, until=until)
    repeats = growth.repeats
    if growth.specific_of != "mass" or repeats is None:
        return told
    share, low, high = (ctx.say.number(100.0 * each, 1, "%") for each in (repeats.share, repeats.low, repeats.high))
    if repeats.known == "written":
        return told + ctx.words("growth.repeats.written")
    return told + ctx.words(f"growth.repeats.{repeats.known}", share=share, low=low, high=high)


def outwards(ctx: PageContext, growth: Growth) -> Inline:
    """How far it spread in a month, from cm a year, and in how long it doubles; or why nobody can tell."""
    grew, doubling = growth.radial_extension, growth.doubling
    if isinstance(grew, CannotTell):
        return cannot(ctx.words, grew)
    found = ctx.display.estimate("length", grew.estimate.scaled(1.0 / 12.0, "cm"), of_level=False)
    shown = ctx.say.estimate(found, ctx.words.unit(f"{found.unit}/month"))
    doubles = (
        (ctx.words(f"growth.doubles.{growth.specific_of}"), ctx.say.estimate(doubling.estimate))
        if isinstance(doubling, Finding)
        else ()
    )
    return joined(shown, unclear(ctx, grew), *doubles)


def to_cut(ctx: PageContext, coral: Coral, plan: CuttingPlan | CannotTell | None) -> Inline:
    """How much of it is to be cut and why, and how many frags that gives, with the way to the plan."""
    if not isinstance(plan, CuttingPlan):
        return ""
    words = ctx.words
    if plan.nothing:
        return Link(words("cutting.nothing", n=CUT_MONTHS), "#cuttings")
    part, pieces = ctx.say.estimate(plan.remove, "%"), plan.pieces
    much = words(
        "coral.glance.part",
        **part.blanks("part"),
        keeps=what_it_keeps(ctx, coral),
        months=CUT_MONTHS,
        n=round(pieces.value),
        low=f"{pieces.low:.0f}",
        high=f"{pieces.high:.0f}",
        size=ctx.say.length(PIECE_CM),
    )
    return Link(much, "#cuttings")


def decline_words(ctx: PageContext, found: CoralFindings) -> str:
    """By how much growth fell and since when; "" if it did not."""
    fall = found.growth.decline
    if fall is None:
        return ""
    day = [ctx.say.on(on) for on in (fall.began, fall.earliest, fall.latest)]
    by = ctx.say.estimate(fall.fell_by, "%")
    ends = [ctx.say.estimate(end).value for end in (fall.before, fall.after)]
    return ctx.words(
        "growth.fell", **by.blanks("by"), before=ends[0], after=ends[1], day=day[0], earliest=day[1], latest=day[2]
    )


def light_section(ctx: PageContext, found: CoralFindings) -> Section:
    """The daily light at its place, and the weeks in which it gets used to more."""
    words, move = ctx.words, found.move
    daily = figures(figure(ctx, words("light.daily"), found.light)) if found.light else None
    moved: tuple[Block, ...] = ()
    if daily and isinstance(move, LightMove):
        moved = _step_up(ctx, move)
    return folded(words("light.title"), daily, *moved, id="light")


def _step_up(ctx: PageContext, move: LightMove) -> tuple[Block, ...]:
    """The light it had, the light it has now, and the weeks between."""
    words, unit = ctx.words, "mol/m²/day"
    before, after = (ctx.say.number(each.value, 1, unit) for each in (move.before, move.after))
    day = ctx.say.on(move.at)
    key = "light.step_up" if move.steps else "light.no_steps"
    now = max((step.since for step in move.steps if step.since <= ctx.today), default=None)
    rows = tuple(
        (
            joined(ctx.say.day(step.since), words("light.now") if step.since == now else "", by=" · "),
            ctx.say.number(step.par, 0, "PAR"),
            ctx.say.number(step.daily, 1, unit),
        )
        for step in move.steps
    )
    looks = tuple("now" if step.since == now else "" for step in move.steps)
    return (
        Paragraph(words(key, before=before, after=after, day=day, n=len(move.steps)), "after"),
        why_of(ctx, "light-steps", move.inputs),
        Table(words("light.plan"), words.each("light.since", "light.par", "light.daily"), rows, looks=looks),
    )


def uptake_section(ctx: PageContext, coral: Coral, *ways: Link) -> Section:
    """Its share of the uptake in its water, and links to what would change if it went and what it did to that water."""
    share = ctx.share_of(coral.id) if coral.id in ctx.found.corals else None
    cautions = predicted(ctx, share.system) if share else ()
    return section(
        ctx.words("share.title"),
        *(Paragraph(each, "caution predicted") for each in cautions),
        figures(share.figure if share else None),
        row(*ways),
        id="uptake",
        look="" if share else "line-by-line",
    )


def share_told(ctx: PageContext, coral: str) -> ShareTold | None:
    """A coral's share of its system's uptake, for its page; None if it has no place or does not calcify."""
    part, found = ctx.found.part_of.get(coral), ctx.found.corals.get(coral)
    if part is None:
        return None
    label = ctx.words("share.label", system=ctx.view.systems[part.system].name)
    told = figure(ctx, label, part.share, note=ctx.words("shares.assumed") if part.assumed else "")
    plan = found and found.cutting
    return ShareTold(
        part.system, told, tuple(_demand_of_system(ctx, plan, part)) if isinstance(plan, CuttingPlan) else ()
    )


def cutting_section(ctx: PageContext, coral: Coral, found: CoralFindings) -> Section | None:
    """What to cut, in words, with cautions; or why there is no answer. None for a coral without a place."""
    words, plan = ctx.words, found.cutting
    if plan is None:
        return None
    title = words("cutting.title")
    if not isinstance(plan, CuttingPlan):
        return section(title, cannot(words, plan))
    before = items(*(words(f"cautions.{caution}") for caution in plan.cautions), words("cutting.rules"), look="")
    return section(
        title,
        items(*([words("cutting.nothing", n=CUT_MONTHS)] if plan.nothing else _to_cut(ctx, coral, plan))),
        why_of(ctx, "cutting-plan", plan.inputs, plan.parts, words.unit("%")),
        group("caution", Paragraph(Span(words("cutting.cautions"), "b")), before) if plan.cautions else None,
    )


def _to_cut(ctx: PageContext, coral: Coral, plan: CuttingPlan) -> Iterator[str]:
    words = ctx.words
    part = ctx.say.estimate(plan.remove, "%")
    yield words("cutting.remove", **part.blanks("part"), keeps=what_it_keeps(ctx, coral), n=CUT_MONTHS)
    if plan.remove.value > _MOST_CUT:
        yield words("cutting.too_much")
    if not isinstance(plan.mass, CannotTell):
        mass = ctx.say.level("mass", plan.mass.estimate)
        yield words("cutting.mass", **mass.blanks("mass"))
    piece = ctx.say.length(PIECE_CM)
    low, high = f"{plan.pieces.low:.0f}", f"{plan.pieces.high:.0f}"
    yield words("cutting.pieces", pieces=f"{plan.pieces.value:.0f}", low=low, high=high, size=piece)
    demand = ctx.say.estimate(plan.demand.scaled(-1.0, "%"))
    yield words("cutting.uptake", **demand.blanks("uptake"))
    if share := ctx.share_of(plan.coral):
        yield from share.cut
    if isinstance(plan.healed_after, Finding):
        healed = plan.healed_after.estimate
        days = words("cutting.days", low=f"{healed.low:.0f}", high=f"{healed.high:.0f}", n=round(healed.value))
        yield words("cutting.healed", days=days)


def _demand_of_system(ctx: PageContext, plan: CuttingPlan, found: PartOfWhole) -> Iterator[str]:
    """What the cut does to its system's uptake; nothing if its share is not known, or nothing is to be cut."""
    if isinstance(found.share, Finding) and not plan.nothing:
        part = found.share.estimate.scaled(0.01, "share")
        told = ctx.say.estimate(demand_of_all_after(plan.demand, part).scaled(-1.0, "%"))
        system = ctx.view.systems[found.system].name
        yield ctx.words("cutting.uptake_of_system", system=system, **told.blanks("uptake"))


def state_words(ctx: PageContext, found: CoralFindings) -> tuple[str, ...]:
    """Its health today: quarantine, treatment, damage that has not healed, its colour."""
    words, state = ctx.words, found.health

    said = []
    if state.quarantine:
        until = state.quarantine.until
        said.append(
            words("state.quarantine_until", since=ctx.say.on(state.quarantine.at), until=ctx.say.on(until))
            if until
            else words("state.quarantine", since=ctx.say.on(state.quarantine.at))
        )
    said += [words("state.treatment", since=ctx.say.on(each.at)) for each in state.treatments]
    said += [
        words("state.ailing", what=words(f"health.{each.what}"), since=ctx.say.on(each.at)) for each in state.ailing
    ]
    if state.colour:
        said.append(
            words(
                f"state.colour.{state.colour.change}",
                score=state.colour.score,
                before=state.colour.before or "",
                day=ctx.say.on(state.colour.at),
            )
        )
    return tuple(said)


def trouble_words(ctx: PageContext, found: CoralFindings) -> Iterator[str]:
    """That a coral has no trouble now, and the last that it had."""
    if last := found.health.past:
        yield ctx.words("coral.glance.past", what=ctx.words(f"health.{last.what}"), day=ctx.say.on(last.at))
    elif not found.health.ailing:
        yield ctx.words("coral.glance.well")
